//! What the papers say of a job as a whole: whether it passes, what stands against that, how each pair stands, and the
//! figures as found and as left. It counts and chooses; the verdicts are those of `overview`.
//!
//! A job passes when every check that applies was done and nothing is failed, not proven or refused. A knock and an
//! impedance stand in for one another, a weight is no must, and a figure without a limit neither passes nor fails; but a
//! part of which nothing at all passes proves nothing.

use super::cells::{against_reference, in_place_of};
use super::coil_cell::answer;
use super::overview::{overview, Cell, CellState, Group, JobCheck, JobReading, OverviewRequest, Reason, Row};
use super::partners::limits;
use super::record::{Conditions, Part, PartKind, Phase, Reference};
use crate::math::order::arranged;
use crate::signal::reading::{Figure, Outcome};
use crate::verdict::coil_meter::fitted_at_20_c;
use crate::verdict::limits::{PairLimit, PairVerdict};
use crate::verdict::part_limits::Verdict;
use serde::Serialize;

const R_E: &str = "r_e_ohm";
/// Figures of the record, in their order.
const FIGURES: [&str; 5] = [R_E, "f_s_hz", "q_ts", "q_ms", "z_max_ohm"];
/// A rewound coil comes out within this share of R_e; common practice, no source.
const ORDERED_R_E: f64 = 0.03;

/// A check that stands against a pass, or that a person decided.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Item {
    /// Id of the part.
    pub part: String,
    /// Which check.
    pub check: JobCheck,
    /// As it counts.
    pub state: CellState,
    /// A person set it.
    pub by_hand: bool,
}

/// A difference of partners against its limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PairLine {
    /// Name of the figure.
    pub name: String,
    /// First over second, in per cent beyond 1.
    pub percent: f64,
    /// Half-width of its 95 % interval.
    pub half_width_95_percent: f64,
    /// Allowed in an acceptable pair.
    pub allowed_percent: Option<f64>,
    /// What that says.
    pub verdict: PairVerdict,
}

/// How a pair or a part alone stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct GroupSummary {
    /// What they are.
    pub kind: PartKind,
    /// Their band.
    pub band: String,
    /// Ids, left before right.
    pub parts: Vec<String>,
    /// All checks of the group together.
    pub verdict: Verdict,
    /// Whether the two match; none for a part alone or where they cannot be compared.
    pub pair: Option<PairVerdict>,
    /// Their differences, the one that weighs most first.
    pub lines: Vec<PairLine>,
    /// What the figures say by themselves, a person's verdict left aside; figures without a limit are left out.
    pub figures: Vec<FigureVerdict>,
}

/// A figure of all parts of a group against all its limits.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct FigureVerdict {
    /// Name of the figure.
    pub name: String,
    /// The worst of what its limits say.
    pub verdict: Verdict,
}

/// A figure as it stood at one time, with how it was taken.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Stated {
    /// The figure; R_e at 20 °C.
    pub figure: Figure,
    /// `coil` for a meter's ohms, else the check of the reading.
    pub check: String,
    /// Id of the reading; none for a meter's ohms.
    pub reading: Option<String>,
    /// When in the job.
    pub phase: Phase,
    /// When.
    pub at_ms: f64,
    /// How.
    pub conditions: Conditions,
}

/// A figure as found and as left.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct FigureLine {
    /// Name of the figure.
    pub name: String,
    /// Before anything was done.
    pub found: Option<Stated>,
    /// The latest after that.
    pub left: Option<Stated>,
}

/// The figures of a part.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PartFigures {
    /// Id of the part.
    pub part: String,
    /// In the order in which they are printed; figures that nobody measured are left out.
    pub lines: Vec<FigureLine>,
    /// All checks of the part, and R_e as it was ordered.
    pub accepted: Verdict,
    /// R_e as the order sheet asks for it, against what came back; none where nothing tells what it was.
    pub ordered_r_e: Option<Reason>,
}

/// The job as its papers see it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Summary {
    /// All together.
    pub whole: Verdict,
    /// Pair by pair.
    pub groups: Vec<GroupSummary>,
    /// What stands against a pass, and what a person decided: failed, not proven, refused, not done, the rest.
    pub items: Vec<Item>,
    /// Readings in the job that were refused, by id.
    pub refused: Vec<String>,
    /// Figures of each part.
    pub figures: Vec<PartFigures>,
}

