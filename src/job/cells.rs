//! One check of one part: its state, the figure that stands in its cell, and what the verdict rests on.

use super::coil_cell::coil;
use super::look_points::points_of;
use super::overview::{latest, Cell, CellState, Ground, JobCheck, JobReading, OverviewRequest, PartnersFound, Reason};
use super::partners::limits;
use super::record::{Finding, Part, Phase, Reference, ReferenceKind};
use crate::signal::reading::{Figure, Outcome};
use crate::verdict::limits::PairVerdict;
use crate::verdict::part_limits::{judge_figure, Verdict};

/// The code of a ring that dies away by friction.
const FRICTION: &str = "friction";

/// The cell of a check; `partners` where the part has one.
pub fn cell(
    request: &OverviewRequest,
    part: &Part,
    partner: Option<&Part>,
    partners: Option<&PartnersFound>,
    check: JobCheck,
) -> Cell {
    let mut cell = match check {
        JobCheck::Look => look(part),
        JobCheck::Coil => coil(part),
        JobCheck::Match => partners.map_or_else(|| empty(check), |found| matching(request, found)),
        JobCheck::Polarity => measured(request, part, check, |r| polarity(request, r, partner)),
        JobCheck::Knock | JobCheck::Impedance | JobCheck::Weight => {
            measured(request, part, check, |r| against_references(part, r, check))
        }
    };
    // The latest word of a person stands beside what was measured.
    if let Some(said) = part.overrides.iter().rev().find(|o| o.check == name_of(check)) {
        cell.measured = Some(cell.state);
        cell.state = state_of(said.verdict);
        cell.set_aside = Some(said.clone());
    }
    cell
}

/// The name that an override uses.
pub fn name_of(check: JobCheck) -> &'static str {
    match check {
        JobCheck::Look => "look",
        JobCheck::Coil => "coil",
        JobCheck::Polarity => "polarity",
        JobCheck::Knock => "knock",
        JobCheck::Impedance => "impedance",
        JobCheck::Weight => "weight",
        JobCheck::Match => "match",
    }
}

/// A check that tells the same: what a knock and an impedance find is held against the same limits.
pub(super) fn in_place_of(check: JobCheck) -> Option<JobCheck> {
    match check {
        JobCheck::Knock => Some(JobCheck::Impedance),
        JobCheck::Impedance => Some(JobCheck::Knock),
        _ => None,
    }
}

pub(super) fn empty(check: JobCheck) -> Cell {
    Cell {
        check,
        state: CellState::ToDo,
        measured: None,
        set_aside: None,
        reading: None,
        phase: None,
        main: None,
        figure: None,
        word: None,
        reasons: Vec::new(),
    }
}

fn state_of(verdict: Verdict) -> CellState {
    match verdict {
        Verdict::Pass => CellState::Pass,
        Verdict::NotProven => CellState::NotProven,
        Verdict::Fail => CellState::Fail,
    }
}

/// A reason without numbers.
pub(super) fn reason(ground: Ground, verdict: Verdict, name: &str) -> Reason {
    Reason {
        ground,
        verdict,
        name: name.to_owned(),
        value: None,
        half_width_95: None,
        low: None,
        high: None,
        common_practice: false,
        source: String::new(),
    }
}

/// The worst of the reasons decides; without any, there was nothing to hold the figures against.
pub(super) fn decided(mut reasons: Vec<Reason>) -> (CellState, Vec<Reason>) {
    reasons.sort_by_key(|r| std::cmp::Reverse(r.verdict));
    match reasons.first() {
        Some(worst) => (state_of(worst.verdict), reasons),
        None => (CellState::Found, vec![reason(Ground::NoLimit, Verdict::NotProven, "")]),
    }
}

