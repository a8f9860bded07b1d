//! What is asked: the readings of one part, and what they are held against.

use super::answer::FaultPattern;
use crate::signal::notice::Code;
use crate::signal::reading::{Figure, Outcome};
use serde::Deserialize;
use std::collections::BTreeMap;

/// A reading of a part, as far as it tells something about it. Of a knock on two drivers at once each driver has a reading
/// of its own, under the names without `first_` and `second_`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct DiagnosisReading {
    /// Check that it comes from.
    pub check: String,
    /// How it ended.
    pub outcome: Outcome,
    /// Its figures.
    pub values: BTreeMap<String, Figure>,
    /// Codes of its warnings and of its refusal.
    pub codes: Vec<Code>,
    /// Frequencies of the impedance curve, ascending; empty where there is none.
    pub frequency_hz: Vec<f64>,
    /// |Z| there.
    pub magnitude_ohm: Vec<f64>,
    /// One standard uncertainty of |Z| there.
    pub magnitude_standard_uncertainty_ohm: Vec<f64>,
}

/// A published figure.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct DiagnosisPublished {
    /// Name, as in a reading.
    pub name: String,
    /// Value, in the unit that the name carries.
    pub value: f64,
    /// Relative tolerance: good ones lie within, 19 of 20.
    pub tolerance: f64,
}

/// What the part is held against.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[cfg_attr(feature = "typescript", ts(tag = "kind"))]
#[serde(rename_all = "snake_case")]
pub enum DiagnosisReference {
    /// Another part of the same make.
    Partner {
        /// Its readings.
        readings: Vec<DiagnosisReading>,
        /// Direct-current resistance by a meter.
        dc_ohm: Option<Figure>,
        /// Taken with the same wiring, calibrations and resistor: what both share cancels.
        same_jig: bool,
    },
    /// The same part, earlier.
    Earlier {
        /// Its readings then.
        readings: Vec<DiagnosisReading>,
        /// Direct-current resistance by a meter then.
        dc_ohm: Option<Figure>,
        /// Taken with the same wiring, calibrations and resistor.
        same_jig: bool,
    },
    /// What the maker states.
    Published {
        /// The figures.
        figures: Vec<DiagnosisPublished>,
    },
}

/// Level in the mid band at equal volts, this part over the reference.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct LevelDifference {
    /// In dB.
    pub db: f64,
    /// One standard uncertainty in dB.
    pub standard_uncertainty_db: f64,
}

/// How far two good parts lie apart: one standard deviation of the difference of each cause, relative.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct NaturalSpread {
    /// Moving mass.
    pub mass: f64,
    /// Stiffness of the suspension.
    pub stiffness: f64,
    /// Force factor Bl.
    pub motor: f64,
    /// Resistance of the coil, its temperature included.
    pub r_e: f64,
    /// Mechanical loss.
    pub loss: f64,
    /// Impedance of the coil in its iron, 1 to 10 kHz.
    pub coil: f64,
}

/// The question.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct DiagnosisSetup {
    /// Readings of the part, by whatever checks; of two by one check the later counts.
    pub readings: Vec<DiagnosisReading>,
    /// Direct-current resistance by a meter.
    pub dc_ohm: Option<Figure>,
    /// What it is held against.
    pub reference: DiagnosisReference,
    /// Difference in level, where it is known.
    pub level: Option<LevelDifference>,
    /// In place of what is common practice.
    pub spread: Option<NaturalSpread>,
}

/// Two new drivers of one make and age. Common practice, no source: with these, two of three good pairs lie within half of
/// the limits of a good pair (f_s 3 %, Q_ts 5 %, Q_ms 15 %, R_e 2 %, upper impedance 3 %, level 0.3 dB).
pub const BETWEEN_TWO_GOOD: NaturalSpread =
    NaturalSpread { mass: 0.01, stiffness: 0.03, motor: 0.01, r_e: 0.01, loss: 0.07, coil: 0.015 };

/// One driver on two days: rest, temperature, travel. Common practice, no source.
pub const BETWEEN_TWO_DAYS: NaturalSpread =
    NaturalSpread { mass: 0.002, stiffness: 0.02, motor: 0.003, r_e: 0.01, loss: 0.04, coil: 0.005 };

impl DiagnosisReference {
    /// The spread that goes with it; none where the tolerances of published figures hold it already.
    pub(super) fn spread(&self) -> Option<NaturalSpread> {
        match self {
            DiagnosisReference::Partner { .. } => Some(BETWEEN_TWO_GOOD),
            DiagnosisReference::Earlier { .. } => Some(BETWEEN_TWO_DAYS),
            DiagnosisReference::Published { .. } => None,
        }
    }

    pub(super) fn readings(&self) -> &[DiagnosisReading] {
        match self {
            DiagnosisReference::Partner { readings, .. } | DiagnosisReference::Earlier { readings, .. } => readings,
            DiagnosisReference::Published { .. } => &[],
        }
    }

    pub(super) fn is_partner(&self) -> bool {
        matches!(self, DiagnosisReference::Partner { .. })
    }

    /// A fault of the reference can be what shows.
    pub(super) fn can_be_faulty(&self) -> bool {
        !matches!(self, DiagnosisReference::Published { .. })
    }
}

/// What a pattern is worth being looked for: a deviation of this size matters, relative, as in the pattern's severity.
/// Common practice, no source.
pub(super) fn matters(pattern: FaultPattern) -> f64 {
    match pattern {
        FaultPattern::SuspensionStiff | FaultPattern::SuspensionSoft => 0.20,
        FaultPattern::AddedMass => 0.15,
        FaultPattern::WeakMotor => 0.10,
        FaultPattern::ShortedTurns => 0.02,
        FaultPattern::LossChanged | FaultPattern::Rub => 0.50,
        FaultPattern::OtherWire => 0.08,
        FaultPattern::LooseLead | FaultPattern::OpenCircuit | FaultPattern::ShortCircuit => 0.0,
    }
}
