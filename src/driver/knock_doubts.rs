//! What speaks against a knock reading: takes that contradict each other, gain that rides, hum and noise.

use super::knock_figures::Inputs;
use super::knock_fit::RingResult;
use super::knock_rings::{Rings, KNOCKS_WANTED};
use crate::math::robust::median;
use crate::signal::health::assess_channels;
use crate::signal::notice::{Code, Notice};
use crate::signal::role_take::RoleTake;

/// A doubt: the notice, and what it does to the outcome.
pub(super) enum Doubt {
    /// Worth knowing.
    Note(Notice),
    /// Figures stand in doubt.
    Doubtful(Notice),
    /// No figures.
    Refuse(Notice),
}

/// Loads and weights that the frequencies and Q's speak against.
pub(super) fn contradictions(inputs: &Inputs, result: &RingResult) -> Vec<Doubt> {
    let mut out = Vec::new();
    let Some(free) = inputs.free_condition() else { return out };
    let uncertainty = |c: usize| result.conditions[c].1.uncertainty;
    for c in 0..inputs.conditions.len() {
        let condition = inputs.conditions[c];
        if condition.added_mass_kg > 0.0 {
            let Some(partner) = inputs.weight_partner(c) else { continue };
            let fall = inputs.ln_f[partner] - inputs.ln_f[c];
            let numbers = [("f_without_hz", inputs.ln_f[partner].exp()), ("f_with_hz", inputs.ln_f[c].exp())];
            if fall < 0.002 {
                out.push(Doubt::Refuse(Notice::new(Code::Contradiction, &numbers)));
            } else if fall < 0.03 {
                // Below 3 % the mass is worse than the difference of two small differences: 0.2 %/6 % each.
                out.push(Doubt::Doubtful(Notice::new(Code::Contradiction, &numbers)));
            }
            continue;
        }
        if c == free {
            continue;
        }
        let rise = inputs.ln_q[c] - inputs.ln_q[free];
        let numbers = [("q_open", inputs.ln_q[free].exp()), ("q_loaded", inputs.ln_q[c].exp())];
        if rise > 3.0 * uncertainty(c).hypot(uncertainty(free)) + 0.01 {
            out.push(Doubt::Refuse(Notice::new(Code::Contradiction, &numbers)));
        }
        let apart = (inputs.ln_f[c] - inputs.ln_f[free]).abs();
        let spread = result.conditions[c].0.uncertainty.hypot(result.conditions[free].0.uncertainty);
        // The coil's inductance moves a loaded resonance by 0.1 %; 4 % is another driver, weight or attitude.
        if apart > 0.04 + 4.0 * spread {
            let numbers = [("f_open_hz", inputs.ln_f[free].exp()), ("f_loaded_hz", inputs.ln_f[c].exp())];
            out.push(Doubt::Refuse(Notice::new(Code::Contradiction, &numbers)));
        }
    }
    out.extend(line_misfit(inputs, result));
    out
}

/// Three and more loads must lie on one line; a load of another value than stated does not.
fn line_misfit(inputs: &Inputs, result: &RingResult) -> Option<Doubt> {
    let (intercept, slope) = inputs.damping_line()?;
    let places = inputs.unweighted();
    if places.len() < 3 {
        return None;
    }
    let worst = places.into_iter().max_by(|a, b| {
        let off = |c: usize| (1.0 / (intercept + slope * inputs.damping_place(c))).ln() - inputs.ln_q[c];
        off(*a).abs().total_cmp(&off(*b).abs())
    })?;
    let expected = 1.0 / (intercept + slope * inputs.damping_place(worst));
    let off = (expected.ln() - inputs.ln_q[worst]).abs();
    let numbers = [
        ("load_ohm", inputs.conditions[worst].load_ohm.unwrap_or(0.0)),
        ("q_found", inputs.ln_q[worst].exp()),
        ("q_expected", expected),
    ];
    let allowed = 0.03 + 4.0 * result.conditions[worst].1.uncertainty;
    (off > allowed).then(|| Doubt::Doubtful(Notice::new(Code::Contradiction, &numbers)))
}

