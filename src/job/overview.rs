//! A job at a glance: for every part each check that applies, with its verdict and the figures that decided; partners
//! side by side with their difference; what comes next. It selects and asks `verdict`; it judges nothing itself.

use super::cells;
use super::next_step::{next_step, Next};
use super::partners::{compare, pairs};
use super::record::{Job, Override, Part, PartKind, Phase};
use crate::signal::reading::Figure;
use crate::verdict::limits::PairVerdict;
use crate::verdict::matching::{Cause, Compared, MatchPart};
use crate::verdict::part_limits::Verdict;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is asked.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct OverviewRequest {
    /// The job.
    pub job: Job,
    /// The readings filed in it, in any order; those that are gone are left out.
    pub readings: Vec<JobReading>,
}

/// A reading as the overview needs it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct JobReading {
    /// Its id in the store.
    pub id: String,
    /// Milliseconds since 1970.
    pub created_at_ms: f64,
    /// Name of the check (`knock`, `impedance`, …).
    pub check: String,
    /// Figures and curve; `part.check` tells apart what cannot be compared (sensor and way of measuring).
    pub part: MatchPart,
    /// What was chosen (`driver_1`: `outwards_for_plus`).
    pub chosen: BTreeMap<String, String>,
    /// Warnings and the refusal, by code.
    pub warnings: Vec<String>,
    /// The refusal, in words.
    pub refusal: Option<String>,
    /// What the jig was: equal texts were taken with the same resistor, inputs and calibrations.
    pub jig: String,
}

/// The checks of a job, as columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum JobCheck {
    Look,
    Coil,
    Polarity,
    Knock,
    Impedance,
    Weight,
    Match,
}

/// State of a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum CellState {
    /// Nothing yet.
    ToDo,
    /// Measured, and there is no limit to hold it against.
    Found,
    /// Within its limits.
    Pass,
    /// Neither pass nor fail can be said.
    NotProven,
    /// Outside its limits.
    Fail,
    /// The takes could not answer.
    Refused,
}

/// What a verdict rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Ground {
    /// A figure against a published or earlier one: `low` to `high`.
    Reference,
    /// A difference from the partner, in per cent, against the pair's limit: `high`.
    Partner,
    /// A finding of the check itself, `code`.
    Finding,
    /// The reading is doubtful, `code`.
    Doubtful,
    /// The reading was refused.
    Refused,
    /// There is no limit for any figure.
    NoLimit,
    /// Points of the look, `code`.
    Point,
}

/// One reason of a verdict, with its numbers.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Reason {
    /// What it rests on.
    pub ground: Ground,
    /// What it says by itself.
    pub verdict: Verdict,
    /// Figure, finding or point.
    pub name: String,
    /// The value; a difference in per cent where it is of partners.
    pub value: Option<f64>,
    /// Half-width of its 95 % interval.
    pub half_width_95: Option<f64>,
    /// Limits.
    pub low: Option<f64>,
    /// Limits.
    pub high: Option<f64>,
    /// The limit is common practice, without a source.
    pub common_practice: bool,
    /// Where the limit comes from, or what a person noted.
    pub source: String,
}

/// A check of a part.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Cell {
    /// Which check.
    pub check: JobCheck,
    /// State, a person's verdict counted.
    pub state: CellState,
    /// State as measured, where a person set it aside.
    pub measured: Option<CellState>,
    /// What the person said.
    pub set_aside: Option<Override>,
    /// Reading that it rests on.
    pub reading: Option<String>,
    /// When in the job that was taken.
    pub phase: Option<Phase>,
    /// Name of the main figure.
    pub main: Option<String>,
    /// The main figure.
    pub figure: Option<Figure>,
    /// Where the check gives a word instead (`outwards_for_plus`).
    pub word: Option<String>,
    /// What the verdict rests on, the deciding ones first.
    pub reasons: Vec<Reason>,
}

/// A part with its checks.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Row {
    /// Id of the part.
    pub part: String,
    /// The checks that apply to it.
    pub cells: Vec<Cell>,
}

/// How far apart two partners are in the main figure of a check.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Apart {
    /// Which check.
    pub check: JobCheck,
    /// Name of the figure.
    pub name: String,
    /// First over second, in per cent beyond 1.
    pub percent: f64,
    /// Half-width of its 95 % interval.
    pub half_width_95_percent: f64,
}

