//! What to do next: pair by pair, in the order of the acceptance tests, both sides of a check before the next check.

use super::overview::{Cell, CellState, Group, JobCheck};
use serde::Serialize;

/// Why it comes next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// It was not done yet.
    NotDone,
    /// It was refused: to be taken again.
    Refused,
    /// It was not proven: to be taken again as its reasons say.
    NotProven,
}

/// The step that is proposed.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Next {
    /// Id of the part.
    pub part: String,
    /// Which check.
    pub check: JobCheck,
    /// Why.
    pub why: Why,
}

/// First what was not done or was refused, then what is not proven. A part that failed its look is not driven: nothing
/// else is proposed for it (crumbling foam, loose parts).
pub fn next_step(groups: &[Group]) -> Option<Next> {
    let open = |cell: &Cell| match cell.state {
        CellState::ToDo => Some(Why::NotDone),
        CellState::Refused => Some(Why::Refused),
        _ => None,
    };
    let unproven =
        |cell: &Cell| (cell.state == CellState::NotProven && cell.set_aside.is_none()).then_some(Why::NotProven);
    groups.iter().find_map(|g| first(g, &open)).or_else(|| groups.iter().find_map(|g| first(g, &unproven)))
}

fn first(group: &Group, wanted: &impl Fn(&Cell) -> Option<Why>) -> Option<Next> {
    let columns = group.rows.iter().map(|r| r.cells.len()).max().unwrap_or(0);
    (0..columns).find_map(|column| {
        group.rows.iter().find_map(|row| {
            let cell = row.cells.get(column)?;
            // Matching follows from the readings, and a weight is no must.
            let asked = !matches!(cell.check, JobCheck::Match | JobCheck::Weight);
            let sound = cell.check == JobCheck::Look
                || row.cells.iter().all(|c| c.check != JobCheck::Look || c.state != CellState::Fail);
            let why = wanted(cell).filter(|_| asked && sound)?;
            Some(Next { part: row.part.clone(), check: cell.check, why })
        })
    })
}
