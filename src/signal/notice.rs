//! Warnings and refusals: a code, the numbers that decided, and the sentences that go with them.

use super::sentences;
use crate::math::order::by_name;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Below this no path reaches: the steps of 24 bit lie at −138 dB, and 32-bit floats hold 7 digits of full scale.
const NOTHING_DBFS: f64 = -190.0;

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
    /// nothing and JSON cannot hold it: it is left out, and with it the part of the sentence that asks for it. So is the
    /// level of nothing at all, which has no decibels.
    pub fn new(code: Code, numbers: &[(&str, f64)]) -> Self {
        let level = |name: &str| name.ends_with("_dbfs");
        let says = numbers.iter().filter(|(k, v)| v.is_finite() && !(level(k) && *v <= NOTHING_DBFS));
        let numbers = by_name(says.map(|(k, v)| (*k, *v)));
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

    #[test]
    fn nothing_at_all_is_said_in_words() {
        let dead = Notice::new(Code::DeadChannel, &[("channel", 2.0), ("rms_dbfs", -300.0)]);
        assert_eq!(dead.message, "One input carries no signal. It is channel 2.");
        let take = crate::signal::take::Take::new(48_000.0, vec![vec![0.0; 96_000]]).expect("a take");
        let silent = &crate::signal::health::assess(&take).notices[0];
        let words = "No signal at all arrived: all 96000 samples are one and the same.";
        assert_eq!(
            (silent.code, silent.message.as_str()),
            (Code::Silent, format!("The take is silent. {words}").as_str())
        );
    }
}
