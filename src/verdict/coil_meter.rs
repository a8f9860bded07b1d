//! DC resistance of a voice coil by a meter: R_e at 20 °C with its budget, coil to frame, and what the readings hint at.
//!
//! R_e = (mean shown − leads) × k, k from `electrical::copper`. Sources, after JCGM 100:2008: the meter's limits in per cent
//! and in ohms count as uniform, one standard uncertainty is limit/√3 (4.3.7); the per cent are shared by coil and leads,
//! because one range of one meter reads both, the last digits are not; the scatter of n readings is s/√n with n − 1
//! degrees of freedom (4.2.3). Leads that were not read add up to [`LEADS_OHM`]. Hints are no verdicts: a meter's ohms
//! range is upset by a moving cone, so a reading that moves only says that the joint deserves its own check.
//! Coils of 0.5 Ω to 10 kΩ; limits marked so are common practice, no source.

use super::part_limits::{judge_figure, Verdict};
use crate::electrical::copper::{temperature_uncertainty_k, to_20_c, COPPER_PER_KELVIN};
use crate::math::budget::Budget;
use crate::math::quantiles::student_t;
use crate::math::vectors::{mean, range};
use crate::signal::reading::Figure;
use crate::signal::role_take::SetupError;
use serde::{Deserialize, Serialize};

/// Coil to frame is sound above this; common practice, no source.
const TO_FRAME_MEGOHM: f64 = 10.0;
/// A meter's highest ohms range is off by up to this share; common practice, no source.
const TO_FRAME_SHARE: f64 = 0.1;
/// No voice coil has less; common practice, no source.
const SHORT_OHM: f64 = 0.5;
/// Two leads with their plugs have at most this, where nobody read them; common practice, no source.
const LEADS_OHM: f64 = 0.2;
/// R_e as a share of the rated impedance; common practice, no source.
const RATED: (f64, f64) = (0.75, 0.9);
/// Two readings whose difference is less certain than this share agree and differ alike: it is the tolerance of R_e
/// against a reference.
const TELLS_WITHIN: f64 = 0.05;

/// DC resistance by a meter, as typed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct CoilEntry {
    /// Resistances shown one after the other, in ohms, the cone still.
    pub shown_ohm: Vec<f64>,
    /// Resistances shown while the cone is moved by hand, in ohms; for wandering and loose joints.
    pub moved_ohm: Vec<f64>,
    /// Shown with the leads held together.
    pub leads_ohm: Option<f64>,
    /// Limit of the meter's error in per cent of the reading.
    pub meter_percent: f64,
    /// And in ohms (last digits).
    pub meter_ohm: f64,
    /// Temperature of the coil.
    pub temperature_c: Option<f64>,
    /// Resistance from the coil to the frame in megohms; the meter's limit where it shows over range.
    pub to_frame_megohm: Option<f64>,
    /// The meter showed over range from coil to frame.
    pub to_frame_over_range: bool,
    /// The meter shows over range across the coil.
    pub over_range: bool,
    /// When in the job.
    pub phase: Phase,
    /// When.
    pub at_ms: f64,
    /// In words.
    pub note: String,
}

/// When in the job a reading was taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Phase {
    /// Before anything was done.
    AsFound,
    /// Back from the specialist.
    #[default]
    Returned,
    /// While it is broken in.
    BreakIn,
    /// As it goes back to the owner.
    AsLeft,
}

/// R_e as a fit found it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct FittedRe {
    /// Id of the reading.
    pub reading: String,
    /// `r_e_ohm` of it.
    pub r_e_ohm: Figure,
    /// Temperature of the coil, where it was noted.
    pub temperature_c: Option<f64>,
}

/// What is asked.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct CoilQuestion {
    /// As typed.
    pub entry: CoilEntry,
    /// R_e of impedance readings of the same coil.
    pub fitted: Vec<FittedRe>,
    /// Rated impedance in ohms, where known.
    pub rated_impedance_ohm: Option<f64>,
}

