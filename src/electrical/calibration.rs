//! What the jig's own takes tell: the inputs' ratio, the leads, the input's load, the series resistor proven.
//!
//! Everything that is not measured stays as a source of uncertainty with a stated size (one standard uncertainty):
//! see the constants, all common practice without a source, none of them a correction.
//! The known resistor R_k updates resistor and gain by Bayes' rule for normal errors: ln|H| = ln(R_k/(R + R_k)) +
//! δ_g − (1 − H)(δ_R − δ_k), prior δ's independent; what remains after the update is again given as independent
//! sources (Cholesky factor of the posterior covariance).

use super::jig::{Jig, JigShift, JigSource, Track};
use crate::math::fft::Complex64;

/// Resistor as bought, 1 % and better, measured by nobody: 0.5 % (a 1 % rectangle has 0.58 %).
pub const RESISTOR_RELATIVE_UNCERTAINTY: f64 = 0.005;
/// Two channels of one converter at the same setting: 0.02 dB.
const GAIN_UNCERTAINTY: f64 = 0.0023;
/// Two leads with clips, not zeroed.
pub(super) const LEADS_OHM: f64 = 0.05;
/// The same clip opened and closed again.
const LEADS_REPEAT_OHM: f64 = 0.005;
/// A line input of 10 kΩ to infinity: rectangle from 0 to 0.1 mS, as a standard uncertainty around 0.
pub(super) const LOAD_SIEMENS: f64 = 5.8e-5;
/// An input resistance as stated by a data sheet.
pub(super) const STATED_LOAD_RELATIVE: f64 = 0.05;
/// Where calibrations are read: below the reactance of leads, above hum and coupling.
const QUIET_BAND_HZ: (f64, f64) = (150.0, 3000.0);

/// The jig's own takes, each as driver channel over source channel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct JigTakes {
    /// Both inputs on one node.
    pub same_node: Option<Track>,
    /// Known resistors (Ω) in place of the driver.
    pub known_resistors: Vec<(f64, Track)>,
    /// The clips joined.
    pub short: Option<Track>,
    /// Nothing between the clips.
    pub open: Option<Track>,
}

/// How a known resistor came out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Proof {
    /// As stated, in Ω.
    pub stated_ohm: f64,
    /// As seen through the jig before the update, in Ω.
    pub found_ohm: f64,
    /// Difference in units of what the priors allow (standard deviations).
    pub deviations: f64,
}

/// The jig with its uncertainties.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibrated {
    /// Best estimate.
    pub jig: Jig,
    /// Independent sources of uncertainty.
    pub sources: Vec<JigSource>,
    /// Known resistors.
    pub proofs: Vec<Proof>,
}

/// Builds the jig from the stated resistor (Ω, relative standard uncertainty), a stated input resistance (Ω) and the
/// jig's own takes.
pub fn calibrate(
    series_resistor_ohm: f64,
    relative_uncertainty: f64,
    input_resistance_ohm: Option<f64>,
    takes: &JigTakes,
) -> Calibrated {
    let mut jig = Jig { channel_ratio: takes.same_node.clone(), ..Jig::plain(series_resistor_ohm) };
    let gain = if takes.same_node.is_some() { 0.0 } else { GAIN_UNCERTAINTY };
    let load = load_of(&jig, gain, input_resistance_ohm, takes.open.as_ref());
    jig.load_siemens = load.siemens;
    jig.leads = takes.short.as_ref().map(|t| seen_through(&jig, t));
    let mut belief = Belief::new(relative_uncertainty, gain);
    let proofs = takes.known_resistors.iter().filter_map(|(ohm, t)| belief.prove(&jig, *ohm, t)).collect();
    jig.series_resistor_ohm *= belief.mean[0].exp();
    jig.gain_ratio *= belief.mean[1].exp();
    let mut sources = belief.sources(load.by_gain);
    let leads = if takes.short.is_some() { LEADS_REPEAT_OHM } else { LEADS_OHM };
    sources.push(JigSource { name: "leads", shift: JigShift { lead_ohm: leads, ..JigShift::default() } });
    let loading = JigShift { load_siemens: load.uncertainty, ..JigShift::default() };
    sources.push(JigSource { name: "input_loading", shift: loading });
    Calibrated { jig, sources, proofs }
}

