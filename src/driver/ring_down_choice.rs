//! Which model the rings ask for: poles of the input, second mode, amplitude law.
//!
//! Candidates are fitted jointly to all rings and compared by Schwarz's information criterion; a richer model must gain
//! more than chance would. First the poles of the input, then a second mode, then the amplitude law.

use super::ring_down_fit::{fit, JointFit, Prior};
use super::ring_down_model::{Law, Ring, Shape};
use crate::math::order::arranged;
use std::f64::consts::PI;

/// What listens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Input {
    /// The coil on a line input: none, one or two real poles.
    Coil,
    /// A microphone: a pair of poles, real ones, or none.
    Microphone,
}

/// A model that has been fitted.
#[derive(Clone, Debug)]
pub(super) struct Fitted {
    /// Its parameters by place.
    pub shape: Shape,
    /// The fit.
    pub fit: JointFit,
    /// How many of the shape's pairs belong to the input; a further one is a second mode.
    pub input_pairs: usize,
    /// Prior knowledge used.
    pub priors: Vec<Prior>,
    /// Parameters (frequencies and Q's first) of the next best input, where it explains the rings nearly as well.
    pub runner_up: Option<Vec<f64>>,
}

impl Fitted {
    /// Natural frequency in Hz and Q of a condition, for small amplitude.
    pub(super) fn condition(&self, condition: usize) -> (f64, f64) {
        let at = self.shape.condition_at(condition);
        (self.fit.parameters[at].exp(), self.fit.parameters[at + 1].exp())
    }

    /// Frequency in Hz and Q of a second mode.
    pub(super) fn second_mode(&self) -> Option<(f64, f64)> {
        (self.shape.pairs > self.input_pairs).then(|| {
            let at = self.shape.pair_at(self.input_pairs);
            (self.fit.parameters[at].exp(), self.fit.parameters[at + 1].exp())
        })
    }
}

/// AC coupling of sound cards lies between 1 and 30 Hz (common practice, no source).
const COUPLING_HZ: f64 = 6.0;
/// Microphones for speech roll off between 20 and 100 Hz (common practice, no source).
const ROLL_OFF_HZ: f64 = 45.0;
/// Standard deviation of the logarithm of both: a factor of two and a half either way.
const POLE_SPREAD: f64 = 0.9;

/// A second-order roll-off with more than 4 dB of overshoot is none that a maker would build (common practice, no source).
const INPUT_Q_AT_MOST: f64 = 1.6;

/// Difference of the information criterion up to which the evidence between two inputs is not decisive (odds of 1 in 150).
pub(super) const NEARLY_AS_WELL: f64 = 10.0;

/// Poles of the input that suit the rings best. `start`: logarithms of frequency and Q for each condition.
/// `known`: what else is known of frequencies and Q's.
pub(super) fn choose_input(
    rings: &[Ring],
    conditions: usize,
    start: &[f64],
    input: Input,
    known: &[Prior],
) -> Option<Fitted> {
    let candidates: &[(usize, usize)] = match input {
        Input::Coil => &[(0, 0), (1, 0), (2, 0)],
        Input::Microphone => &[(0, 0), (1, 0), (0, 1), (1, 1), (2, 0)],
    };
    let mut fitted: Vec<Fitted> = Vec::new();
    let mut start = start.to_vec();
    for (real, pairs) in candidates {
        let shape = Shape { conditions, real_poles: *real, pairs: *pairs, law: Law::Exponential };
        let (all, mut priors) = with_poles(&shape, &start, input);
        priors.extend_from_slice(known);
        let mut one = None;
        consider(rings, shape, &all, priors, *pairs, &mut one);
        if let Some(one) = one {
            start = one.fit.parameters[..2 * conditions].to_vec();
            fitted.push(one);
        }
    }
    let fitted = arranged(fitted, |one| one.fit.information());
    let next = fitted.get(1).filter(|n| n.fit.information() - fitted[0].fit.information() < NEARLY_AS_WELL);
    let runner_up = next.map(|n| n.fit.parameters.clone());
    fitted.into_iter().next().map(|best| Fitted { runner_up, ..best })
}

fn with_poles(shape: &Shape, start: &[f64], input: Input) -> (Vec<f64>, Vec<Prior>) {
    let mut all = start[..2 * shape.conditions].to_vec();
    let mut priors = Vec::new();
    for k in 0..shape.real_poles {
        let corner = if k == 0 && input == Input::Coil { COUPLING_HZ } else { 0.3 * COUPLING_HZ };
        let corner = if input == Input::Microphone && shape.pairs == 0 { ROLL_OFF_HZ } else { corner };
        let mean = corner.ln() - 0.7 * k as f64;
        priors.push(Prior { at: all.len(), mean, deviation: POLE_SPREAD });
        all.push(mean);
    }
    for _ in 0..shape.pairs {
        priors.push(Prior { at: all.len(), mean: ROLL_OFF_HZ.ln(), deviation: POLE_SPREAD });
        priors.push(Prior { at: all.len() + 1, mean: 0.75_f64.ln(), deviation: 0.3 });
        all.extend([ROLL_OFF_HZ.ln(), 0.75_f64.ln()]);
    }
    (all, priors)
}

