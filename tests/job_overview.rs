//! A job at a glance: what stands in the cells, who is compared with whom, what comes next. All limits here are the test's
//! own; the expected verdicts follow from intervals that are plainly inside, outside or across them.

use conewright::job::overview::{overview, Cell, CellState, Ground, JobCheck, JobReading, OverviewRequest};
use conewright::job::record::{Filed, Finding, Job, Look, Override, Part, Reference, Side};
use conewright::math::budget::Budget;
use conewright::signal::reading::{Figure, Outcome};
use conewright::verdict::limits::PairVerdict;
use conewright::verdict::matching::MatchPart;
use conewright::verdict::part_limits::Verdict;
use std::collections::BTreeMap;

fn figure(value: f64, half: f64) -> Figure {
    let mut budget = Budget::new(value);
    budget.add("noise", half / 2.0, false, f64::INFINITY);
    Figure::from_budget(budget, 2.0)
}

/// A reading with f_s and ± of it.
fn reading(id: &str, check: &str, day: f64, f_s: f64, half: f64) -> JobReading {
    JobReading {
        id: id.to_owned(),
        created_at_ms: day * 86.4e6,
        check: check.to_owned(),
        part: MatchPart {
            name: id.to_owned(),
            check: check.to_owned(),
            outcome: Outcome::Reading,
            values: BTreeMap::from([("f_s_hz".to_owned(), figure(f_s, half))]),
            frequency_hz: Vec::new(),
            magnitude_ohm: Vec::new(),
            magnitude_standard_uncertainty_ohm: Vec::new(),
        },
        chosen: BTreeMap::new(),
        warnings: Vec::new(),
        refusal: None,
        jig: "one".to_owned(),
    }
}

fn part(id: &str, side: Side, readings: &[&str]) -> Part {
    let filed = readings.iter().map(|r| Filed { reading: (*r).to_owned(), ..Filed::default() });
    let asked = Reference { name: "f_s_hz".to_owned(), value: 30.0, below: 0.1, above: 0.1, ..Reference::default() };
    Part {
        id: id.to_owned(),
        side,
        band: "bass".to_owned(),
        filed: filed.collect(),
        references: vec![asked],
        ..Part::default()
    }
}

fn of(parts: Vec<Part>, readings: Vec<JobReading>) -> OverviewRequest {
    OverviewRequest { job: Job { parts, ..Job::default() }, readings }
}

fn cell(request: &OverviewRequest, part: usize, check: JobCheck) -> Cell {
    let found = overview(request);
    let rows: Vec<_> = found.groups.into_iter().flat_map(|g| g.rows).collect();
    rows[part].cells.iter().find(|c| c.check == check).expect("the check applies").clone()
}

#[test]
fn a_figure_is_inside_outside_or_across_its_limits() {
    let said = |f_s: f64, half: f64| {
        let request = of(vec![part("a", Side::None, &["r"])], vec![reading("r", "knock", 1.0, f_s, half)]);
        cell(&request, 0, JobCheck::Knock).state
    };
    assert_eq!(
        [said(30.0, 1.0), said(34.0, 0.5), said(33.0, 1.0)],
        [CellState::Pass, CellState::Fail, CellState::NotProven]
    );
}

#[test]
fn the_latest_reading_counts_and_one_that_is_gone_does_not() {
    let parts = vec![part("a", Side::None, &["old", "new", "gone"])];
    let request = of(parts, vec![reading("new", "knock", 2.0, 30.0, 0.1), reading("old", "knock", 1.0, 40.0, 0.1)]);
    let knock = cell(&request, 0, JobCheck::Knock);
    assert_eq!((knock.state, knock.reading.as_deref()), (CellState::Pass, Some("new")));
    assert_eq!(cell(&request, 0, JobCheck::Impedance).state, CellState::ToDo);
}

#[test]
fn without_limits_it_is_measured_and_nothing_more() {
    let mut alone = part("a", Side::None, &["r"]);
    alone.references.clear();
    let found = cell(&of(vec![alone], vec![reading("r", "knock", 1.0, 30.0, 0.1)]), 0, JobCheck::Knock);
    assert_eq!((found.state, found.reasons[0].ground), (CellState::Found, Ground::NoLimit));
}

#[test]
fn what_is_doubtful_or_refused_proves_nothing() {
    let mut doubtful = reading("r", "impedance", 1.0, 30.0, 0.1);
    doubtful.part.outcome = Outcome::Doubtful;
    doubtful.warnings.push("hum".to_owned());
    let request = of(vec![part("a", Side::None, &["r"])], vec![doubtful]);
    assert_eq!(cell(&request, 0, JobCheck::Impedance).state, CellState::NotProven);

    let mut refused = reading("r", "impedance", 1.0, 30.0, 0.1);
    refused.part.outcome = Outcome::Refused;
    refused.refusal = Some("The gain was riding.".to_owned());
    let refused = cell(&of(vec![part("a", Side::None, &["r"])], vec![refused]), 0, JobCheck::Impedance);
    assert_eq!((refused.state, refused.reasons[0].source.as_str()), (CellState::Refused, "The gain was riding."));
}

