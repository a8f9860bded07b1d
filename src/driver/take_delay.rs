//! The delay between two takes whose ratio holds a driver: fitted together with its circuit.
//!
//! Delay and coil both turn the phase, but not alike: the coil's turn ends at 90° and comes with a rise of the modulus, a
//! delay goes on for ever and leaves the modulus alone. So the delay is where the circuit fits best: the criterion of the
//! fit (−2 ln likelihood up to a constant) as a function of the delay, its minimum by golden section, its uncertainty where
//! it has risen by one. Where output and input run on one clock the delay is a whole number of samples, and is taken as
//! such if the minimum says so within its uncertainty.

use super::coil::CoilModel;
use super::equivalent_circuit::{Circuit, CircuitModel};
use super::impedance_fit::fit_circuit;
use super::starting_values::{find_peak, first_guess};
use crate::electrical::impedance::{gather, ImpedancePoint};
use crate::electrical::jig::Jig;
use crate::electrical::ratio::RatioCurve;
use crate::math::fft::Complex64;
use std::f64::consts::TAU;

/// Searched to either side, in samples; what a coil adds to the first estimate is less.
const REACH: i32 = 4;
/// Grid of the first search, in samples.
const GRID: f64 = 1.0;
/// Rounds of the golden section: 0.618¹² of two grid steps is 0.006 samples, 2 thousandths of a degree at 40 Hz.
const ROUNDS: usize = 12;
/// A minimum this near to a whole sample is taken for one, where the clocks are one.
const WHOLE: f64 = 0.15;

/// A delay with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delay {
    /// By how much the ratio still comes late, in s.
    pub delay_s: f64,
    /// Its standard uncertainty in s; 0 where it is a whole number of samples.
    pub uncertainty_s: f64,
}

/// Fits what is left of the delay of a ratio that is in step to a few samples. `before` is what was taken out already, in
/// samples; `one_clock` says that the whole must be a whole number of them. None where nothing fits.
pub fn fit_delay(curve: &RatioCurve, jig: &Jig, rate_hz: f64, before: f64, one_clock: bool) -> Option<Delay> {
    let mut start: Option<Circuit> = None;
    let mut cost = |samples: f64| {
        let points = thinned(curve, jig, samples / rate_hz);
        let peak = find_peak(&points)?;
        let model = CircuitModel { coil: CoilModel::SemiInductance, creep: false };
        // A circuit fitted at a wrong delay may lead nowhere: the guess by the curve itself competes with it.
        let starts = [Some(first_guess(&points, &peak, model)), start];
        let fits = starts.iter().flatten().filter_map(|s| fit_circuit(&points, s));
        let best = fits.min_by(|a, b| a.criterion.total_cmp(&b.criterion))?;
        start = Some(best.circuit);
        Some(best.criterion)
    };
    let grid: Vec<(f64, f64)> =
        (-REACH..=REACH).map(|k| f64::from(k) * GRID).filter_map(|x| Some((x, cost(x)?))).collect();
    let coarse = grid.iter().min_by(|a, b| a.1.total_cmp(&b.1))?.0;
    let mut cost = |x: f64| cost(x).unwrap_or(f64::INFINITY);
    let (fine, least) = minimum(&mut cost, coarse - GRID, coarse + GRID);
    // Half-width at which the criterion has risen by one, from a step of a tenth of the grid.
    let step = 0.1 * GRID;
    let rise = 0.5 * (cost(fine + step) + cost(fine - step)) - least;
    let uncertainty = if rise > 0.0 { step / rise.sqrt() } else { GRID };
    let whole = (before + fine).round() - before;
    if one_clock && (whole - fine).abs() < WHOLE.max(3.0 * uncertainty.min(0.1)) {
        return Some(Delay { delay_s: whole / rate_hz, uncertainty_s: 0.0 });
    }
    Some(Delay { delay_s: fine / rate_hz, uncertainty_s: uncertainty / rate_hz })
}

/// The impedance with a delay taken out, in bins of a fortieth of the frequency.
fn thinned(curve: &RatioCurve, jig: &Jig, delay_s: f64) -> Vec<ImpedancePoint> {
    let jig = Jig { delay_s, ..jig.clone() };
    gather(&curve.impedance(&jig), |hz| hz / 40.0)
}

/// The ratio with a delay taken out.
#[must_use]
pub fn in_step(mut curve: RatioCurve, delay_s: f64) -> RatioCurve {
    curve.lines.iter_mut().for_each(|l| l.ratio *= Complex64::cis(TAU * l.frequency_hz * delay_s));
    curve
}

/// Place and value of the least cost between two places, by golden section.
fn minimum(cost: &mut impl FnMut(f64) -> f64, mut low: f64, mut high: f64) -> (f64, f64) {
    let ratio = (5f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (high - ratio * (high - low), low + ratio * (high - low));
    let (mut at_a, mut at_b) = (cost(a), cost(b));
    for _ in 0..ROUNDS {
        if at_a < at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - ratio * (high - low);
            at_a = cost(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + ratio * (high - low);
            at_b = cost(b);
        }
    }
    if at_a < at_b {
        (a, at_a)
    } else {
        (b, at_b)
    }
}

#[cfg(test)]
mod tests {
    use super::super::coil::Coil;
    use super::*;
    use crate::electrical::ratio::{Method, RatioLine};

    fn curve(late_samples: f64, scatter: f64) -> RatioCurve {
        let coil = Coil::SemiInductance { k_ohm_s_n: 0.02, n: 0.66 };
        let circuit = Circuit { f_s_hz: 31.0, q_ms: 5.2, q_es: 0.36, r_e_ohm: 5.6, coil, creep: None };
        let mut random = crate::math::random::Random::new(3);
        let line = |i: i32| {
            let hz = 6.0 * 1.004f64.powi(i);
            let z = circuit.impedance(hz);
            let noise = Complex64::new(random.normal(), random.normal()) * scatter / 2f64.sqrt();
            let ratio = z / (z + 47.0) * Complex64::cis(-TAU * hz * late_samples / 48_000.0) + noise;
            RatioLine { frequency_hz: hz, ratio, variance: scatter * scatter }
        };
        RatioCurve { lines: (0..2020).map(line).collect(), ..RatioCurve::empty(Method::WholePeriods, 4) }
    }

    /// Phase noise of a line at 10 kHz is scatter/|H| = 1e-3/0.4, a sample there is 75°: a few hundred lines know the
    /// delay to 1e-3/0.4/1.3/√300 = 1e-4 samples, less what the coil takes: a factor of ten allowed.
    #[test]
    fn the_delay_is_found_beside_the_coil() {
        let jig = Jig::plain(47.0);
        let part = fit_delay(&curve(1.3, 1e-3), &jig, 48_000.0, 0.0, true).unwrap();
        let error = part.delay_s * 48_000.0 - 1.3;
        assert!(error.abs() < 4.0 * part.uncertainty_s * 48_000.0 && error.abs() < 0.01, "{part:?}");
        let whole = fit_delay(&curve(-2.02, 1e-3), &jig, 48_000.0, 100.0, true).unwrap();
        assert_eq!((whole.delay_s * 48_000.0, whole.uncertainty_s), (-2.0, 0.0));
    }
}