/// Conductance of the input, its own uncertainty, and its change for one unit of ln g.
struct Load {
    siemens: f64,
    uncertainty: f64,
    by_gain: f64,
}

fn load_of(jig: &Jig, gain_uncertainty: f64, stated_ohm: Option<f64>, open: Option<&Track>) -> Load {
    if let Some(ohm) = stated_ohm {
        return Load { siemens: 1.0 / ohm, uncertainty: STATED_LOAD_RELATIVE / ohm, by_gain: 0.0 };
    }
    let measured = open.and_then(|t| quiet_mean(t, |hz, h| 1.0 / jig.true_ratio(hz, h).0 - 1.0));
    match measured {
        // Without matched gains an open take tells less than knowing what inputs are like.
        Some((over, error)) if gain_uncertainty / jig.series_resistor_ohm < LOAD_SIEMENS => Load {
            siemens: (over.re / jig.series_resistor_ohm).max(0.0),
            uncertainty: error / jig.series_resistor_ohm,
            by_gain: 1.0 / jig.series_resistor_ohm,
        },
        _ => Load { siemens: 0.0, uncertainty: LOAD_SIEMENS, by_gain: 0.0 },
    }
}

/// A calibration's impedance track as the jig sees it.
fn seen_through(jig: &Jig, track: &Track) -> Track {
    let point = |&(hz, h, error): &(f64, Complex64, f64)| {
        let (z, slope2) = jig.impedance(hz, h);
        (hz, z, error * slope2)
    };
    Track::new(track.points().iter().map(point).collect())
}

