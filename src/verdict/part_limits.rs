//! One figure of one part against its limits: pass, fail or not proven, the whole 95 % interval taken.
//!
//! The tolerances against a published or an earlier figure are common practice, no source; a technician may set others.

use crate::signal::reading::Figure;
use serde::{Deserialize, Serialize};

/// What a figure says against its limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The whole interval lies inside.
    Pass,
    /// The interval reaches over a limit, or there is no interval: neither can be said.
    NotProven,
    /// The whole interval lies outside.
    Fail,
}

/// How far a figure may lie from its reference, as shares of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Tolerance {
    /// Name of the figure.
    pub name: String,
    /// Below by this share.
    pub below: f64,
    /// Above by this share.
    pub above: f64,
}

/// Name, below, above. Common practice, no source.
const TOLERANCES: [(&str, f64, f64); 5] = [
    ("f_s_hz", 0.15, 0.10),
    ("q_ts", 0.20, 0.20),
    ("q_ms", 0.40, 0.50),
    ("r_e_ohm", 0.05, 0.05),
    ("m_ms_kg", 0.10, 0.10),
];

/// The tolerances against a published or an earlier figure to start from.
pub fn tolerances() -> Vec<Tolerance> {
    TOLERANCES
        .iter()
        .map(|(name, below, above)| Tolerance { name: (*name).to_owned(), below: *below, above: *above })
        .collect()
}

/// Guarded on both sides. `low` and `high` are in the figure's unit.
pub fn judge_figure(figure: &Figure, low: f64, high: f64) -> Verdict {
    let Some(half) = figure.half_width_95 else { return Verdict::NotProven };
    let (least, most) = (figure.value - half, figure.value + half);
    if low <= least && most <= high {
        Verdict::Pass
    } else if most < low || high < least {
        Verdict::Fail
    } else {
        Verdict::NotProven
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::budget::Budget;

    fn figure(value: f64, half: f64) -> Figure {
        let mut budget = Budget::new(value);
        budget.add("noise", half / 2.0, false, f64::INFINITY);
        Figure::from_budget(budget, 2.0)
    }

    #[test]
    fn the_whole_interval_decides_on_both_sides() {
        let said = |value: f64, half: f64| judge_figure(&figure(value, half), 8.0, 12.0);
        assert_eq!([said(10.0, 1.0), said(9.0, 1.0), said(11.0, 1.0)], [Verdict::Pass; 3]);
        assert_eq!([said(8.5, 1.0), said(7.5, 1.0), said(12.5, 1.0), said(10.0, 3.0)], [Verdict::NotProven; 4]);
        assert_eq!([said(6.5, 1.0), said(13.5, 1.0)], [Verdict::Fail; 2]);
    }

    #[test]
    fn a_bare_number_proves_nothing() {
        assert_eq!(judge_figure(&Figure::without_uncertainty(10.0, "typed"), 8.0, 12.0), Verdict::NotProven);
    }
}
