//! Limits between the two members of a pair, as data, and what a difference says against them.
//!
//! Common practice, no source: a technician may set others.

use super::difference::Difference;
use serde::{Deserialize, Serialize};

/// Greatest relative difference of a figure within a pair.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PairLimit {
    /// Name of the figure; `upper_impedance` is the mean of ln |Z| from 1 to 10 kHz, `around_resonance` the root mean square
    /// of its difference from f_s/2 to 2 f_s.
    pub name: String,
    /// A good pair lies within this, relative.
    pub good: f64,
    /// An acceptable one within this, relative.
    pub acceptable: f64,
}

/// Name, good and acceptable relative difference. Common practice, no source; around the resonance it is what the limits of
/// f_s, Q_ms, Q_es and R_e together make of the curves of a driver of Q_ms 5 and Q_es 0.5 (10 and 19 %).
const PAIR: [(&str, f64, f64); 8] = [
    ("f_s_hz", 0.03, 0.06),
    ("q_ts", 0.05, 0.10),
    ("q_ms", 0.15, 0.30),
    ("r_e_ohm", 0.02, 0.04),
    ("z_max_ohm", 0.10, 0.20),
    ("upper_impedance", 0.03, 0.06),
    ("around_resonance", 0.10, 0.20),
    ("m_ms_kg", 0.04, 0.08),
];

/// The limits to start from.
pub fn pair_limits() -> Vec<PairLimit> {
    PAIR.iter()
        .map(|(name, good, acceptable)| PairLimit { name: (*name).to_owned(), good: *good, acceptable: *acceptable })
        .collect()
}

/// What a difference says against its limits, its whole 95 % interval taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum PairVerdict {
    /// Within the limit of a good pair.
    Good,
    /// Within the limit of an acceptable one.
    Acceptable,
    /// The interval reaches over the limit of an acceptable pair: neither can be said.
    NotProven,
    /// Beyond the limit of an acceptable pair.
    TooFarApart,
}

/// Guarded on both sides: the interval as a whole decides.
pub fn judge(d: &Difference, limit: &PairLimit) -> PairVerdict {
    // Limits are stated as ratios: 3 % is a factor of 1.03.
    let (least, most) = ((d.ln_ratio.abs() - d.half_width_95).max(0.0), d.ln_ratio.abs() + d.half_width_95);
    if most <= limit.good.ln_1p() {
        PairVerdict::Good
    } else if most <= limit.acceptable.ln_1p() {
        PairVerdict::Acceptable
    } else if least > limit.acceptable.ln_1p() {
        PairVerdict::TooFarApart
    } else {
        PairVerdict::NotProven
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_whole_interval_decides() {
        let limit = &pair_limits()[0];
        let said = |ratio: f64, half: f64| {
            judge(&Difference { ln_ratio: ratio.ln(), standard_uncertainty: half / 2.0, half_width_95: half }, limit)
        };
        assert_eq!(said(1.02, 0.005), PairVerdict::Good);
        assert_eq!(said(1.0 / 1.02, 0.005), PairVerdict::Good);
        assert_eq!(said(1.02, 0.02), PairVerdict::Acceptable);
        assert_eq!(said(1.05, 0.02), PairVerdict::NotProven);
        assert_eq!(said(1.07, 0.02), PairVerdict::NotProven);
        assert_eq!(said(1.09, 0.02), PairVerdict::TooFarApart);
        assert_eq!(said(1.0 / 1.09, 0.02), PairVerdict::TooFarApart);
    }

    #[test]
    fn an_acceptable_pair_is_wider_than_a_good_one() {
        assert!(pair_limits().iter().all(|l| 0.0 < l.good && l.good < l.acceptable));
    }
}