/// A cell that rests on the latest reading of the check.
fn measured(
    request: &OverviewRequest,
    part: &Part,
    check: JobCheck,
    judge: impl Fn(&JobReading) -> Vec<Reason>,
) -> Cell {
    let mut cell = empty(check);
    let Some(reading) = latest(request, part, check) else { return cell };
    cell.reading = Some(reading.id.clone());
    cell.phase = part.filed.iter().find(|f| f.reading == reading.id).map(|f| f.phase);
    if reading.part.outcome == Outcome::Refused {
        // What rubs is found, even where no figure can be had of it.
        if check == JobCheck::Knock && reading.warnings.iter().any(|code| code == FRICTION) {
            (cell.state, cell.reasons) = decided(vec![reason(Ground::Finding, Verdict::Fail, FRICTION)]);
            return cell;
        }
        let mut why = reason(Ground::Refused, Verdict::NotProven, "");
        why.source = reading.refusal.clone().unwrap_or_default();
        (cell.state, cell.reasons) = (CellState::Refused, vec![why]);
        return cell;
    }
    let main = match check {
        JobCheck::Weight => "m_ms_kg",
        JobCheck::Polarity => "",
        _ => "f_s_hz",
    };
    if let Some(figure) = reading.part.values.get(main) {
        (cell.main, cell.figure) = (Some(main.to_owned()), Some(figure.clone()));
    }
    if check == JobCheck::Polarity {
        cell.word = reading.chosen.get("driver_1").cloned();
    }
    let mut reasons = judge(reading);
    if reading.part.outcome == Outcome::Doubtful {
        reasons.push(doubtful(reading));
        // What is doubtful proves nothing, neither way.
        for r in &mut reasons {
            r.verdict = Verdict::NotProven;
        }
    }
    (cell.state, cell.reasons) = decided(reasons);
    cell
}

fn doubtful(reading: &JobReading) -> Reason {
    reason(Ground::Doubtful, Verdict::NotProven, reading.warnings.first().map_or("", String::as_str))
}

/// Figures against their references, and what the check itself found. A reference of an earlier day is weighed like a
/// published one: with the tolerance that stands beside it.
fn against_references(part: &Part, reading: &JobReading, check: JobCheck) -> Vec<Reason> {
    let of_this = |name: &str| (name == "m_ms_kg") == (check == JobCheck::Weight);
    let held = part.references.iter().filter(|r| of_this(&r.name));
    let held = held.filter_map(|r| Some(against_reference(r, reading.part.values.get(&r.name)?)));
    let mut reasons: Vec<Reason> = held.collect();
    if check == JobCheck::Knock && reading.warnings.iter().any(|code| code == FRICTION) {
        reasons.push(reason(Ground::Finding, Verdict::Fail, FRICTION));
    }
    reasons
}

/// A figure against one of its references.
pub(super) fn against_reference(reference: &Reference, figure: &Figure) -> Reason {
    let (low, high) = (reference.value * (1.0 - reference.below), reference.value * (1.0 + reference.above));
    let named = !reference.source.is_empty();
    let source = if named { reference.source.clone() } else { kind_name(reference.kind).to_owned() };
    Reason {
        value: Some(figure.value),
        half_width_95: figure.half_width_95,
        low: Some(low),
        high: Some(high),
        common_practice: reference.common_practice,
        source,
        ..reason(Ground::Reference, judge_figure(figure, low, high), &reference.name)
    }
}

fn kind_name(kind: ReferenceKind) -> &'static str {
    match kind {
        ReferenceKind::Published => "published",
        ReferenceKind::Earlier => "earlier",
    }
}

/// Partners must move the same way; a driver alone moves outwards for plus, as most do.
fn polarity(request: &OverviewRequest, reading: &JobReading, partner: Option<&Part>) -> Vec<Reason> {
    let way = |r: &JobReading| {
        r.chosen.get("driver_1").map(String::as_str).and_then(|word| match word {
            "outwards_for_plus" => Some(true),
            "inwards_for_plus" => Some(false),
            _ => None,
        })
    };
    let own = way(reading);
    let other = partner.and_then(|p| latest(request, p, JobCheck::Polarity)).and_then(way);
    let (verdict, name) = match (own, other) {
        (None, _) => (Verdict::NotProven, "polarity_not_known"),
        (Some(own), Some(other)) if own == other => (Verdict::Pass, "moves_as_partner"),
        (Some(_), Some(_)) => (Verdict::Fail, "moves_against_partner"),
        (Some(true), None) => (Verdict::Pass, "moves_outwards"),
        // Some makers wound them so on purpose: that alone is no fault.
        (Some(false), None) => (Verdict::NotProven, "moves_inwards"),
    };
    vec![reason(Ground::Finding, verdict, name)]
}

