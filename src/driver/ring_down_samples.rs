//! From a take to rings: a low sample rate, the quiet stretches, and where each ring starts and ends.
//!
//! The low-pass is a symmetric finite impulse response. A free motion goes through it unchanged but for its amplitude as
//! long as the filter does not reach back into the knock, so each ring starts half a filter length after it.

use super::knock_spotting::Find;
use super::ring_down_friction::half_swings;
use super::ring_down_model::{Prepared, Ring};
use super::ring_down_noise::{background, Background};
use crate::signal::take::Take;
use std::f64::consts::PI;
use std::ops::Range;

/// A take at its low rate.
pub(super) struct SlowTake {
    /// Samples at the low rate.
    pub samples: Vec<f64>,
    /// Low rate.
    pub rate_hz: f64,
    /// Raw samples for each low-rate one.
    pub step: usize,
    /// Hum and noise.
    pub background: Background,
}

/// Samples a period of the resonance.
const SAMPLES_A_PERIOD: f64 = 24.0;
/// Half the filter's length in low-rate samples.
const HALF_FILTER: usize = 4;
/// Part of a period between the peak and the start of the ring: by then the finger has left.
pub(super) const AFTER_PEAK: f64 = 0.25;
/// The ring is over after seven time constants; a mode of the room rings on, and taken for noise it would be whitened away
/// instead of shown. So twice that and 0.6 s, where enough quiet is left.
const QUIET: (f64, f64) = (7.0, 0.2);
const RESTED: (f64, f64) = (14.0, 0.6);
const RESTED_AT_LEAST_S: f64 = 1.0;
/// A model of a ring is not trusted beyond this part of its peak.
const MODEL_FLOOR: f64 = 1e-4;

/// Thins a take whose rings lie near `frequency_hz` with decay `alpha` (1/s).
pub(super) fn slow_take(take: &Take, channel: usize, finds: &[Find], frequency_hz: f64) -> Option<SlowTake> {
    let raw = take.channel(channel)?;
    let step = (take.rate_hz() / (SAMPLES_A_PERIOD * frequency_hz)).floor().max(1.0) as usize;
    let samples = thinned(raw, step);
    let rate_hz = take.rate_hz() / step as f64;
    let rested = quiet_stretches(finds, step, samples.len(), rate_hz, RESTED);
    let long_enough = rested.iter().map(Range::len).sum::<usize>() as f64 > RESTED_AT_LEAST_S * rate_hz;
    let quiet = if long_enough { rested } else { quiet_stretches(finds, step, samples.len(), rate_hz, QUIET) };
    let top = finds.iter().map(|f| f.spotted.peak_dbfs).fold(-200.0, f64::max);
    let background = background(&samples, rate_hz, &quiet, MODEL_FLOOR * 10.0_f64.powf(top / 20.0));
    Some(SlowTake { samples, rate_hz, step, background })
}

impl SlowTake {
    /// Heights of the half swings after a knock, without the first `skip`; none where there are fewer than two.
    pub(super) fn swings(&self, find: &Find, skip: usize) -> Option<Vec<f64>> {
        let from = find.peak / self.step;
        let until = (find.next / self.step).min(self.samples.len()).min(from + (1.5 * self.rate_hz) as usize);
        let part = self.samples.get(from..until)?;
        let rest = &part[part.len() - part.len() / 4..];
        let level = rest.iter().sum::<f64>() / rest.len().max(1) as f64;
        let clean: Vec<f64> = part.iter().map(|v| v - level).collect();
        let top = clean.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        let floor = (0.04 * top).max(6.0 * self.background.level).max(3.0 * self.background.hum_amplitude);
        let swings: Vec<f64> = half_swings(&clean, floor).into_iter().skip(skip).collect();
        (swings.len() > 1).then_some(swings)
    }