/// Sums the job up.
pub fn summary(request: &OverviewRequest) -> Summary {
    let seen = overview(request);
    let limits = limits(request);
    let groups: Vec<GroupSummary> = seen.groups.iter().map(|g| group(g, &limits)).collect();
    let mut items: Vec<Item> = seen.groups.iter().flat_map(|g| &g.rows).flat_map(row_items).collect();
    items.sort_by_key(|item| std::cmp::Reverse(weight(item.state)));
    let filed = |r: &&JobReading| request.job.parts.iter().flat_map(|p| &p.filed).any(|f| f.reading == r.id);
    let refused = request.readings.iter().filter(filed).filter(|r| r.part.outcome == Outcome::Refused);
    let figures = request.job.parts.iter().map(|part| {
        let row = seen.groups.iter().flat_map(|g| &g.rows).find(|r| r.part == part.id);
        part_figures(request, part, row.map_or(Verdict::NotProven, row_verdict))
    });
    Summary {
        whole: groups.iter().map(|g| g.verdict).max().unwrap_or(Verdict::NotProven),
        items,
        refused: refused.map(|r| r.id.clone()).collect(),
        figures: figures.collect(),
        groups,
    }
}

/// The heavier, the earlier it is told.
fn weight(state: CellState) -> u8 {
    match state {
        CellState::Fail => 5,
        CellState::NotProven => 4,
        CellState::Refused => 3,
        CellState::ToDo => 2,
        CellState::Found => 1,
        CellState::Pass => 0,
    }
}

fn group(group: &Group, limits: &[PairLimit]) -> GroupSummary {
    let compared = group.partners.iter().flat_map(|p| &p.compared);
    let lines = compared.map(|c| PairLine {
        name: c.name.clone(),
        percent: c.percent,
        half_width_95_percent: c.half_width_95_percent,
        allowed_percent: limits.iter().find(|l| l.name == c.name).map(|l| 100.0 * l.acceptable),
        verdict: c.verdict,
    });
    // What weighs most is told first: the worst verdict, a figure before a curve, then the nearest to its limit.
    let weight = |l: &PairLine| {
        let reach = l.allowed_percent.map_or(0.0, |allowed| (l.percent.abs() + l.half_width_95_percent) / allowed);
        let figure = if FIGURES.contains(&l.name.as_str()) { 10.0 } else { 0.0 };
        -(100.0 * f64::from(l.verdict as u8) + figure + reach.min(9.0))
    };
    GroupSummary {
        kind: group.kind,
        band: group.band.clone(),
        parts: group.rows.iter().map(|r| r.part.clone()).collect(),
        verdict: group.rows.iter().map(row_verdict).max().unwrap_or(Verdict::NotProven),
        pair: group.partners.as_ref().and_then(|p| p.verdict),
        lines: arranged(lines.collect(), weight),
        figures: FIGURES.into_iter().filter_map(|name| figure_verdict(group, name)).collect(),
    }
}

fn figure_verdict(group: &Group, name: &str) -> Option<FigureVerdict> {
    let reasons = group.rows.iter().flat_map(|r| &r.cells).flat_map(|c| &c.reasons).filter(|r| r.name == name);
    Some(FigureVerdict { name: name.to_owned(), verdict: reasons.map(|r| r.verdict).max()? })
}

fn row_verdict(row: &Row) -> Verdict {
    let open = row.cells.iter().filter(|cell| counts(row, cell)).map(|cell| match cell.state {
        CellState::Fail => Verdict::Fail,
        CellState::NotProven | CellState::Refused | CellState::ToDo => Verdict::NotProven,
        CellState::Found | CellState::Pass => Verdict::Pass,
    });
    let some_pass = row.cells.iter().any(|cell| cell.state == CellState::Pass);
    open.max().unwrap_or(Verdict::NotProven).max(if some_pass { Verdict::Pass } else { Verdict::NotProven })
}

/// A check that nobody did counts, unless it is no must or another one tells the same.
fn counts(row: &Row, cell: &Cell) -> bool {
    let done = |check: JobCheck| {
        row.cells.iter().any(|c| c.check == check && !matches!(c.state, CellState::ToDo | CellState::Refused))
    };
    cell.state != CellState::ToDo || (cell.check != JobCheck::Weight && !in_place_of(cell.check).is_some_and(done))
}

