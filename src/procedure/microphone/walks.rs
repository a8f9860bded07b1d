//! Walks every branch of the check by microphone.

use super::super::bench::MicrophoneBench;
use super::super::rehearsal::{self, chosen, nonsense, respond, straight_on, took};
use super::super::step::{Action, Happening, Step};
use super::step;
use crate::math::random::Random;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::Outcome;
use crate::signal::stimulus::Shape;
use proptest::prelude::*;
use std::collections::BTreeSet;

const STEPS: [&str; 26] = [
    "setup_refused",
    "bench_card",
    "foam_refused",
    "output",
    "connect",
    "volts_tone",
    "volts",
    "level",
    "level_refused",
    "silence",
    "without",
    "forecast",
    "forecast_refused",
    "loaded",
    "with",
    "rough",
    "rough_refused",
    "with_shaped",
    "without_again",
    "takes_refused",
    "analyse",
    "read",
    "read_doubtful",
    "read_refused",
    "finished",
    "",
];

fn bench(practice: bool) -> MicrophoneBench {
    MicrophoneBench {
        series_resistor_ohm: 8.2,
        series_resistor_relative_uncertainty: None,
        channel: 1,
        limit_v: None,
        rate_hz: 48_000.0,
        practice,
    }
}

/// What is typed where ohms are asked for.
const OHM: f64 = 0.15;

/// Goes on until the step `goal`, and gives it.
fn to(bench: &MicrophoneBench, history: &mut Vec<Happening>, goal: &str) -> Step {
    for count in 0..60 {
        let next = step(bench, history);
        if next.id == goal {
            return next;
        }
        history.push(straight_on(&next, history.len() + count, OHM));
    }
    panic!("{goal} is never reached")
}

/// Ids on the way to the end, each once in a row.
fn road(bench: &MicrophoneBench, find_output: bool) -> String {
    let (mut history, mut ids): (Vec<Happening>, Vec<String>) = (Vec::new(), Vec::new());
    for count in 0..80 {
        let next = step(bench, &history);
        if ids.last() != Some(&next.id) {
            ids.push(next.id.clone());
        }
        match next.id.as_str() {
            "finished" => break,
            "output" if find_output => history.push(chosen(&next, "find_output")),
            _ => history.push(straight_on(&next, count, OHM)),
        }
    }
    ids.join(" ")
}

#[test]
fn a_careful_person_goes_straight_through() {
    let takes = "rough with_shaped without_again analyse read finished";
    let begin = "level silence without forecast";
    assert_eq!(road(&bench(true), false), format!("bench_card output connect {begin} with {takes}"));
    assert_eq!(
        road(&bench(false), true),
        format!("bench_card output connect volts_tone volts {begin} loaded with {takes}")
    );
}