fn consider(
    rings: &[Ring],
    shape: Shape,
    start: &[f64],
    priors: Vec<Prior>,
    input_pairs: usize,
    best: &mut Option<Fitted>,
) {
    let free: Vec<usize> = (0..shape.parameters()).collect();
    let Some(fit) = fit(rings, &shape, start, &free, &priors) else { return };
    if twins(&shape, &fit.parameters)
        || peaks(&shape, &fit.parameters, input_pairs)
        || !fit.converged
        || fit.parameters.iter().any(|p| !p.is_finite())
    {
        return;
    }
    if best.as_ref().is_none_or(|b| fit.information() < b.fit.information()) {
        *best = Some(Fitted { shape, fit, input_pairs, priors, runner_up: None });
    }
}

/// Two real poles in one place: no second pole, but another form of motion that they imitate.
fn twins(shape: &Shape, p: &[f64]) -> bool {
    shape.real_poles > 1 && (p[shape.real_at(0)] - p[shape.real_at(1)]).abs() < 0.7
}

/// A pair of the input that rings: that is a mode of the room, which no microphone has (its roll-off has a Q of about 0.7).
fn peaks(shape: &Shape, p: &[f64], input_pairs: usize) -> bool {
    (0..input_pairs).any(|k| p[shape.pair_at(k) + 1] > INPUT_Q_AT_MOST.ln())
}

/// The same model fitted again, from where it stands, to rings that have changed.
pub(super) fn again(rings: &[Ring], chosen: &Fitted) -> Option<Fitted> {
    let mut best = None;
    let start = &chosen.fit.parameters;
    consider(rings, chosen.shape.clone(), start, chosen.priors.clone(), chosen.input_pairs, &mut best);
    best
}

/// Adds a second mode near `frequency_hz` where the rings ask for it.
pub(super) fn try_second_mode(rings: &[Ring], chosen: &Fitted, frequency_hz: f64, q: f64) -> Option<Fitted> {
    let mut shape = chosen.shape.clone();
    shape.pairs += 1;
    let at = chosen.shape.law_at();
    let mut start = chosen.fit.parameters[..at].to_vec();
    start.extend([frequency_hz.ln(), q.ln()]);
    start.extend_from_slice(&chosen.fit.parameters[at..]);
    let mut best = Some(chosen.clone());
    consider(rings, shape, &start, chosen.priors.clone(), chosen.input_pairs, &mut best);
    best.filter(|b| b.shape.pairs > chosen.shape.pairs)
}

/// Fits one amplitude law on top of a plain model.
pub(super) fn with_law(rings: &[Ring], plain: &Fitted, law: Law) -> Option<Fitted> {
    let shape = Shape { law, ..plain.shape.clone() };
    let mut start = plain.fit.parameters.clone();
    start.resize(shape.parameters(), 0.0);
    let mut best = None;
    consider(rings, shape, &start, plain.priors.clone(), plain.input_pairs, &mut best);
    best
}

/// Fits friction on top of a plain model, from three starts: a little, half and most of the decay.
pub(super) fn with_friction(rings: &[Ring], plain: &Fitted) -> Option<Fitted> {
    let shape = Shape { law: Law::Friction, ..plain.shape.clone() };
    let mut best = None;
    for ratio in [0.1, 0.5, 2.0_f64] {
        let mut start = plain.fit.parameters.clone();
        for c in 0..shape.conditions {
            start[shape.condition_at(c) + 1] += (1.0 + 1.5 * ratio).ln();
        }
        let (f, q) = (start[0].exp(), start[1].exp());
        start.push(ratio * PI * f / q);
        consider(rings, shape.clone(), &start, plain.priors.clone(), plain.input_pairs, &mut best);
    }
    best
}

/// Tells each ring its strength and decay as the plain model sees them, for the amplitude laws.
/// `scale[condition]` turns an amplitude at the input into one of the cone's travel, up to a common factor.
/// Gives the amplitude (of travel, same units) that strength 1 stands for.
pub(super) fn note_strengths(rings: &mut [Ring], plain: &Fitted, scale: &[f64]) -> f64 {
    let travel: Vec<f64> =
        rings.iter().zip(&plain.fit.amplitudes).map(|(ring, a)| a[0].hypot(a[1]) * scale[ring.condition]).collect();
    let reference = crate::math::robust::median(&travel).unwrap_or(1.0).max(f64::MIN_POSITIVE);
    for (ring, a) in rings.iter_mut().zip(&travel) {
        let (f, q) = plain.condition(ring.condition);
        ring.strength = (a / reference).max(1e-3);
        ring.decay_per_s = PI * f / q;
    }
    reference
}
