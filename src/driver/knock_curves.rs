//! Evidence of a knock reading: one ring with its fit and envelope, the knocks one by one, and the run over amplitude.

use super::knock_fit::RingResult;
use super::knock_rings::Rings;
use super::ring_down_choice::Fitted;
use super::ring_down_model::{Law, Ring};
use super::ring_down_projection::Projection;
use crate::math::order::arranged;
use crate::math::order::by_name;
use crate::signal::reading::Curve;
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// All curves of a reading.
pub(super) fn curves(rings: &Rings, result: &RingResult) -> BTreeMap<String, Curve> {
    let mut out = BTreeMap::new();
    if let Some(ring) = ring_curve(rings, result) {
        out.insert("ring".to_owned(), ring);
    }
    out.insert("knocks".to_owned(), knocks_curve(rings, result));
    out.insert("amplitude".to_owned(), amplitude_curve(rings, result));
    out
}

/// The knock of the first condition whose ring stands highest above its noise: measured, fit and envelope over time.
/// Measured and fit are the ring alone: constant, hum and the input's own motion are taken off both.
fn ring_curve(rings: &Rings, result: &RingResult) -> Option<Curve> {
    let strength = |k: &usize| result.fitted.fit.amplitudes[*k][0].hypot(result.fitted.fit.amplitudes[*k][1]);
    let best = (0..rings.knocks.len())
        .filter(|k| rings.knocks[*k].condition == 0)
        .max_by(|a, b| strength(a).total_cmp(&strength(b)))?;
    let (measured, fit) = ring_alone(&rings.rings[best], &result.fitted, best)?;
    let knock = &rings.knocks[best];
    let slow = rings.slow[knock.take].as_ref()?;
    let find = &rings.finds[knock.take][knock.find];
    let rate = slow.rate_hz;
    let start = knock.start as f64 / rate - find.onset as f64 / (rate * slow.step as f64);
    let amplitude = strength(&best);
    let (f, q) = result.fitted.condition(0);
    let time_s: Vec<f64> = (0..measured.len()).map(|n| start + n as f64 / rate).collect();
    let envelope = (0..measured.len()).map(|n| amplitude * (-PI * f / q * n as f64 / rate).exp()).collect();
    Some(columns(vec![("time_s", time_s), ("measured", measured), ("fit", fit), ("envelope", envelope)]))
}

/// Samples and fit of a ring without constant, hum and the input's own motion.
fn ring_alone(ring: &Ring, fitted: &Fitted, index: usize) -> Option<(Vec<f64>, Vec<f64>)> {
    let mut columns = ring.columns(&fitted.shape, &fitted.fit.parameters)?;
    columns.extend(ring.nuisance_columns());
    // Amplitudes of constant and hum given those of ring and poles: what is left over tells them.
    let known = &fitted.fit.amplitudes[index];
    let mut left = ring.samples.clone();
    for (column, a) in columns.iter().zip(known) {
        left.iter_mut().zip(column).for_each(|(l, v)| *l -= a * v);
    }
    let mut amplitudes = known.clone();
    amplitudes.extend(Projection::new(&columns[known.len()..]).coefficients(&left));
    let mut measured = ring.samples.clone();
    let mut fit = vec![0.0; measured.len()];
    for (k, (column, a)) in columns.iter().zip(&amplitudes).enumerate() {
        for (n, v) in column.iter().enumerate() {
            if k < 2 {
                fit[n] += a * v;
            } else {
                measured[n] -= a * v;
            }
        }
    }
    Some((measured, fit))
}

fn knocks_curve(rings: &Rings, result: &RingResult) -> Curve {
    let mut c: [Vec<f64>; 9] = Default::default();
    for (k, (knock, single)) in rings.knocks.iter().zip(&result.singles).enumerate() {
        let find = &rings.finds[knock.take][knock.find];
        let row = [
            (k + 1) as f64,
            single.frequency.0,
            finite(single.frequency.0 * single.frequency.1),
            single.q.0,
            finite(single.q.0 * single.q.1),
            find.spotted.time_s,
            find.spotted.peak_dbfs,
            (knock.take + 1) as f64,
            knock.condition as f64,
        ];
        for (column, v) in c.iter_mut().zip(row) {
            column.push(v);
        }
    }
    let names = [
        "number",
        "f_s_hz",
        "f_s_standard_uncertainty_hz",
        "q_ms",
        "q_ms_standard_uncertainty",
        "time_s",
        "peak_dbfs",
        "take",
        "condition",
    ];
    columns(names.into_iter().zip(c).collect())
}

