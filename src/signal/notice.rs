//! Warnings and refusals: a code, the numbers that decided, and the sentences that go with them.

use super::sentences;
use crate::math::order::by_name;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is wrong, or worth knowing, by name. The sentences stand in [`super::sentences`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // each name is explained by its sentence
pub enum Code {
    Clipped,
    Gap,
    Silent,
    DeadChannel,
    SameChannels,
    SwappedChannels,
    GainRiding,
    Hum,
    Noise,
    DirectCurrent,
    OpenCircuit,
    ShortCircuit,
    WrongResistor,
    NoKnock,
    TooFewKnocks,
    Contradiction,
    ModelMisfit,
    SecondMode,
    Friction,
    BandTooNarrow,
    SixteenBit,
    TooShort,
    Overdamped,
    LowRate,
    TooQuiet,
    TooFewChannels,
    NotOneClip,
    NotShorted,
    NotOpen,
    CrumblingFoam,
    LightWeight,
    HeavyWeight,
    LargeBox,
    LeakyBox,
    NoStimulus,
    SetAside,
    OutputNotResistive,
    TooFewReadings,
    CoarseReadings,
    SlowMeter,
    LooseJoint,
    NotMoved,
    NoMovement,
    PolarityUnclear,
    InputSignUnknown,
    MovesInwards,
    OtherDriver,
    UnlikeDrivers,
}

/// A warning or a refusal with its numbers and remedy.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Notice {
    /// What it is about.
    pub code: Code,
    /// What is, in words.
    pub message: String,
    /// What to do.
    pub remedy: String,
    /// The numbers that decided, by name with unit.
    pub numbers: BTreeMap<String, f64>,
}

impl Notice {
    /// A notice with the numbers that decided; sentences come from the sentence file. A number that is not finite says
    /// nothing and JSON cannot hold it: it is left out, and with it the part of the sentence that asks for it.
    pub fn new(code: Code, numbers: &[(&str, f64)]) -> Self {
        let finite = numbers.iter().filter(|(_, v)| v.is_finite());
        let numbers = by_name(finite.map(|(k, v)| (*k, *v)));
        let (message, remedy) = sentences::words(code, &numbers);
        Notice { code, message, remedy, numbers }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_are_not_finite_are_left_out() {
        let numbers = [("snr_db", f64::NAN), ("wanted_db", 20.0), ("lines", f64::INFINITY)];
        let notice = Notice::new(Code::Noise, &numbers);
        assert_eq!(notice.numbers, BTreeMap::from([("wanted_db".to_owned(), 20.0)]));
        assert_eq!(notice.message, "Noise is large against the signal. 20 dB is wanted.");
    }
}