/// Mean of a function of a track over the quiet band (over everything where nothing lies in it), with the standard
/// error of its real part from the spread.
fn quiet_mean(track: &Track, f: impl Fn(f64, Complex64) -> Complex64) -> Option<(Complex64, f64)> {
    let quiet = |hz: f64| (QUIET_BAND_HZ.0..=QUIET_BAND_HZ.1).contains(&hz);
    let any = track.points().iter().any(|p| quiet(p.0));
    let values: Vec<Complex64> = track
        .points()
        .iter()
        .filter(|p| !any || quiet(p.0))
        .map(|p| f(p.0, p.1))
        .filter(|v| v.norm().is_finite())
        .collect();
    if values.is_empty() {
        return None;
    }
    let n = values.len() as f64;
    let mean = values.iter().sum::<Complex64>() / n;
    let spread = values.iter().map(|v| (v.re - mean.re).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    Some((mean, (spread / n).sqrt()))
}

/// What is believed of (ln R, ln g): mean and covariance.
struct Belief {
    mean: [f64; 2],
    covariance: [[f64; 2]; 2],
}

impl Belief {
    fn new(resistor: f64, gain: f64) -> Self {
        Belief { mean: [0.0; 2], covariance: [[resistor * resistor, 0.0], [0.0, gain * gain]] }
    }

    /// Update by a known resistor, of which the same is believed as of a resistor as bought.
    fn prove(&mut self, jig: &Jig, stated_ohm: f64, track: &Track) -> Option<Proof> {
        let (logarithm, error) = quiet_mean(track, |hz, h| {
            let leads = jig.leads.as_ref().map_or(Complex64::default(), |t| t.at(hz).0);
            let z = stated_ohm + leads;
            let seen = z / (1.0 + z * jig.load_siemens);
            (jig.true_ratio(hz, h).0 * (seen + jig.series_resistor_ohm) / seen).ln()
        })?;
        let (found, _) = quiet_mean(track, |hz, h| jig.impedance(hz, h).0)?;
        let rest = jig.series_resistor_ohm / (jig.series_resistor_ohm + stated_ohm);
        let slope = [-rest, 1.0];
        let own = (rest * RESISTOR_RELATIVE_UNCERTAINTY).powi(2) + error * error;
        let p = self.covariance;
        let gain_vector = [p[0][0] * slope[0] + p[0][1] * slope[1], p[1][0] * slope[0] + p[1][1] * slope[1]];
        let allowed = slope[0] * gain_vector[0] + slope[1] * gain_vector[1] + own;
        let surprise = logarithm.re - slope[0] * self.mean[0] - slope[1] * self.mean[1];
        for i in 0..2 {
            self.mean[i] += gain_vector[i] * surprise / allowed;
            for k in 0..2 {
                self.covariance[i][k] -= gain_vector[i] * gain_vector[k] / allowed;
            }
        }
        Some(Proof { stated_ohm, found_ohm: found.re, deviations: surprise / allowed.sqrt() })
    }

    /// Independent departures whose covariance this is.
    fn sources(&self, load_by_gain: f64) -> Vec<JigSource> {
        let p = self.covariance;
        let resistor = p[0][0].max(0.0).sqrt();
        let shared = if resistor > 0.0 { p[0][1] / resistor } else { 0.0 };
        let gain = (p[1][1] - shared * shared).max(0.0).sqrt();
        let shift = |ln_resistor: f64, ln_gain: f64| JigShift {
            ln_resistor,
            ln_gain,
            load_siemens: load_by_gain * ln_gain,
            ..JigShift::default()
        };
        vec![
            JigSource { name: "series_resistor", shift: shift(resistor, shared) },
            JigSource { name: "gain_match", shift: shift(0.0, gain) },
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn track(h: impl Fn(f64) -> Complex64) -> Track {
        Track::new([20.0, 200.0, 1000.0, 5000.0].into_iter().map(|hz| (hz, h(hz), 1e-10)).collect())
    }

    fn flat(h: f64) -> Track {
        track(|_| Complex64::new(h, 0.0))
    }

    fn shift_of<'a>(c: &'a Calibrated, name: &str) -> &'a JigShift {
        &c.sources.iter().find(|s| s.name == name).unwrap().shift
    }

    /// Series resistor 1 % too high, gains matched: two resistors of equal trust meet half-way, and what remains is
    /// 0.5 %/√2.
    #[test]
    fn known_resistor_halves_the_variance() {
        let (r, r_k) = (10.1, 8.2);
        let takes = JigTakes {
            same_node: Some(flat(1.0)),
            known_resistors: vec![(r_k, flat(r_k / (r + r_k)))],
            ..JigTakes::default()
        };
        let c = calibrate(10.0, 0.005, None, &takes);
        // To first order in 1 %: the update is linear, the divider is not.
        assert!((c.jig.series_resistor_ohm - 10.05).abs() < 2e-3, "{}", c.jig.series_resistor_ohm);
        assert!((shift_of(&c, "series_resistor").ln_resistor - 0.005 / 2f64.sqrt()).abs() < 1e-5);
        assert_eq!(shift_of(&c, "gain_match").ln_gain, 0.0);
        assert!((c.proofs[0].found_ohm - r_k / 1.01).abs() < 1e-9 && c.proofs[0].deviations.abs() < 2.0);
    }

    #[test]
    fn a_wrong_resistor_surprises() {
        let takes = JigTakes { known_resistors: vec![(10.0, flat(10.0 / 32.0))], ..JigTakes::default() };
        assert!(calibrate(10.0, 0.005, None, &takes).proofs[0].deviations < -20.0);
    }

    #[test]
    fn short_and_open_are_taken_off() {
        let (r, lead, load) = (10.0, 0.06, 1e-4);
        let seen = |z: f64| z / (1.0 + z * load);
        let takes = JigTakes {
            same_node: Some(flat(1.0)),
            short: Some(flat(seen(lead) / (seen(lead) + r))),
            open: Some(flat(1.0 / (1.0 + r * load))),
            ..JigTakes::default()
        };
        let c = calibrate(r, 0.005, None, &takes);
        assert!((c.jig.load_siemens - load).abs() < 1e-12);
        let z = seen(50.0 + lead);
        assert!((c.jig.impedance(40.0, Complex64::new(z / (z + r), 0.0)).0 - 50.0).norm() < 1e-9);
        assert_eq!(shift_of(&c, "leads").lead_ohm, LEADS_REPEAT_OHM);
    }

    #[test]
    fn an_open_take_without_matched_gains_is_not_believed() {
        let takes = JigTakes { open: Some(flat(0.99)), ..JigTakes::default() };
        let c = calibrate(10.0, 0.005, None, &takes);
        assert_eq!((c.jig.load_siemens, shift_of(&c, "input_loading").load_siemens), (0.0, LOAD_SIEMENS));
    }
}