/// Frequency and Q in windows along the decay of the first condition, the strongest amplitude first.
///
/// Each window holds two and a half periods; all rings that reach it at this amplitude count, weighted by their height.
fn amplitude_curve(rings: &Rings, result: &RingResult) -> Curve {
    let mut rows: Vec<(f64, f64, f64)> = Vec::new();
    for (index, ring) in rings.rings.iter().enumerate().filter(|(_, r)| r.condition == 0) {
        if let Some((measured, _)) = ring_alone(ring, &result.fitted, index) {
            rows.extend(windows(ring, &measured, result));
        }
    }
    let rows = arranged(rows, |row| -row.0);
    let mut out = [Vec::new(), Vec::new(), Vec::new()];
    for bin in rows.chunks(rings.count(0).max(1)) {
        let n = bin.len() as f64;
        out[0].push(bin.iter().map(|r| r.0).sum::<f64>() / n);
        out[1].push(bin.iter().map(|r| r.1).sum::<f64>() / n);
        out[2].push(n / bin.iter().map(|r| 1.0 / r.2).sum::<f64>());
    }
    let [amplitude, f, q] = out;
    columns(vec![("amplitude_dbfs", amplitude), ("f_s_hz", f), ("q", q)])
}

/// (amplitude in dBFS, frequency, Q) of each window of a ring that stands well above the noise.
fn windows(ring: &Ring, measured: &[f64], result: &RingResult) -> Vec<(f64, f64, f64)> {
    let (f, q) = result.fitted.condition(ring.condition);
    let length = (2.5 / f * ring.rate_hz) as usize;
    let mut out = Vec::new();
    let mut from = 0;
    while from + length <= measured.len() {
        let part = &measured[from..from + length];
        if let Some((amplitude, f_here, q_here)) = one_window(part, ring.rate_hz, f, q) {
            if amplitude < 30.0 * ring.noise {
                break;
            }
            out.push((20.0 * amplitude.max(1e-10).log10(), f_here, q_here));
        }
        from += length / 2;
    }
    out
}

/// One Gauss-Newton step from the known frequency and Q: enough, as a window differs from the whole by per cents.
fn one_window(part: &[f64], rate_hz: f64, f: f64, q: f64) -> Option<(f64, f64, f64)> {
    let alpha = PI * f / q;
    let omega = 2.0 * PI * f * (1.0 - 0.25 / (q * q)).sqrt();
    let mut c = Vec::with_capacity(part.len());
    let mut s = Vec::with_capacity(part.len());
    for n in 0..part.len() {
        let t = n as f64 / rate_hz;
        let a = (-alpha * t).exp();
        c.push(a * (omega * t).cos());
        s.push(a * (omega * t).sin());
    }
    let time = |v: &[f64]| v.iter().enumerate().map(|(n, x)| x * n as f64 / rate_hz).collect::<Vec<f64>>();
    let (tc, ts) = (time(&c), time(&s));
    let x = Projection::new(&[c, s, tc, ts]).coefficients(part);
    // (x0 c + x1 s) changed by δω and δα: t (−x0 s + x1 c) δω − t (x0 c + x1 s) δα = t c x2 + t s x3.
    let power = x[0] * x[0] + x[1] * x[1];
    if power.is_nan() || power <= 0.0 {
        return None;
    }
    let faster = (x[1] * x[2] - x[0] * x[3]) / power;
    let slower = -(x[0] * x[2] + x[1] * x[3]) / power;
    let (alpha, omega) = (alpha + slower, omega + faster);
    let natural = alpha.hypot(omega);
    (alpha > 0.0).then(|| (power.sqrt(), natural / (2.0 * PI), natural / (2.0 * alpha)))
}

/// Name of an amplitude law, for `chosen`.
pub(super) fn law_name(law: Law) -> &'static str {
    match law {
        Law::Exponential => "exponential",
        Law::Amplitude { power } if power < 1.5 => "shifts_with_amplitude",
        Law::Amplitude { .. } => "shifts_with_amplitude_squared",
        Law::Friction => "friction",
        Law::Gain => "gain",
    }
}

fn finite(v: f64) -> f64 {
    if v.is_finite() {
        v
    } else {
        0.0
    }
}

fn columns(named: Vec<(&str, Vec<f64>)>) -> Curve {
    by_name(named)
}