/// What the readings hint at; none of them is a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum CoilHint {
    /// Over range: the coil, a lead-out or a joint is open.
    Open,
    /// Near nought: shorted before the coil, or the leads touch.
    Short,
    /// Readings of the still cone lie farther apart than the meter's last digits let them.
    Wandering,
    /// Readings move with the cone, beyond what they do when it is still.
    LooseJoint,
    /// The leads were not read; they widen the uncertainty.
    LeadsNotRead,
    /// No temperature: 20 °C is taken, and the uncertainty is wider.
    NoTemperature,
    /// A single reading shows no scatter.
    OneReading,
}

/// Whether two figures, or a figure and a usual range, agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Agreement {
    /// Within both uncertainties.
    Agrees,
    /// Beyond them.
    Differs,
    /// An uncertainty is missing, or so wide that it would agree with anything.
    CannotTell,
}

/// The meter beside a fit, both at 20 °C.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct AgainstFit {
    /// Id of the reading.
    pub reading: String,
    /// Of the fit, at 20 °C.
    pub r_e_ohm: Figure,
    /// Meter less fit, in ohms.
    pub difference_ohm: f64,
    /// Half-width of its 95 % interval; none where one of them has no uncertainty.
    pub half_width_95: Option<f64>,
    /// What that says.
    pub agreement: Agreement,
}

/// Against the rated impedance: a hint, common practice.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct AgainstRated {
    /// R_e over the rated impedance.
    pub share: f64,
    /// Usually from this share …
    pub low: f64,
    /// … to this.
    pub high: f64,
    /// Whether it lies there.
    pub agreement: Agreement,
}

/// What a meter says of a coil.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct CoilAnswer {
    /// At 20 °C; none where the coil is open or nothing is left when the leads are taken off.
    pub r_e_ohm: Option<Figure>,
    /// Coil to frame, in all.
    pub to_frame: Verdict,
    /// Coil to frame was read.
    pub to_frame_read: bool,
    /// Wanted from coil to frame, in megohms.
    pub to_frame_wanted_megohm: f64,
    /// In the order in which they matter.
    pub hints: Vec<CoilHint>,
    /// Highest less lowest of the readings with the cone still, in ohms.
    pub still_spread_ohm: f64,
    /// The same with those taken while it was moved.
    pub moved_spread_ohm: f64,
    /// The meter's last digits alone let readings lie this far apart, in ohms.
    pub spread_allowed_ohm: f64,
    /// Beside each fit.
    pub against_fit: Vec<AgainstFit>,
    /// Beside the rated impedance.
    pub against_rated: Option<AgainstRated>,
}

/// # Errors
/// The first field that no meter shows.
pub fn judge_coil(question: &CoilQuestion) -> Result<CoilAnswer, SetupError> {
    let entry = &question.entry;
    check(entry)?;
    let r_e_ohm = r_e_at_20_c(entry);
    let spread = Spread::of(entry);
    let against_fit =
        r_e_ohm.iter().flat_map(|r_e| question.fitted.iter().map(move |fit| beside_fit(r_e, fit))).collect();
    let against_rated = r_e_ohm
        .as_ref()
        .zip(question.rated_impedance_ohm.filter(|r| *r > 0.0))
        .map(|(r, rated)| beside_rated(r, rated));
    Ok(CoilAnswer {
        hints: hints(entry, &spread),
        to_frame: to_frame(entry),
        to_frame_read: entry.to_frame_over_range || entry.to_frame_megohm.is_some(),
        to_frame_wanted_megohm: TO_FRAME_MEGOHM,
        still_spread_ohm: spread.still,
        moved_spread_ohm: spread.with_moved,
        spread_allowed_ohm: spread.allowed,
        against_fit,
        against_rated,
        r_e_ohm,
    })
}

