//! What speaks against a knock reading: takes that contradict each other, gain that rides, hum and noise.

use super::knock_figures::Inputs;
use super::knock_fit::RingResult;
use super::knock_rings::{Rings, KNOCKS_WANTED};
use super::mounted::{GOOD_STIFFENING, MASS_CHANGE};
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

/// Loss in a box over that in free air from which on it leaks or is stuffed: walls and corners of a sound one of Q 30 add
/// (f_c/30)/(f_s/5), a quarter to a third at Q_ms 5 (common practice, no source).
const LOSS_IN_BOX: f64 = 1.7;

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
        if condition.box_m3 > 0.0 {
            out.extend(box_doubts(inputs, result, c));
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

/// A closed, empty box stiffens the cone, adds no loss of its own and leaves the mass nearly alone.
fn box_doubts(inputs: &Inputs, result: &RingResult, c: usize) -> Vec<Doubt> {
    let mut out = Vec::new();
    let Some(partner) = inputs.weight_partner(c).filter(|_| inputs.boxed().contains(&c)) else { return out };
    let rise = inputs.steady(c).0 / inputs.steady(partner).0;
    let stiffening = rise * rise - 1.0;
    if rise < 1.01 || stiffening < 0.2 * GOOD_STIFFENING {
        let numbers = [("f_in_box_hz", inputs.ln_f[c].exp()), ("f_free_hz", inputs.ln_f[partner].exp())];
        return vec![Doubt::Refuse(Notice::new(Code::Contradiction, &numbers))];
    }
    if stiffening < GOOD_STIFFENING {
        let litres = 1000.0 * (inputs.conditions[c].box_m3 - inputs.displacement_m3);
        let numbers = [("stiffening", stiffening), ("box_l", litres)];
        out.push(Doubt::Note(Notice::new(Code::LargeBox, &numbers)));
    }
    let random = 3.0 * result.conditions[c].1.uncertainty.hypot(result.conditions[partner].1.uncertainty);
    let measured =
        inputs.measured_mass_ratio().filter(|m| (m - 1.0).abs() > MASS_CHANGE && inputs.measured_mass_weight > 0.1);
    if let Some(mass_ratio) = measured {
        out.push(Doubt::Doubtful(Notice::new(Code::LeakyBox, &[("mass_ratio", mass_ratio)])));
    }
    if let Some(loss_ratio) = inputs.loss_in_box(c).filter(|l| *l > LOSS_IN_BOX + random) {
        out.push(Doubt::Doubtful(Notice::new(Code::LeakyBox, &[("loss_ratio", loss_ratio)])));
    }
    out
}

/// Three and more loads must lie on one line; a load of another value than stated does not.
fn line_misfit(inputs: &Inputs, result: &RingResult) -> Option<Doubt> {
    let (intercept, slope) = inputs.damping_line()?;
    let places = inputs.unmounted();
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
