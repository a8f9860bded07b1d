//! Whether two readings of the same part can be compared, figure by figure, and by how much it changed.
//!
//! What the suspension has a part in (f_s, Q's, Z_max, compliance) moves with travel, rest, warmth and with the place where
//! the cone hangs; what is copper (R_e) moves with temperature only and is brought to 20 °C
//! (`electrical::copper`). The cone hangs lower by g/(2πf_s)² for each g that gravity pulls
//! otherwise. Limits are common practice, no source.

use crate::electrical::copper::{temperature_uncertainty_k, to_20_c, COPPER_PER_KELVIN};
use crate::math::budget::Contribution;
use crate::signal::reading::Figure;
use crate::verdict::difference::difference;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::f64::consts::TAU;

const GRAVITY_M_PER_S2: f64 = 9.81;

/// How the driver lay.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum HistoryAttitude {
    /// Cone upwards.
    FaceUp,
    /// Cone downwards.
    FaceDown,
    /// Cone to the side, as in a cabinet.
    Upright,
}

/// A reading with what it was taken under; what is not known is left out.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct HistoryReading {
    /// Check that it comes from.
    pub check: String,
    /// Sensor, where the check has several.
    pub sensor: Option<String>,
    /// Its figures.
    pub values: BTreeMap<String, Figure>,
    /// Of the driver.
    pub temperature_c: Option<f64>,
    /// At the driver, root mean square; of a knock there is none.
    pub level_v: Option<f64>,
    /// Since the cone was last worked.
    pub rest_min: Option<f64>,
    /// How it lay.
    pub attitude: Option<HistoryAttitude>,
}

/// How far conditions may lie apart.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct HistoryLimits {
    /// Ratio of the levels: beyond it travel moves f_s and Q's by more than readings repeat.
    pub level_ratio: f64,
    /// Difference in temperature for what the suspension has a part in, in K.
    pub temperature_k: f64,
    /// Rest after which a suspension that was worked hard has come back, in minutes.
    pub rest_min: f64,
}

/// Common practice, no source: twice the level moves f_s by some tenths of a per cent (simulated: 0.4 % for three times the
/// knock); 5 K move R_e by 2 % and a rubber roll audibly; a suspension recovers in half an hour.
pub const USUAL_LIMITS: HistoryLimits = HistoryLimits { level_ratio: 2.0, temperature_k: 5.0, rest_min: 30.0 };

/// The question.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct HistorySetup {
    /// The earlier reading.
    pub earlier: HistoryReading,
    /// The later one.
    pub later: HistoryReading,
    /// Both with the same wiring, calibrations and resistor.
    pub same_jig: bool,
    /// In place of what is common practice.
    pub limits: Option<HistoryLimits>,
}

/// Whether a figure can be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Comparability {
    /// As it stands.
    Comparable,
    /// After R_e was brought to 20 °C.
    Corrected,
    /// Only if what is not known was alike.
    IfAlike,
    /// Not at all: the conditions move it.
    NotComparable,
}

/// What stands between two readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum ObstacleCode {
    /// Another check or sensor: the cone moved otherwise.
    OtherCheck,
    /// Another level.
    OtherLevel,
    /// Another temperature.
    OtherTemperature,
    /// One of them soon after hard work.
    NotRested,
    /// It lay otherwise.
    OtherAttitude,
    /// The level of one is not known.
    LevelUnknown,
    /// The temperature of one is not known.
    TemperatureUnknown,
    /// How long one had rested is not known.
    RestUnknown,
    /// How one lay is not known.
    AttitudeUnknown,
    /// One of the two has no uncertainty.
    NoUncertainty,
}

/// An obstacle with its numbers.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Obstacle {
    /// Which.
    pub code: ObstacleCode,
    /// What decided, by name with unit: `earlier_…`, `later_…`, `allowed_…`.
    pub numbers: BTreeMap<String, f64>,
}