    /// The ring of one knock, `advance` periods later than the earliest start; none where too little is left of it.
    pub(super) fn ring(&self, find: &Find, condition: usize, advance: f64) -> Option<(Ring, usize)> {
        let motion = find.ring?;
        let alpha = PI * motion.frequency_hz / motion.q;
        let after = (AFTER_PEAK + advance) / motion.frequency_hz * self.rate_hz;
        let start = find.peak / self.step + HALF_FILTER + after.ceil() as usize;
        let limit = (find.next / self.step).saturating_sub(HALF_FILTER + (0.01 * self.rate_hz) as usize);
        let above = (motion.amplitude / self.background.level.max(1e-9)).max(2.0).ln();
        // One time constant beyond the noise, and four periods at the least, so that hum and constant are pinned down.
        let wanted = ((above + 1.0) / alpha).max(4.0 / motion.frequency_hz).min(3.0);
        let end = limit.min(start + (wanted * self.rate_hz) as usize).min(self.samples.len());
        let least = (1.2 * SAMPLES_A_PERIOD) as usize + 2 * self.background.hum_hz.len();
        (end > start + least).then(|| {
            let mut ring = Ring {
                samples: self.samples[start..end].to_vec(),
                rate_hz: self.rate_hz,
                condition,
                hum_hz: self.background.hum_hz.clone(),
                noise: self.background.noise,
                whitener: self.background.whitener.clone(),
                strength: 1.0,
                decay_per_s: alpha,
                prepared: Prepared::default(),
            };
            ring.prepare();
            (ring, start)
        })
    }
}

/// Stretches without any knock: from so many time constants after one (or the start), at least so many seconds, to shortly
/// before the next.
///
/// Samples lost in them change nothing: each ring is fitted by itself, with a phase of the hum of its own, and how far knocks
/// lie apart is used nowhere. What the stretches tell, colour of the noise and frequency of the hum, a break hardly moves.
fn quiet_stretches(
    finds: &[Find],
    step: usize,
    length: usize,
    rate_hz: f64,
    (constants, least_s): (f64, f64),
) -> Vec<Range<usize>> {
    let guard = (0.06 * rate_hz) as usize;
    let mut from = HALF_FILTER;
    let mut out = Vec::new();
    for find in finds {
        let until = (find.onset / step).saturating_sub(guard);
        if until > from + guard {
            out.push(from..until);
        }
        let tail = find.ring.map_or(0.5, |r| (constants * r.q / (PI * r.frequency_hz)).clamp(least_s, 3.0));
        from = find.peak / step + (tail * rate_hz) as usize;
    }
    let until = length.saturating_sub(HALF_FILTER);
    if until > from + guard {
        out.push(from..until);
    }
    out
}

/// Low-pass and thin out: windowed sinc over ±4 low-rate samples, corner at 0.3 of the low rate.
fn thinned(raw: &[f64], step: usize) -> Vec<f64> {
    let taps = filter(step);
    let half = taps.len() / 2;
    (0..raw.len() / step)
        .map(|n| {
            let centre = n * step;
            if centre >= half && centre + half < raw.len() {
                let part = &raw[centre - half..=centre + half];
                part.iter().zip(&taps).map(|(v, t)| v * t).sum()
            } else {
                let at = |k: usize| raw[(centre + k).saturating_sub(half).min(raw.len() - 1)];
                taps.iter().enumerate().map(|(k, t)| t * at(k)).sum()
            }
        })
        .collect()
}

fn filter(step: usize) -> Vec<f64> {
    if step == 1 {
        return vec![1.0];
    }
    let half = (HALF_FILTER * step) as i64;
    let mut taps: Vec<f64> = (-half..=half)
        .map(|k| {
            let x = k as f64 / step as f64;
            let sinc = if k == 0 { 0.6 } else { (0.6 * PI * x).sin() / (PI * x) };
            // Blackman window: side lobes 58 dB down, enough beside a 24-fold oversampled ring.
            let w = PI * k as f64 / (half as f64 + 1.0);
            sinc * (0.42 + 0.5 * w.cos() + 0.08 * (2.0 * w).cos())
        })
        .collect();
    let sum: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|t| *t /= sum);
    taps
}
