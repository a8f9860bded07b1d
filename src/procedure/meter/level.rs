//! The tones' level: the person reads the volts across driver and resistor together, the page steps the level.
//!
//! From very low upwards, at most 20 dB a step, until the volts are about what is aimed at and never beyond the limit; each
//! new level is read before it counts.

use super::super::bench::MeterBench;
use super::super::cautions;
use super::super::past::Past;
use super::super::step::{Action, Field, Happening, Stage, Step};
use crate::signal::notice::{Code, Notice};
use crate::signal::stimulus::{Shape, Stimulus};

/// First level, peak. A strong amplifier gives about half a volt at it.
const START_DBFS: f64 = -40.0;
/// Loudest level: 1 dB of room for the converter's filter.
const TOP_DBFS: f64 = -1.0;
/// Largest steps upwards: after volts that can be read, and after none.
const STEP_DB: f64 = 20.0;
const BLIND_STEP_DB: f64 = 10.0;
/// Volts aimed at: fine meters and coarse ones. Common practice, no source: small-signal figures are read below a volt or
/// two, and a display of 0.1 V wants more.
const AIM_V: (f64, f64) = (1.0, 3.0);
/// Volts from this share of the aim on are enough.
const ENOUGH: f64 = 0.6;
/// A display of fewer last digits than this is not followed.
const DIGITS: f64 = 5.0;
/// A frequency that every meter reads rightly.
const LEVEL_HZ: f64 = 100.0;
/// Rounds at most.
const ROUNDS: usize = 8;
/// A tone of quarters of a hertz runs through whole cycles in this; the second such period is repeated for ever.
const LOOP_S: f64 = 4.0;

/// Station: looks for the level.
pub(super) fn level(bench: &MeterBench, past: &Past) -> Option<Step> {
    if bench.by_hand {
        return None;
    }
    let (peak_dbfs, found) = found(bench, past);
    if found {
        return None;
    }
    let field = volt_field("level_v", "Across driver and resistor together", "While the tone sounds.");
    let rounds = typed(past).len();
    let sentence = match rounds {
        0 => "How many volts is the tone?",
        _ => "And now? The tone has changed.",
    };
    let action =
        Action::Sound { stimulus: tone(bench, LEVEL_HZ, peak_dbfs), fields: vec![field], button: "Keep".to_owned() };
    let caution = vec![cautions::hearing(), cautions::excursion()];
    Some(
        Step::new(Stage::Measure, "level", sentence, action)
            .note("A tone of 100 Hz, very low at first. Leave the amplifier's volume as it is from now on.")
            .cautions(if bench.practice { Vec::new() } else { caution })
            .progress(rounds, rounds + 1, None),
    )
}

/// A tone that sounds until something is typed.
pub(super) fn tone(bench: &MeterBench, hz: f64, peak_dbfs: f64) -> Stimulus {
    Stimulus {
        shape: Shape::Tone,
        rate_hz: bench.rate_hz,
        period_s: LOOP_S,
        periods: 2,
        low_hz: hz,
        high_hz: hz,
        peak_dbfs,
        seed: 1,
        travel_shape: None,
    }
}

/// Volts wanted.
pub(super) fn volt_field(id: &str, label: &str, help: &str) -> Field {
    Field {
        id: id.to_owned(),
        label: label.to_owned(),
        unit: "V".to_owned(),
        scale: 1.0,
        low: 1e-6,
        high: 1000.0,
        default: None,
        optional: false,
        help: help.to_owned(),
    }
}

/// The level to play at, and whether it is the one for the tones.
pub(super) fn found(bench: &MeterBench, past: &Past) -> (f64, bool) {
    let limit_v = bench.limit_v.filter(|v| *v > 0.0);
    let aim_v = (1000.0 * bench.accuracy.resolution_v).clamp(AIM_V.0, AIM_V.1).min(limit_v.unwrap_or(f64::MAX));
    let mut peak_dbfs = START_DBFS;
    for (round, volts) in typed(past).into_iter().enumerate() {
        let step_db = if volts < DIGITS * bench.accuracy.resolution_v {
            BLIND_STEP_DB
        } else {
            (20.0 * (aim_v / volts).log10()).min(STEP_DB)
        };
        let good = (ENOUGH * aim_v..=1.1 * aim_v).contains(&volts);
        let at_the_top = peak_dbfs >= TOP_DBFS && step_db > 0.0;
        if good || at_the_top || round + 1 >= ROUNDS {
            return (peak_dbfs, true);
        }
        peak_dbfs = (peak_dbfs + step_db).clamp(-100.0, TOP_DBFS);
    }
    (peak_dbfs, false)
}

/// Where the loudest level gives little: figures will be coarse.
pub(super) fn doubt(bench: &MeterBench, past: &Past) -> Option<Notice> {
    let last_v = *typed(past).last()?;
    let (peak_dbfs, _) = found(bench, past);
    (last_v < 50.0 * bench.accuracy.resolution_v).then(|| Notice::new(Code::TooQuiet, &[("level_dbfs", peak_dbfs)]))
}

fn typed(past: &Past) -> Vec<f64> {
    let volts = past.events().iter().filter_map(|e| match e {
        Happening::Confirmed { step, answers } if step == "level" => answers.get("level_v")?.number(),
        _ => None,
    });
    volts.filter(|v| *v > 0.0).collect()
}
