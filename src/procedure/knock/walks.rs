//! Walks every branch of the knock check.

use super::super::bench::{KnockBench, Sensor, Socket};
use super::super::rehearsal::{chosen, heard_take, knock, nonsense, reading, respond};
use super::super::step::{Action, Answer, DrawingKind, Happening, Step};
use super::step;
use crate::math::random::Random;
use crate::signal::notice::Code;
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

fn bench(sensor: Sensor, socket: Option<Socket>) -> KnockBench {
    KnockBench {
        sensor,
        channel: 1,
        socket,
        r_e_ohm: None,
        input_resistance_ohm: None,
        effective_diameter_m: None,
        practice: false,
    }
}

const STEPS: [&str; 22] = [
    "setup_refused",
    "bench_card",
    "connect",
    "listen",
    "listen_loaded",
    "listen_weighted",
    "listen_boxed",
    "listen_boxed_loaded",
    "listen_refused",
    "box",
    "box_fitted",
    "box_loaded",
    "load",
    "load_fitted",
    "weight",
    "weight_fitted",
    "opened",
    "analyse",
    "read",
    "read_doubtful",
    "read_refused",
    "finished",
];

/// Answers a step as a careful person does; knocks ring at `ring`: frequency and Q.
fn straight_on(next: &Step, count: usize, ring: (f64, f64)) -> Happening {
    let id = next.id.clone();
    match &next.action {
        Action::Tick { .. } | Action::Confirm { .. } => Happening::Confirmed { step: id, answers: BTreeMap::new() },
        Action::Ask { fields, .. } => {
            let value = |f: &super::super::step::Field| match f.id.as_str() {
                "added_mass_kg" => 0.05,
                "box_volume_m3" => 0.03,
                "driver_displacement_m3" => 0.002,
                "r_e_ohm" => 6.0,
                _ => f.default.unwrap_or((f.low * f.high).sqrt()),
            };
            let answers = fields.iter().map(|f| (f.id.clone(), Answer::Number(value(f)))).collect();
            Happening::Confirmed { step: id, answers }
        }
        Action::Listen { .. } => {
            let knocks = (0..5).map(|i| knock(3.0 * f64::from(i), -12.0, ring.0, ring.1)).collect();
            heard_take(next, &format!("take {count}"), knocks)
        }
        Action::Analyse { takes, .. } => Happening::Read { reading: reading(takes, 3) },
        Action::Done { .. } => Happening::Finished,
        other => panic!("{}: {other:?}", next.id),
    }
}

fn to(bench: &KnockBench, history: &mut Vec<Happening>, goal: &str, ring: (f64, f64)) -> Step {
    for _ in 0..30 {
        let next = step(bench, history);
        if next.id == goal {
            return next;
        }
        let count = history.len();
        history.push(straight_on(&next, count, ring));
    }
    panic!("{goal} is not reached");
}

#[test]
fn open_then_a_resistor_then_a_weight() {
    let bench = bench(Sensor::Coil, Some(Socket::Line));
    let mut history = Vec::new();
    let first = to(&bench, &mut history, "read", (30.0, 5.0));
    let Action::Done { next } = &first.action else { panic!("no reading") };
    assert_eq!(next[0].id, "add_resistor");
    history.push(chosen(&first, "add_resistor"));
    let asked = step(&bench, &history);
    assert_eq!(asked.id, "load");
    let Action::Ask { fields, .. } = &asked.action else { panic!("no question") };
    assert_eq!(fields.iter().map(|f| f.id.as_str()).collect::<Vec<_>>(), ["load_ohm", "r_e_ohm"]);
    // 1/1.6 − 1/5 = 0.425; 6/(0.4 · 0.425) − 6 = 29.3 Ω, nearest in E12 27 Ω.
    assert_eq!(fields[0].default, Some(27.0));
    let listening = to(&bench, &mut history, "listen_loaded", (30.0, 1.6));
    assert_eq!(listening.drawing.expect("a drawing").kind, DrawingKind::LoadResistor);
    assert!(matches!(listening.action, Action::Listen { load_ohm: Some(ohm), added_mass_kg: None, .. } if ohm == 27.0));
    let second = to(&bench, &mut history, "read", (30.0, 1.6));
    let Action::Done { next } = &second.action else { panic!("no reading") };
    assert_eq!(next[0].id, "add_weight");
    history.push(chosen(&second, "add_weight"));
    let third = to(&bench, &mut history, "read", (25.0, 5.0));
    assert!(third.notices.is_empty(), "{:?}", third.notices);
    history.pop();
    let analysed = step(&bench, &history);
    let Action::Analyse { takes, fields } = analysed.action else { panic!("{}", analysed.id) };
    let loads: Vec<_> = takes.iter().map(|t| (t.load_ohm, t.added_mass_kg)).collect();
    assert_eq!(loads, [(None, None), (Some(27.0), None), (None, Some(0.05))]);
    assert_eq!(fields["r_e_ohm"], 6.0);
}

