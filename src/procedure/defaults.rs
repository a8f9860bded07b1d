//! What is played by default. One place, so that a measured table can change it.

use crate::signal::stimulus::{Shape, Stimulus};

/// Shape of the measuring signal. Decided by the table of `pkg-scripts/bench accuracy` (sweep against multisine, twelve trials
/// each): alike at 60 dB, with hum and with a lost buffer; at large travel the multisine errs by 0.39 % in f_s and 0.65 % in
/// Q_ts where the sweep errs by 0.47 and 0.99 %; at 40 dB of noise the sweep is the better (0.004 against 0.007 % in f_s),
/// but the level search does not measure in such noise, while nothing but the signal itself guards against travel.
pub const SHAPE: Shape = Shape::Multisine;
/// Whole cycles of both mains frequencies.
pub const PERIOD_S: f64 = 2.0;
/// The first settles and is dropped, five are kept.
pub const PERIODS: u32 = 6;
/// Of a marked signal: two halves, of which one each settles.
pub const MARKED_PERIODS: u32 = 2 * crate::signal::pilots::HALF_PERIODS as u32;
/// Lowest frequency: half an octave below the softest large driver.
pub const LOW_HZ: f64 = 5.0;
/// Highest frequency: the voice coil shows its loss well below it.
pub const HIGH_HZ: f64 = 20_000.0;
/// Highest part of half the sample rate that is used; converters fall off above.
pub const TOP_OF_BAND: f64 = 0.84;
/// Recorded after the end, so that the delay of the audio path cuts nothing off. Round trips up to 0.75 s were seen.
pub const TAIL_S: f64 = 1.5;
/// The same on the practice bench, which has no audio path.
pub const PRACTICE_TAIL_S: f64 = 0.1;
/// Period of the short plays that look for a level.
pub const LEVEL_PERIOD_S: f64 = 1.0;
/// One settles, two are compared.
pub const LEVEL_PERIODS: u32 = 3;
/// Seed of the multisine's phases.
pub const SEED: u32 = 1;

/// The measuring signal at a level.
pub fn measuring(rate_hz: f64, peak_dbfs: f64) -> Stimulus {
    Stimulus {
        shape: SHAPE,
        rate_hz,
        period_s: PERIOD_S,
        periods: PERIODS,
        low_hz: LOW_HZ,
        high_hz: HIGH_HZ.min(0.5 * rate_hz * TOP_OF_BAND),
        peak_dbfs,
        seed: SEED,
        travel_shape: None,
    }
}

/// The same between coded marks, for takes that are compared with one another.
pub fn marked(rate_hz: f64, peak_dbfs: f64) -> Stimulus {
    Stimulus { shape: Shape::MarkedMultisine, periods: MARKED_PERIODS, ..measuring(rate_hz, peak_dbfs) }
}

/// The short form of it that looks for a level.
pub fn level(rate_hz: f64, peak_dbfs: f64) -> Stimulus {
    Stimulus { period_s: LEVEL_PERIOD_S, periods: LEVEL_PERIODS, ..measuring(rate_hz, peak_dbfs) }
}

/// A tone of whole cycles a second.
pub fn tone(rate_hz: f64, frequency_hz: f64, peak_dbfs: f64, seconds: u32) -> Stimulus {
    Stimulus {
        shape: Shape::Tone,
        rate_hz,
        period_s: LEVEL_PERIOD_S,
        periods: seconds,
        low_hz: frequency_hz,
        high_hz: frequency_hz,
        peak_dbfs,
        seed: SEED,
        travel_shape: None,
    }
}

/// What is recorded after the end.
pub fn tail_s(practice: bool) -> f64 {
    if practice {
        PRACTICE_TAIL_S
    } else {
        TAIL_S
    }
}

/// How long a stimulus plays.
pub fn seconds(stimulus: &Stimulus) -> f64 {
    let marks = if stimulus.shape == Shape::MarkedMultisine { crate::signal::pilots::AROUND_S } else { 0.0 };
    stimulus.period_s * f64::from(stimulus.periods) + marks
}
