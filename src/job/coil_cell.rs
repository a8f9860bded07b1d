//! The coil by a meter as a cell: the latest entry, held against the references of R_e, the frame and an open coil. What
//! the readings only hint at decides nothing here.

use super::cells::{against_reference, decided, empty, reason};
use super::overview::{Cell, Ground, JobCheck};
use super::record::{CoilEntry, Part};
use crate::verdict::coil_meter::{judge_coil, CoilAnswer, CoilHint, CoilQuestion};
use crate::verdict::part_limits::Verdict;

/// The figure of the cell.
const R_E: &str = "r_e_ohm";

/// What the meter says of an entry of this part; none where what was typed is no reading.
pub fn answer(part: &Part, entry: &CoilEntry) -> Option<CoilAnswer> {
    let rated_impedance_ohm = part.rated_impedance_ohm;
    judge_coil(&CoilQuestion { entry: entry.clone(), fitted: Vec::new(), rated_impedance_ohm }).ok()
}

/// The coil's cell.
pub fn coil(part: &Part) -> Cell {
    let mut cell = empty(JobCheck::Coil);
    let Some((entry, found)) = part.coils.last().and_then(|entry| Some((entry, answer(part, entry)?))) else {
        return cell;
    };
    let finding = |verdict, name| reason(Ground::Finding, verdict, name);
    let mut reasons = Vec::new();
    if found.hints.contains(&CoilHint::Open) {
        reasons.push(finding(Verdict::Fail, "coil_open"));
    }
    if let Some(figure) = &found.r_e_ohm {
        let references = part.references.iter().filter(|r| r.name == R_E);
        reasons.extend(references.map(|r| against_reference(r, figure)));
    }
    if found.to_frame_read {
        let mut frame = finding(found.to_frame, "coil_to_frame_megohm");
        (frame.value, frame.low) = (entry.to_frame_megohm, Some(found.to_frame_wanted_megohm));
        frame.common_practice = true;
        reasons.push(frame);
    }
    cell.phase = Some(entry.phase);
    cell.main = found.r_e_ohm.as_ref().map(|_| R_E.to_owned());
    cell.figure = found.r_e_ohm;
    (cell.state, cell.reasons) = decided(reasons);
    cell
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::overview::CellState;
    use crate::job::record::Reference;

    fn entry(shown_ohm: &[f64]) -> CoilEntry {
        CoilEntry {
            shown_ohm: shown_ohm.to_vec(),
            moved_ohm: Vec::new(),
            leads_ohm: Some(0.1),
            meter_percent: 0.5,
            meter_ohm: 0.01,
            temperature_c: Some(20.0),
            to_frame_megohm: None,
            to_frame_over_range: false,
            over_range: shown_ohm.is_empty(),
            phase: Default::default(),
            at_ms: 0.0,
            note: String::new(),
        }
    }

    fn state(entry: CoilEntry, reference_ohm: Option<f64>) -> CellState {
        let reference =
            |value| Reference { name: R_E.to_owned(), value, below: 0.05, above: 0.05, ..Default::default() };
        let references = reference_ohm.map(reference).into_iter().collect();
        coil(&Part { coils: vec![entry], references, ..Part::default() }).state
    }

    #[test]
    fn the_latest_entry_is_held_against_what_is_known_of_it() {
        assert_eq!(coil(&Part::default()).state, CellState::ToDo);
        assert_eq!(state(entry(&[6.3]), None), CellState::Found);
        // 6.2 ± 0.06 Ω beside 6.2, 6.5 (6.175 and up) and 7.0 (6.65 and up).
        let states = [6.2, 6.5, 7.0].map(|r| state(entry(&[6.3]), Some(r)));
        assert_eq!(states, [CellState::Pass, CellState::NotProven, CellState::Fail]);
        assert_eq!(state(entry(&[]), Some(6.2)), CellState::Fail);
    }

    #[test]
    fn a_coil_that_touches_its_frame_fails_whatever_it_measures() {
        let touching = CoilEntry { to_frame_megohm: Some(0.4), ..entry(&[6.3]) };
        assert_eq!(state(touching.clone(), Some(6.2)), CellState::Fail);
        let free = CoilEntry { to_frame_megohm: Some(20.0), to_frame_over_range: true, ..touching };
        assert_eq!(state(free.clone(), Some(6.2)), CellState::Pass);
        assert_eq!(state(free, None), CellState::Pass);
        let unread = CoilEntry { shown_ohm: vec![f64::NAN], ..entry(&[6.3]) };
        assert_eq!(state(unread, None), CellState::ToDo);
    }
}
