//! Finding knocks in a take: where each begins, how it rings, and which are better set aside.
//!
//! Method: level in 10 ms frames at a low rate; a knock is a jump of the level above what the last 50 ms held; its ring is
//! looked at by the subspace method and must be one damped sinusoid in the main, of the same pitch as most others.
//! Speech, handling and bumps against the bench fail that; clipped and crowded knocks are told apart.
//! Valid for resonances from 8 Hz to 1.5 kHz.

use super::ring_down_subspace::{free_motions, FreeMotion};
use crate::math::fft::real_forward;
use crate::math::robust;
use crate::signal::notice::{Code, Notice};
use crate::signal::take::Take;
use serde::{Deserialize, Serialize};

/// One knock found in a take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct SpottedKnock {
    /// Where it begins, in seconds from the start of the take.
    pub time_s: f64,
    /// Its highest sample against full scale.
    pub peak_dbfs: f64,
    /// Frequency of its ring in Hz (nought where it does not ring). A first look, without uncertainty.
    pub frequency_hz: f64,
    /// Q of its ring, the input's own poles not taken out.
    pub q: f64,
    /// Why it is not used; none where it is.
    pub set_aside: Option<Notice>,
}

/// A knock with its places in the samples.
#[derive(Clone, Debug)]
pub(super) struct Find {
    /// First sample of the knock.
    pub onset: usize,
    /// Highest sample.
    pub peak: usize,
    /// First sample of whatever comes next.
    pub next: usize,
    /// The ring as seen at first sight.
    pub ring: Option<FreeMotion>,
    /// What is told to others.
    pub spotted: SpottedKnock,
    /// A bend that no ring has, in seconds from the start of the take.
    bend_s: Option<f64>,
}

impl Find {
    /// True where the samples bend inside the ring as no free motion does.
    pub(super) fn is_bent(&self) -> bool {
        self.bend_s.is_some()
    }
}

/// Rate that the search works at, about.
const SEARCH_RATE_HZ: f64 = 8000.0;
const FRAME_S: f64 = 0.01;
/// Frames looked back over: half a period of the slowest ring.
const FRAMES_BACK: usize = 6;
/// A knock is this much louder than the frames before it.
const JUMP: f64 = 2.0;
/// And stands this far above the quiet of the take.
const ABOVE_QUIET: f64 = 5.0;
/// Weaker than this part of the strongest: not a knock but its echo.
const WEAKEST: f64 = 0.01;
/// Two onsets closer than this are one bounce of the finger.
const BOUNCE_S: f64 = 0.07;
/// Free motions explain at least this part of a ring's energy ...
const EXPLAINED: f64 = 0.85;
/// ... and the strongest of them holds this part (a microphone's own motion may hold much of the rest).
const ONE_SINUSOID: f64 = 0.3;
/// Knocks of one driver agree in pitch within this factor (and 0.35/Q, as a short ring's pitch is vague at first sight).
const SAME_PITCH: f64 = 1.15;
/// Below this Q a motion falls back without ringing once.
const RINGS_ABOVE_Q: f64 = 0.55;
/// A break inside a ring shows as a bend this many times the usual one (noise reaches 6, a ring is smooth).
const BREAK: f64 = 40.0;

/// Knocks in one channel (counted from 1); empty where there is none. A 20 s take takes a few milliseconds.
pub fn spot_knocks(take: &Take, channel: usize) -> Vec<SpottedKnock> {
    find_knocks(take, channel).into_iter().map(|f| f.spotted).collect()
}

/// Level of the quietest fifth of a take over its loudest 10 ms, and that quiet level itself (full scale 1).
pub(super) fn unrest(take: &Take, channel: usize) -> (f64, f64) {
    let thin = Thin::new(take.channel(channel).unwrap_or(&[]), take.rate_hz());
    let strongest = thin.levels.iter().copied().fold(1e-9, f64::max);
    (thin.quiet / strongest, thin.quiet)
}

