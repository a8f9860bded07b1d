use super::*;
use crate::math::budget::Budget;
use crate::signal::notice::Code;
use crate::signal::reading::{Figure, Outcome};

fn figure(value: f64, relative: f64) -> Figure {
    let mut budget = Budget::new(value);
    budget.add("noise", value * relative, false, f64::INFINITY);
    Figure::from_budget(budget, 1.96)
}

fn reading(check: &str, figures: &[(&str, f64)], codes: &[Code]) -> DiagnosisReading {
    DiagnosisReading {
        check: check.to_owned(),
        outcome: Outcome::Reading,
        values: figures.iter().map(|(name, value)| ((*name).to_owned(), figure(*value, 0.003))).collect(),
        codes: codes.to_vec(),
        frequency_hz: Vec::new(),
        magnitude_ohm: Vec::new(),
        magnitude_standard_uncertainty_ohm: Vec::new(),
    }
}

/// f_s, Q_ms, Q_es and R_e of a driver whose causes are these multiples of a good one's; by the definitions.
fn impedance(mass: f64, stiffness: f64, bl: f64, r_e: f64, loss: f64) -> DiagnosisReading {
    let omega = (stiffness / mass).sqrt();
    let figures = [
        ("f_s_hz", 40.0 * omega),
        ("q_ms", 5.0 * omega * mass / loss),
        ("q_es", 0.5 * omega * mass * r_e / (bl * bl)),
        ("r_e_ohm", 6.0 * r_e),
    ];
    reading("impedance", &figures, &[])
}

fn good() -> DiagnosisReading {
    impedance(1.0, 1.0, 1.0, 1.0, 1.0)
}

fn partner(readings: Vec<DiagnosisReading>) -> DiagnosisReference {
    DiagnosisReference::Partner { readings, dc_ohm: None, same_jig: true }
}

fn ask(readings: Vec<DiagnosisReading>, reference: DiagnosisReference) -> DiagnosisSetup {
    DiagnosisSetup { readings, dc_ohm: None, reference, level: None, spread: None }
}

fn named(d: &Diagnosis) -> Vec<(FaultPattern, WhoseFault)> {
    d.findings.iter().map(|f| (f.pattern, f.whose)).collect()
}

#[test]
fn a_joint_that_opens_comes_before_all_figures() {
    let loose = reading("loose_joint", &[], &[Code::LooseJoint]);
    let d = diagnose(&ask(vec![impedance(1.0, 2.0, 1.0, 1.0, 1.0), loose], partner(vec![good()])));
    assert_eq!((d.conclusion, d.next), (DiagnosisConclusion::Found, DiagnosisAction::MendLead));
    assert_eq!(named(&d), [(FaultPattern::LooseLead, WhoseFault::Part)]);
    let open = reading("impedance", &[], &[Code::OpenCircuit]);
    assert_eq!(
        named(&diagnose(&ask(vec![open], partner(vec![good()])))),
        [(FaultPattern::OpenCircuit, WhoseFault::Part)]
    );
}

#[test]
fn friction_is_a_rub_and_the_loss_is_no_second_fault() {
    let rubbing = || vec![impedance(1.0, 1.0, 1.0, 1.0, 1.8), reading("knock", &[], &[Code::Friction])];
    let d = diagnose(&ask(rubbing(), partner(vec![good()])));
    assert_eq!((d.conclusion, d.next), (DiagnosisConclusion::Found, DiagnosisAction::CentreCoil));
    assert_eq!(named(&d), [(FaultPattern::Rub, WhoseFault::Part)]);
    // A second fault beside the rub is still found.
    let mut both = rubbing();
    both[0] = impedance(1.0, 1.0, 0.8, 1.0, 1.8);
    let d = diagnose(&ask(both, partner(vec![good()])));
    assert_eq!(named(&d), [(FaultPattern::Rub, WhoseFault::Part), (FaultPattern::WeakMotor, WhoseFault::Part)]);
}

#[test]
fn more_loss_may_be_a_rub_until_it_was_knocked() {
    let lossy = impedance(1.0, 1.0, 1.0, 1.0, 2.0);
    let d = diagnose(&ask(vec![lossy.clone()], partner(vec![good()])));
    assert_eq!((d.conclusion, d.next), (DiagnosisConclusion::Undecided, DiagnosisAction::Knock));
    assert_eq!(named(&d), [(FaultPattern::LossChanged, WhoseFault::Either), (FaultPattern::Rub, WhoseFault::Part)]);
    let quiet = reading("knock", &[], &[]);
    let d = diagnose(&ask(vec![lossy, quiet], partner(vec![good()])));
    assert_eq!(
        (d.conclusion, named(&d)),
        (DiagnosisConclusion::Found, vec![(FaultPattern::LossChanged, WhoseFault::Either)])
    );
    assert!((d.findings[0].severity_percent.unwrap() - 100.0).abs() < 15.0, "{d:?}");
}

#[test]
fn the_faulty_one_may_be_the_partner() {
    let d = diagnose(&ask(vec![good()], partner(vec![impedance(1.0, 1.0, 0.8, 1.0, 1.0)])));
    assert_eq!(named(&d), [(FaultPattern::WeakMotor, WhoseFault::Reference)]);
    assert!((d.findings[0].severity_percent.unwrap() + 20.0).abs() < 3.0, "{d:?}");
}

