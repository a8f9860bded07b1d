//! Which tone tells most, after the readings so far.
//!
//! Before the resonance is enclosed: outwards by octaves, then the golden section of the bracket around the highest
//! |Z|. Afterwards: every frequency of a grid is tried as the next reading, and the one that brings the variances of
//! ln f_s, ln Q_ms and ln Q_ts down most, each against what is aimed at, is proposed (optimal design for chosen figures:
//! the criterion A with weights). Frequencies in Hz.

use super::meter_fit::{display_uncertainty, fit, MeterFit};
use super::meter_setup::MeterSetup;
use crate::electrical::meter_reading::{log_ratio_of, MeterReading};
use crate::math::order::{ascending, order};
use crate::math::robust::median;

/// First tone: near the resonance of most woofers.
const FIRST_HZ: f64 = 50.0;
/// Tones are sought and proposed within this.
pub const TONES_HZ: (f64, f64) = (10.0, 2000.0);
/// Tones lie on a grid of quarters of a hertz: whole cycles in four seconds.
pub const GRID_HZ: f64 = 0.25;
/// Relative standard uncertainties aimed at: f_s, Q_ms, Q_ts.
pub const AIM: [f64; 3] = [0.001, 0.007, 0.007];
/// A fit is tried from so many readings on.
const FIT_FROM: usize = 5;
/// The bracket around the highest reading is narrow enough for the fit: upper over lower end.
const NARROW: f64 = 1.7;
/// Two tones closer than this tell no more than one (relative).
const APART: f64 = 0.004;

/// What the readings so far say about the tone to come.
#[derive(Clone, Debug, PartialEq)]
pub struct NextTone {
    /// Proposed frequency in Hz.
    pub frequency_hz: f64,
    /// Relative standard uncertainties of f_s, Q_ms, Q_ts so far, by the readings alone; none before a fit.
    pub so_far: Option<[f64; 3]>,
    /// The last bracket of the search, lower and upper end, while the resonance is still sought.
    pub sought_between_hz: Option<(f64, f64)>,
}

impl NextTone {
    /// The figures are as certain as is aimed at.
    pub fn is_enough(&self) -> bool {
        self.so_far.is_some_and(|so_far| so_far.iter().zip(AIM).all(|(u, aim)| *u <= aim))
    }
}

/// The tone to read next.
pub fn next_tone(setup: &MeterSetup) -> NextTone {
    let heights: Vec<(f64, f64)> = setup
        .readings
        .iter()
        .map(|r| (r.frequency_hz, r.magnitude_ohm(setup.series_resistor_ohm, 0.0).unwrap_or(f64::MAX)))
        .collect();
    let rising = order(&heights.iter().map(|h| h.0).collect::<Vec<_>>());
    let heights: Vec<(f64, f64)> = rising.into_iter().map(|i| heights[i]).collect();
    if let Some(search) = seek(&heights) {
        return search;
    }
    match fit(setup, &setup.readings) {
        Some(found) if setup.readings.len() >= FIT_FROM => {
            let frequency_hz = most_telling(setup, &found);
            NextTone { frequency_hz, so_far: Some(uncertainties(&found, None)), sought_between_hz: None }
        }
        _ => NextTone { frequency_hz: fill_the_widest_gap(&heights), so_far: None, sought_between_hz: None },
    }
}

/// The next tone of the search; none once the bracket is narrow.
fn seek(heights: &[(f64, f64)]) -> Option<NextTone> {
    let tone =
        |hz: f64, between| Some(NextTone { frequency_hz: on_grid(hz), so_far: None, sought_between_hz: between });
    let Some(top) = (0..heights.len()).max_by(|a, b| heights[*a].1.total_cmp(&heights[*b].1)) else {
        return tone(FIRST_HZ, None);
    };
    let at = heights[top].0;
    let below = top.checked_sub(1).map(|i| heights[i].0);
    let above = heights.get(top + 1).map(|h| h.0);
    match (below, above) {
        (None, _) if at > 1.3 * TONES_HZ.0 => tone((0.5 * at).max(TONES_HZ.0), Some((TONES_HZ.0, at))),
        (_, None) if at < 0.7 * TONES_HZ.1 => tone((2.0 * at).min(TONES_HZ.1), Some((at, TONES_HZ.1))),
        (Some(low), Some(high)) if high / low > NARROW => {
            // The wider half of the bracket, cut by the golden section towards the highest reading.
            let (to, share) = (if at / low > high / at { low } else { high }, 0.381_966);
            tone(at * (to / at).powf(share), Some((low, high)))
        }
        _ => None,
    }
}

