//! The rings of a check, fitted: frequency and Q for each condition, how far single knocks agree, and what else is in them.

use super::knock_friction::{friction_test, FrictionTest};
use super::knock_gain::{gain_bend, GainBend};
use super::knock_rings::{Rings, KNOCKS_WANTED};
use super::ring_down_choice::{
    again, choose_input, note_strengths, try_second_mode, with_friction, with_law, Fitted, Input,
};
use super::ring_down_fit::{fit, ring_residual, Prior};
use super::ring_down_model::Law;
use super::ring_down_projection::dot;
use super::ring_down_subspace::free_motions;
use crate::math::order::{arranged, distinct};
use crate::math::quantiles;
use crate::math::robust::outliers;
use crate::signal::notice::{Code, Notice};

/// A logarithm of frequency or of Q with its random uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Logarithm {
    /// Natural logarithm of the value.
    pub value: f64,
    /// Standard uncertainty from noise and the scatter between knocks (relative, being a logarithm).
    pub uncertainty: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: f64,
}

/// One knock by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SingleKnock {
    /// Frequency in Hz and its relative standard uncertainty from noise.
    pub frequency: (f64, f64),
    /// Q and its relative standard uncertainty from noise.
    pub q: (f64, f64),
    /// Mean square of its residual in units of the noise.
    pub misfit: f64,
}

/// Everything that the fit of a check found.
pub(super) struct RingResult {
    /// The model.
    pub fitted: Fitted,
    /// (frequency, Q) by condition.
    pub conditions: Vec<(Logarithm, Logarithm)>,
    /// Each knock by itself.
    pub singles: Vec<SingleKnock>,
    /// Energy share of a second mode.
    pub second_mode_share: Option<f64>,
    /// Friction found: statistic, its limit, and the friction's share of the decay at the reference amplitude.
    pub friction: FrictionTest,
    /// Standard uncertainty from the law of amplitude, for the logarithms of frequency and Q of each condition.
    pub amplitude_spread: Vec<(f64, f64)>,
    /// The same from the choice of input poles.
    pub pole_spread: Vec<(f64, f64)>,
    /// By how much of its rate the decay is faster at the reference amplitude than for small ones, with standard error.
    pub decay_shift: Option<(f64, f64)>,
    /// What a gain that moves behind the ring would change, where it explains the rings better than what else was tried.
    pub gain_bend: Option<GainBend>,
}

/// Residual at the start of a ring beyond which the knock is not over: three times the rest.
const NOT_OVER: f64 = 3.0;
/// By how much a load raises the pitch, and the spread of that, logarithms: the coil's reactance of 6 ± 4 % of R_e (see the
/// budget) over twice the resistance that its current meets, times the loss that the load adds.
const LOAD_RAISES: (f64, f64) = (0.005, 0.01);
/// Periods by which a start is put off at a time, and how often at most.
const PUT_OFF: f64 = 0.25;
const PUT_OFF_AT_MOST: usize = 4;

/// Fits all rings. `scale[condition]` turns an amplitude at the input into one of travel, up to a common factor.
///
/// # Errors
/// A refusal where no model fits at all.
pub(super) fn fit_rings(rings: &mut Rings, input: Input, scale: &[f64]) -> Result<RingResult, Box<Notice>> {
    let mut plain = settle(rings, input)?;
    if drop_strangers(rings, &plain) {
        plain = settle(rings, input)?;
    }
    note_strengths(&mut rings.rings, &plain, scale);
    let rubbing = with_friction(&rings.rings, &plain);
    let (best, _) = best_law(rings, &plain);
    let friction = friction_test(rings, rubbing.as_ref(), &best, input);
    let (plain, second_mode_share) =
        if friction.found { (plain, None) } else { look_for_second_mode(rings, plain, rubbing.as_ref()) };
    let friction = if second_mode_share.is_some() { FrictionTest::default() } else { friction };
    let (best, amplitude_spread) = best_law(rings, &plain);
    let decay_shift = decay_shift(&best);
    let beside = rubbing.as_ref().map_or(f64::INFINITY, |r| r.fit.information());
    let gain_bend =
        (!friction.found && second_mode_share.is_none()).then(|| gain_bend(rings, &plain, beside)).flatten();
    if friction.found && rubbing.is_none() {
        let numbers = [("statistic", friction.statistic), ("limit", friction.limit)];
        return Err(Box::new(Notice::new(Code::Friction, &numbers)));
    }
    let fitted = match rubbing {
        Some(rubbing) if friction.found => rubbing,
        _ => best,
    };
    let singles = single_knocks(rings, &fitted);
    let conditions = (0..rings.conditions.len())
        .map(|c| (combine(rings, &fitted, &singles, c, 0), combine(rings, &fitted, &singles, c, 1)))
        .collect();
    let pole_spread = half_difference(rings, &plain.fit.parameters, plain.runner_up.as_deref());
    Ok(RingResult {
        fitted,
        conditions,
        singles,
        second_mode_share,
        friction,
        amplitude_spread,
        pole_spread,
        decay_shift,
        gain_bend,
    })
}

