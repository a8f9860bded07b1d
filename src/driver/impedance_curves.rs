//! The curves that a reading of the impedance shows as evidence.

use super::equivalent_circuit::Circuit;
use super::impedance_budget::{curve_uncertainty_ohm, FitBudget};
use crate::electrical::impedance::{gather, merge, ImpedancePoint};
use crate::electrical::jig::{Jig, JigSource};
use crate::math::order::by_name;
use crate::signal::reading::Curve;

/// Points a decade of the fitted curve.
const FIT_POINTS_A_DECADE: f64 = 120.0;
/// Points of the measured curve lie at least this far apart (relative), about 560 from 10 Hz to 20 kHz.
const SHOWN_SPACING: f64 = 0.0137;
/// A sixth of an octave in which the impedance is known no better than this is shown as refused.
const REFUSED_ABOVE: f64 = 0.05;

/// `frequency_hz`, `magnitude_ohm`, `phase_deg`, `magnitude_standard_uncertainty_ohm` of the measured points, noise and
/// jig together.
pub fn measured(points: &[ImpedancePoint], jig: &Jig, sources: &[JigSource]) -> Curve {
    let shown = gather(points, |hz| SHOWN_SPACING * hz);
    let uncertainty = |p: &ImpedancePoint| {
        let direction = p.z_ohm.conj() / p.z_ohm.norm().max(f64::MIN_POSITIVE);
        let by_jig = |s: &JigSource| (jig.change_ohm(p.frequency_hz, p.z_ohm, &s.shift) * direction).re.powi(2);
        (0.5 * p.variance_ohm2 + sources.iter().map(by_jig).sum::<f64>()).sqrt()
    };
    let rows = shown.iter().map(|p| (p.frequency_hz, p.z_ohm.norm(), p.z_ohm.arg().to_degrees(), uncertainty(p)));
    columns(rows)
}

/// The same columns of the fitted circuit on a dense logarithmic axis over the band of the points.
pub fn fitted(circuit: &Circuit, budget: &FitBudget, points: &[ImpedancePoint]) -> Curve {
    fitted_between(circuit, budget, ends(points))
}

/// The same between two frequencies in Hz.
pub fn fitted_between(circuit: &Circuit, budget: &FitBudget, (low, high): (f64, f64)) -> Curve {
    let count = ((high / low).log10() * FIT_POINTS_A_DECADE).ceil().max(1.0) as usize;
    let row = |i: usize| {
        let hz = low * (high / low).powf(i as f64 / count as f64);
        let z = circuit.impedance(hz);
        (hz, z.norm(), z.arg().to_degrees(), curve_uncertainty_ohm(circuit, budget, hz))
    };
    columns((0..=count).map(row))
}

fn columns(rows: impl Iterator<Item = (f64, f64, f64, f64)>) -> Curve {
    let mut table = [Vec::new(), Vec::new(), Vec::new(), Vec::new()];
    for (hz, ohm, deg, u) in rows {
        for (column, value) in table.iter_mut().zip([hz, ohm, deg, u]) {
            column.push(value);
        }
    }
    let names = ["frequency_hz", "magnitude_ohm", "phase_deg", "magnitude_standard_uncertainty_ohm"];
    by_name(names.into_iter().zip(table))
}

/// Measured over fitted modulus, in per cent beyond 1: `frequency_hz`, `percent`.
pub fn residual(points: &[ImpedancePoint], circuit: &Circuit) -> Curve {
    let shown = gather(points, |hz| SHOWN_SPACING * hz);
    let percent = |p: &ImpedancePoint| 100.0 * (p.z_ohm.norm() / circuit.impedance(p.frequency_hz).norm() - 1.0);
    let frequency_hz: Vec<f64> = shown.iter().map(|p| p.frequency_hz).collect();
    by_name([("frequency_hz", frequency_hz), ("percent", shown.iter().map(percent).collect())])
}

/// Bands between `low_hz` and `high_hz` in which nothing is known, or not well enough: `low_hz`, `high_hz`.
pub fn refused_bands(points: &[ImpedancePoint], low_hz: f64, high_hz: f64) -> Curve {
    let step = 2f64.powf(1.0 / 6.0);
    let mut bands: Vec<(f64, f64)> = Vec::new();
    let mut edge = low_hz;
    while edge < high_hz * 0.999 {
        let next = (edge * step).min(high_hz);
        if !known(points, edge, next) {
            match bands.last_mut() {
                Some(last) if last.1 == edge => last.1 = next,
                _ => bands.push((edge, next)),
            }
        }
        edge = next;
    }
    let (lows, highs) = bands.into_iter().unzip();
    by_name([("low_hz", lows), ("high_hz", highs)])
}

/// A sixth of an octave counts as known when its points together are; an empty one when a line lies within a spacing.
fn known(points: &[ImpedancePoint], low_hz: f64, high_hz: f64) -> bool {
    let begin = points.partition_point(|p| p.frequency_hz < low_hz);
    let end = points.partition_point(|p| p.frequency_hz < high_hz);
    if begin == end {
        // Between two lines that are less than a third of an octave apart nothing is missing.
        return match (begin.checked_sub(1).and_then(|i| points.get(i)), points.get(begin)) {
            (Some(a), Some(b)) => b.frequency_hz / a.frequency_hz < 1.27,
            _ => false,
        };
    }
    let together = merge(&points[begin..end]);
    together.magnitude_standard_uncertainty_ohm() < REFUSED_ABOVE * together.z_ohm.norm()
}

fn ends(points: &[ImpedancePoint]) -> (f64, f64) {
    match (points.first(), points.last()) {
        (Some(a), Some(b)) if b.frequency_hz > a.frequency_hz => (a.frequency_hz, b.frequency_hz),
        _ => (10.0, 20_000.0),
    }
}