/// One figure of both readings.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct FigureHistory {
    /// Name of the figure.
    pub name: String,
    /// Whether it can be compared.
    pub comparability: Comparability,
    /// Why not, or what is not known.
    pub obstacles: Vec<Obstacle>,
    /// Later over earlier, in per cent beyond 1; none where it cannot be compared.
    pub percent: Option<f64>,
    /// Half-width of its 95 % interval, in per cent.
    pub half_width_95_percent: Option<f64>,
    /// The interval does not hold nought.
    pub changed: Option<bool>,
}

/// The answer: every figure that both have.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct HistoryCompared {
    /// In the order of their names.
    pub figures: Vec<FigureHistory>,
    /// The limits that were applied.
    pub limits: HistoryLimits,
}

/// Figures that the suspension has no part in: copper, iron and mass.
const WITHOUT_SUSPENSION: [&str; 11] = [
    "r_e_ohm",
    "l_e_h",
    "k_ohm_s_n",
    "n",
    "l_2_h",
    "r_2_ohm",
    "m_ms_kg",
    "bl_t_m",
    "s_d_m2",
    "output_resistance_ohm",
    "creep",
];

/// Compares two readings of one part.
pub fn compare(setup: &HistorySetup) -> HistoryCompared {
    let limits = setup.limits.unwrap_or(USUAL_LIMITS);
    let moved = obstacles(setup, &limits);
    let both =
        setup.earlier.values.iter().filter_map(|(name, earlier)| Some((name, earlier, setup.later.values.get(name)?)));
    let figures = both.map(|(name, earlier, later)| one(setup, name, earlier, later, &moved)).collect();
    HistoryCompared { figures, limits }
}

fn one(setup: &HistorySetup, name: &str, earlier: &Figure, later: &Figure, moved: &[Obstacle]) -> FigureHistory {
    let suspended = !WITHOUT_SUSPENSION.contains(&name);
    let mut obstacles: Vec<Obstacle> = if suspended { moved.to_vec() } else { Vec::new() };
    let mut corrected = false;
    let (mut earlier, mut later) = (on_its_day(earlier), on_its_day(later));
    if name == "r_e_ohm" {
        match (setup.earlier.temperature_c, setup.later.temperature_c) {
            (Some(then), Some(now)) => {
                (earlier, later) = (at_20_c(&earlier, then), at_20_c(&later, now));
                corrected = true;
            }
            _ => obstacles.push(unknown(ObstacleCode::TemperatureUnknown)),
        }
    }
    let difference = difference(&later, &earlier, setup.same_jig);
    if difference.is_none() {
        obstacles.push(unknown(ObstacleCode::NoUncertainty));
    }
    let comparability = comparability(&obstacles, corrected);
    let known = difference.filter(|_| comparability != Comparability::NotComparable);
    FigureHistory {
        name: name.to_owned(),
        comparability,
        obstacles,
        percent: known.map(|d| 100.0 * d.ln_ratio.exp_m1()),
        half_width_95_percent: known.map(|d| 100.0 * d.ln_ratio.exp() * d.half_width_95),
        changed: known.map(|d| d.ln_ratio.abs() > d.half_width_95),
    }
}

fn comparability(obstacles: &[Obstacle], corrected: bool) -> Comparability {
    use ObstacleCode::*;
    let open = |o: &Obstacle| matches!(o.code, LevelUnknown | TemperatureUnknown | RestUnknown | AttitudeUnknown);
    match obstacles {
        [] if corrected => Comparability::Corrected,
        [] => Comparability::Comparable,
        all if all.iter().all(open) => Comparability::IfAlike,
        _ => Comparability::NotComparable,
    }
}

/// Two parts on one day share the room; one part on two days does not.
fn on_its_day(figure: &Figure) -> Figure {
    let budget =
        figure.budget.iter().map(|c| Contribution { common: c.common && c.source != "temperature", ..c.clone() });
    Figure { budget: budget.collect(), ..figure.clone() }
}