fn start_of(rings: &Rings) -> Vec<f64> {
    (0..rings.conditions.len())
        .flat_map(|c| {
            let (f, q) = rings.first_sight(c).unwrap_or((30.0, 3.0));
            [f.ln(), q.max(0.6).ln()]
        })
        .collect()
}

/// Chooses the poles of the input, and puts off starts where the finger was still on the cone.
///
/// A heavily loaded ring and a microphone's own roll-off look alike, and either may take the other's place. A load moves the
/// pitch by little; where the rings say otherwise by more than that, they are fitted again with this knowledge.
fn settle(rings: &mut Rings, input: Input) -> Result<Fitted, Box<Notice>> {
    let plain = settle_with(rings, input, &[])?;
    let known = known_pitches(rings, &plain);
    let astray = |k: &Prior| (plain.fit.parameters[k.at] - k.mean).abs() > 3.0 * k.deviation;
    if input == Input::Coil || !known.iter().any(astray) {
        return Ok(plain);
    }
    Ok(settle_with(rings, input, &known).unwrap_or(plain))
}

/// Pitch of every load without a weight from that of open terminals.
fn known_pitches(rings: &Rings, plain: &Fitted) -> Vec<Prior> {
    let open = |c: &usize| rings.conditions[*c].is_bare();
    let all = 0..rings.conditions.len();
    let Some(bare) = all.clone().find(open) else { return Vec::new() };
    let mean = plain.fit.parameters[plain.shape.condition_at(bare)] + LOAD_RAISES.0;
    all.filter(|c| rings.conditions[*c].load_ohm.is_some() && rings.conditions[*c].is_unmounted())
        .map(|c| Prior { at: plain.shape.condition_at(c), mean, deviation: LOAD_RAISES.1 })
        .collect()
}

fn settle_with(rings: &mut Rings, input: Input, known: &[Prior]) -> Result<Fitted, Box<Notice>> {
    let refusal = || Box::new(Notice::new(Code::ModelMisfit, &[]));
    let mut start = start_of(rings);
    known.iter().for_each(|k| start[k.at] = k.mean);
    let count = rings.conditions.len();
    let mut chosen = choose_input(&rings.rings, count, &start, input, known).ok_or_else(refusal)?;
    let mut moved_at_all = false;
    for _ in 0..PUT_OFF_AT_MOST {
        let late: Vec<usize> = (0..rings.rings.len()).filter(|k| not_over(rings, &chosen, *k)).collect();
        let moved = late.iter().filter(|k| rings.put_off(**k, PUT_OFF)).count();
        if moved == 0 {
            break;
        }
        moved_at_all = true;
        chosen = again(&rings.rings, &chosen).unwrap_or(chosen);
    }
    if moved_at_all {
        let start = chosen.fit.parameters[..2 * count].to_vec();
        chosen = choose_input(&rings.rings, count, &start, input, known).ok_or_else(refusal)?;
    }
    Ok(chosen)
}

/// Sets aside single knocks that stand apart from the others of their condition; true where there were any.
fn drop_strangers(rings: &mut Rings, plain: &Fitted) -> bool {
    let singles = single_knocks(rings, plain);
    let mut strangers = Vec::new();
    for c in 0..rings.conditions.len() {
        let of: Vec<usize> = (0..singles.len()).filter(|k| rings.knocks[*k].condition == c).collect();
        // Of three it cannot be told which one is the stranger.
        if of.len() < 4 {
            continue;
        }
        let ln_f: Vec<f64> = of.iter().map(|k| singles[*k].frequency.0.ln()).collect();
        let ln_q: Vec<f64> = of.iter().map(|k| singles[*k].q.0.ln()).collect();
        // Six robust deviations; hands differ by 0.5 % in frequency and 5 % in Q without anything being wrong.
        let mut apart = outliers(&ln_f, 6.0, 0.005);
        apart.extend(outliers(&ln_q, 6.0, 0.05));
        strangers.extend(distinct(apart).into_iter().take(of.len() - KNOCKS_WANTED).map(|k| of[k]));
    }
    for k in distinct(strangers.iter().copied()).iter().rev() {
        let numbers = [("frequency_hz", singles[*k].frequency.0), ("q", singles[*k].q.0)];
        rings.set_aside(*k, Notice::new(Code::ModelMisfit, &numbers));
    }
    !strangers.is_empty()
}

