//! Walks every branch of the check with one input.

use super::super::bench::OneChannelBench;
use super::super::rehearsal::{chosen, nonsense, respond, straight_on, took};
use super::super::step::{Action, Happening, Step};
use super::step;
use crate::math::random::Random;
use crate::signal::notice::{Code, Notice};
use proptest::prelude::*;
use std::collections::BTreeSet;

const STEPS: [&str; 22] = [
    "setup_refused",
    "bench_card",
    "foam_refused",
    "known_value",
    "connect",
    "level",
    "level_refused",
    "linearity_mid",
    "linearity_low",
    "linearity_refused",
    "resistor",
    "open",
    "output_value",
    "driver",
    "resistor_again",
    "takes_refused",
    "analyse",
    "read",
    "read_doubtful",
    "read_refused",
    "finished",
    "",
];

fn bench(new_device: bool, practice: bool) -> OneChannelBench {
    OneChannelBench {
        series_resistor_ohm: 47.0,
        series_resistor_relative_uncertainty: None,
        channel: 1,
        rate_hz: 48_000.0,
        new_device,
        practice,
    }
}

/// What is typed where ohms are asked for.
const OHM: f64 = 8.2;

/// Goes on until the step `goal`, and gives it.
fn to(bench: &OneChannelBench, history: &mut Vec<Happening>, goal: &str) -> Step {
    for count in 0..40 {
        let next = step(bench, history);
        if next.id == goal {
            return next;
        }
        history.push(straight_on(&next, history.len() + count, OHM));
    }
    panic!("{goal} is never reached")
}

#[test]
fn a_careful_person_goes_straight_through() {
    let mut history = Vec::new();
    let mut ids: Vec<String> = Vec::new();
    let bench = bench(true, false);
    for count in 0..60 {
        let next = step(&bench, &history);
        if ids.last() != Some(&next.id) {
            ids.push(next.id.clone());
        }
        if next.id == "finished" {
            break;
        }
        history.push(straight_on(&next, count, OHM));
    }
    let expected =
        "bench_card known_value connect level linearity_mid linearity_low resistor open driver resistor_again \
                    analyse read finished";
    assert_eq!(ids, expected.split_whitespace().collect::<Vec<_>>());
}

#[test]
fn every_step_is_reached_and_no_other() {
    let mut random = Random::new(11);
    let mut seen: BTreeSet<String> = BTreeSet::new();
    for walk in 0..1500 {
        let mut bench = bench(walk % 3 > 0, walk % 7 == 0);
        if walk % 50 == 0 {
            bench.series_resistor_ohm = -1.0;
        }
        let mut history = Vec::new();
        for count in 0..60 {
            let next = step(&bench, &history);
            assert!(!next.sentence.is_empty() && !next.sentence.contains('!'), "{}", next.id);
            history.push(respond(&next, &mut random, count));
            seen.insert(next.id);
        }
    }
    let expected: BTreeSet<String> = STEPS.iter().filter(|s| !s.is_empty()).map(|s| (*s).to_owned()).collect();
    assert_eq!(seen, expected);
}

/// A cut-off top in any take lowers the level of all of them, and the road begins again with the resistor.
#[test]
fn all_takes_are_played_at_one_level() {
    let bench = bench(false, true);
    for clipped in ["resistor", "open", "driver", "resistor_again"] {
        let mut history = Vec::new();
        let next = to(&bench, &mut history, clipped);
        let Action::Play { stimulus, .. } = &next.action else { panic!("plays") };
        let before = stimulus.peak_dbfs;
        history.push(took(&next, "clipped", 0));
        let again = step(&bench, &history);
        assert_eq!(again.id, "resistor", "{clipped}");
        let Action::Play { stimulus, .. } = &again.action else { panic!("plays") };
        assert!((before - stimulus.peak_dbfs - 6.0).abs() < 1e-9, "{clipped}");
    }
}

/// Lost samples void a take: it comes again, and after three the reason is given.
#[test]
fn lost_samples_void_a_take() {
    let bench = bench(false, true);
    let mut history = Vec::new();
    for tries in 0..3 {
        let next = to(&bench, &mut history, "driver");
        assert_eq!(next.notices.iter().any(|n| n.code == Code::Gap), tries > 0);
        let Happening::Took { step, mut take } = took(&next, &format!("bad {tries}"), 9) else { panic!("a take") };
        take.notices.push(Notice::new(Code::Gap, &[("mark_moved_samples", 128.0)]));
        history.push(Happening::Took { step, take });
    }
    let refused = step(&bench, &history);
    assert_eq!(refused.id, "takes_refused");
    history.push(chosen(&refused, "again:driver"));
    assert_eq!(step(&bench, &history).id, "driver");
}

/// The output's resistance can be typed instead of taken; the setup then carries it.
#[test]
fn the_output_can_be_typed() {
    let bench = bench(false, true);
    let mut history = Vec::new();
    let next = to(&bench, &mut history, "open");
    history.push(chosen(&next, "type_output"));
    assert_eq!(step(&bench, &history).id, "output_value");
    let analyse = to(&bench, &mut history, "analyse");
    let Action::Analyse { takes, fields } = &analyse.action else { panic!("analyses") };
    assert_eq!(
        takes.iter().map(|t| t.role.as_str()).collect::<Vec<_>>(),
        ["known_resistor", "driver", "known_resistor"]
    );
    assert_eq!(fields["output_resistance_ohm"], 8.2);
}

proptest! {
    /// Whatever is reported, there is a next step.
    #[test]
    fn nonsense_never_stumbles(seed in 0u64..u64::MAX, new_device: bool, practice: bool) {
        let mut random = Random::new(seed);
        let bench = bench(new_device, practice);
        let mut history = Vec::new();
        for _ in 0..40 {
            let choices = ["type_output", "again:level", "again:connect", "again:driver", "again:resistor"];
            history.push(nonsense(&mut random, &STEPS, &choices));
            let next = step(&bench, &history);
            prop_assert!(STEPS.contains(&next.id.as_str()) && !next.sentence.is_empty());
        }
    }
}
