//! Uncertainty budget: named contributions to one figure.
//!
//! A contribution is the signed change of the figure when its source moves by one standard uncertainty, so that
//! sources common to two figures (the same resistor, the same gain mismatch) can be cancelled when the two are compared.
//! Method: law of propagation, JCGM 100:2008 (GUM) 5.1 and 5.2.

use serde::{Deserialize, Serialize};

/// One named contribution to the uncertainty of a figure, in the figure's own unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Contribution {
    /// What it comes from, in snake case: `noise`, `series_resistor`, `gain_match`, `coil_model`, ...
    pub source: String,
    /// Signed change of the figure for one standard uncertainty of the source.
    /// For random sources (noise, scatter) the sign carries no meaning and is positive.
    pub effect: f64,
    /// True when another part measured with the same jig shares this error (it cancels in a pair).
    pub common: bool,
}

/// A value with its contributions. Shapes: any number of contributions; no contribution means "not known".
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Best estimate.
    pub value: f64,
    /// Independent contributions.
    pub contributions: Vec<Contribution>,
    /// Degrees of freedom of the whole; infinity when every source is known well.
    pub degrees_of_freedom: f64,
}

impl Budget {
    /// A value without contributions yet.
    pub fn new(value: f64) -> Self {
        Budget { value, contributions: Vec::new(), degrees_of_freedom: f64::INFINITY }
    }

    /// Adds a contribution; `effect` in the unit of the value.
    pub fn add(&mut self, source: &str, effect: f64, common: bool) -> &mut Self {
        self.contributions.push(Contribution { source: source.to_owned(), effect, common });
        self
    }

    /// Root of the summed squares of all contributions.
    pub fn standard_uncertainty(&self) -> f64 {
        self.contributions.iter().map(|c| c.effect * c.effect).sum::<f64>().sqrt()
    }
}
