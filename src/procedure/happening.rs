//! What the page reports back: what happened, and what is known of takes and readings. Types only.

use crate::signal::notice::{Code, Notice};
use crate::signal::reading::Outcome;
use serde::de::Visitor;
use serde::{Deserialize, Deserializer, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// An answer to a tick, a choice or a number asked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(untagged)]
pub enum Answer {
    /// A tick.
    Bool(bool),
    /// A number, in the unit that the field's name carries.
    Number(f64),
    /// One of the offered options, or free text.
    Text(String),
}

/// By the kind of the value itself; serde's own way to do that would keep a copy of every value it meets.
impl<'de> Deserialize<'de> for Answer {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(AnswerVisitor)
    }
}

struct AnswerVisitor;

impl Visitor<'_> for AnswerVisitor {
    type Value = Answer;

    fn expecting(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
        formatter.write_str("true or false, a number, or text")
    }
    fn visit_bool<E>(self, value: bool) -> Result<Answer, E> {
        Ok(Answer::Bool(value))
    }
    fn visit_f64<E>(self, value: f64) -> Result<Answer, E> {
        Ok(Answer::Number(value))
    }
    fn visit_str<E>(self, value: &str) -> Result<Answer, E> {
        Ok(Answer::Text(value.to_owned()))
    }
}

/// Something that happened, in the order in which it happened. `step` is the id of the step during which it did.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(tag = "kind"))]
#[serde(rename_all = "snake_case")] // the boundary writes `kind` into the object, see DEVELOPERS.md
pub enum Happening {
    /// The main button of a `tick`, `confirm` or `ask` was pressed; answers by the name of tick, pick or field.
    Confirmed {
        /// Step.
        step: String,
        /// Ticks (true or false), picks (option id), fields (number).
        #[serde(default)]
        answers: BTreeMap<String, Answer>,
    },
    /// A side action of the step (`Step.choices`) or a suggestion (`done.next`) was pressed.
    Chosen {
        /// Step.
        step: String,
        /// Id of the choice.
        choice: String,
    },
    /// While listening: all knocks heard so far in this take. Sent as often as the list changes; the last one counts.
    Heard {
        /// Step.
        step: String,
        /// Every knock of the running take.
        knocks: Vec<KnockNote>,
    },
    /// A take was recorded (or imported) and stored.
    Took {
        /// Step.
        step: String,
        /// What is known of it, see [`super::note`].
        take: TakeNote,
    },
    /// A take was lost while it ran: page hidden, device lost, stopped by hand.
    Voided {
        /// Step.
        step: String,
        /// One sentence.
        reason: String,
    },
    /// The person sets a take aside, or one knock of it.
    SetAside {
        /// Id of the take; empty for the running one.
        take: String,
        /// Knock counted from 1; none for the whole take.
        knock: Option<u32>,
    },
    /// An analysis of these takes was read.
    Read {
        /// What it said, see [`super::note`].
        reading: ReadingNote,
    },
    /// One step back.
    SteppedBack,
    /// The person is done.
    Finished,
}

/// What is known of one channel of a take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct ChannelNote {
    /// Highest sample, dB below full scale.
    pub peak_dbfs: f64,
    /// Root mean square without the constant part, dB below full scale.
    pub rms_dbfs: f64,
    /// Samples at the rails.
    pub clipped_samples: u32,
    /// Power that repeats from period to period over power that does not, within the stimulus' band; none without periods.
    pub snr_db: Option<f64>,
    /// Level of the repeating part, dB below full scale (root mean square); none without periods.
    pub signal_dbfs: Option<f64>,
    /// Strongest to weakest level among whole periods, dB; none without periods.
    pub drift_db: Option<f64>,
}

/// One knock, as spotted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct KnockNote {
    /// Channel in which it was heard, counted from 1; nought where only one was listened to.
    #[serde(default)]
    pub channel: usize,
    /// Begin of the knock in the take.
    pub time_s: f64,
    /// Highest sample, dB below full scale.
    pub peak_dbfs: f64,
    /// Frequency of the ring, where it could be told.
    pub frequency_hz: Option<f64>,
    /// Quality factor of the ring, where it could be told.
    pub q: Option<f64>,
    /// Why it does not count.
    pub set_aside: Option<Notice>,
}

/// What is known of a take without its samples.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct TakeNote {
    /// Id in the store.
    pub id: String,
    /// Role, as in the action that asked for it.
    pub role: String,
    /// Peak of what was played; none where nothing was.
    pub stimulus_peak_dbfs: Option<f64>,
    /// Known resistor in the driver's place.
    pub resistor_ohm: Option<f64>,
    /// Resistor across the terminals; none for open terminals.
    pub load_ohm: Option<f64>,
    /// Weight on the cone.
    pub added_mass_kg: Option<f64>,
    /// Inner volume of the closed box around it.
    #[serde(default)]
    pub box_volume_m3: Option<f64>,
    /// Length.
    pub duration_s: f64,
    /// One note a channel.
    pub channels: Vec<ChannelNote>,
    /// Knocks spotted, those set aside included.
    pub knocks: Vec<KnockNote>,
    /// What the health check found.
    pub notices: Vec<Notice>,
}

/// What is kept of a reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct ReadingNote {
    /// Ids of the takes that were read, in the order of the `analyse` action.
    pub takes: Vec<String>,
    /// How it ended.
    pub outcome: Outcome,
    /// Refusal, where refused.
    pub refusal: Option<Notice>,
    /// Codes of the warnings.
    pub warnings: Vec<Code>,
    /// Figures by name.
    pub values: BTreeMap<String, f64>,
}