/// A resistor, then a box, then the same resistor in the box: every take with what was connected.
#[test]
fn the_box_and_the_resistor_in_it() {
    let bench = bench(Sensor::Coil, Some(Socket::Line));
    let mut history = Vec::new();
    for (choice, listening) in
        [("add_resistor", "listen_loaded"), ("in_box", "listen_boxed"), ("box_resistor", "listen_boxed_loaded")]
    {
        let read = to(&bench, &mut history, "read", (30.0, 5.0));
        let Action::Done { next } = &read.action else { panic!("no reading") };
        assert!(next.iter().any(|c| c.id == choice), "{choice}: {next:?}");
        history.push(chosen(&read, choice));
        let listening = to(&bench, &mut history, listening, (40.0, 1.6));
        let drawing = listening.drawing.expect("a drawing");
        assert_eq!(drawing.kind == DrawingKind::InBox, choice != "add_resistor");
    }
    let Action::Analyse { takes, fields } = to(&bench, &mut history, "analyse", (40.0, 1.6)).action else {
        panic!("none")
    };
    let mounted: Vec<_> = takes.iter().map(|t| (t.load_ohm, t.box_volume_m3)).collect();
    assert_eq!(mounted, [(None, None), (Some(27.0), None), (None, Some(0.03)), (Some(27.0), Some(0.03))]);
    assert_eq!(fields["driver_displacement_m3"], 0.002);
}

/// A box that does not hold the driver is asked for again, with the reason.
#[test]
fn a_box_smaller_than_the_driver_is_asked_for_again() {
    let bench = bench(Sensor::Coil, Some(Socket::Line));
    let mut history = Vec::new();
    let read = to(&bench, &mut history, "read", (30.0, 5.0));
    history.push(chosen(&read, "in_box"));
    let asked = step(&bench, &history);
    // 26 cm across: about 0.2 · 26³ cm³ = 3.5 litres by themselves.
    let answers = [("box_volume_m3", 0.003), ("effective_diameter_m", 0.26)];
    let answers = answers.map(|(name, value)| (name.to_owned(), Answer::Number(value))).into();
    history.push(Happening::Confirmed { step: asked.id.clone(), answers });
    let again = step(&bench, &history);
    assert_eq!(again.id, "box");
    assert!(again.note.contains("more than the driver itself takes"), "{}", again.note);
}

#[test]
fn every_step_is_reached_and_no_other() {
    let mut random = Random::new(5);
    let mut seen = BTreeSet::new();
    let mut codes = BTreeSet::new();
    for walk in 0..1500 {
        let (sensor, socket) = match walk % 4 {
            0 => (Sensor::Microphone, None),
            1 => (Sensor::Coil, Some(Socket::Line)),
            2 => (Sensor::Coil, Some(Socket::Microphone)),
            _ => (Sensor::Coil, Some(Socket::Headset)),
        };
        let mut bench = bench(sensor, socket);
        bench.channel = usize::from(walk % 50 > 0);
        let mut history = Vec::new();
        for count in 0..50 {
            let next = step(&bench, &history);
            assert!(!next.sentence.is_empty() && !next.sentence.contains('!'), "{}", next.id);
            codes.extend(next.notices.iter().map(|n| n.code));
            history.push(respond(&next, &mut random, count));
            seen.insert(next.id);
        }
    }
    assert_eq!(seen, STEPS.iter().map(|s| (*s).to_owned()).collect());
    for code in
        [Code::LightWeight, Code::HeavyWeight, Code::Overdamped, Code::NoKnock, Code::TooFewKnocks, Code::Clipped]
    {
        assert!(codes.contains(&code), "{code:?} was never said");
    }
}

