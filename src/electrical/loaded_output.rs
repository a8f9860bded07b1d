//! An output's resistance from a resistor across it, heard in what is left for the driver.
//!
//! A resistor K across an output of resistance R_o leaves a driver of impedance Z behind it the part
//! ρ = (Z + R_o)/(Z + R_o + Z R_o/K) of its current (circuit theory). With S = Z + R_o as measured, 1/ρ = 1 + (R_o/K)(1 − R_o/S),
//! and R_o is where both sides have one modulus over the band, by least squares. Valid for R_o below the least of |S|.

use super::impedance::ImpedancePoint;
use super::one_channel::{gain_uncertainty, Resistor};
use super::ratio::RatioCurve;
use crate::math::budget::Contribution;

/// Places tried in each round, and rounds; a round narrows by half the places.
const PLACES: usize = 32;
const ROUNDS: usize = 7;
/// Part of the least |S| up to which R_o is looked for.
const TOP: f64 = 0.95;

/// An output's resistance as found.
#[derive(Clone, Debug, PartialEq)]
pub struct FoundOutput {
    /// Ω.
    pub ohm: f64,
    /// One standard uncertainty in Ω.
    pub uncertainty_ohm: f64,
    /// Of the resistor, of the gain and of noise.
    pub budget: [Contribution; 3],
}

/// One line: S, |ρ| and its variance.
type Line = (ImpedancePoint, f64, f64);

/// Finds it; `seen` is driver and output together, `loaded` the pressure with the resistor across over that without,
/// `ln_gain` the change of gain between the outer takes. None where no line is common.
pub fn found_output(
    seen: &[ImpedancePoint],
    loaded: &RatioCurve,
    across: Resistor,
    ln_gain: f64,
) -> Option<FoundOutput> {
    let at = |hz: f64| {
        let place = seen.partition_point(|p| p.frequency_hz < hz - 1e-6);
        seen.get(place).filter(|p| (p.frequency_hz - hz).abs() < 1e-6).copied()
    };
    let lines: Vec<Line> =
        loaded.lines.iter().filter_map(|l| Some((at(l.frequency_hz)?, l.ratio.norm(), l.variance))).collect();
    let least = lines.iter().map(|l| l.0.z_ohm.norm()).fold(f64::INFINITY, f64::min);
    if !least.is_finite() {
        return None;
    }
    let solve = |ohm: f64, gain: f64| nearest(&lines, ohm, gain, TOP * least);
    let ohm = solve(across.ohm, 1.0);
    let by_resistor = solve(across.ohm * (1.0 + across.relative), 1.0) - ohm;
    // Less gain reads as more resistance; upwards of nought, where the other way has an end.
    let by_gain = solve(across.ohm, (-gain_uncertainty(ln_gain)).exp()) - ohm;
    let weight: f64 = lines.iter().map(|l| l.1 * l.1 / l.2.max(1e-30)).sum();
    let by_noise = across.ohm / weight.sqrt();
    let source = |source: &str, effect: f64| Contribution { source: source.to_owned(), effect, common: false };
    let budget =
        [source("known_resistor", by_resistor), source("gain_between_takes", by_gain), source("noise", by_noise)];
    Some(FoundOutput { ohm, uncertainty_ohm: by_resistor.hypot(by_gain).hypot(by_noise), budget })
}

fn nearest(lines: &[Line], across_ohm: f64, gain: f64, top: f64) -> f64 {
    let misfit = |r: f64| -> f64 {
        let off = |(s, modulus, variance): &Line| {
            let wanted = 1.0 / (1.0 + r / across_ohm * (1.0 - r / s.z_ohm)).norm();
            (modulus * gain - wanted).powi(2) / variance.max(1e-30)
        };
        lines.iter().map(off).sum()
    };
    let (mut low, mut high) = (0.0, top);
    let mut best = 0.0;
    for _ in 0..ROUNDS {
        let step = (high - low) / PLACES as f64;
        let (mut least, from) = (f64::INFINITY, low);
        for i in 0..=PLACES {
            let r = from + step * i as f64;
            let m = misfit(r);
            if m < least {
                (least, best) = (m, r);
            }
        }
        (low, high) = ((best - step).max(0.0), (best + step).min(top));
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::electrical::ratio::{Method, RatioLine};
    use crate::math::fft::Complex64;

    /// Outputs from a good amplifier's to a headphone socket's behind a driver with a resonance: circuit theory gives the
    /// ratio, and R_o comes back within the last round's width.
    #[test]
    fn the_output_comes_back() {
        for ohm in [0.0, 0.15, 2.2, 4.0] {
            let (mut seen, mut loaded) = (Vec::new(), RatioCurve::empty(Method::WholePeriods, 4));
            for k in 10..500 {
                let hz = f64::from(k);
                let z =
                    6.0 + 50.0 / Complex64::new(1.0, 4.0 * (hz / 40.0 - 40.0 / hz)) + Complex64::new(0.0, 0.004 * hz);
                let s = z + ohm;
                seen.push(ImpedancePoint { frequency_hz: hz, z_ohm: s, variance_ohm2: 1e-6 });
                loaded.lines.push(RatioLine { frequency_hz: hz, ratio: s / (s + z * ohm / 8.2), variance: 1e-6 });
            }
            let across = Resistor { ohm: 8.2, relative: 0.005 };
            let found = found_output(&seen, &loaded, across, 0.0).unwrap();
            // 9.5 Ω over 32·16⁶.
            assert!((found.ohm - ohm).abs() < 1e-6, "{ohm}: {found:?}");
            // Gain of 3e-4 is 8.2 Ω of 3e-4 or more; 490 lines of 1e-3 noise leave 4e-4 Ω.
            assert!((2e-3..0.1).contains(&found.uncertainty_ohm), "{ohm}: {found:?}");
        }
    }
}
