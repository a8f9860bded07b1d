//! The jig with one input: the driver against a known resistor that stood in its place.
//!
//! A source behind S = R + R_o (series resistor and the output's own resistance) gives across a load V = U/(1 + S/Z'),
//! Z' being the load with the input in parallel. The driver's take over the known resistor's is ρ = H (K' + S)/K' with
//! H = Z'/(Z' + S): a jig of resistor S whose second input has the gain (K' + S)/K'. S is stated, or found from a second
//! load: with σ = V₂/V_K, y₂ = 1/K₂' (only the input's conductance where nothing is connected),
//! S = K' (σ − 1)/(1 − σ K' y₂), from circuit theory. The same network read with two inputs needs no S and no gain that
//! stays; what both cost here is a contribution to the budget each.

use super::calibration::{Calibrated, LEADS_OHM, LOAD_SIEMENS, STATED_LOAD_RELATIVE};
use super::jig::{Jig, JigShift, JigSource};
use super::take_ratio::TakeSpectrum;

/// Gain of an untouched path moves by this much in a minute without anything showing it; common practice, no source.
const GAIN_FLOOR: f64 = 3e-4;
/// An output's resistance as stated is good to this much, but no better than 0.05 Ω; common practice, no source.
const STATED_OUTPUT_RELATIVE: f64 = 0.2;
const STATED_OUTPUT_LEAST_OHM: f64 = 0.05;
/// Where S is read: above coupling capacitors and hum, below what leads and cables do.
const QUIET_BAND_HZ: (f64, f64) = (200.0, 4000.0);
/// The lowest part of the band, where a coupling capacitor in the output shows.
const LOW_BAND_HZ: (f64, f64) = (10.0, 40.0);

/// A resistor with its relative standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resistor {
    /// Ω.
    pub ohm: f64,
    /// Relative standard uncertainty.
    pub relative: f64,
}

/// How S is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Behind {
    /// Series resistor and the output's resistance in Ω as stated.
    Stated(Resistor, f64),
    /// From a second load (none: nothing connected) and its level over the known resistor's.
    Found(Option<Resistor>, f64),
}

/// The jig from what is known; `ln_gain` is the change of gain between the first and the last take of the known
/// resistor.
pub fn calibrate(known: Resistor, behind: Behind, input_ohm: Option<f64>, ln_gain: f64) -> Calibrated {
    let (load, load_uncertainty) = match input_ohm {
        Some(ohm) => (1.0 / ohm, STATED_LOAD_RELATIVE / ohm),
        None => (0.0, LOAD_SIEMENS),
    };
    let nominal = Believed { known_ohm: known.ohm, behind, load, ..Believed::default() };
    let (series_ohm, gain_ratio) = nominal.solve();
    let jig = Jig { gain_ratio, load_siemens: load, ..Jig::plain(series_ohm) };
    let between = gain_uncertainty(ln_gain);
    let source = |name: &'static str, moved: Believed, own: JigShift| {
        let (s, g) = moved.solve();
        let shift = JigShift {
            ln_resistor: (s / series_ohm).ln() + own.ln_resistor,
            ln_gain: (g / gain_ratio).ln() + own.ln_gain,
            ..own
        };
        JigSource { name, shift }
    };
    let none = JigShift::default();
    let mut sources = vec![
        source("known_resistor", Believed { known_ohm: known.ohm * known.relative.exp(), ..nominal }, none),
        source("gain_between_takes", nominal, JigShift { ln_gain: between, ..none }),
        source(
            "input_loading",
            Believed { load: load + load_uncertainty, ..nominal },
            JigShift { load_siemens: load_uncertainty, ..none },
        ),
        // The same clips hold the driver and the known resistor, so both read too high by them.
        source(
            "leads",
            Believed { known_ohm: known.ohm + LEADS_OHM, lead_ohm: LEADS_OHM, ..nominal },
            JigShift { lead_ohm: LEADS_OHM, ..none },
        ),
    ];
    match behind {
        Behind::Stated(series, output_ohm) => {
            let output = output_uncertainty_ohm(output_ohm);
            sources.push(source("series_resistor", nominal.moved_series(series.ohm * series.relative), none));
            sources.push(source("output_resistance", nominal.moved_series(output), none));
        }
        Behind::Found(second, _) => {
            sources.push(source("output_resistance", Believed { ln_second: between, ..nominal }, none));
            if let Some(r) = second {
                sources.push(source("second_resistor", Believed { ln_second_ohm: r.relative, ..nominal }, none));
            }
        }
    }
    Calibrated { jig, sources, proofs: Vec::new() }
}

/// One standard uncertainty of an output's resistance as stated, in Ω.
fn output_uncertainty_ohm(output_ohm: f64) -> f64 {
    (STATED_OUTPUT_RELATIVE * output_ohm).max(STATED_OUTPUT_LEAST_OHM)
}

/// The jig of two pressures, with a series resistor over without: currents behind an output of `output_ohm` are as
/// Z + R_o to Z + R_o + R, a divider whose lead is the output. Its uncertainty is that of a statement where none is given.
pub fn by_microphone(series: Resistor, output_ohm: (f64, Option<f64>), ln_gain: f64) -> Calibrated {
    let (output_ohm, found) = output_ohm;
    let output_uncertainty = found.unwrap_or_else(|| output_uncertainty_ohm(output_ohm));
    let none = JigShift::default();
    let source = |name: &'static str, shift: JigShift| JigSource { name, shift };
    let sources = vec![
        source("series_resistor", JigShift { ln_resistor: series.relative, ..none }),
        source("gain_between_takes", JigShift { ln_gain: gain_uncertainty(ln_gain), ..none }),
        source("output_resistance", JigShift { lead_ohm: output_uncertainty, ..none }),
        source("leads", JigShift { lead_ohm: LEADS_OHM, ..none }),
    ];
    Calibrated { jig: Jig { lead_ohm: output_ohm, ..Jig::plain(series.ohm) }, sources, proofs: Vec::new() }
}