/// R_e at 20 °C; none where the coil is open, where nothing was read, or where nothing is left of it without the leads.
pub fn r_e_at_20_c(entry: &CoilEntry) -> Option<Figure> {
    let net = net_ohm(entry).filter(|net| !entry.over_range && *net > 0.0)?;
    let (shown, n, k) = (&entry.shown_ohm, entry.shown_ohm.len() as f64, to_20_c(entry.temperature_c.unwrap_or(20.0)));
    let digit = k * entry.meter_ohm / 3f64.sqrt();
    let warmer = net * k * k * COPPER_PER_KELVIN * temperature_uncertainty_k(entry.temperature_c.is_some());
    let mut budget = Budget::new(net * k);
    let known = f64::INFINITY;
    budget.add("meter_accuracy", net * k * entry.meter_percent / 100.0 / 3f64.sqrt(), true, known);
    budget.add("meter_display", digit, false, known);
    match entry.leads_ohm {
        Some(_) => budget.add("leads", digit, true, known),
        None => budget.add("leads", k * LEADS_OHM / 3f64.sqrt(), true, known),
    };
    budget.add("temperature", warmer, true, known);
    if shown.len() > 1 {
        let middle = mean(shown);
        let variance = shown.iter().map(|r| (r - middle).powi(2)).sum::<f64>() / (n - 1.0);
        budget.add("repeat", k * (variance / n).sqrt(), false, n - 1.0);
    }
    let coverage = student_t(0.975, budget.degrees_of_freedom());
    Some(Figure::from_budget(budget, coverage))
}

/// A fit's R_e at 20 °C. Its own budget takes the coil for 20 °C; where a temperature was noted, that is put in its place.
pub fn fitted_at_20_c(fitted: &Figure, temperature_c: Option<f64>) -> Figure {
    let Some(c) = temperature_c else { return fitted.clone() };
    let k = to_20_c(c);
    let mut out = Figure { value: fitted.value * k, ..fitted.clone() };
    let (Some(u), Some(half)) = (fitted.standard_uncertainty, fitted.half_width_95) else { return out };
    for part in &mut out.budget {
        part.effect = match part.source.as_str() {
            "temperature" => out.value * k * COPPER_PER_KELVIN * temperature_uncertainty_k(true),
            _ => part.effect * k,
        };
    }
    let now = out.budget.iter().map(|p| p.effect * p.effect).sum::<f64>().sqrt();
    let coverage = if u > 0.0 { half / u } else { 1.96 };
    out.standard_uncertainty = Some(now);
    out.half_width_95 = Some(now * coverage);
    out
}

fn net_ohm(entry: &CoilEntry) -> Option<f64> {
    (!entry.shown_ohm.is_empty()).then(|| mean(&entry.shown_ohm) - entry.leads_ohm.unwrap_or(0.0))
}

fn check(entry: &CoilEntry) -> Result<(), SetupError> {
    let ohms = |r: &f64| (0.0..=1e5).contains(r);
    let wrong = |field: &str, wanted: &str| Err(SetupError::new(field, wanted));
    if !entry.over_range && entry.shown_ohm.is_empty() {
        return wrong("entry.shown_ohm", "at least one reading is wanted, or over range");
    }
    for (field, list) in [("entry.shown_ohm", &entry.shown_ohm), ("entry.moved_ohm", &entry.moved_ohm)] {
        if !list.iter().all(ohms) || list.len() > 100 {
            return wrong(field, "up to a hundred resistances from 0 to 100000 ohms are wanted");
        }
    }
    if !entry.leads_ohm.as_ref().is_none_or(|r| (0.0..=10.0).contains(r)) {
        return wrong("entry.leads_ohm", "a resistance from 0 to 10 ohms is wanted");
    }
    if !(0.0..=20.0).contains(&entry.meter_percent) {
        return wrong("entry.meter_percent", "a number from 0 to 20 is wanted");
    }
    if !(1e-6..=10.0).contains(&entry.meter_ohm) {
        return wrong("entry.meter_ohm", "the limit in ohms is wanted, above 0 and up to 10: at least one last digit");
    }
    if !entry.temperature_c.as_ref().is_none_or(|t| (-30.0..=200.0).contains(t)) {
        return wrong("entry.temperature_c", "a temperature from -30 to 200 °C is wanted");
    }
    if !entry.to_frame_megohm.as_ref().is_none_or(|r| (0.0..=1e6).contains(r)) {
        return wrong("entry.to_frame_megohm", "megohms from 0 to a million are wanted");
    }
    Ok(())
}