/// Points looked at: one fault fails the part, one that cannot be told or was left out leaves it open. Told are the points
/// that are not sound, and how many are, or were left out.
fn look(part: &Part) -> Cell {
    let mut cell = empty(JobCheck::Look);
    if part.looks.is_empty() {
        return cell;
    }
    let against = part.looks.iter().filter_map(|look| {
        let verdict = match look.finding {
            Finding::Fault => Verdict::Fail,
            Finding::Unclear => Verdict::NotProven,
            Finding::Sound | Finding::Absent => return None,
        };
        Some(Reason { source: look.note.clone(), ..reason(Ground::Point, verdict, &look.point) })
    });
    let mut reasons: Vec<Reason> = against.collect();
    let counted =
        |verdict, name, count: usize| Reason { value: Some(count as f64), ..reason(Ground::Finding, verdict, name) };
    // A look that was begun proves nothing of the points that nobody has looked at.
    let points = points_of(part.kind);
    match points.iter().filter(|point| part.looks.iter().all(|l| l.point != **point)).count() {
        0 => {}
        left => reasons.push(counted(Verdict::NotProven, "points_left", left)),
    }
    match part.looks.iter().filter(|l| l.finding == Finding::Sound).count() {
        0 => {}
        sound => reasons.push(counted(Verdict::Pass, "points_sound", sound)),
    }
    (cell.state, cell.reasons) = decided(reasons);
    cell.phase = Some(Phase::Returned);
    cell
}

/// Differences from the partner.
fn matching(request: &OverviewRequest, found: &PartnersFound) -> Cell {
    let mut cell = empty(JobCheck::Match);
    let limits = limits(request);
    let reasons = found.compared.iter().map(|c| {
        let limit = limits.iter().find(|l| l.name == c.name);
        let own = request.job.pair_limits.iter().any(|l| l.name == c.name);
        let verdict = match c.verdict {
            PairVerdict::Good | PairVerdict::Acceptable => Verdict::Pass,
            PairVerdict::NotProven => Verdict::NotProven,
            PairVerdict::TooFarApart => Verdict::Fail,
        };
        Reason {
            value: Some(c.percent),
            half_width_95: Some(c.half_width_95_percent),
            high: limit.map(|l| 100.0 * l.acceptable),
            common_practice: !own,
            ..reason(Ground::Partner, verdict, &c.name)
        }
    });
    let reasons: Vec<Reason> = reasons.collect();
    if !reasons.is_empty() {
        (cell.state, cell.reasons) = decided(reasons);
    }
    cell
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::record::Look;

    fn looked(findings: &[Finding]) -> CellState {
        let points = points_of(Default::default()).iter().zip(findings);
        let look = |(point, finding): (&&str, &Finding)| Look {
            point: (*point).to_owned(),
            finding: *finding,
            note: String::new(),
            photos: Vec::new(),
            at_ms: 0.0,
        };
        super::look(&Part { looks: points.map(look).collect(), ..Part::default() }).state
    }

    #[test]
    fn a_look_passes_when_every_point_was_looked_at() {
        let all = points_of(Default::default()).len();
        let with = |last: Finding| looked(&[vec![Finding::Sound; all - 1], vec![last]].concat());
        assert_eq!(looked(&[]), CellState::ToDo);
        assert_eq!(looked(&[Finding::Sound]), CellState::NotProven);
        assert_eq!([with(Finding::Sound), with(Finding::Absent)], [CellState::Pass; 2]);
        assert_eq!([with(Finding::Unclear), with(Finding::Fault)], [CellState::NotProven, CellState::Fail]);
        assert_eq!(looked(&[Finding::Fault]), CellState::Fail);
    }
}
