//! Does the input ride its gain? Four signs, each with what it must exceed.
//!
//! - Hiss between 4 and 8 kHz, in which no cone rings, before each knock against after its ring. Over 0.4 s its level is known
//!   to 0.10 dB (6400 samples of second differences, 3290 degrees of freedom: √(2/3290) of the power), a step to 0.14 dB.
//! - The same hiss from knock to knock: it only rises, or only falls.
//! - Decay that is faster the stronger the ring (the law of amplitude), and decay that bends in time (the law of gain).
//! - Q's that scatter from knock to knock while the pitches agree.
//!
//! What stays unseen: a gain that moves by less than half a decibel around each knock. Simulated, it leaves the figures within
//! their uncertainty (`tests/gain_riding_knock.rs`).

use super::knock_doubts::Doubt;
use super::knock_fit::RingResult;
use super::knock_rings::{Rings, KNOCKS_WANTED};
use super::knock_spotting::Find;
use super::ring_down_choice::{with_law, Fitted, NEARLY_AS_WELL};
use super::ring_down_model::Law;
use crate::math::robust::median;
use crate::signal::notice::{Code, Notice};
use crate::signal::role_take::RoleTake;
use std::f64::consts::PI;
use std::ops::Range;

/// Hiss is compared over so much before a knock and after its ring.
const SPAN_S: f64 = 0.4;
/// Part of that which must be there.
const SPAN_AT_LEAST: f64 = 0.25;
/// A steady input's hiss differs by chance by 0.14 dB, a room's by several times that (1 dB: common practice, no source).
const STEP_DB: f64 = 1.0;
/// Noise that only rises, or only falls, from knock to knock by more than this is a gain on its way. By chance four levels
/// stand in order once in twelve, and then differ by 0.3 dB.
const ONE_WAY_DB: f64 = 1.5;
/// Faster decay of strong rings, at the reference amplitude, over that of weak ones. What the law of amplitude does not put
/// right of it is about a third (simulated): 1.5 % leaves 0.5 % of Q, which the assumed creep covers (0.6 %).
const FASTER: f64 = 0.015;
/// Change of ln Q by a gain that moves behind the ring. As above: the law is coarse, and 1 % leaves a part of it.
const BENT: f64 = 0.01;
/// Either in standard errors. Five: once in two million by chance, as neither error is that of pure noise.
const SURE: f64 = 5.0;
/// Scatter of Q from knock to knock that a hand alone does not make (common practice, no source).
const UNEVEN: f64 = 0.01;

/// A decay that bends in time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct GainBend {
    /// Change of ln Q of the first condition.
    pub change: f64,
    /// The bend over its standard error.
    pub statistic: f64,
}

/// All signs of a gain that rides.
pub(super) fn gain_riding(takes: &[RoleTake], rings: &Rings, result: &RingResult, channel: usize) -> Vec<Doubt> {
    let mut out: Vec<Doubt> = hiss_rides(takes, rings, channel).into_iter().collect();
    // Friction bends decays as well, and differently for each strength.
    if !result.friction.found {
        out.extend(faster_when_strong(result).or_else(|| bent(result)));
        out.extend(uneven_decays(rings, result));
    }
    // One sign is said once, unless it refuses.
    let first = out.iter().position(|d| matches!(d, Doubt::Refuse(_))).unwrap_or(0);
    out.into_iter().skip(first).take(1).collect()
}