/// As [`spot_knocks`], with the places.
pub(super) fn find_knocks(take: &Take, channel: usize) -> Vec<Find> {
    let Some(samples) = take.channel(channel) else { return Vec::new() };
    let thin = Thin::new(samples, take.rate_hz());
    let onsets = thin.onsets();
    let mut finds: Vec<Find> = (0..onsets.len())
        .map(|k| thin.look_at(samples, onsets[k], onsets.get(k + 1).copied().unwrap_or(thin.samples.len())))
        .collect();
    set_broken_aside(&mut finds);
    set_strangers_aside(&mut finds);
    finds
}

/// Sets aside rings with a break. Breaks are rare: where a third and more of the rings bend, it is the cone that sticks.
fn set_broken_aside(finds: &mut [Find]) {
    let bent = finds.iter().filter(|f| f.bend_s.is_some()).count();
    if 3 * bent > finds.len().max(3) {
        return;
    }
    for f in finds.iter_mut() {
        // A ring that broke may look damped or strange for that alone.
        let by_shape = [Code::Overdamped, Code::ModelMisfit];
        if f.spotted.set_aside.as_ref().is_none_or(|n| by_shape.contains(&n.code)) {
            let gap = f.bend_s.map(|time_s| Notice::new(Code::Gap, &[("time_s", time_s)]));
            f.spotted.set_aside = gap.or(f.spotted.set_aside.take());
        }
    }
}

/// The channel at a low rate, its slow drift taken off.
struct Thin {
    samples: Vec<f64>,
    rate_hz: f64,
    step: usize,
    quiet: f64,
    levels: Vec<f64>,
}

impl Thin {
    fn new(samples: &[f64], rate_hz: f64) -> Self {
        let step = (rate_hz / SEARCH_RATE_HZ).round().max(1.0) as usize;
        let thinned = mean_of_each(samples, step);
        let rate = rate_hz / step as f64;
        let steady = without_drift(&thinned, rate);
        let frame = (FRAME_S * rate).round().max(1.0) as usize;
        let levels: Vec<f64> = steady.chunks(frame).map(root_mean_square).collect();
        let quiet = robust::quantile(&levels, 0.2).unwrap_or(0.0).max(1e-6);
        Thin { samples: steady, rate_hz: rate, step, quiet, levels }
    }

    /// Places (in thinned samples) where the level jumps.
    fn onsets(&self) -> Vec<usize> {
        let frame = (FRAME_S * self.rate_hz).round().max(1.0) as usize;
        let strongest = self.levels.iter().copied().fold(0.0, f64::max);
        let threshold = (ABOVE_QUIET * self.quiet).max(WEAKEST * strongest);
        let mut out: Vec<usize> = Vec::new();
        for i in 1..self.levels.len() {
            let before = self.levels[i.saturating_sub(FRAMES_BACK)..i].iter().copied().fold(0.0, f64::max);
            let jumps = self.levels[i] > threshold && self.levels[i] > JUMP * before;
            let place = i.saturating_sub(1) * frame;
            let bounce = out.last().is_some_and(|last| ((place - last) as f64) < BOUNCE_S * self.rate_hz);
            if jumps && !bounce {
                out.push(place);
            }
        }
        out
    }

    fn look_at(&self, raw: &[f64], onset: usize, next: usize) -> Find {
        let within = (0.12 * self.rate_hz) as usize;
        let near = &self.samples[onset..next.min(onset + within)];
        let peak = onset + place_of_peak(near);
        let ring = self.ring_after(peak, next);
        let end = (next * self.step).min(raw.len());
        let (start, peak_raw) = (onset * self.step, peak * self.step);
        let top = raw[start..end].iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        let spotted = SpottedKnock {
            time_s: onset as f64 / self.rate_hz,
            peak_dbfs: 20.0 * top.max(1e-10).log10(),
            frequency_hz: ring.map_or(0.0, |r| r.frequency_hz),
            q: ring.map_or(0.0, |r| r.q),
            set_aside: self.objection(raw, (start, end), top, ring, next - peak),
        };
        let bend_s = ring.and_then(|r| self.bend(raw, peak, end, r));
        Find { onset: start, peak: peak_raw, next: end, ring, spotted, bend_s }
    }