/// Partners, compared.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PartnersFound {
    /// Worst of the figures; none where they cannot be compared yet.
    pub verdict: Option<PairVerdict>,
    /// Figures of the reading by which they match.
    pub compared: Vec<Compared>,
    /// What parts them.
    pub causes: Vec<Cause>,
    /// What the jig does wrong with both was cancelled.
    pub same_jig: bool,
    /// Difference of the main figures.
    pub apart: Vec<Apart>,
}

/// Parts of one kind and band: a pair, or a part alone.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Group {
    /// What they are.
    pub kind: PartKind,
    /// Their band.
    pub band: String,
    /// Left before right.
    pub rows: Vec<Row>,
    /// Where there are two.
    pub partners: Option<PartnersFound>,
}

/// The job at a glance.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Overview {
    /// In the order of the parts.
    pub groups: Vec<Group>,
    /// Checks with a verdict or a finding.
    pub done: usize,
    /// Checks that apply.
    pub of: usize,
    /// What to do next.
    pub next: Option<Next>,
}

/// The checks that apply to a kind of part. Checks that this program cannot do yet are none.
pub fn checks_of(kind: PartKind, has_partner: bool) -> Vec<JobCheck> {
    use JobCheck::{Coil, Impedance, Knock, Look, Match, Polarity, Weight};
    match kind {
        PartKind::Driver if has_partner => vec![Look, Coil, Polarity, Knock, Impedance, Weight, Match],
        PartKind::Driver => vec![Look, Coil, Polarity, Knock, Impedance, Weight],
        PartKind::Cabinet | PartKind::Control | PartKind::Crossover | PartKind::Loudspeaker => vec![Look],
    }
}

/// Draws the overview.
pub fn overview(request: &OverviewRequest) -> Overview {
    let groups: Vec<Group> = pairs(&request.job.parts).iter().map(|members| group(request, members)).collect();
    let cells = || groups.iter().flat_map(|g| &g.rows).flat_map(|r| &r.cells);
    // A weighed cone is a luxury: it counts where it was done.
    let counted = || cells().filter(|c| c.check != JobCheck::Weight || c.state != CellState::ToDo);
    let done = counted().filter(|c| !matches!(c.state, CellState::ToDo | CellState::Refused)).count();
    let of = counted().count();
    let next = next_step(&groups);
    Overview { groups, done, of, next }
}

fn group(request: &OverviewRequest, members: &[&Part]) -> Group {
    let partners = match members {
        [left, right] => Some(compare(request, left, right)),
        _ => None,
    };
    let row = |(at, part): (usize, &&Part)| {
        let partner = members.get(1 - at.min(1)).filter(|p| p.id != part.id);
        let checks = checks_of(part.kind, partner.is_some());
        let cell = |check| cells::cell(request, part, partner.copied(), partners.as_ref(), check);
        Row { part: part.id.clone(), cells: checks.into_iter().map(cell).collect() }
    };
    let first = members.first();
    Group {
        kind: first.map(|p| p.kind).unwrap_or_default(),
        band: first.map(|p| p.band.clone()).unwrap_or_default(),
        rows: members.iter().enumerate().map(row).collect(),
        partners,
    }
}

/// The latest reading of the part that answers a check.
pub(super) fn latest<'a>(request: &'a OverviewRequest, part: &Part, check: JobCheck) -> Option<&'a JobReading> {
    let filed = |reading: &&JobReading| part.filed.iter().any(|f| f.reading == reading.id);
    let newest = |a: &&JobReading, b: &&JobReading| a.created_at_ms.total_cmp(&b.created_at_ms);
    request.readings.iter().filter(filed).filter(|r| answers(r, check)).max_by(newest)
}

fn answers(reading: &JobReading, check: JobCheck) -> bool {
    match check {
        JobCheck::Knock => matches!(reading.check.as_str(), "knock" | "pair"),
        JobCheck::Impedance => reading.check == "meter" || reading.check.starts_with("impedance"),
        JobCheck::Polarity => reading.check == "polarity",
        JobCheck::Weight => reading.part.values.contains_key("m_ms_kg"),
        JobCheck::Look | JobCheck::Coil | JobCheck::Match => false,
    }
}