/// Over range proves what the meter can show, and no more.
fn to_frame(entry: &CoilEntry) -> Verdict {
    let Some(read) = entry.to_frame_megohm else { return Verdict::NotProven };
    let (least, most) = (read * (1.0 - TO_FRAME_SHARE), read * (1.0 + TO_FRAME_SHARE));
    match entry.to_frame_over_range {
        true if read >= TO_FRAME_MEGOHM => Verdict::Pass,
        true => Verdict::NotProven,
        false if least >= TO_FRAME_MEGOHM => Verdict::Pass,
        false if most < TO_FRAME_MEGOHM => Verdict::Fail,
        false => Verdict::NotProven,
    }
}

struct Spread {
    still: f64,
    with_moved: f64,
    allowed: f64,
}

impl Spread {
    fn of(entry: &CoilEntry) -> Self {
        // Each of two readings is off by the last digits at most; the per cent they share.
        let allowed = 2.0 * entry.meter_ohm;
        let spread = |values: &[f64]| match range(values) {
            (low, high) if low <= high => high - low,
            _ => 0.0,
        };
        let still = spread(&entry.shown_ohm);
        let all: Vec<f64> = entry.shown_ohm.iter().chain(&entry.moved_ohm).copied().collect();
        Spread { still, with_moved: spread(&all), allowed }
    }
}

fn hints(entry: &CoilEntry, spread: &Spread) -> Vec<CoilHint> {
    // What was typed in decimals differs by whole last digits; a millionth of one is rounding.
    let beyond = |spread: f64, allowed: f64| spread > allowed * (1.0 + 1e-6);
    let read = !entry.over_range;
    let all = [
        (CoilHint::Open, entry.over_range),
        (CoilHint::Short, read && net_ohm(entry).is_some_and(|net| net < SHORT_OHM)),
        (CoilHint::Wandering, read && beyond(spread.still, spread.allowed)),
        (
            CoilHint::LooseJoint,
            read && !entry.moved_ohm.is_empty() && beyond(spread.with_moved, spread.still.max(spread.allowed)),
        ),
        (CoilHint::LeadsNotRead, read && entry.leads_ohm.is_none()),
        (CoilHint::NoTemperature, read && entry.temperature_c.is_none()),
        (CoilHint::OneReading, read && entry.shown_ohm.len() == 1),
    ];
    all.into_iter().filter(|(_, holds)| *holds).map(|(hint, _)| hint).collect()
}

fn beside_fit(meter: &Figure, fit: &FittedRe) -> AgainstFit {
    let fitted = fitted_at_20_c(&fit.r_e_ohm, fit.temperature_c);
    let difference_ohm = meter.value - fitted.value;
    let half_width_95 = meter.half_width_95.zip(fitted.half_width_95).map(|(a, b)| a.hypot(b));
    let agreement = match half_width_95 {
        Some(half) if difference_ohm.abs() > half => Agreement::Differs,
        Some(half) if half <= TELLS_WITHIN * meter.value => Agreement::Agrees,
        _ => Agreement::CannotTell,
    };
    AgainstFit { reading: fit.reading.clone(), r_e_ohm: fitted, difference_ohm, half_width_95, agreement }
}

fn beside_rated(r_e: &Figure, rated_ohm: f64) -> AgainstRated {
    let (low, high) = RATED;
    let agreement = match judge_figure(r_e, low * rated_ohm, high * rated_ohm) {
        Verdict::Pass => Agreement::Agrees,
        Verdict::Fail => Agreement::Differs,
        Verdict::NotProven => Agreement::CannotTell,
    };
    AgainstRated { share: r_e.value / rated_ohm, low, high, agreement }
}

#[cfg(test)]
#[path = "coil_meter_tests.rs"]
mod tests;
