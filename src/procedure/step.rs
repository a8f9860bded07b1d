//! What the page shows and does next, and what it reports back. Types only; all of them cross the boundary.
//!
//! The page keeps a list of [`Happening`]s, asks for the [`Step`] that follows from it, shows the step, carries out its
//! [`Action`] and appends what came of it. It never decides anything itself. A list of happenings can be stored and
//! replayed: the same list gives the same step for ever.

pub use super::happening::{Answer, ChannelNote, Happening, KnockNote, ReadingNote, TakeNote};
use crate::electrical::meter_reading::MeterReading;
use crate::signal::notice::Notice;
use crate::signal::stimulus::Stimulus;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Where on the road a step lies; the page shows these four as stations.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// What spoils the reading.
    BenchCard,
    /// How it is wired.
    Connect,
    /// Levels, calibrations, takes.
    Measure,
    /// Figures, and what next.
    Read,
}

/// A caution, shown at the step where it matters.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Caution {
    /// Stable name.
    pub id: String,
    /// A few words.
    pub title: String,
    /// One to three sentences.
    pub text: String,
}

/// Which drawing the page shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum DrawingKind {
    /// Output, resistor, driver; one input on the source, one on the driver.
    /// Labels: `resistor`, `source_input`, `driver_input`, `output`, `ground`.
    TwoChannelDivider,
    /// Both inputs on the source side of the resistor. Same labels.
    SameNode,
    /// A resistor in the driver's place. Same labels and `known_resistor`.
    KnownResistor,
    /// The two clips of the driver joined. Same labels.
    ShortedLeads,
    /// Output, resistor, driver; a meter held across each pair in turn.
    /// Labels: `resistor`, `output`, `first_volts`, `second_volts`.
    MeterByHand,
    /// The two clips of the driver in the air. Same labels.
    OpenLeads,
    /// Output, resistor, driver, and one input across the driver. Labels: `resistor`, `driver_input`, `output`, `ground`.
    OneInput,
    /// The same with a known resistor in the driver's place. Also `known_resistor`.
    OneInputResistor,
    /// The same with nothing in the driver's place.
    OneInputOpen,
    /// Amplifier, driver, a microphone close to the cone. Labels: `output`, `microphone`.
    CloseWithout,
    /// The same with a resistor in series. Also `resistor`.
    CloseWith,
    /// The same with the resistor across the amplifier's output.
    CloseLoaded,
    /// Cable from the terminals to a line input. Labels: `input`, `terminals`, `knock`, `rest`.
    CoilCable,
    /// The same into a headset socket, with resistor and capacitor. Also `series_resistor`, `series_capacitor`.
    HeadsetCable,
    /// Microphone close to the cone. Labels: `microphone`, `knock`, `rest`.
    Microphone,
    /// As the sensor's drawing, with a resistor across the terminals. Also `load`.
    LoadResistor,
    /// As the sensor's drawing, with a weight on the cone. Also `weight`.
    WeightOnCone,
    /// Cable from the terminals to a line input, nothing on the cone. Labels: `input`, `terminals`, `rest`.
    PushCable,
    /// Microphone close to the cone, which is driven. Labels: `microphone`, `rest`.
    DrivenMicrophone,
    /// Cell, a resistor in series, and one across the input. Labels: `cell`, `series`, `shunt`, `input`, `touch`.
    CellDivider,
    /// As the sensor's drawing, the driver closed into a box. Also `box`, and `load` where there is one.
    InBox,
    /// Two drivers, a cable from each to a channel of its own. Labels: `first_input`, `second_input`, `knock`, `rest`;
    /// `first_load` or `second_load` with a resistor across one of them.
    PairCables,
}

/// A drawing with the person's own values as labels.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Drawing {
    /// Which one.
    pub kind: DrawingKind,
    /// Text by place; places are listed at [`DrawingKind`].
    pub labels: BTreeMap<String, String>,
}

/// A point of the bench card.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct TickItem {
    /// Name of the answer.
    pub id: String,
    /// What to look at.
    pub label: String,
    /// Why it matters.
    pub help: String,
    /// The button waits for this tick.
    pub required: bool,
}

/// One of several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Pick {
    /// Name of the answer.
    pub id: String,
    /// What is chosen.
    pub label: String,
    /// Options: id and label.
    pub options: Vec<PickOption>,
    /// Id of the option chosen at first.
    pub default: String,
}

/// One option of a [`Pick`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PickOption {
    /// The answer.
    pub id: String,
    /// What it says.
    pub label: String,
}

/// A number asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Field {
    /// Name of the answer, unit included (SI).
    pub id: String,
    /// What is asked.
    pub label: String,
    /// Unit shown; the shown number times `scale` is the answer.
    pub unit: String,
    /// SI units in one shown unit (0.001 for grams in kg).
    pub scale: f64,
    /// Least answer allowed, SI.
    pub low: f64,
    /// Greatest answer allowed, SI.
    pub high: f64,
    /// Answer filled in at first, SI.
    pub default: Option<f64>,
    /// May stay empty.
    pub optional: bool,
    /// One sentence below it.
    pub help: String,
}