/// While the take runs, each knock changes the sentence, and enough of them end the take.
#[test]
fn the_sentence_follows_the_knocks() {
    let bench = bench(Sensor::Coil, Some(Socket::Line));
    let mut history = Vec::new();
    to(&bench, &mut history, "listen", (30.0, 5.0));
    let heard = |peaks: &[f64]| Happening::Heard {
        step: "listen".to_owned(),
        knocks: peaks.iter().map(|p| knock(1.0, *p, 30.0, 5.0)).collect(),
    };
    let mut say = |peaks: &[f64]| {
        history.push(heard(peaks));
        let next = step(&bench, &history);
        let Action::Listen { end_after_s, .. } = next.action else { panic!("{}", next.id) };
        (next.sentence, next.progress.expect("progress").done, end_after_s.is_some())
    };
    assert_eq!(say(&[-12.0]), ("Knock again, softly, near the edge.".to_owned(), 1, false));
    assert!(say(&[-12.0, 0.0]).0.starts_with("Softer."));
    assert!(say(&[-12.0, 0.0, -70.0]).0.starts_with("A little firmer."));
    assert_eq!(say(&[-12.0, 0.0, -70.0, -9.0, -9.0, -9.0, -9.0]).1, 5);
    assert!(say(&[-12.0, -12.0, -12.0, -12.0, -12.0]).2);
    history.push(Happening::SetAside { take: String::new(), knock: Some(5) });
    let next = step(&bench, &history);
    assert_eq!(next.progress.expect("progress").done, 4, "one was set aside by hand");
}

/// A knock set aside by hand while listening stays aside in the analysis.
#[test]
fn knocks_set_aside_reach_the_analysis() {
    let bench = bench(Sensor::Coil, None);
    let mut history = Vec::new();
    let listening = to(&bench, &mut history, "listen", (30.0, 5.0));
    history.push(Happening::SetAside { take: String::new(), knock: Some(2) });
    history.push(straight_on(&listening, 7, (30.0, 5.0)));
    let Action::Analyse { takes, .. } = step(&bench, &history).action else { panic!("no analysis") };
    assert_eq!(takes[0].set_aside, [2]);
}

#[test]
fn a_headset_socket_gets_its_resistor_and_capacitor() {
    let headset = bench(Sensor::Coil, Some(Socket::Headset));
    let connect = to(&headset, &mut Vec::new(), "connect", (30.0, 5.0));
    let drawing = connect.drawing.expect("a drawing");
    assert_eq!(drawing.kind, DrawingKind::HeadsetCable);
    assert!(drawing.labels.contains_key("series_capacitor") && drawing.labels.contains_key("series_resistor"));
    assert!(connect.cautions.iter().any(|c| c.id == "socket_feed"));
}

proptest! {
    /// Whatever is reported, there is a next step.
    #[test]
    fn nonsense_never_stumbles(seed in 0u64..u64::MAX, microphone: bool) {
        let mut random = Random::new(seed);
        let bench = bench(if microphone { Sensor::Microphone } else { Sensor::Coil }, None);
        let mut history = Vec::new();
        for _ in 0..40 {
            let choices = ["give_up", "add_resistor", "add_weight", "in_box", "box_resistor", "knock_again", "again:connect", "again:listen"];
            history.push(nonsense(&mut random, &STEPS, &choices));
            let next = step(&bench, &history);
            prop_assert!(STEPS.contains(&next.id.as_str()) && !next.sentence.is_empty());
        }
    }
}
