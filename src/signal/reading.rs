//! The shape in which every check answers: a reading, a doubtful reading or a refusal.

use super::notice::Notice;
use crate::math::budget::{Budget, Contribution};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How a check ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Figures that can be trusted within their uncertainty.
    Reading,
    /// Figures are given, but a warning says why they may be off.
    Doubtful,
    /// The takes cannot answer; `refusal` says why and what to do.
    Refused,
}

/// One figure with its uncertainty, or with the reason why it has none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Figure {
    /// Best estimate, in the unit that the figure's name carries.
    pub value: f64,
    /// One standard uncertainty; none where `reason` says why.
    pub standard_uncertainty: Option<f64>,
    /// Half-width of the 95 % interval (coverage factor from the degrees of freedom); what the page shows behind ±.
    pub half_width_95: Option<f64>,
    /// Why there is no uncertainty.
    pub reason: Option<String>,
    /// Where the uncertainty comes from.
    pub budget: Vec<Contribution>,
}

impl Figure {
    /// A figure from its budget; `coverage_factor` is Student's 0.975 quantile for the budget's degrees of freedom.
    pub fn from_budget(budget: Budget, coverage_factor: f64) -> Self {
        let u = budget.standard_uncertainty();
        Figure {
            value: budget.value,
            standard_uncertainty: Some(u),
            half_width_95: Some(u * coverage_factor),
            reason: None,
            budget: budget.contributions,
        }
    }

    /// A figure that has no uncertainty, with the reason.
    pub fn without_uncertainty(value: f64, reason: &str) -> Self {
        Figure {
            value,
            standard_uncertainty: None,
            half_width_95: None,
            reason: Some(reason.to_owned()),
            budget: Vec::new(),
        }
    }
}

/// Named columns of equal length, e.g. `frequency_hz`, `magnitude_ohm`. All entries are finite.
pub type Curve = BTreeMap<String, Vec<f64>>;

/// With what a reading was computed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct ComputedWith {
    /// Version of this crate.
    pub version: String,
    /// Short name of the method, e.g. `two-channel ratio over whole periods`.
    pub method: String,
}

/// The answer of a check. See the headless contract in DEVELOPERS.md for the JSON form.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Reading {
    /// Version of this shape.
    pub schema: u32,
    /// Name of the check: `impedance`, `knock`, ...
    pub check: String,
    /// How it ended.
    pub outcome: Outcome,
    /// Figures by name (`f_s_hz`, `q_ms`, ...).
    pub values: BTreeMap<String, Figure>,
    /// The same figures by a second, simpler method, to be shown beside (`three_frequency_f_s_hz`, ...).
    pub alongside: BTreeMap<String, Figure>,
    /// Choices made by the analysis (`coil_model`, `stimulus`, ...).
    pub chosen: BTreeMap<String, String>,
    /// Evidence. Crosses the boundary as typed arrays.
    #[cfg_attr(feature = "typescript", ts(type = "Record<string, Record<string, Float64Array>>"))]
    pub curves: BTreeMap<String, Curve>,
    /// What a person should know before trusting the figures.
    pub warnings: Vec<Notice>,
    /// Why the takes cannot answer.
    pub refusal: Option<Notice>,
    /// Version and method.
    pub computed_with: ComputedWith,
}

impl Reading {
    /// An empty reading of `check`, to be filled.
    pub fn new(check: &str, method: &str) -> Self {
        Reading {
            schema: 1,
            check: check.to_owned(),
            outcome: Outcome::Reading,
            values: BTreeMap::new(),
            alongside: BTreeMap::new(),
            chosen: BTreeMap::new(),
            curves: BTreeMap::new(),
            warnings: Vec::new(),
            refusal: None,
            computed_with: ComputedWith { version: env!("CARGO_PKG_VERSION").to_owned(), method: method.to_owned() },
        }
    }

    /// A refusal: no figures, the reason, its numbers and the remedy. Curves may still be added as evidence.
    pub fn refused(check: &str, method: &str, refusal: Notice) -> Self {
        let mut reading = Self::new(check, method);
        reading.outcome = Outcome::Refused;
        reading.refusal = Some(refusal);
        reading
    }

    /// Adds a warning; where `doubtful`, the outcome becomes doubtful.
    pub fn warn(&mut self, notice: Notice, doubtful: bool) {
        if doubtful && self.outcome == Outcome::Reading {
            self.outcome = Outcome::Doubtful;
        }
        self.warnings.push(notice);
    }
}