/// The residual of the first quarter period against the rest.
fn not_over(rings: &Rings, chosen: &Fitted, knock: usize) -> bool {
    let ring = &rings.rings[knock];
    let Some((residual, ..)) = ring_residual(ring, &chosen.shape, &chosen.fit.parameters) else { return false };
    let (f, _) = chosen.condition(ring.condition);
    let first = ((0.25 / f) * ring.rate_hz).ceil().max(3.0) as usize;
    if residual.len() < 4 * first {
        return false;
    }
    let mean_square = |part: &[f64]| dot(part, part) / part.len() as f64;
    let rest = mean_square(&residual[first..]).max(ring.noise * ring.noise);
    mean_square(&residual[..first]) > NOT_OVER * NOT_OVER * rest
}

/// Looks at what the plain model leaves over: a second damped sinusoid?
///
/// One that explains less than friction does (which has one parameter where a mode has four a knock) is none.
fn look_for_second_mode(rings: &Rings, plain: Fitted, rubbing: Option<&Fitted>) -> (Fitted, Option<f64>) {
    let Some((f, q)) = leftover_motion(rings, &plain) else { return (plain, None) };
    let rubs = rubbing.map_or(f64::INFINITY, |r| r.fit.information());
    match try_second_mode(&rings.rings, &plain, f, q).filter(|m| m.fit.information() < rubs) {
        Some(better) => {
            let share = second_mode_share(rings, &better);
            // Beside friction only a clear mode counts: its stepwise decay imitates a near or a heavily damped one.
            let (apart, least_q) = if rubbing.is_some() { (0.12, 3.0) } else { (0.05, 1.0) };
            let separate = better.second_mode().is_some_and(|(f2, q2)| {
                q2 > least_q && (0..rings.conditions.len()).all(|c| (f2 / better.condition(c).0).ln().abs() > apart)
            });
            if share > 1e-5 && separate {
                (better, Some(share))
            } else {
                (plain, None)
            }
        }
        None => (plain, None),
    }
}

/// Strongest motion in the residual of the knock that has most of it.
fn leftover_motion(rings: &Rings, plain: &Fitted) -> Option<(f64, f64)> {
    let worst = (0..rings.rings.len()).max_by(|a, b| plain.fit.squares[*a].total_cmp(&plain.fit.squares[*b]))?;
    let ring = &rings.rings[worst];
    let mut bare = ring.clone();
    bare.whitener = super::ring_down_noise::Whitener::none();
    bare.prepare();
    let (residual, ..) = ring_residual(&bare, &plain.shape, &plain.fit.parameters)?;
    free_motions(&residual[..residual.len().min(200)], ring.rate_hz, 6)
        .into_iter()
        .find(|m| m.q > 1.0 && m.frequency_hz < 0.4 * ring.rate_hz)
        .map(|m| (m.frequency_hz, m.q.min(30.0)))
}

fn second_mode_share(rings: &Rings, fitted: &Fitted) -> f64 {
    let first = 2 + fitted.shape.real_poles + 2 * fitted.input_pairs;
    let (mut second, mut main) = (0.0, 0.0);
    let Some((f2, q2)) = fitted.second_mode() else { return 0.0 };
    for (ring, a) in rings.rings.iter().zip(&fitted.fit.amplitudes) {
        let (f, q) = fitted.condition(ring.condition);
        // Energy of a damped sinusoid: a²/(4α), α = πf/Q.
        main += (a[0] * a[0] + a[1] * a[1]) * q / f;
        second += (a[first] * a[first] + a[first + 1] * a[first + 1]) * q2 / f2;
    }
    second / (second + main).max(f64::MIN_POSITIVE)
}

/// Plain, or with the amplitude law that gains most; and half its difference from the next best as the law's uncertainty.
fn best_law(rings: &Rings, plain: &Fitted) -> (Fitted, Vec<(f64, f64)>) {
    let laws = [Law::Amplitude { power: 1.0 }, Law::Amplitude { power: 2.0 }];
    let mut all: Vec<Fitted> = laws.into_iter().filter_map(|law| with_law(&rings.rings, plain, law)).collect();
    all.push(plain.clone());
    let mut all = arranged(all, |one| one.fit.information());
    let spread = half_difference(rings, &all[0].fit.parameters, all.get(1).map(|f| f.fit.parameters.as_slice()));
    (all.swap_remove(0), spread)
}

