use super::*;
use crate::job::look_points::points_of;
use crate::job::overview::JobReading;
use crate::job::record::{CoilEntry, Filed, Finding, Job, Look, Override, Reference, Side};
use crate::math::budget::Budget;
use crate::verdict::matching::MatchPart;
use std::collections::BTreeMap;

fn figure(value: f64) -> Figure {
    let mut budget = Budget::new(value);
    budget.add("noise", 0.001 * value, false, f64::INFINITY);
    Figure::from_budget(budget, 1.96)
}

fn reading(id: &str, check: &str, f_s_hz: f64) -> JobReading {
    let values = [("f_s_hz", f_s_hz), ("q_ts", 0.4), ("r_e_ohm", 6.2), ("z_max_ohm", 60.0)];
    JobReading {
        id: id.to_owned(),
        created_at_ms: 1000.0,
        check: check.to_owned(),
        part: MatchPart {
            name: id.to_owned(),
            check: check.to_owned(),
            outcome: Outcome::Reading,
            values: values.map(|(name, value)| (name.to_owned(), figure(value))).into(),
            frequency_hz: Vec::new(),
            magnitude_ohm: Vec::new(),
            magnitude_standard_uncertainty_ohm: Vec::new(),
        },
        chosen: BTreeMap::from([("driver_1".to_owned(), "outwards_for_plus".to_owned())]),
        warnings: Vec::new(),
        refusal: None,
        jig: String::new(),
    }
}

fn coil_entry(phase: Phase, at_ms: f64, shown: f64) -> CoilEntry {
    CoilEntry {
        shown_ohm: vec![shown],
        moved_ohm: Vec::new(),
        leads_ohm: Some(0.0),
        meter_percent: 0.2,
        meter_ohm: 0.01,
        temperature_c: Some(20.0),
        to_frame_megohm: Some(20.0),
        to_frame_over_range: true,
        over_range: false,
        phase,
        at_ms,
        note: String::new(),
    }
}

fn filed(reading: &str, phase: Phase) -> Filed {
    Filed { reading: reading.to_owned(), phase, at_ms: 0.0, ..Filed::default() }
}

/// A driver on which every check was done; its readings are `ID-z` and `ID-p`.
fn whole_driver(id: &str, side: Side) -> Part {
    let look = |point: &&str| Look {
        point: (*point).to_owned(),
        finding: Finding::Sound,
        note: String::new(),
        photos: Vec::new(),
        at_ms: 0.0,
    };
    Part {
        id: id.to_owned(),
        side,
        band: "bass".to_owned(),
        looks: points_of(PartKind::Driver).iter().map(look).collect(),
        coils: vec![coil_entry(Phase::Returned, 0.0, 6.2)],
        filed: vec![filed(&format!("{id}-z"), Phase::Returned), filed(&format!("{id}-p"), Phase::Returned)],
        ..Part::default()
    }
}

fn pair(right_f_s_hz: f64) -> OverviewRequest {
    let readings = vec![
        reading("l-z", "impedance", 40.0),
        reading("r-z", "impedance", right_f_s_hz),
        reading("l-p", "polarity", 40.0),
        reading("r-p", "polarity", 40.0),
    ];
    let parts = vec![whole_driver("l", Side::Left), whole_driver("r", Side::Right)];
    OverviewRequest { job: Job { parts, ..Job::default() }, readings }
}

fn items(of: &Summary) -> Vec<(&str, JobCheck, CellState)> {
    of.items.iter().map(|i| (i.part.as_str(), i.check, i.state)).collect()
}

#[test]
fn a_pair_on_which_all_was_done_and_nothing_stands_against_it_passes() {
    let found = summary(&pair(40.2));
    assert_eq!((found.whole, items(&found)), (Verdict::Pass, Vec::new()));
    let group = &found.groups[0];
    assert_eq!((group.verdict, group.pair), (Verdict::Pass, Some(PairVerdict::Good)));
    // All others are alike: this one is nearest to its limit.
    let f_s = &group.lines[0];
    assert_eq!(f_s.name, "f_s_hz");
    // 40/40.2 is 0.4975 % below 1; 6 % is what common practice allows.
    assert!((f_s.percent + 0.4975).abs() < 5e-5 && (f_s.allowed_percent.expect("set") - 6.0).abs() < 1e-9);
}

