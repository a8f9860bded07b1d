//! The rings of a check, fitted: frequency and Q for each condition, how far single knocks agree, and what else is in them.

use super::knock_rings::{Rings, KNOCKS_WANTED};
use super::ring_down_choice::{
    again, choose_input, note_strengths, try_second_mode, with_friction, with_law, Fitted, Input, NEARLY_AS_WELL,
};
use super::ring_down_fit::{fit, ring_residual};
use super::ring_down_friction::{swing_test, SwingTest};
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

/// A decay that bends in time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct GainBend {
    /// Change of ln Q of the first condition.
    pub change: f64,
    /// The bend over its standard error.
    pub statistic: f64,
}

/// Is the decay a straight line rather than an exponential?
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct FrictionTest {
    /// Friction's decay over the viscous decay at the reference amplitude.
    pub ratio: f64,
    /// Ratio over its standard uncertainty.
    pub statistic: f64,
    /// What the statistic must exceed.
    pub limit: f64,
    /// Q at the strongest and weakest amplitude of the rings.
    pub q_range: (f64, f64),
    /// True where friction is in it.
    pub found: bool,
}

/// Residual at the start of a ring beyond which the knock is not over: three times the rest.
const NOT_OVER: f64 = 3.0;
/// Part of the first swing that friction takes off each: what the input's own motion can feign is below 3 %.
const LOST_AT_LEAST: f64 = 0.05;
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
fn settle(rings: &mut Rings, input: Input) -> Result<Fitted, Box<Notice>> {
    let refusal = || Box::new(Notice::new(Code::ModelMisfit, &[]));
    let start = start_of(rings);
    let count = rings.conditions.len();
    let mut chosen = choose_input(&rings.rings, count, &start, input).ok_or_else(refusal)?;
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
        chosen = choose_input(&rings.rings, count, &start, input).ok_or_else(refusal)?;
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

/// The law of gain on top of the plain model; none where it explains less than that or than friction (`beside`).
fn gain_bend(rings: &Rings, plain: &Fitted, beside: f64) -> Option<GainBend> {
    let bent = with_law(&rings.rings, plain, Law::Gain)?;
    let at = bent.shape.law_at();
    let error = bent.fit.deviation(at)? * bent.fit.misfit().max(1.0).sqrt();
    let better = bent.fit.information() + NEARLY_AS_WELL < plain.fit.information().min(beside);
    let change = bent.fit.parameters[1] - plain.fit.parameters[1];
    better.then(|| GainBend { change, statistic: bent.fit.parameters[at] / error.max(f64::MIN_POSITIVE) })
}

/// Friction: one more parameter (the straight part of the decay) against its uncertainty.
///
/// The statistic is the friction over its standard error, the error scaled by the misfit that remains. Limit: Student's
/// one-sided 0.999 quantile for the number of knocks, so that a viscous decay is called friction in 1 of 1000 by chance.
/// Besides, friction must explain the rings no worse than the best law without it, and be at least 1 % of the decay.
fn friction_test(rings: &Rings, rubbing: Option<&Fitted>, best: &Fitted, input: Input) -> FrictionTest {
    let by_law = rubbing.map_or_else(FrictionTest::default, |f| friction_by_law(rings, f, best));
    // A heavily loaded ring has few half swings, and the input's own motion in the first of them.
    if rings.conditions[0].load_ohm.is_some() {
        return by_law;
    }
    let Some(test) = swings(rings, input).filter(|t| t.loss > LOST_AT_LEAST && !by_law.found) else { return by_law };
    // Either the swings are beyond chance by themselves, or swings and decay both point to friction.
    let both =
        by_law.ratio > 0.01 && by_law.statistic > quantiles::student_t(0.99, (rings.rings.len().max(5) - 1) as f64);
    if test.statistic > test.limit {
        FrictionTest { statistic: test.statistic, limit: test.limit, found: true, ..by_law }
    } else {
        FrictionTest { found: both, ..by_law }
    }
}

/// The half swings of the first condition's rings as recorded, from the first one that the finger does not make.
/// The input's own motion (a coupling of 8 Hz, a roll-off of 45 Hz) is gone after a swing or two.
fn swings(rings: &Rings, input: Input) -> Option<SwingTest> {
    let skip = if input == Input::Coil { 1 } else { 2 };
    let all: Vec<Vec<f64>> = rings
        .finds
        .iter()
        .zip(&rings.slow)
        .enumerate()
        .filter(|(take, _)| rings.knocks.iter().any(|k| k.take == *take && k.condition == 0))
        .flat_map(|(_, (finds, slow))| {
            let bumps = finds.iter().filter(|f| !matches!(&f.spotted.set_aside, Some(n) if n.code == Code::Clipped));
            bumps.filter_map(|f| slow.as_ref()?.swings(f, skip))
        })
        .collect();
    swing_test(&all)
}

fn friction_by_law(rings: &Rings, f: &Fitted, best: &Fitted) -> FrictionTest {
    let at = f.shape.law_at();
    let friction = f.fit.parameters[at];
    let spread = f.fit.deviation(at).unwrap_or(f64::INFINITY) * f.fit.misfit().max(1.0).sqrt();
    let (frequency, q) = f.condition(0);
    let alpha = std::f64::consts::PI * frequency / q;
    let limit = quantiles::student_t(0.999, (rings.rings.len().max(5) - 1) as f64);
    let statistic = friction / spread.max(f64::MIN_POSITIVE);
    let better = f.fit.information() <= best.fit.information();
    let ratio = friction / alpha;
    let at_strength = |s: f64| q / (1.0 + ratio / s);
    let strongest = rings.rings.iter().map(|r| r.strength).fold(1e-3, f64::max);
    FrictionTest {
        ratio,
        statistic,
        limit,
        q_range: (at_strength(strongest), at_strength(0.3 * strongest)),
        found: statistic > limit && better && ratio > 0.01,
    }
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