/// R_e at 20 °C; a thermometer stands in for what was assumed of the temperature.
fn at_20_c(figure: &Figure, temperature_c: f64) -> Figure {
    let factor = to_20_c(temperature_c);
    let value = figure.value * factor;
    let others = figure.budget.iter().filter(|c| c.source != "temperature");
    let mut budget: Vec<Contribution> =
        others.map(|c| Contribution { effect: c.effect * factor, ..c.clone() }).collect();
    let effect = value * COPPER_PER_KELVIN * temperature_uncertainty_k(true);
    let source = "thermometer".to_owned();
    budget.push(Contribution { source, effect, common: false });
    Figure { value, budget, ..figure.clone() }
}

/// What stands between the two for all that the suspension has a part in.
fn obstacles(setup: &HistorySetup, limits: &HistoryLimits) -> Vec<Obstacle> {
    let (then, now) = (&setup.earlier, &setup.later);
    let mut out = Vec::new();
    if then.check != now.check || then.sensor != now.sensor {
        out.push(unknown(ObstacleCode::OtherCheck));
    }
    out.extend(level(then, now, limits.level_ratio));
    out.extend(temperature(then, now, limits.temperature_k));
    out.extend(rest(then, now, limits.rest_min));
    out.extend(attitude(then, now));
    out
}

fn unknown(code: ObstacleCode) -> Obstacle {
    Obstacle { code, numbers: BTreeMap::new() }
}

fn numbered(code: ObstacleCode, numbers: [(&str, f64); 3]) -> Obstacle {
    Obstacle { code, numbers: crate::math::order::by_name(numbers) }
}

/// A knock has no level; its own check compares amplitudes.
fn level(then: &HistoryReading, now: &HistoryReading, allowed: f64) -> Option<Obstacle> {
    if [then, now].iter().any(|r| matches!(r.check.as_str(), "knock" | "pair")) {
        return None;
    }
    let (Some(a), Some(b)) = (then.level_v, now.level_v) else { return Some(unknown(ObstacleCode::LevelUnknown)) };
    let numbers = [("earlier_level_v", a), ("later_level_v", b), ("allowed_ratio", allowed)];
    (a.max(b) > allowed * a.min(b)).then(|| numbered(ObstacleCode::OtherLevel, numbers))
}

fn temperature(then: &HistoryReading, now: &HistoryReading, allowed: f64) -> Option<Obstacle> {
    let (Some(a), Some(b)) = (then.temperature_c, now.temperature_c) else {
        return Some(unknown(ObstacleCode::TemperatureUnknown));
    };
    let numbers = [("earlier_temperature_c", a), ("later_temperature_c", b), ("allowed_k", allowed)];
    ((a - b).abs() > allowed).then(|| numbered(ObstacleCode::OtherTemperature, numbers))
}

fn rest(then: &HistoryReading, now: &HistoryReading, wanted: f64) -> Option<Obstacle> {
    let (Some(a), Some(b)) = (then.rest_min, now.rest_min) else { return Some(unknown(ObstacleCode::RestUnknown)) };
    let numbers = [("earlier_rest_min", a), ("later_rest_min", b), ("wanted_min", wanted)];
    (a.min(b) < wanted).then(|| numbered(ObstacleCode::NotRested, numbers))
}

fn attitude(then: &HistoryReading, now: &HistoryReading) -> Option<Obstacle> {
    let (Some(a), Some(b)) = (then.attitude, now.attitude) else { return Some(unknown(ObstacleCode::AttitudeUnknown)) };
    if a == b {
        return None;
    }
    let pull = |attitude: HistoryAttitude| match attitude {
        HistoryAttitude::FaceUp => -1.0,
        HistoryAttitude::Upright => 0.0,
        HistoryAttitude::FaceDown => 1.0,
    };
    let mut found = unknown(ObstacleCode::OtherAttitude);
    if let Some(f_s) = now.values.get("f_s_hz").filter(|f| f.value > 0.0) {
        let sag_m = f64::abs(pull(a) - pull(b)) * GRAVITY_M_PER_S2 / (TAU * f_s.value).powi(2);
        found.numbers = crate::math::order::by_name([("sag_mm", 1000.0 * sag_m)]);
    }
    Some(found)
}

#[cfg(test)]
#[path = "comparable_tests.rs"]
mod tests;