/// What is left of the delay between takes, in s; none where it is a whole number of samples.
pub fn delay_source(delay_s: f64) -> Option<JigSource> {
    (delay_s > 0.0).then(|| JigSource { name: "delay", shift: JigShift { delay_s, ..JigShift::default() } })
}

/// A step of gain at an unknown moment between the two takes of the resistor lies ± half of it off their mean; a steady
/// drift cancels.
pub fn gain_uncertainty(ln_gain: f64) -> f64 {
    (0.5 * ln_gain).hypot(GAIN_FLOOR)
}

/// Everything that S and the gain follow from.
#[derive(Clone, Copy)]
struct Believed {
    known_ohm: f64,
    behind: Behind,
    load: f64,
    ln_second: f64,
    ln_second_ohm: f64,
    lead_ohm: f64,
}

impl Default for Believed {
    fn default() -> Self {
        let behind = Behind::Found(None, 1.0);
        Believed { known_ohm: 1.0, behind, load: 0.0, ln_second: 0.0, ln_second_ohm: 0.0, lead_ohm: 0.0 }
    }
}

impl Believed {
    fn moved_series(mut self, ohm: f64) -> Self {
        if let Behind::Stated(series, _) = &mut self.behind {
            series.ohm += ohm;
        }
        self
    }

    /// S in Ω and the gain (K' + S)/K'.
    fn solve(&self) -> (f64, f64) {
        let known = 1.0 / (1.0 / self.known_ohm + self.load);
        let series_ohm = match self.behind {
            Behind::Stated(series, output_ohm) => series.ohm + output_ohm,
            Behind::Found(second, level) => {
                let level = level * self.ln_second.exp();
                let across = second.map_or(0.0, |r| 1.0 / (r.ohm * self.ln_second_ohm.exp() + self.lead_ohm));
                known * (level - 1.0) / (1.0 - level * known * (across + self.load))
            }
        };
        (series_ohm, (known + series_ohm) / known)
    }
}

/// Level of a second load over the known resistor's where S is read, and the relative departure of the low end from it;
/// both takes in step.
pub fn second_level(second: &TakeSpectrum, known: &TakeSpectrum) -> Option<(f64, f64)> {
    let mean = |band: (f64, f64)| {
        let lines = second.over(known, band).lines;
        let weight: f64 = lines.iter().map(|l| 1.0 / l.variance.max(1e-30)).sum();
        let sum: f64 = lines.iter().map(|l| l.ratio.norm() / l.variance.max(1e-30)).sum();
        (weight > 0.0).then(|| sum / weight)
    };
    let level = mean(QUIET_BAND_HZ)?;
    Some((level, mean(LOW_BAND_HZ).map_or(0.0, |low| low / level - 1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::fft::Complex64;

    const KNOWN: Resistor = Resistor { ohm: 8.2, relative: 0.005 };

    /// What a load gives across itself behind S with an input of conductance g, circuit theory.
    fn across(z: Complex64, s: f64, g: f64) -> Complex64 {
        1.0 / (1.0 + s * (1.0 / z + g))
    }

    /// Loads behind 47 + 0.8 Ω with an input of 10 kΩ: the impedance comes back whichever way S is known.
    #[test]
    fn the_impedance_comes_back_by_every_road() {
        let (s, g) = (47.8, 1e-4);
        let z = Complex64::new(6.0, 11.0);
        let known = across(KNOWN.ohm.into(), s, g);
        let recorded = across(z, s, g) / known;
        let open = (across(1e15.into(), s, g) / known).re;
        let second = Resistor { ohm: 33.0, relative: 0.005 };
        let by_second = (across(second.ohm.into(), s, g) / known).re;
        let series = Resistor { ohm: 47.0, relative: 0.005 };
        for behind in [Behind::Stated(series, 0.8), Behind::Found(None, open), Behind::Found(Some(second), by_second)] {
            let jig = calibrate(KNOWN, behind, Some(1e4), 0.0).jig;
            assert!((jig.series_resistor_ohm - s).abs() < 1e-6, "{behind:?}");
            assert!((jig.impedance(100.0, recorded).0 - z).norm() < 1e-9, "{behind:?}");
        }
    }

    /// With nothing connected as the second load S follows the known resistor, and so does everything: one per cent of it
    /// is one per cent of the impedance. And a step of gain counts by half.
    #[test]
    fn sources_have_the_size_that_circuit_theory_gives() {
        let open = (across(1e15.into(), 47.8, 0.0) / across(KNOWN.ohm.into(), 47.8, 0.0)).re;
        let calibrated = calibrate(KNOWN, Behind::Found(None, open), Some(1e12), 0.01);
        let z = Complex64::new(6.0, 11.0);
        let effect = |name: &str| {
            let source = calibrated.sources.iter().find(|s| s.name == name).unwrap();
            calibrated.jig.change_ohm(100.0, z, &source.shift) / z
        };
        // Second order of the step: 0.005²/2.
        assert!((effect("known_resistor") - 0.005).norm() < 1.3e-5);
        let expected = (z + 47.8) / 47.8 * gain_uncertainty(0.01);
        // A larger gain makes less of the same record; u² times (Z + S)Z/S² at most is left out.
        assert!((effect("gain_between_takes") + expected).norm() < 1e-4);
        assert!((gain_uncertainty(0.01) - 0.005_009).abs() < 1e-6);
    }
}