/// Takes of one condition that do not agree: something changed between them.
pub(super) fn unequal_takes(rings: &Rings, result: &RingResult) -> Option<Doubt> {
    for condition in 0..rings.conditions.len() {
        let of_take = |take: usize, pick: fn(&super::knock_fit::SingleKnock) -> f64| {
            let v: Vec<f64> = rings
                .knocks
                .iter()
                .zip(&result.singles)
                .filter(|(k, _)| k.condition == condition && k.take == take)
                .map(|(_, s)| pick(s))
                .collect();
            median(&v)
        };
        let takes: Vec<usize> = (0..rings.slow.len()).filter(|t| of_take(*t, |s| s.q.0).is_some()).collect();
        for pair in takes.windows(2) {
            let ratio = |pick| Some((of_take(pair[0], pick)? / of_take(pair[1], pick)?).ln().abs());
            let (Some(f), Some(q)) = (ratio(|s| s.frequency.0), ratio(|s| s.q.0)) else { continue };
            if f > 0.03 || q > 0.3 {
                let numbers = [("frequency_ratio", f.exp()), ("q_ratio", q.exp())];
                return Some(Doubt::Refuse(Notice::new(Code::Contradiction, &numbers)));
            }
        }
    }
    None
}

/// Noise before a knock against noise after it: a gain that turns itself down for the knock shows there.
pub(super) fn gain_riding(takes: &[RoleTake], rings: &Rings, channel: usize) -> Option<Doubt> {
    let mut steps = Vec::new();
    let mut drift = None;
    for (t, finds) in takes.iter().zip(&rings.finds) {
        let Some(raw) = t.take.channel(channel) else { continue };
        let rate = t.take.rate_hz();
        let mut free_from = 0;
        let mut before_each = Vec::new();
        for find in finds {
            let tail = find.ring.map_or(0.5, |r| (8.0 * r.q / (std::f64::consts::PI * r.frequency_hz)).min(1.5));
            let after = find.peak + (tail * rate) as usize;
            let span = (0.15 * rate) as usize;
            let before_end = find.onset.saturating_sub((0.02 * rate) as usize);
            let before = before_end.saturating_sub(span).max(free_from)..before_end;
            let later = after..(after + span).min(find.next.saturating_sub((0.02 * rate) as usize));
            free_from = after;
            if before.len() > span / 2 && later.start + span / 2 < later.end {
                let (a, b) = (hiss(&raw[before], rate), hiss(&raw[later], rate));
                if a > rounding(rate) && b > 0.0 {
                    steps.push(20.0 * (b / a).log10());
                    before_each.push(20.0 * a.log10());
                }
            }
        }
        drift = drift.or(one_way_drift(&before_each));
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
    let riding = mean.abs() > 1.0 && mean.abs() > 5.0 * error;
    let numbers = [("noise_after_over_before_db", mean), ("allowed_db", 1.0)];
    riding.then(|| Doubt::Refuse(Notice::new(Code::GainRiding, &numbers)))
}

/// Noise that only rises, or only falls, from knock to knock by more than this is a gain on its way.
const ONE_WAY_DB: f64 = 3.0;

/// By chance four levels stand in order once in twelve, and differ by 3 dB hardly ever (each is known to 0.3 dB).
fn one_way_drift(levels_db: &[f64]) -> Option<f64> {
    let rises = levels_db.windows(2).all(|w| w[1] > w[0]);
    let falls = levels_db.windows(2).all(|w| w[1] < w[0]);
    let change = levels_db.last()? - levels_db.first()?;
    (levels_db.len() >= 4 && (rises || falls) && change.abs() > ONE_WAY_DB).then_some(change)
}

/// Samples put together for the look at the hiss, so that it is heard between 1 and 2 kHz.
fn hiss_step(rate_hz: f64) -> usize {
    (rate_hz / 4000.0).round().max(1.0) as usize
}

/// A fifth more than what rounding to 16 bit leaves; below it, it is rounding that is seen and not noise.
fn rounding(rate_hz: f64) -> f64 {
    1.2 / 32768.0 / 12.0_f64.sqrt() / (hiss_step(rate_hz) as f64).sqrt()
}

/// Level of what changes from one quarter millisecond to the next: hiss, hardly any ring.
fn hiss(samples: &[f64], rate_hz: f64) -> f64 {
    let step = hiss_step(rate_hz);
    let thin: Vec<f64> = samples.chunks_exact(step).map(|c| c.iter().sum::<f64>() / step as f64).collect();
    let n = thin.len().saturating_sub(2).max(1) as f64;
    let sum: f64 = thin.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]).powi(2)).sum();
    (sum / n / 6.0).sqrt()
}

