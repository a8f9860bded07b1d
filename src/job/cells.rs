//! One check of one part: its state, the figure that stands in its cell, and what the verdict rests on.

use super::overview::{latest, Cell, CellState, Ground, JobCheck, JobReading, OverviewRequest, PartnersFound, Reason};
use super::partners::limits;
use super::record::{Finding, Part, Phase, ReferenceKind};
use crate::signal::reading::Outcome;
use crate::verdict::limits::PairVerdict;
use crate::verdict::part_limits::{judge_figure, Verdict};

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
        JobCheck::Coil => empty(check),
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
    let held = part.references.iter().filter(|r| of_this(&r.name)).filter_map(|r| {
        let figure = reading.part.values.get(&r.name)?;
        let (low, high) = (r.value * (1.0 - r.below), r.value * (1.0 + r.above));
        let source = if r.source.is_empty() { kind_name(r.kind).to_owned() } else { r.source.clone() };
        Some(Reason {
            value: Some(figure.value),
            half_width_95: figure.half_width_95,
            low: Some(low),
            high: Some(high),
            common_practice: r.common_practice,
            source,
            ..reason(Ground::Reference, judge_figure(figure, low, high), &r.name)
        })
    });
    let mut reasons: Vec<Reason> = held.collect();
    if check == JobCheck::Knock && reading.warnings.iter().any(|code| code == "friction") {
        reasons.push(reason(Ground::Finding, Verdict::Fail, "friction"));
    }
    reasons
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

/// Points looked at: one fault fails the part, one that cannot be told leaves it open.
fn look(part: &Part) -> Cell {
    let mut cell = empty(JobCheck::Look);
    let said = part.looks.iter().filter_map(|look| {
        let verdict = match look.finding {
            Finding::Sound => Verdict::Pass,
            Finding::Fault => Verdict::Fail,
            Finding::Unclear => Verdict::NotProven,
            Finding::Absent => return None,
        };
        Some(Reason { source: look.note.clone(), ..reason(Ground::Point, verdict, &look.point) })
    });
    let reasons: Vec<Reason> = said.collect();
    if !reasons.is_empty() {
        (cell.state, cell.reasons) = decided(reasons);
        cell.phase = Some(Phase::Returned);
    }
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