#[test]
fn partners_too_far_apart_fail_and_both_are_named() {
    let found = summary(&pair(45.0));
    assert_eq!((found.whole, found.groups[0].pair), (Verdict::Fail, Some(PairVerdict::TooFarApart)));
    let both = ["l", "r"].map(|part| (part, JobCheck::Match, CellState::Fail));
    assert_eq!(items(&found), both);
}

#[test]
fn what_was_not_done_is_not_proven_but_one_check_may_stand_in_for_another() {
    let without = |id: &str| {
        let mut request = pair(40.2);
        request.job.parts.iter_mut().for_each(|p| p.filed.retain(|f| f.reading != id));
        summary(&request)
    };
    // No knock was taken in any of these: the impedance stands in for it.
    let no_polarity = without("l-p");
    assert_eq!(no_polarity.whole, Verdict::NotProven);
    assert_eq!(items(&no_polarity), [("l", JobCheck::Polarity, CellState::ToDo)]);
    let no_impedance = without("l-z");
    let expected = [
        ("l", JobCheck::Knock, CellState::ToDo),
        ("l", JobCheck::Impedance, CellState::ToDo),
        ("l", JobCheck::Match, CellState::ToDo),
        ("r", JobCheck::Match, CellState::ToDo),
    ];
    assert_eq!((no_impedance.whole, items(&no_impedance)), (Verdict::NotProven, expected.to_vec()));
}

#[test]
fn the_worst_is_told_first_and_a_word_by_hand_is_always_told() {
    let mut request = pair(40.2);
    request.job.parts[0].looks[0].finding = Finding::Unclear;
    request.job.parts[1].coils[0].to_frame_megohm = Some(0.1);
    request.job.parts[1].coils[0].to_frame_over_range = false;
    request.job.parts[1].overrides.push(Override {
        check: "polarity".to_owned(),
        verdict: Verdict::Pass,
        reason: "seen".to_owned(),
        by: String::new(),
        at_ms: 0.0,
    });
    let found = summary(&request);
    let expected = [
        ("r", JobCheck::Coil, CellState::Fail),
        ("l", JobCheck::Look, CellState::NotProven),
        ("r", JobCheck::Polarity, CellState::Pass),
    ];
    assert_eq!((found.whole, items(&found)), (Verdict::Fail, expected.to_vec()));
    assert_eq!(found.items.iter().map(|i| i.by_hand).collect::<Vec<_>>(), [false, false, true]);
}

#[test]
fn nothing_that_passes_proves_nothing() {
    // A control that has none of the points: its only check is done, and says nothing.
    let absent = |point: &&str| Look {
        point: (*point).to_owned(),
        finding: Finding::Absent,
        note: String::new(),
        photos: Vec::new(),
        at_ms: 0.0,
    };
    let looks = points_of(PartKind::Control).iter().map(absent).collect();
    let part = Part { kind: PartKind::Control, looks, ..Part::default() };
    let found = summary(&OverviewRequest { job: Job { parts: vec![part], ..Job::default() }, readings: Vec::new() });
    assert_eq!((found.whole, items(&found)), (Verdict::NotProven, Vec::new()));
    let nothing = OverviewRequest { job: Job::default(), readings: Vec::new() };
    assert_eq!(summary(&nothing).whole, Verdict::NotProven);
}

#[test]
fn a_refused_reading_is_named_even_where_a_later_one_took_its_place() {
    let mut request = pair(40.2);
    let mut refused = reading("l-bad", "impedance", 40.0);
    refused.part.outcome = Outcome::Refused;
    refused.created_at_ms = 500.0;
    request.readings.push(refused);
    assert_eq!(summary(&request).refused, Vec::<String>::new());
    request.job.parts[0].filed.push(filed("l-bad", Phase::Returned));
    let found = summary(&request);
    assert_eq!((found.whole, found.refused), (Verdict::Pass, vec!["l-bad".to_owned()]));
}