/// Knocks whose Q's scatter far beyond the noise while their pitches agree: a gain that moves bends the decay, not the pitch.
pub(super) fn uneven_decays(rings: &Rings, result: &RingResult) -> Option<Doubt> {
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

/// Scatter of Q from knock to knock that a hand alone does not make (common practice, no source).
const UNEVEN: f64 = 0.01;

/// Decay that is faster the stronger the ring: no driver does that by more than a few per cent, a gain that turns itself
/// down does. Needs five standard errors and 3 % at the reference amplitude.
pub(super) fn faster_when_strong(result: &RingResult) -> Option<Doubt> {
    let (shift, error) = result.decay_shift?;
    let riding = shift > 0.03 && shift > 5.0 * error;
    let numbers = [("decay_faster_when_strong_percent", 100.0 * shift)];
    riding.then(|| Doubt::Doubtful(Notice::new(Code::GainRiding, &numbers)))
}

/// What the samples themselves tell: breaks and direct current.
pub(super) fn health(takes: &[RoleTake], channel: usize) -> Vec<Doubt> {
    let mut out = Vec::new();
    for t in takes {
        for notice in assess_channels(&t.take, &[channel]).notices {
            match notice.code {
                Code::Gap => out.push(Doubt::Doubtful(notice)),
                // The model has a constant of its own, so the figures stand.
                Code::DirectCurrent => out.push(Doubt::Note(notice)),
                _ => {}
            }
        }
    }
    out
}

/// Few knocks, hum, noise.
pub(super) fn conditions_of_the_room(rings: &Rings, result: &RingResult) -> Vec<Doubt> {
    let mut out = Vec::new();
    for c in 0..rings.conditions.len() {
        let knocks = rings.count(c);
        if knocks < KNOCKS_WANTED {
            let numbers = [("knocks", knocks as f64), ("knocks_wanted", KNOCKS_WANTED as f64)];
            out.push(Doubt::Doubtful(Notice::new(Code::TooFewKnocks, &numbers)));
        }
    }
    let amplitude = |take: usize| {
        let tops: Vec<f64> = rings
            .knocks
            .iter()
            .zip(&result.fitted.fit.amplitudes)
            .filter(|(k, _)| k.take == take)
            .map(|(_, a)| a[0].hypot(a[1]))
            .collect();
        median(&tops)
    };
    let mut hum: Option<(f64, f64)> = None;
    for (take, slow) in rings.slow.iter().enumerate() {
        let (Some(slow), Some(ring)) = (slow, amplitude(take)) else { continue };
        let share = slow.background.hum_amplitude / ring;
        if share > hum.map_or(0.05, |h| h.0) {
            hum = Some((share, slow.background.hum_hz.first().copied().unwrap_or(50.0)));
        }
    }
    out.extend(noise_beside_ring(rings, amplitude));
    if let Some((share, hz)) = hum {
        let notice = Notice::new(Code::Hum, &[("hum_over_ring", share), ("hum_hz", hz)]);
        out.push(if share > 0.5 { Doubt::Doubtful(notice) } else { Doubt::Note(notice) });
    }
    out.extend(noise(result));
    out
}

/// Noise against the ring: from 3 % on worth knowing, from 20 % on a doubt (the spread of the knocks says the rest).
fn noise_beside_ring(rings: &Rings, amplitude: impl Fn(usize) -> Option<f64>) -> Option<Doubt> {
    let worst = rings
        .slow
        .iter()
        .enumerate()
        .filter_map(|(take, slow)| Some(slow.as_ref()?.background.level / amplitude(take)?))
        .fold(0.0, f64::max);
    let notice = Notice::new(Code::Noise, &[("noise_over_ring", worst)]);
    match worst {
        w if w > 0.2 => Some(Doubt::Doubtful(notice)),
        w if w > 0.03 => Some(Doubt::Note(notice)),
        _ => None,
    }
}

/// Uncertainties beyond which a figure decides nothing: 2 % of f_s or 15 % of Q doubtful, three times that refused.
fn noise(result: &RingResult) -> Option<Doubt> {
    let worst = |pick: fn(&(super::knock_fit::Logarithm, super::knock_fit::Logarithm)) -> f64| {
        result.conditions.iter().map(pick).fold(0.0, f64::max)
    };
    let (f, q) = (worst(|c| c.0.uncertainty), worst(|c| c.1.uncertainty));
    let numbers = [("f_s_relative_uncertainty", f), ("q_relative_uncertainty", q)];
    let measure = (f / 0.02).max(q / 0.15);
    if measure > 3.0 {
        Some(Doubt::Refuse(Notice::new(Code::Noise, &numbers)))
    } else {
        (measure > 1.0).then(|| Doubt::Doubtful(Notice::new(Code::Noise, &numbers)))
    }
}