    /// Time of a bend within three time constants of a ring, and three periods.
    fn bend(&self, raw: &[f64], peak: usize, end: usize, ring: FreeMotion) -> Option<f64> {
        let place = |periods: f64| {
            (peak * self.step + (periods / ring.frequency_hz * self.rate_hz * self.step as f64) as usize).min(end)
        };
        let from = place(0.25);
        let at = break_in(&raw[from..place(ring.q.max(3.0)).max(from)])?;
        Some((from + at) as f64 / (self.rate_hz * self.step as f64))
    }

    /// The strongest damped sinusoid after the peak.
    fn ring_after(&self, peak: usize, next: usize) -> Option<FreeMotion> {
        let skip = (0.004 * self.rate_hz) as usize;
        let from = (peak + skip).min(next);
        let mut pitch = strongest_line(&self.samples[from..next], self.rate_hz)?;
        let mut found = None;
        for _ in 0..3 {
            // 16 samples a period, ten periods at most.
            let step = (self.rate_hz / (16.0 * pitch)).floor().max(1.0) as usize;
            let start = (peak + ((0.25 / pitch) * self.rate_hz) as usize).min(next);
            let slow: Vec<f64> = mean_of_each(&self.samples[start..next], step).into_iter().take(160).collect();
            let motions = free_motions(&slow, self.rate_hz / step as f64, 8);
            let best = motions.into_iter().find(|m| m.frequency_hz > 8.0 && m.frequency_hz < 1500.0)?;
            let settled = (best.frequency_hz / pitch).ln().abs() < 0.2;
            pitch = best.frequency_hz;
            found = Some(best);
            if settled {
                break;
            }
        }
        found
    }

    /// Why this one should not be used, as far as it alone can tell.
    fn objection(
        &self,
        raw: &[f64],
        (start, end): (usize, usize),
        top: f64,
        ring: Option<FreeMotion>,
        length: usize,
    ) -> Option<Notice> {
        let flat = flat_tops(&raw[start..end], top);
        if flat > 0 {
            return Some(Notice::new(Code::Clipped, &[("clipped_samples", flat as f64), ("peak", top)]));
        }
        let Some(ring) = ring else {
            return Some(Notice::new(Code::ModelMisfit, &[("energy_share_of_one_sinusoid", 0.0)]));
        };
        if ring.q < RINGS_ABOVE_Q {
            return Some(Notice::new(Code::Overdamped, &[("q", ring.q), ("q_at_least", RINGS_ABOVE_Q)]));
        }
        let seconds = length as f64 / self.rate_hz;
        // Half a time constant Q/(πf) and two periods are the least from which a decay can be told.
        let wanted = (2.0 / ring.frequency_hz).max(0.5 * ring.q / (std::f64::consts::PI * ring.frequency_hz));
        if seconds < wanted {
            let numbers = [("ring_s", seconds), ("ring_at_least_s", wanted)];
            return Some(Notice::new(Code::TooShort, &numbers));
        }
        if ring.explained < EXPLAINED {
            let numbers = [("energy_share_of_free_motion", ring.explained), ("share_at_least", EXPLAINED)];
            return Some(Notice::new(Code::ModelMisfit, &numbers));
        }
        if ring.energy_share < ONE_SINUSOID {
            let numbers = [("energy_share_of_one_sinusoid", ring.energy_share), ("share_at_least", ONE_SINUSOID)];
            return Some(Notice::new(Code::ModelMisfit, &numbers));
        }
        None
    }
}

/// Sets aside what rings at another pitch than most (by the pitch that most of the energy agrees on).
fn set_strangers_aside(finds: &mut [Find]) {
    let good: Vec<(f64, f64)> = finds
        .iter()
        .filter(|f| f.spotted.set_aside.is_none())
        .map(|f| (f.spotted.frequency_hz, f.spotted.peak_dbfs))
        .collect();
    let good_q: Vec<f64> = finds.iter().filter(|f| f.spotted.set_aside.is_none()).map(|f| f.spotted.q).collect();
    let q = robust::median(&good_q).unwrap_or(1.0);
    let close = |a: f64, b: f64| (a / b).ln().abs() < SAME_PITCH.ln().max(0.35 / q);
    let friends = |f: f64| good.iter().filter(|(other, _)| close(f, *other)).count();
    let Some((pitch, _)) = good
        .iter()
        .max_by(|a, b| (friends(a.0), a.1).partial_cmp(&(friends(b.0), b.1)).unwrap_or(std::cmp::Ordering::Equal))
    else {
        return;
    };
    for f in finds.iter_mut().filter(|f| f.spotted.set_aside.is_none()) {
        if !close(f.spotted.frequency_hz, *pitch) {
            let numbers = [("frequency_hz", f.spotted.frequency_hz), ("others_ring_at_hz", *pitch)];
            f.spotted.set_aside = Some(Notice::new(Code::ModelMisfit, &numbers));
        }
    }
}