#[test]
fn every_step_is_reached_and_no_other() {
    let mut random = Random::new(11);
    let mut seen: BTreeSet<String> = BTreeSet::new();
    for walk in 0..2500 {
        let mut bench = bench(walk % 3 > 0);
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

/// The second take with the resistor is louder by what the rehearsed driver (6 Ω, Q_es 0.4, Q_ms 5) behind 0.15 and 8.2 Ω
/// wants, 20 log10(14.35/6.15) = 7.3595 dB, and shaped at its resonance; the analysis is told.
#[test]
fn the_louder_take_is_shaped_by_the_rough_reading() {
    let bench = bench(true);
    let mut history = Vec::new();
    let Action::Play { stimulus: plain, .. } = to(&bench, &mut history, "with").action else { panic!("plays") };
    assert_eq!((plain.shape, plain.travel_shape, plain.high_hz), (Shape::MarkedMultisine, None, 1000.0));
    let Action::Play { stimulus, .. } = to(&bench, &mut history, "with_shaped").action else { panic!("plays") };
    let louder_db = stimulus.peak_dbfs - plain.peak_dbfs;
    assert!((louder_db - 7.3595).abs() < 5e-5, "{louder_db}");
    let shape = stimulus.travel_shape.expect("a shape");
    assert_eq!(shape[0], 30.0);
    let Action::Analyse { takes, fields } = to(&bench, &mut history, "analyse").action else { panic!("analyses") };
    assert_eq!(
        takes.iter().map(|t| t.role.as_str()).collect::<Vec<_>>(),
        ["without", "with", "with_shaped", "without"]
    );
    assert!((fields["shaped_louder_db"] - louder_db).abs() < 1e-12);
    assert_eq!([fields["shaped_at_hz"], fields["shaped_q_without"], fields["shaped_q_with"]], shape);
    assert_eq!(fields["output_resistance_ohm"], 0.15);
}

/// Gain that follows level: the louder take comes again at the others' level, twice at most, and then the refusal stands.
#[test]
fn a_level_that_is_off_is_met_twice_at_most() {
    let bench = bench(true);
    let mut history = Vec::new();
    let mut peaks = Vec::new();
    for round in 0..3 {
        let next = to(&bench, &mut history, "with_shaped");
        let Action::Play { stimulus, .. } = &next.action else { panic!("plays") };
        assert_eq!(next.note.contains("follows"), round > 0);
        peaks.push(stimulus.peak_dbfs);
        let Action::Analyse { takes, .. } = to(&bench, &mut history, "analyse").action else { panic!("analyses") };
        let mut reading = rehearsal::reading(&takes, 3);
        reading.outcome = Outcome::Refused;
        reading.refusal = Some(Notice::new(Code::GainRiding, &[("change_db", 0.5), ("level_apart_db", 0.3)]));
        history.push(Happening::Read { reading });
    }
    assert!((peaks[0] - peaks[1] - 0.3).abs() < 1e-9 && (peaks[1] - peaks[2] - 0.3).abs() < 1e-9, "{peaks:?}");
    assert_eq!(step(&bench, &history).id, "read_refused");
}

/// A forecast without hope ends the road before the resistor is looked for, and can be overruled.
#[test]
fn a_hopeless_room_is_told_before_the_resistor() {
    let bench = bench(true);
    let mut history = Vec::new();
    let Action::Analyse { takes, .. } = to(&bench, &mut history, "forecast").action else { panic!("analyses") };
    assert_eq!(takes.iter().map(|t| t.role.as_str()).collect::<Vec<_>>(), ["silence", "without"]);
    history.push(Happening::Read { reading: rehearsal::reading(&takes, 0) });
    let refused = step(&bench, &history);
    assert_eq!(refused.id, "forecast_refused");
    history.push(chosen(&refused, "go_on"));
    assert_eq!(step(&bench, &history).id, "with");
}

/// A forecast is told with the next take, at 95 %.
#[test]
fn a_forecast_is_told_in_words() {
    let bench = bench(true);
    let mut history = Vec::new();
    let Action::Analyse { takes, .. } = to(&bench, &mut history, "forecast").action else { panic!("analyses") };
    let mut reading = rehearsal::reading(&takes, 3);
    reading.values = [("forecast_f_s_percent_50_hz", 0.11), ("forecast_q_ts_percent_50_hz", 0.6)]
        .map(|(name, value)| (name.to_owned(), value))
        .into();
    history.push(Happening::Read { reading });
    let note = step(&bench, &history).note;
    assert!(note.contains("f_s ±0.22\u{a0}% and Q_ts ±1.2\u{a0}% at 50\u{a0}Hz"), "{note}");
}

/// A cut-off top in any take lowers the level of all of them, and the road begins again without the resistor.
#[test]
fn all_takes_are_lowered_together() {
    let bench = bench(true);
    for clipped in ["without", "with", "with_shaped", "without_again"] {
        let mut history = Vec::new();
        let next = to(&bench, &mut history, clipped);
        let Action::Play { stimulus: before, .. } = to(&bench, &mut Vec::new(), "without").action else {
            panic!("plays")
        };
        history.push(took(&next, "clipped", 0));
        let again = step(&bench, &history);
        assert_eq!(again.id, "without", "{clipped}");
        let Action::Play { stimulus, .. } = &again.action else { panic!("plays") };
        assert!((before.peak_dbfs - stimulus.peak_dbfs - 6.0).abs() < 1e-9, "{clipped}");
    }
}

proptest! {
    /// Whatever is reported, there is a next step.
    #[test]
    fn nonsense_never_stumbles(seed in 0u64..u64::MAX, practice: bool) {
        let mut random = Random::new(seed);
        let bench = bench(practice);
        let mut history = Vec::new();
        for _ in 0..40 {
            let choices = ["find_output", "go_on", "again:level", "again:connect", "again:with", "again:without"];
            history.push(nonsense(&mut random, &STEPS, &choices));
            let next = step(&bench, &history);
            prop_assert!(STEPS.contains(&next.id.as_str()) && !next.sentence.is_empty());
        }
    }
}
