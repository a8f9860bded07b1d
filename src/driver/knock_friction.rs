//! Friction from the decay: by the law of friction in the fit, and by the half swings themselves.

use super::knock_rings::Rings;
use super::ring_down_choice::{Fitted, Input};
use super::ring_down_friction::{swing_test, SwingTest};
use crate::math::quantiles;
use crate::signal::notice::Code;

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

/// Part of the first swing that friction takes off each: what the input's own motion can feign is below 3 %.
const LOST_AT_LEAST: f64 = 0.05;
/// Friction: one more parameter (the straight part of the decay) against its uncertainty.
///
/// The statistic is the friction over its standard error, the error scaled by the misfit that remains. Limit: Student's
/// one-sided 0.999 quantile for the number of knocks, so that a viscous decay is called friction in 1 of 1000 by chance.
/// Besides, friction must explain the rings no worse than the best law without it, and be at least 1 % of the decay.
pub(super) fn friction_test(rings: &Rings, rubbing: Option<&Fitted>, best: &Fitted, input: Input) -> FrictionTest {
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