/// Frequency of the highest line of the spectrum between 8 Hz and 1.5 kHz.
fn strongest_line(samples: &[f64], rate_hz: f64) -> Option<f64> {
    const LENGTH: usize = 8192;
    if samples.len() < 32 {
        return None;
    }
    let mut padded: Vec<f64> = samples.iter().copied().take(LENGTH).collect();
    padded.resize(LENGTH, 0.0);
    let width = rate_hz / LENGTH as f64;
    let (low, high) = ((8.0 / width).ceil() as usize, (1500.0_f64.min(0.4 * rate_hz) / width) as usize);
    let spectrum = real_forward(&padded);
    let best = (low..=high.min(spectrum.len() - 1))
        .max_by(|a, b| spectrum[*a].norm_sqr().total_cmp(&spectrum[*b].norm_sqr()))?;
    (spectrum[best].norm() > 0.0).then_some(best as f64 * width)
}

/// Samples that lie on a flat top: at full scale, or at one and the same highest value for longer than a rounded
/// sine of 16 bit would stay there (2√(2 lsb/peak) rad, four times that allowed, at 30 samples a radian and fewer).
fn flat_tops(samples: &[f64], top: f64) -> usize {
    if top < 0.05 {
        return 0;
    }
    let at_rail = samples.iter().filter(|v| v.abs() >= 0.9998).count();
    if at_rail >= 3 {
        return at_rail;
    }
    let mut longest = 0;
    let mut run = 0;
    for v in samples {
        run = if v.abs() >= top * (1.0 - 1e-9) { run + 1 } else { 0 };
        longest = longest.max(run);
    }
    // A 20 Hz sine at 48 kHz moves 1/382 rad a sample.
    let natural = 2.0 * (2.0 / 32768.0 / top).sqrt() * 382.0;
    if longest as f64 > 4.0 * natural + 4.0 {
        longest
    } else {
        0
    }
}

/// Place of a bend that no ring has: samples were lost or replaced there.
fn break_in(samples: &[f64]) -> Option<usize> {
    let bends: Vec<f64> = samples.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]).abs()).collect();
    if bends.len() < 200 {
        return None;
    }
    let usual = bends.iter().sum::<f64>() / bends.len() as f64;
    let at = place_of_peak(&bends);
    // Eight steps of 16 bit: below that a bend is rounding.
    (bends[at] > BREAK * usual && bends[at] > 8.0 / 32768.0).then_some(at + 1)
}

fn place_of_peak(samples: &[f64]) -> usize {
    samples.iter().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs())).map_or(0, |(k, _)| k)
}

fn mean_of_each(samples: &[f64], step: usize) -> Vec<f64> {
    samples.chunks_exact(step).map(|c| c.iter().sum::<f64>() / step as f64).collect()
}

fn root_mean_square(samples: &[f64]) -> f64 {
    (samples.iter().map(|v| v * v).sum::<f64>() / samples.len().max(1) as f64).sqrt()
}

/// Takes off the mean and what moves slower than 3 Hz.
fn without_drift(samples: &[f64], rate_hz: f64) -> Vec<f64> {
    let mean = samples.iter().sum::<f64>() / samples.len().max(1) as f64;
    let share = 1.0 - (-std::f64::consts::TAU * 3.0 / rate_hz).exp();
    let mut slow = mean;
    samples
        .iter()
        .map(|v| {
            slow += share * (v - slow);
            v - slow
        })
        .collect()
}