/// A stored take and what it is for, as the analysis wants it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct TakeUse {
    /// Id in the store.
    pub id: String,
    /// Role.
    pub role: String,
    /// Known resistor in the driver's place.
    pub resistor_ohm: Option<f64>,
    /// Resistor across the terminals.
    pub load_ohm: Option<f64>,
    /// Weight on the cone.
    pub added_mass_kg: Option<f64>,
    /// Inner volume of the closed box around it.
    #[serde(default)]
    pub box_volume_m3: Option<f64>,
    /// Knocks that the person set aside, counted from 1 in order of time.
    pub set_aside: Vec<u32>,
}

/// Something that could be done next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Choice {
    /// What to report as [`Happening::Chosen`].
    pub id: String,
    /// Button.
    pub label: String,
    /// Why one would.
    pub help: String,
}

/// What the page does now.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Action {
    /// The bench card: ticks, picks and numbers, one button. Report `confirmed`.
    Tick {
        /// Points.
        items: Vec<TickItem>,
        /// Choices among a few.
        picks: Vec<Pick>,
        /// Numbers.
        fields: Vec<Field>,
        /// Button.
        button: String,
    },
    /// Read, do, press. Report `confirmed`.
    Confirm {
        /// Button.
        button: String,
    },
    /// Numbers wanted. Report `confirmed` with answers.
    Ask {
        /// Numbers.
        fields: Vec<Field>,
        /// Button.
        button: String,
    },
    /// Play and record. Report `took` or `voided`.
    Play {
        /// What is played.
        stimulus: Stimulus,
        /// Role of the take.
        role: String,
        /// Recorded on after the stimulus ends.
        tail_s: f64,
        /// Known resistor in the driver's place.
        resistor_ohm: Option<f64>,
        /// Weight on the cone.
        added_mass_kg: Option<f64>,
        /// Inner volume of the closed box around it.
        box_volume_m3: Option<f64>,
        /// Channels that matter, counted from 1.
        channels: Vec<usize>,
        /// Starts by itself, without a press (next level of a series).
        by_itself: bool,
        /// Button, where it does not start by itself.
        button: String,
    },
    /// Record and listen for knocks. Report `heard` while it runs, then `took` or `voided`.
    Listen {
        /// Channel, counted from 1.
        channel: usize,
        /// A second channel on which knocks count too, each for itself.
        second_channel: Option<usize>,
        /// Knocks wanted, of all channels together.
        wanted_knocks: u32,
        /// Longest take.
        max_s: f64,
        /// Enough was heard: end the take after this many further seconds.
        end_after_s: Option<f64>,
        /// Resistor across the terminals.
        load_ohm: Option<f64>,
        /// Weight on the cone.
        added_mass_kg: Option<f64>,
        /// Inner volume of the closed box around it.
        box_volume_m3: Option<f64>,
        /// Button.
        button: String,
    },
    /// A tone that sounds until the numbers are typed: after a press its second period is repeated for ever. Report
    /// `confirmed` with the answers and, as `frequency_hz`, the tone's own frequency.
    Sound {
        /// The tone, two periods; the first one fades in.
        stimulus: Stimulus,
        /// Numbers wanted while it sounds.
        fields: Vec<Field>,
        /// Button that keeps them.
        button: String,
    },
    /// Run the analysis on these takes. Report `read`.
    Analyse {
        /// Takes with roles.
        takes: Vec<TakeUse>,
        /// Further fields of the setup that were answered on the way (`r_e_ohm`, `effective_diameter_m`, ...).
        fields: BTreeMap<String, f64>,
    },
    /// The reading is there. Report `chosen` or `finished`.
    Done {
        /// Suggestions, the best first.
        next: Vec<Choice>,
    },
    /// No way on; the remedy says what to do. Report `chosen`.
    Refuse {
        /// Reason, numbers, remedy.
        notice: Notice,
    },
}

/// How far.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Progress {
    /// Done so far.
    pub done: u32,
    /// Of so many.
    pub of: u32,
    /// Seconds that this action takes, where known.
    pub seconds: Option<f64>,
}

/// What the page shows and does now.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Step {
    /// Station.
    pub stage: Stage,
    /// Stable name; the page keeps a running action while the id stays the same.
    pub id: String,
    /// The one large sentence.
    pub sentence: String,
    /// One or two small ones.
    pub note: String,
    /// Cautions that matter here.
    pub cautions: Vec<Caution>,
    /// Drawing.
    pub drawing: Option<Drawing>,
    /// What to do.
    pub action: Action,
    /// How far.
    pub progress: Option<Progress>,
    /// Side actions (skip, again, a resistor, ...).
    pub choices: Vec<Choice>,
    /// What the last take or reading gave cause for.
    pub notices: Vec<Notice>,
    /// What a meter read so far; empty in every other check.
    pub readings: Vec<MeterReading>,
}