#[test]
fn friction_fails_a_knock_whatever_its_figures() {
    let mut rubs = reading("r", "knock", 1.0, 30.0, 0.1);
    rubs.warnings.push("friction".to_owned());
    let found = cell(&of(vec![part("a", Side::None, &["r"])], vec![rubs]), 0, JobCheck::Knock);
    assert_eq!((found.state, found.reasons[0].name.as_str()), (CellState::Fail, "friction"));
    let mut refused = reading("r", "knock", 1.0, 30.0, 0.1);
    refused.part.outcome = Outcome::Refused;
    refused.warnings.push("friction".to_owned());
    let found = cell(&of(vec![part("a", Side::None, &["r"])], vec![refused]), 0, JobCheck::Knock);
    assert_eq!((found.state, found.reasons[0].ground), (CellState::Fail, Ground::Finding));
}

#[test]
fn partners_are_compared_by_the_same_check() {
    let parts = vec![part("l", Side::Left, &["l"]), part("r", Side::Right, &["r"])];
    let pair = |left: f64, right: f64, jig: &str| {
        let mut second = reading("r", "knock", 1.0, right, 0.01);
        second.jig = jig.to_owned();
        overview(&of(parts.clone(), vec![reading("l", "knock", 1.0, left, 0.01), second]))
    };
    let apart = pair(30.0, 33.0, "one");
    let partners = apart.groups[0].partners.clone().expect("partners");
    // 30/33 is 9.1 % below; 6 % is common practice for a pair.
    assert_eq!(partners.verdict, Some(PairVerdict::TooFarApart));
    assert!((partners.apart[0].percent + 9.09).abs() < 0.01 && partners.same_jig);
    let other = pair(30.0, 30.2, "another").groups[0].partners.clone().expect("partners");
    assert!(!other.same_jig && other.verdict == Some(PairVerdict::Good));

    let unlike = overview(&of(
        parts.clone(),
        vec![reading("l", "knock", 1.0, 30.0, 0.1), reading("r", "impedance", 1.0, 30.0, 0.1)],
    ));
    assert_eq!(unlike.groups[0].partners.as_ref().expect("partners").verdict, None);
}

#[test]
fn partners_must_move_the_same_way() {
    let moving = |id: &str, word: &str| {
        let mut r = reading(id, "polarity", 1.0, 30.0, 0.1);
        r.part.values.clear();
        r.chosen.insert("driver_1".to_owned(), word.to_owned());
        r
    };
    let parts = vec![part("l", Side::Left, &["l"]), part("r", Side::Right, &["r"])];
    let (out, inwards) = ("outwards_for_plus", "inwards_for_plus");
    let said = |left: &str, right: &str| {
        cell(&of(parts.clone(), vec![moving("l", left), moving("r", right)]), 0, JobCheck::Polarity).state
    };
    assert_eq!(
        [said(out, out), said(inwards, inwards), said(out, inwards)],
        [CellState::Pass, CellState::Pass, CellState::Fail]
    );
    let alone = |word: &str| {
        cell(&of(vec![part("a", Side::None, &["l"])], vec![moving("l", word)]), 0, JobCheck::Polarity).state
    };
    assert_eq!(
        [alone(out), alone(inwards), alone("as_the_first")],
        [CellState::Pass, CellState::NotProven, CellState::NotProven]
    );
}

#[test]
fn a_persons_verdict_stands_beside_what_was_measured() {
    let mut set = part("a", Side::None, &["r"]);
    let said = |verdict: Verdict, at_ms: f64| Override {
        check: "knock".to_owned(),
        verdict,
        reason: "The sheet is of another series.".to_owned(),
        by: "M".to_owned(),
        at_ms,
    };
    set.overrides = vec![said(Verdict::Fail, 1.0), said(Verdict::Pass, 2.0)];
    let found = cell(&of(vec![set], vec![reading("r", "knock", 1.0, 40.0, 0.1)]), 0, JobCheck::Knock);
    assert_eq!((found.state, found.measured), (CellState::Pass, Some(CellState::Fail)));
    assert_eq!(found.set_aside.map(|o| o.by).as_deref(), Some("M"));
}

#[test]
fn the_next_step_goes_pair_by_pair_both_sides_of_a_check_first() {
    let parts = || vec![part("l", Side::Left, &[]), part("r", Side::Right, &[])];
    let next = |parts: Vec<Part>| {
        let found = overview(&of(parts, Vec::new())).next.expect("something is to do");
        (found.part, found.check)
    };
    assert_eq!(next(parts()), ("l".to_owned(), JobCheck::Look));
    let seen = |finding: Finding| Look {
        point: "frame".to_owned(),
        finding,
        note: String::new(),
        photos: Vec::new(),
        at_ms: 1.0,
    };
    let mut looked = parts();
    looked[0].looks.push(seen(Finding::Sound));
    assert_eq!(next(looked.clone()), ("r".to_owned(), JobCheck::Look));
    // Nothing is driven that failed its look.
    looked[0].looks.push(seen(Finding::Fault));
    looked[1].looks.push(seen(Finding::Sound));
    assert_eq!(next(looked), ("r".to_owned(), JobCheck::Coil));
}