/// Half the difference of the logarithms of frequency and Q between two models, by condition.
fn half_difference(rings: &Rings, one: &[f64], other: Option<&[f64]>) -> Vec<(f64, f64)> {
    (0..rings.conditions.len())
        .map(|c| match other {
            Some(other) => (0.5 * (one[2 * c] - other[2 * c]), 0.5 * (one[2 * c + 1] - other[2 * c + 1])),
            None => (0.0, 0.0),
        })
        .collect()
}

/// Relative shift of the decay at the reference amplitude, where an amplitude law was chosen.
fn decay_shift(best: &Fitted) -> Option<(f64, f64)> {
    if !matches!(best.shape.law, Law::Amplitude { .. }) {
        return None;
    }
    let at = best.shape.law_at() + 1;
    let (f, q) = best.condition(0);
    let alpha = std::f64::consts::PI * f / q;
    let error = best.fit.deviation(at)? * best.fit.misfit().max(1.0).sqrt();
    Some((best.fit.parameters[at] / alpha, error / alpha))
}

/// Every knock by itself: frequency and Q free, all that is shared held.
fn single_knocks(rings: &Rings, fitted: &Fitted) -> Vec<SingleKnock> {
    rings
        .rings
        .iter()
        .map(|ring| {
            let at = fitted.shape.condition_at(ring.condition);
            let one = fit(std::slice::from_ref(ring), &fitted.shape, &fitted.fit.parameters, &[at, at + 1], &[]);
            match one {
                Some(one) => {
                    let misfit = one.misfit();
                    let spread = |k: usize| one.deviation(k).unwrap_or(f64::INFINITY) * misfit.max(1.0).sqrt();
                    SingleKnock {
                        frequency: (one.parameters[at].exp(), spread(at)),
                        q: (one.parameters[at + 1].exp(), spread(at + 1)),
                        misfit,
                    }
                }
                None => {
                    let (f, q) = fitted.condition(ring.condition);
                    SingleKnock { frequency: (f, f64::INFINITY), q: (q, f64::INFINITY), misfit: f64::INFINITY }
                }
            }
        })
        .collect()
}

/// Joint value of a condition with noise and scatter between knocks put together.
///
/// Where the scatter between knocks agrees with what the noise predicts (F test, 5 %), both estimates are pooled by
/// their degrees of freedom; where it is greater, the scatter alone counts.
fn combine(rings: &Rings, fitted: &Fitted, singles: &[SingleKnock], condition: usize, which: usize) -> Logarithm {
    /// Weight of the noise prediction in degrees of freedom: it rests on an assumed colour of the noise.
    const NOISE_FREEDOM: f64 = 20.0;
    let at = fitted.shape.condition_at(condition) + which;
    let value = fitted.fit.parameters[at];
    let noise = fitted.fit.deviation(at).unwrap_or(f64::INFINITY) * fitted.fit.misfit().max(1.0).sqrt();
    let (logs, weights): (Vec<f64>, Vec<f64>) = singles
        .iter()
        .zip(&rings.knocks)
        .filter(|(_, k)| k.condition == condition)
        .map(|(s, _)| if which == 0 { s.frequency } else { s.q })
        .filter(|(_, u)| u.is_finite() && *u > 0.0)
        .map(|(v, u)| (v.ln(), 1.0 / (u * u)))
        .unzip();
    let total: f64 = weights.iter().sum();
    let mean = logs.iter().zip(&weights).map(|(l, w)| l * w).sum::<f64>() / total;
    let freedom = logs.len() as f64 - 1.0;
    // Ratio of the scatter found to the scatter that noise predicts (Birge 1932).
    let ratio = logs.iter().zip(&weights).map(|(l, w)| w * (l - mean).powi(2)).sum::<f64>() / freedom.max(1.0);
    let scatter = (ratio / total).sqrt();
    let (uncertainty, degrees_of_freedom) = if freedom < 1.0 || !scatter.is_finite() {
        (noise, NOISE_FREEDOM)
    } else if ratio < quantiles::f(0.95, freedom, NOISE_FREEDOM) {
        let pooled = (NOISE_FREEDOM * noise * noise + freedom * scatter * scatter) / (NOISE_FREEDOM + freedom);
        (pooled.sqrt(), NOISE_FREEDOM + freedom)
    } else {
        (scatter.hypot(noise), freedom)
    };
    Logarithm { value, uncertainty, degrees_of_freedom }
}