/// Noise before a knock against noise after it, and from knock to knock.
fn hiss_rides(takes: &[RoleTake], rings: &Rings, channel: usize) -> Option<Doubt> {
    let mut steps = Vec::new();
    let mut drift = None;
    for (t, finds) in takes.iter().zip(&rings.finds) {
        let Some(raw) = t.take.channel(channel) else { continue };
        let pairs = hiss_around(raw, t.take.rate_hz(), finds);
        steps.extend(pairs.iter().map(|(before, after)| after - before));
        drift = drift.or(one_way_drift(&pairs.iter().map(|p| p.0).collect::<Vec<_>>()));
    }
    if let Some(db) = drift {
        return Some(Doubt::Doubtful(Notice::new(Code::GainRiding, &[("change_db", db), ("allowed_db", ONE_WAY_DB)])));
    }
    if steps.len() < 3 {
        return None;
    }
    let n = steps.len() as f64;
    let mean = steps.iter().sum::<f64>() / n;
    let error = (steps.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt();
    let notice =
        |db: f64| Notice::new(Code::GainRiding, &[("noise_after_over_before_db", db), ("allowed_db", STEP_DB)]);
    if mean.abs() > STEP_DB && mean.abs() > SURE * error {
        return Some(Doubt::Refuse(notice(mean)));
    }
    // Up at one knock and down at another: more than half of them move.
    let sizes: Vec<f64> = steps.iter().map(|s| s.abs()).collect();
    median(&sizes).filter(|m| *m > STEP_DB).map(|m| Doubt::Doubtful(notice(m)))
}

/// Levels in dB before each knock and after its ring; only where hiss, not rounding, is heard.
fn hiss_around(raw: &[f64], rate: f64, finds: &[Find]) -> Vec<(f64, f64)> {
    let guard = (0.02 * rate) as usize;
    let (span, least) = ((SPAN_S * rate) as usize, (SPAN_AT_LEAST * SPAN_S * rate) as usize);
    let mut out = Vec::new();
    let mut free_from = 0;
    for find in finds {
        let tail = find.ring.map_or(0.5, |r| (8.0 * r.q / (PI * r.frequency_hz)).min(1.5));
        let after_from = find.peak + (tail * rate) as usize;
        let before_end = find.onset.saturating_sub(guard);
        let before = before_end.saturating_sub(span).max(free_from)..before_end;
        let after = after_from..(after_from + span).min(find.next.saturating_sub(guard)).min(raw.len());
        free_from = after_from;
        let long_enough = |r: &Range<usize>| r.start + least < r.end;
        if long_enough(&before) && long_enough(&after) {
            let (a, b) = (hiss(&raw[before], rate), hiss(&raw[after], rate));
            if a > rounding(rate) && b > 0.0 {
                out.push((20.0 * a.log10(), 20.0 * b.log10()));
            }
        }
    }
    out
}

fn one_way_drift(levels_db: &[f64]) -> Option<f64> {
    let rises = levels_db.windows(2).all(|w| w[1] > w[0]);
    let falls = levels_db.windows(2).all(|w| w[1] < w[0]);
    let change = levels_db.last()? - levels_db.first()?;
    (levels_db.len() >= 4 && (rises || falls) && change.abs() > ONE_WAY_DB).then_some(change)
}

/// Samples put together for the look at the hiss, so that it is heard between 4 and 8 kHz.
fn hiss_step(rate_hz: f64) -> usize {
    (rate_hz / 16_000.0).round().max(1.0) as usize
}

/// A fifth more than what rounding to 16 bit leaves; below it, it is rounding that is seen and not noise.
fn rounding(rate_hz: f64) -> f64 {
    1.2 / 32768.0 / 12.0_f64.sqrt() / (hiss_step(rate_hz) as f64).sqrt()
}

/// Level of what changes from one sixteenth of a millisecond to the next: hiss, hardly any ring. Taken over short pieces
/// and their median, so that a lost buffer of zeros or one rustle does not count.
fn hiss(samples: &[f64], rate_hz: f64) -> f64 {
    let step = hiss_step(rate_hz);
    let thin: Vec<f64> = samples.chunks_exact(step).map(|c| c.iter().sum::<f64>() / step as f64).collect();
    let bends: Vec<f64> = thin.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]).powi(2)).collect();
    let pieces: Vec<f64> = bends.chunks(160).map(|c| c.iter().sum::<f64>() / c.len() as f64).collect();
    (median(&pieces).unwrap_or(0.0) / 6.0).sqrt()
}

/// Knocks whose Q's scatter far beyond the noise while their pitches agree: a gain that moves bends the decay, not the pitch.
fn uneven_decays(rings: &Rings, result: &RingResult) -> Option<Doubt> {
    for c in 0..rings.conditions.len() {
        let of: Vec<_> = result.singles.iter().zip(&rings.knocks).filter(|(_, k)| k.condition == c).collect();
        if of.len() < KNOCKS_WANTED + 1 {
            continue;
        }
        let deviation = |pick: fn(&super::knock_fit::SingleKnock) -> f64| {
            let logs: Vec<f64> = of.iter().map(|(s, _)| pick(s).ln()).collect();
            let mean = logs.iter().sum::<f64>() / logs.len() as f64;
            (logs.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / (logs.len() - 1) as f64).sqrt()
        };
        let (q, f) = (deviation(|s| s.q.0), deviation(|s| s.frequency.0));
        let noise = median(&of.iter().map(|(s, _)| s.q.1).collect::<Vec<_>>())?;
        if q > UNEVEN && q > 8.0 * noise && q > 8.0 * f {
            let numbers = [("q_scatter_percent", 100.0 * q), ("noise_explains_percent", 100.0 * noise)];
            return Some(Doubt::Doubtful(Notice::new(Code::GainRiding, &numbers)));
        }
    }
    None
}

/// Decay that is faster the stronger the ring: no driver does that by more than a per cent, a gain that turns itself
/// down does.
fn faster_when_strong(result: &RingResult) -> Option<Doubt> {
    let (shift, error) = result.decay_shift?;
    let riding = shift > FASTER && shift > SURE * error;
    let numbers = [("decay_faster_when_strong_percent", 100.0 * shift)];
    riding.then(|| Doubt::Doubtful(Notice::new(Code::GainRiding, &numbers)))
}

/// The law of gain on top of the plain model; none where it explains less than that or than friction (`beside`).
pub(super) fn gain_bend(rings: &Rings, plain: &Fitted, beside: f64) -> Option<GainBend> {
    let bent = with_law(&rings.rings, plain, Law::Gain)?;
    let at = bent.shape.law_at();
    let error = bent.fit.deviation(at)? * bent.fit.misfit().max(1.0).sqrt();
    let better = bent.fit.information() + NEARLY_AS_WELL < plain.fit.information().min(beside);
    let change = bent.fit.parameters[1] - plain.fit.parameters[1];
    better.then(|| GainBend { change, statistic: bent.fit.parameters[at] / error.max(f64::MIN_POSITIVE) })
}

/// Decay that bends in time whatever the strength, and more so than noise, amplitude or friction explain.
fn bent(result: &RingResult) -> Option<Doubt> {
    let bend = result.gain_bend.filter(|b| b.change.abs() > BENT && b.statistic.abs() > SURE)?;
    let numbers = [("q_bent_by_gain_percent", 100.0 * bend.change)];
    Some(Doubt::Doubtful(Notice::new(Code::GainRiding, &numbers)))
}