#[test]
fn figures_as_found_and_as_left_are_of_one_kind_where_they_can_be() {
    let mut knock = reading("k0", "knock", 30.0);
    knock.part.values.remove("z_max_ohm");
    let readings =
        vec![reading("z0", "impedance", 31.0), knock, reading("z1", "impedance", 40.0), reading("k1", "knock", 41.0)];
    let part = Part {
        id: "l".to_owned(),
        coils: vec![coil_entry(Phase::AsFound, 1.0, 6.1), coil_entry(Phase::AsFound, 2.0, 6.15)],
        filed: vec![
            filed("z0", Phase::AsFound),
            filed("k0", Phase::AsFound),
            Filed {
                conditions: Conditions { temperature_c: Some(30.0), ..Conditions::default() },
                ..filed("z1", Phase::AsLeft)
            },
            filed("k1", Phase::Returned),
        ],
        references: vec![Reference::default()],
        ..Part::default()
    };
    let job = Job { parts: vec![part], ..Job::default() };
    let found = summary(&OverviewRequest { job, readings });
    let line = |name: &str| found.figures[0].lines.iter().find(|l| l.name == name).expect("measured").clone();
    let of = |s: &Option<Stated>| s.as_ref().map(|s| (s.check.clone(), (s.figure.value * 1e4).round() / 1e4));
    let f_s = line("f_s_hz");
    let wanted = |check: &str, value: f64| Some((check.to_owned(), value));
    assert_eq!((of(&f_s.found), of(&f_s.left)), (wanted("impedance", 31.0), wanted("impedance", 40.0)));
    // R_e left: only fits; at 30 °C 6.2/1.0393 = 5.9656. Found: by the fit as well, to be compared with that.
    let r_e = line("r_e_ohm");
    assert_eq!((of(&r_e.found), of(&r_e.left)), (wanted("impedance", 6.2), wanted("impedance", 5.9656)));
}

#[test]
fn r_e_is_ordered_as_published_else_as_found_and_judged_when_it_is_back() {
    let ordered = |part: Part| {
        let job = Job { parts: vec![part], ..Job::default() };
        let found = summary(&OverviewRequest { job, readings: Vec::new() });
        found.figures.first().and_then(|f| f.ordered_r_e.clone())
    };
    let coils = |left: &[f64]| {
        let back = left.iter().map(|shown| coil_entry(Phase::Returned, 2.0, *shown));
        [coil_entry(Phase::AsFound, 1.0, 6.0)].into_iter().chain(back).collect()
    };
    let found = |left: &[f64]| ordered(Part { coils: coils(left), ..Part::default() }).expect("6 Ω was found");
    // 6 Ω within 3 %: 5.82 to 6.18 Ω.
    let limits = found(&[]);
    assert!((limits.low.expect("set") - 5.82).abs() < 1e-9 && (limits.high.expect("set") - 6.18).abs() < 1e-9);
    assert_eq!((limits.value, limits.verdict), (None, Verdict::NotProven));
    // About ± 0.05 Ω.
    let verdicts = [6.05, 6.15, 6.4].map(|shown| found(&[shown]).verdict);
    assert_eq!(verdicts, [Verdict::Pass, Verdict::NotProven, Verdict::Fail]);
    // A coil that came back as ordered makes no driver accepted on which nothing else was done.
    let whole = |shown: f64| {
        let mut request = pair(40.2);
        request.job.parts[0].coils = coils(&[shown]);
        summary(&request).figures[0].accepted
    };
    assert_eq!([whole(6.05), whole(6.15), whole(6.4)], [Verdict::Pass, Verdict::NotProven, Verdict::Fail]);
    let alone = Job { parts: vec![Part { coils: coils(&[6.05]), ..Part::default() }], ..Job::default() };
    let alone = OverviewRequest { job: alone, readings: Vec::new() };
    assert_eq!(summary(&alone).figures[0].accepted, Verdict::NotProven);
    let published = Reference { name: R_E.to_owned(), value: 6.5, ..Reference::default() };
    let part = Part { coils: coils(&[6.05]), references: vec![published], ..Part::default() };
    assert_eq!(ordered(part).expect("published").verdict, Verdict::Fail);
    assert_eq!(ordered(Part { coils: vec![coil_entry(Phase::Returned, 2.0, 6.0)], ..Part::default() }), None);
}

#[test]
fn a_figure_is_as_good_as_the_worst_of_its_limits() {
    let mut request = pair(40.2);
    let hold =
        |value: f64| Reference { name: "f_s_hz".to_owned(), value, below: 0.05, above: 0.05, ..Reference::default() };
    request.job.parts[0].references.push(hold(40.0));
    let of = |request: &OverviewRequest, name: &str| {
        summary(request).groups[0].figures.iter().find(|f| f.name == name).map(|f| f.verdict)
    };
    assert_eq!(of(&request, "f_s_hz"), Some(Verdict::Pass));
    request.job.parts[1].references.push(hold(50.0));
    assert_eq!((of(&request, "f_s_hz"), of(&request, "q_ts")), (Some(Verdict::Fail), Some(Verdict::Pass)));
}