#[test]
fn published_figures_decide_within_their_tolerance() {
    let published = |tolerance: f64| DiagnosisReference::Published {
        figures: [("f_s_hz", 40.0), ("q_ts", 0.4545), ("r_e_ohm", 6.0)]
            .map(|(name, value)| DiagnosisPublished { name: name.to_owned(), value, tolerance })
            .to_vec(),
    };
    let mut stiff = impedance(1.0, 1.7, 1.0, 1.0, 1.0);
    stiff.values.insert("q_ts".to_owned(), figure(0.4545 * 1.7f64.sqrt(), 0.003));
    let d = diagnose(&ask(vec![stiff.clone()], published(0.10)));
    assert_eq!(named(&d), [(FaultPattern::SuspensionStiff, WhoseFault::Part)], "{d:?}");
    // f_s and Q_ts are 30 % off: within a tolerance of 30 % that is what good ones do, and nothing would have shown.
    assert_eq!(diagnose(&ask(vec![stiff], published(0.30))).conclusion, DiagnosisConclusion::TooLittle);
}

#[test]
fn a_part_is_nearer_to_itself_than_to_its_partner() {
    let aged = impedance(1.0, 0.86, 1.0, 1.0, 1.0);
    let earlier = DiagnosisReference::Earlier { readings: vec![good()], dc_ohm: None, same_jig: true };
    assert_eq!(named(&diagnose(&ask(vec![aged], earlier))), [(FaultPattern::SuspensionSoft, WhoseFault::Part)]);
}

#[test]
fn one_figure_tells_that_something_is_wrong_but_not_what() {
    let only = |hz: f64| reading("knock", &[("f_s_hz", hz)], &[]);
    let d = diagnose(&ask(vec![only(48.0)], partner(vec![only(40.0)])));
    assert_eq!((d.conclusion, d.next), (DiagnosisConclusion::Undecided, DiagnosisAction::MeasureImpedance));
    assert!(d.findings.iter().all(|f| f.confidence == FindingConfidence::Possible) && d.findings.len() > 1, "{d:?}");
    let figures = vec![DiagnosisPublished { name: "f_s_hz".to_owned(), value: 40.0, tolerance: 0.1 }];
    let stated = diagnose(&ask(vec![only(48.0)], DiagnosisReference::Published { figures }));
    assert_eq!((stated.conclusion, stated.findings.len()), (DiagnosisConclusion::Undecided, 1));
    assert_eq!(stated.findings[0].confidence, FindingConfidence::Possible);
    let none = diagnose(&ask(vec![only(40.0)], partner(Vec::new())));
    assert_eq!(
        (none.conclusion, none.not_shown.contains(&FaultPattern::ShortedTurns)),
        (DiagnosisConclusion::TooLittle, true)
    );
}

#[test]
fn what_a_sound_reading_would_have_missed_is_named() {
    let d = diagnose(&ask(vec![good()], partner(vec![good()])));
    assert_eq!((d.conclusion, d.next), (DiagnosisConclusion::Sound, DiagnosisAction::Knock));
    // Nobody knocked, nobody flexed a lead.
    assert_eq!(d.not_shown, [FaultPattern::Rub, FaultPattern::LooseLead]);
    // Where the peak is only three times R_e, two shorted turns of a hundred hide in what pairs differ by.
    let flat = || reading("impedance", &[("f_s_hz", 40.0), ("q_ms", 1.5), ("q_es", 0.5), ("r_e_ohm", 6.0)], &[]);
    let hidden = diagnose(&ask(vec![flat()], partner(vec![flat()]))).not_shown;
    assert!(hidden.contains(&FaultPattern::ShortedTurns), "{hidden:?}");
    assert_eq!(d.no_check_yet.len(), 4);
}

#[test]
fn the_level_tells_glue_from_a_weak_magnet() {
    // A tenth more mass and as much less Bl: f_s and Q's alone hardly part them.
    let heavy = impedance(1.1, 1.0, 1.0, 1.0, 1.0);
    let mut setup = ask(vec![heavy], partner(vec![good()]));
    let before = diagnose(&setup).findings.first().map_or(1.0, |f| f.left_over);
    setup.level = Some(LevelDifference { db: -20.0 * 1.1f64.log10(), standard_uncertainty_db: 0.15 });
    let d = diagnose(&setup);
    assert_eq!(named(&d), [(FaultPattern::AddedMass, WhoseFault::Part)], "{d:?} {before}");
    assert!(d.evidence.iter().any(|e| e.name == "level"));
}

#[test]
fn a_meter_stands_in_for_the_resistance() {
    let ring = |f_s: f64, q_es: f64| reading("knock", &[("f_s_hz", f_s), ("q_ms", 5.0), ("q_es", q_es)], &[]);
    let reference = DiagnosisReference::Partner {
        readings: vec![ring(40.0, 0.5)],
        dc_ohm: Some(figure(6.0, 0.005)),
        same_jig: true,
    };
    let mut setup = ask(vec![ring(40.0, 0.6)], reference);
    setup.dc_ohm = Some(figure(7.2, 0.005));
    assert_eq!(named(&diagnose(&setup)), [(FaultPattern::OtherWire, WhoseFault::Either)]);
}