/// Middle of the widest gap within an octave and a half of the highest reading.
fn fill_the_widest_gap(heights: &[(f64, f64)]) -> f64 {
    let top = heights.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(FIRST_HZ, |h| h.0);
    let mut edges: Vec<f64> = vec![top / 2.8, top * 2.8];
    edges.extend(heights.iter().map(|h| h.0).filter(|hz| (top / 2.8..=top * 2.8).contains(hz)));
    ascending(&mut edges);
    let widest = edges.windows(2).max_by(|a, b| (a[1] / a[0]).total_cmp(&(b[1] / b[0])));
    on_grid(widest.map_or(top, |w| (w[0] * w[1]).sqrt()))
}

fn most_telling(setup: &MeterSetup, found: &MeterFit) -> f64 {
    let source_v = source_level_v(setup, found);
    let f_s = found.circuit.f_s_hz;
    let (low, high) = ((0.35 * f_s).max(TONES_HZ.0), (30.0 * f_s).min(TONES_HZ.1));
    let cost = |hz: f64| {
        let cost = uncertainties(found, Some(row_of(setup, found, hz, source_v)));
        cost.iter().zip(AIM).map(|(u, aim)| (u / aim).powi(2)).sum::<f64>()
    };
    let steps = 160;
    let grid = (0..=steps).map(|i| on_grid(low * (high / low).powf(f64::from(i) / f64::from(steps))));
    let taken = |hz: &f64| setup.readings.iter().any(|r| (r.frequency_hz / hz - 1.0).abs() < APART);
    let free: Vec<(f64, f64)> = grid.filter(|hz| !taken(hz)).map(|hz| (hz, cost(hz))).collect();
    free.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).map_or(on_grid(f_s), |best| best.0)
}

/// Volts of the source by the readings so far, in V.
fn source_level_v(setup: &MeterSetup, found: &MeterFit) -> f64 {
    let level = |r: &MeterReading| {
        let z = found.circuit.impedance(r.frequency_hz);
        r.driver_v * (z + setup.series_resistor_ohm).norm() / z.norm()
    };
    median(&setup.readings.iter().map(level).collect::<Vec<_>>()).unwrap_or(1.0)
}

/// The scaled slopes that a reading at `hz` would add.
fn row_of(setup: &MeterSetup, found: &MeterFit, hz: f64, source_v: f64) -> Vec<f64> {
    let r_ohm = setup.series_resistor_ohm;
    let z = found.circuit.impedance(hz);
    let driver_v = source_v * z.norm() / (z + r_ohm).norm();
    let model = setup.readings[0];
    let other_v = driver_v / log_ratio_of(model.across(), z, r_ohm).exp();
    let reading = MeterReading { frequency_hz: hz, ..model.with(driver_v, other_v) };
    let scale = display_uncertainty(setup, &reading).hypot(2f64.sqrt() * found.relative_error);
    found.slope(&reading, r_ohm).iter().map(|s| s / scale).collect()
}

/// Relative standard uncertainties of f_s, Q_ms, Q_ts, with one more observation where given (one step of the
/// recursive least squares).
fn uncertainties(found: &MeterFit, more: Option<Vec<f64>>) -> [f64; 3] {
    let q = found.circuit;
    // ln Q_ts moves by Q_ts/Q_ms of ln Q_ms and Q_ts/Q_es of ln Q_es.
    let (by_ms, by_es) = (q.q_ts() / q.q_ms, q.q_ts() / q.q_es);
    let figures = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, by_ms, by_es]];
    let gain = more.map(|row| {
        let moved = found.covariance.times_vector(&row);
        let own: f64 = moved.iter().zip(&row).map(|(a, b)| a * b).sum();
        (moved, 1.0 + own)
    });
    figures.map(|weights| {
        let quadratic: f64 = (0..3)
            .flat_map(|a| (0..3).map(move |b| (a, b)))
            .map(|(a, b)| weights[a] * weights[b] * found.covariance[(a, b)])
            .sum();
        let less = gain.as_ref().map_or(0.0, |(moved, own)| {
            let along: f64 = weights.iter().zip(moved).map(|(w, m)| w * m).sum();
            along * along / own
        });
        (quadratic - less).max(0.0).sqrt()
    })
}

fn on_grid(hz: f64) -> f64 {
    ((hz / GRID_HZ).round() * GRID_HZ).clamp(TONES_HZ.0, TONES_HZ.1)
}
