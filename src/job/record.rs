//! The record of a job: what came in, what was ordered, found, measured and done. It holds no readings, only where they
//! lie (`Filed::reading`), and computes nothing. Times are milliseconds since 1970, days are written 2026-01-31.

pub use crate::verdict::coil_meter::{CoilEntry, Phase};
use crate::verdict::limits::PairLimit;
use crate::verdict::part_limits::Verdict;
use serde::{Deserialize, Serialize};

/// Version of the record that this program writes.
pub const VERSION: u32 = 2;

/// A job. Texts are as typed; an empty one was not filled in.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// [`VERSION`] at the time of writing.
    pub version: u32,
    /// Never changes, in no browser.
    pub id: String,
    /// The workshop's number of the job.
    pub number: String,
    /// What it is, e.g. `Fallow three-way, pair`.
    pub title: String,
    /// How the owner is referred to; a name is not needed.
    pub owner: String,
    /// What the owner asked for.
    pub wanted: String,
    /// Who works on it.
    pub technician: String,
    /// Name of the workshop, for the head of what is printed.
    pub workshop: String,
    /// Who renews the suspensions.
    pub specialist: String,
    /// Day on which it came in.
    pub received_on: String,
    /// Day on which it went back; empty while it is here.
    pub handed_over_on: String,
    /// Parts, in the order in which they are shown.
    pub parts: Vec<Part>,
    /// Limits within a pair where they differ from common practice.
    pub pair_limits: Vec<PairLimit>,
    /// What was done, a line each.
    pub done: Vec<String>,
    /// What was not done, a line each.
    pub not_done: Vec<String>,
    /// Advice for the owner, a line each.
    pub care: Vec<String>,
    /// What the record shows.
    pub shown: Shown,
    /// When the job was begun.
    pub created_at_ms: f64,
    /// When it was last changed.
    pub changed_at_ms: f64,
    /// What stood elsewhere when two records of this job became one; a person looks through it and clears it.
    pub conflicts: Vec<Conflict>,
}

/// What stood in a field of another record of the same job, changed at another time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Conflict {
    /// Part, by its id; empty for the job itself.
    pub part: String,
    /// `note`, `order.work`; an entry of a list with what tells it from the others: `references.f_s_hz`.
    pub field: String,
    /// What stood there, as text.
    pub other: String,
    /// When the record that it stood in was last changed.
    pub at_ms: f64,
}

/// What the owner's record shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Shown {
    /// Curves of the pairs.
    pub curves: bool,
    /// As found beside as left.
    pub before_and_after: bool,
    /// Measurements that were refused.
    pub refused: bool,
    /// How it was measured, and what the uncertainty is made of.
    pub method: bool,
    /// Photos.
    pub photos: bool,
    /// Care and cautions.
    pub care: bool,
}

impl Default for Shown {
    fn default() -> Self {
        Shown { curves: true, before_and_after: true, refused: true, method: true, photos: false, care: true }
    }
}

/// What a part is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum PartKind {
    #[default]
    Driver,
    Cabinet,
    Control,
    Crossover,
    /// A finished loudspeaker.
    Loudspeaker,
}

/// Where it belongs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Side {
    #[default]
    None,
    Left,
    Right,
}

/// One part of the job.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Never changes.
    pub id: String,
    /// What it is.
    pub kind: PartKind,
    /// Where it belongs.
    pub side: Side,
    /// `bass`, `mid-bass`, …: partners have the same band and the other side.
    pub band: String,
    /// Type, as printed on it.
    pub model: String,
    /// How this very piece is told from its like: serial number, scratch, sticker.
    pub mark: String,
    /// Rated impedance in ohms, where known.
    pub rated_impedance_ohm: Option<f64>,
    /// What is ordered for it.
    pub order: Order,
    /// Published or earlier figures to be met.
    pub references: Vec<Reference>,
    /// Points looked at.
    pub looks: Vec<Look>,
    /// DC resistance by a meter, the latest last.
    pub coils: Vec<CoilEntry>,
    /// Readings filed under it, the latest last.
    pub filed: Vec<Filed>,
    /// Verdicts that a person set aside.
    pub overrides: Vec<Override>,
    /// Photos of the part as a whole, by their id in the store.
    pub photos: Vec<String>,
    /// Anything else.
    pub note: String,
}

/// What is ordered from the specialist.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Order {
    /// It goes out.
    pub wanted: bool,
    /// Work, e.g. `new surround`.
    pub work: String,
    /// Material of the surround.
    pub surround: String,
    /// Direction of the roll.
    pub roll: String,
    /// Dust cap and polarity are to be left as found.
    pub leave_cap: bool,
    /// Sent on this day.
    pub sent_on: String,
    /// Came back on this day.
    pub returned_on: String,
}

/// Where a figure to be met comes from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum ReferenceKind {
    /// The maker's.
    #[default]
    Published,
    /// An earlier measurement of this piece.
    Earlier,
}

/// A figure to be met, with its tolerance.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Reference {
    /// Name of the figure (`f_s_hz`, …).
    pub name: String,
    /// Its value, in the unit that the name carries.
    pub value: f64,
    /// May lie below by this share (0.15: 15 %).
    pub below: f64,
    /// May lie above by this share.
    pub above: f64,
    /// Tolerance by common practice rather than agreed.
    pub common_practice: bool,
    /// Where it comes from.
    pub kind: ReferenceKind,
    /// Where it was read, in words; or the title of the job it was taken from.
    pub source: String,
}

/// What was seen at a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Finding {
    /// As it should be.
    Sound,
    /// To be put right.
    Fault,
    /// Cannot be told.
    Unclear,
    /// This part has no such thing.
    Absent,
}

/// A point looked at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Look {
    /// `glue_line`, `surround_seating`, …
    pub point: String,
    /// What was seen.
    pub finding: Finding,
    /// In words.
    pub note: String,
    /// Photos, by their id in the store.
    pub photos: Vec<String>,
    /// When.
    pub at_ms: f64,
}

/// How the driver lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Attitude {
    FaceUp,
    FaceDown,
    Upright,
}

/// Conditions of a reading; what is not known is left out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Conditions {
    /// Of the driver.
    pub temperature_c: Option<f64>,
    /// At the driver, root mean square.
    pub level_v: Option<f64>,
    /// Since the cone was last worked.
    pub rest_min: Option<f64>,
    /// How it lay.
    pub attitude: Option<Attitude>,
    /// Hours of break-in before it.
    pub break_in_h: Option<f64>,
}

/// A reading filed under a part.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Filed {
    /// Id of the reading in the store.
    pub reading: String,
    /// When in the job.
    pub phase: Phase,
    /// How it was taken.
    pub conditions: Conditions,
    /// In words.
    pub note: String,
    /// When it was filed.
    pub at_ms: f64,
}

/// A verdict set by a person, with the reason. It stands beside what was measured and replaces nothing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Override {
    /// Check that it is about.
    pub check: String,
    /// What the person says.
    pub verdict: Verdict,
    /// Why.
    pub reason: String,
    /// Who.
    pub by: String,
    /// When.
    pub at_ms: f64,
}