fn row_items(row: &Row) -> impl Iterator<Item = Item> + '_ {
    let told = |cell: &&Cell| {
        let against = !matches!(cell.state, CellState::Pass | CellState::Found);
        (against && counts(row, cell)) || cell.set_aside.is_some()
    };
    row.cells.iter().filter(told).map(|cell| Item {
        part: row.part.clone(),
        check: cell.check,
        state: cell.state,
        by_hand: cell.set_aside.is_some(),
    })
}

fn part_figures(request: &OverviewRequest, part: &Part, checks: Verdict) -> PartFigures {
    let line = |name: &str| {
        let all = stated(request, part, name);
        let left = choose(&all, |s| s.phase != Phase::AsFound, None);
        let found = choose(&all, |s| s.phase == Phase::AsFound, left.as_ref());
        (found.is_some() || left.is_some()).then(|| FigureLine { name: name.to_owned(), found, left })
    };
    let lines: Vec<FigureLine> = FIGURES.into_iter().filter_map(line).collect();
    let ordered_r_e = ordered_r_e(part, &lines);
    let accepted = ordered_r_e.as_ref().map_or(checks, |r| r.verdict.max(checks));
    PartFigures { part: part.id.clone(), accepted, ordered_r_e, lines }
}

/// R_e is ordered as it was: as published, else as found. What came back is held against that.
fn ordered_r_e(part: &Part, lines: &[FigureLine]) -> Option<Reason> {
    let line = lines.iter().find(|l| l.name == R_E);
    let published = part.references.iter().find(|r| r.name == R_E).map(|r| r.value);
    let target = published.or_else(|| Some(line?.found.as_ref()?.figure.value))?;
    let reference = Reference {
        name: R_E.to_owned(),
        value: target,
        below: ORDERED_R_E,
        above: ORDERED_R_E,
        common_practice: true,
        ..Reference::default()
    };
    let returned = line.and_then(|l| l.left.as_ref()).map(|s| &s.figure);
    let mut reason = against_reference(&reference, returned.unwrap_or(&Figure::without_uncertainty(target, "")));
    if returned.is_none() {
        (reason.value, reason.half_width_95) = (None, None);
    }
    Some(reason)
}

/// The figure as everything in the job states it; what is doubtful or refused states nothing.
fn stated(request: &OverviewRequest, part: &Part, name: &str) -> Vec<Stated> {
    let by_reading = part.filed.iter().filter_map(|filed| {
        let reading = request.readings.iter().find(|r| r.id == filed.reading && r.part.outcome == Outcome::Reading)?;
        let figure = reading.part.values.get(name)?;
        let figure = match name {
            R_E => fitted_at_20_c(figure, filed.conditions.temperature_c),
            _ => figure.clone(),
        };
        Some(Stated {
            figure,
            check: reading.check.clone(),
            reading: Some(reading.id.clone()),
            phase: filed.phase,
            at_ms: reading.created_at_ms,
            conditions: filed.conditions,
        })
    });
    let by_meter = part.coils.iter().filter(|_| name == R_E).filter_map(|entry| {
        Some(Stated {
            figure: answer(part, entry)?.r_e_ohm?,
            check: "coil".to_owned(),
            reading: None,
            phase: entry.phase,
            at_ms: entry.at_ms,
            conditions: Conditions { temperature_c: entry.temperature_c, ..Conditions::default() },
        })
    });
    by_reading.chain(by_meter).collect()
}

/// The latest of those wanted: by the same check as `like` where there is one, else the one that tells most.
fn choose(all: &[Stated], wanted: impl Fn(&Stated) -> bool, like: Option<&Stated>) -> Option<Stated> {
    let rank = |s: &Stated| match like {
        Some(other) if other.check == s.check => 3,
        _ if s.check == "coil" => 2,
        _ if s.check.starts_with("impedance") || s.check == "meter" => 1,
        _ => 0,
    };
    let better = |a: &&Stated, b: &&Stated| rank(a).cmp(&rank(b)).then(a.at_ms.total_cmp(&b.at_ms));
    all.iter().filter(|s| wanted(s)).max_by(better).cloned()
}

#[cfg(test)]
#[path = "summary_tests.rs"]
mod tests;
