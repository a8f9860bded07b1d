//! Walks every branch of the check of two drivers.

use super::super::bench::PairBench;
use super::super::rehearsal::{chosen, heard_take, knock, nonsense, on_each, reading, respond};
use super::super::step::{Action, Answer, DrawingKind, Happening, KnockNote, Step};
use super::step;
use crate::math::random::Random;
use crate::signal::notice::Code;
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

fn bench() -> PairBench {
    PairBench { first_channel: 1, second_channel: 2, input_resistance_ohm: Some(47_000.0), practice: false }
}

const STEPS: [&str; 15] = [
    "setup_refused",
    "bench_card",
    "connect",
    "listen",
    "listen_first",
    "listen_second",
    "listen_refused",
    "load",
    "first_loaded",
    "second_loaded",
    "opened",
    "analyse",
    "read",
    "read_doubtful",
    "read_refused",
];

fn five() -> Vec<KnockNote> {
    (0..5).map(|i| knock(3.0 * f64::from(i), -12.0, 30.0, 5.0)).collect()
}

/// Answers a step as a careful person does.
fn straight_on(next: &Step, count: usize) -> Happening {
    let step = next.id.clone();
    match &next.action {
        Action::Tick { .. } | Action::Confirm { .. } => Happening::Confirmed { step, answers: BTreeMap::new() },
        Action::Ask { fields, .. } => {
            let value =
                |f: &super::super::step::Field| f.default.unwrap_or(if f.id == "load_ohm" { 33.0 } else { 6.0 });
            let answers = fields.iter().map(|f| (f.id.clone(), Answer::Number(value(f)))).collect();
            Happening::Confirmed { step, answers }
        }
        Action::Listen { channel, second_channel, .. } => {
            heard_take(next, &format!("take {count}"), on_each(&five(), *channel, *second_channel))
        }
        Action::Analyse { takes, .. } => Happening::Read { reading: reading(takes, 3) },
        Action::Done { .. } => Happening::Finished,
        other => panic!("{}: {other:?}", next.id),
    }
}

fn to(history: &mut Vec<Happening>, goal: &str) -> Step {
    for _ in 0..30 {
        let next = step(&bench(), history);
        if next.id == goal {
            return next;
        }
        history.push(straight_on(&next, history.len()));
    }
    panic!("{goal} is not reached");
}

/// Both open, then one resistor across the first and across the second: the analysis gets each take in its role.
#[test]
fn open_then_one_resistor_on_each() {
    let mut history = Vec::new();
    let first = to(&mut history, "read");
    let Action::Done { next } = &first.action else { panic!("no reading") };
    assert_eq!(next[0].id, "add_resistor");
    history.push(chosen(&first, "add_resistor"));
    let fitted = to(&mut history, "second_loaded");
    let drawing = fitted.drawing.expect("a drawing");
    assert_eq!(drawing.kind, DrawingKind::PairCables);
    assert!(drawing.labels.contains_key("second_load") && !drawing.labels.contains_key("first_load"));
    let listening = to(&mut history, "listen_second");
    assert!(matches!(listening.action, Action::Listen { channel: 2, second_channel: None, load_ohm: Some(_), .. }));
    let Action::Analyse { takes, fields } = to(&mut history, "analyse").action else { panic!("no analysis") };
    let roles: Vec<_> = takes.iter().map(|t| (t.role.as_str(), t.load_ohm.is_some())).collect();
    assert_eq!(roles, [("free", false), ("first", true), ("second", true)]);
    assert_eq!((fields["first_r_e_ohm"], fields["input_resistance_ohm"]), (6.0, 47_000.0));
}

/// Whose turn it is follows what was heard, on either channel.
#[test]
fn the_sentence_names_the_driver_that_lacks_knocks() {
    let mut history = Vec::new();
    to(&mut history, "listen");
    let heard = |channels: &[usize]| Happening::Heard {
        step: "listen".to_owned(),
        knocks: channels.iter().map(|c| KnockNote { channel: *c, ..knock(1.0, -12.0, 30.0, 5.0) }).collect(),
    };
    let mut say = |channels: &[usize]| {
        history.push(heard(channels));
        let next = step(&bench(), &history);
        let Action::Listen { end_after_s, .. } = next.action else { panic!("{}", next.id) };
        (next.sentence, next.progress.expect("progress").done, end_after_s.is_some())
    };
    assert!(say(&[1]).0.ends_with("input 2 (right)."));
    assert!(say(&[1, 2]).0.ends_with("input 1 (left)."));
    // Six on one driver are no more than its four.
    assert_eq!(say(&[1, 1, 1, 1, 1, 1, 2]), ("Knock softly on the driver at input 2 (right).".to_owned(), 5, false));
    assert!(say(&[1, 1, 1, 1, 2, 2, 2, 2]).2);
}

#[test]
fn one_driver_without_knocks_is_named_and_a_joined_input_is_refused_at_once() {
    let take = |knocks: Vec<KnockNote>, code: Option<Code>| {
        let mut history = Vec::new();
        let listening = to(&mut history, "listen");
        let mut took = heard_take(&listening, "take", knocks);
        if let (Happening::Took { take, .. }, Some(code)) = (&mut took, code) {
            let notice = crate::signal::notice::Notice::new(code, &[("channel", 2.0)]);
            take.notices.push(notice);
        }
        history.push(took);
        step(&bench(), &history)
    };
    let again = take(on_each(&five(), 1, None), None);
    assert_eq!((again.id.as_str(), again.notices[0].code), ("listen", Code::TooFewKnocks));
    assert_eq!(again.notices[0].numbers["channel"], 2.0);
    for code in [Code::SameChannels, Code::DeadChannel] {
        let knocks = if code == Code::SameChannels { on_each(&five(), 1, Some(2)) } else { on_each(&five(), 1, None) };
        let refused = take(knocks, Some(code));
        assert_eq!(refused.id, "listen_refused", "{code:?}");
        assert!(matches!(refused.action, Action::Refuse { notice } if notice.code == code));
    }
}

#[test]
fn every_step_is_reached_and_no_other() {
    let mut random = Random::new(5);
    let mut seen = BTreeSet::new();
    let mut codes = BTreeSet::new();
    for walk in 0..800 {
        let mut bench = bench();
        bench.second_channel = if walk % 50 == 0 { 1 } else { 2 };
        let mut history = Vec::new();
        for count in 0..50 {
            let next = step(&bench, &history);
            assert!(!next.sentence.is_empty() && !next.sentence.contains('!'), "{}", next.id);
            codes.extend(next.notices.iter().map(|n| n.code));
            history.push(respond(&next, &mut random, count));
            seen.insert(next.id);
        }
    }
    let all: BTreeSet<String> = STEPS.iter().map(|s| (*s).to_owned()).chain(["finished".to_owned()]).collect();
    assert_eq!(seen, all);
    for code in [Code::TooFewKnocks, Code::Clipped] {
        assert!(codes.contains(&code), "{code:?} was never said");
    }
}

proptest! {
    /// Whatever is reported, there is a next step.
    #[test]
    fn nonsense_never_stumbles(seed in 0u64..u64::MAX) {
        let mut random = Random::new(seed);
        let mut history = Vec::new();
        for _ in 0..40 {
            let choices = ["give_up", "add_resistor", "knock_again", "again:connect", "again:listen"];
            history.push(nonsense(&mut random, &STEPS, &choices));
            let next = step(&bench(), &history);
            prop_assert!((STEPS.contains(&next.id.as_str()) || next.id == "finished") && !next.sentence.is_empty());
        }
    }
}
