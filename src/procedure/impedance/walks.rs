//! Walks every branch of the impedance check.

use super::super::bench::{ImpedanceBench, Output};
use super::super::rehearsal::{self, channel, chosen, nonsense, respond, took};
use super::super::step::{Action, Answer, Field, Happening, Stage, Step};
use super::step;
use crate::math::random::Random;
use crate::signal::notice::Code;
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn bench(output: Output, new_device: bool, practice: bool) -> ImpedanceBench {
    ImpedanceBench {
        series_resistor_ohm: 47.0,
        series_resistor_relative_uncertainty: None,
        source_channel: 1,
        driver_channel: 2,
        output,
        limit_v: None,
        rate_hz: 48_000.0,
        new_device,
        practice,
    }
}

const STEPS: [&str; 32] = [
    "setup_refused",
    "bench_card",
    "foam_refused",
    "connect",
    "volts_tone",
    "volts",
    "level",
    "level_refused",
    "linearity_mid",
    "linearity_low",
    "linearity_refused",
    "same_node",
    "known_resistor_value",
    "known_resistor",
    "short",
    "open",
    "reconnect",
    "driver",
    "driver_again",
    "driver_refused",
    "weight",
    "weight_fitted",
    "driver_weighted",
    "box",
    "box_fitted",
    "driver_in_box",
    "mounted_refused",
    "analyse",
    "read",
    "read_doubtful",
    "read_refused",
    "finished",
];

/// Answers every step as a careful person on a good bench does.
pub(super) fn straight_on(next: &Step, count: usize) -> Happening {
    let id = next.id.clone();
    match &next.action {
        Action::Tick { items, .. } => {
            let answers = items.iter().map(|i| (i.id.clone(), Answer::Bool(true))).collect();
            Happening::Confirmed { step: id, answers }
        }
        Action::Confirm { .. } => Happening::Confirmed { step: id, answers: BTreeMap::new() },
        Action::Ask { fields, .. } => {
            // 10 mV at −40 dBFS: 1 V at full scale, so that the limit of volts does not stand in the way.
            let value = |f: &Field| if f.id == "output_v" { 0.01 } else { (f.low * f.high).sqrt() };
            let answers = fields.iter().map(|f| (f.id.clone(), Answer::Number(value(f)))).collect();
            Happening::Confirmed { step: id, answers }
        }
        Action::Play { .. } => match took(next, &format!("take {count}"), 9) {
            Happening::Took { step, mut take } => {
                // 47 Ω against the known resistor, about 31.6 Ω: the levels must say so.
                if let Some(ohm) = take.resistor_ohm {
                    let source = take.channels[0].signal_dbfs.unwrap_or(0.0);
                    take.channels[1].signal_dbfs = Some(source + 20.0 * (ohm / (ohm + 47.0)).log10());
                }
                Happening::Took { step, take }
            }
            other => other,
        },
        Action::Analyse { takes, .. } => Happening::Read { reading: rehearsal::reading(takes, 3) },
        Action::Done { .. } => Happening::Finished,
        other => panic!("{}: {other:?}", next.id),
    }
}

/// Ids of the steps from the first to the end.
fn road(bench: &ImpedanceBench) -> Vec<String> {
    let mut history = Vec::new();
    let mut ids: Vec<String> = Vec::new();
    for count in 0..60 {
        let next = step(bench, &history);
        if ids.last() != Some(&next.id) {
            ids.push(next.id.clone());
        }
        if next.id == "finished" {
            return ids;
        }
        history.push(straight_on(&next, count));
    }
    panic!("no end: {ids:?}")
}

#[test]
fn a_careful_person_goes_straight_through() {
    let practice = road(&bench(Output::Headphones, false, true));
    assert_eq!(practice, ["bench_card", "connect", "level", "driver", "analyse", "read", "finished"]);
    let full = road(&bench(Output::Amplifier, true, false));
    let expected =
        "bench_card connect volts_tone volts level linearity_mid linearity_low same_node known_resistor_value \
        known_resistor short reconnect driver analyse read finished";
    assert_eq!(full, expected.split_whitespace().collect::<Vec<_>>());
}

#[test]
fn every_step_is_reached_and_no_other() {
    let mut random = Random::new(11);
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let mut stages = BTreeSet::new();
    for walk in 0..1500 {
        let output = if walk % 2 == 0 { Output::Amplifier } else { Output::Headphones };
        let mut bench = bench(output, walk % 3 > 0, walk % 7 == 0);
        if walk % 50 == 0 {
            bench.series_resistor_ohm = -1.0;
        }
        let mut history = Vec::new();
        for count in 0..50 {
            let next = step(&bench, &history);
            assert!(!next.sentence.is_empty() && !next.sentence.contains('!'), "{}", next.id);
            stages.insert(next.stage);
            history.push(respond(&next, &mut random, count));
            seen.insert(next.id);
        }
    }
    let expected: BTreeSet<String> = STEPS.iter().map(|s| (*s).to_owned()).collect();
    assert_eq!(seen, expected);
    assert_eq!(stages.len(), 4, "{stages:?}");
}

/// A bench of two numbers: how loud the driver's input is against full scale, and its noise.
fn level_take(next: &Step, gain_db: f64, noise_dbfs: f64) -> Happening {
    let Happening::Took { step, mut take } = took(next, &next.id.clone(), 9) else { panic!("no take") };
    let peak = take.stimulus_peak_dbfs.unwrap_or(0.0) + gain_db;
    take.id = format!("level {peak}");
    let clipped = peak > 0.0;
    let make = |peak: f64| {
        let mut c = channel(peak.min(0.0), peak - 10.0 - noise_dbfs);
        c.clipped_samples = if clipped { 5 } else { 0 };
        c
    };
    take.channels = vec![make(peak), make(peak - 15.0)];
    Happening::Took { step, take }
}

proptest! {
    /// Levels start at −50 dBFS or below, rise by at most 6 dB, never pass the top, and the search ends.
    #[test]
    fn the_level_rises_gently_and_ends(gain_db in -40.0f64..60.0, noise_dbfs in -110.0f64..-20.0, limit_v in 0.05f64..5.0) {
        let mut bench = bench(Output::Amplifier, false, false);
        bench.limit_v = Some(limit_v);
        let full_v = 20.0;
        let mut history: Vec<Happening> = Vec::new();
        let mut before: Option<f64> = None;
        for count in 0..40 {
            let next = step(&bench, &history);
            match (&next.action, next.id.as_str()) {
                (Action::Ask { .. }, "volts") => {
                    let read_v = full_v * 0.01;
                    let answers = BTreeMap::from([("output_v".to_owned(), Answer::Number(read_v))]);
                    history.push(Happening::Confirmed { step: next.id, answers });
                }
                (Action::Play { stimulus, .. }, "level") => {
                    prop_assert!(stimulus.peak_dbfs <= super::level::TOP_DBFS);
                    prop_assert!(full_v * 10f64.powf(stimulus.peak_dbfs / 20.0) <= limit_v * 1.001);
                    match before {
                        None => prop_assert!(stimulus.peak_dbfs <= super::level::START_DBFS),
                        Some(last) => prop_assert!(stimulus.peak_dbfs - last <= super::level::STEP_DB + 1e-9),
                    }
                    before = Some(stimulus.peak_dbfs);
                    history.push(level_take(&next, gain_db, noise_dbfs));
                }
                (Action::Refuse { notice }, _) => {
                    let reasons = [Code::TooQuiet, Code::Clipped, Code::Silent, Code::DeadChannel, Code::GainRiding];
                    prop_assert!(reasons.contains(&notice.code));
                    return Ok(());
                }
                (_, "same_node") => return Ok(()),
                _ => history.push(straight_on(&next, count)),
            }
        }
        prop_assert!(false, "the search does not end");
    }

    /// Whatever is reported, there is a next step.
    #[test]
    fn nonsense_never_stumbles(seed in 0u64..u64::MAX, amplifier: bool, new_device: bool, practice: bool) {
        let mut random = Random::new(seed);
        let output = if amplifier { Output::Amplifier } else { Output::Headphones };
        let bench = bench(output, new_device, practice);
        let mut history = Vec::new();
        for _ in 0..40 {
            let choices = ["skip", "skip_calibrations", "another_take", "again:level", "again:connect", "again:driver", "short", "open", "add_weight", "in_box", "give_up", "without_mountings"];
            history.push(nonsense(&mut random, &STEPS, &choices));
            let next = step(&bench, &history);
            prop_assert!(STEPS.contains(&next.id.as_str()) && !next.sentence.is_empty());
        }
    }
}

#[test]
fn steps_back_undo_one_decision() {
    let bench = bench(Output::Headphones, false, true);
    let mut history = Vec::new();
    let mut ids = Vec::new();
    for count in 0..6 {
        let next = step(&bench, &history);
        ids.push(next.id.clone());
        history.push(straight_on(&next, count));
    }
    history.push(Happening::SteppedBack);
    let back = step(&bench, &history);
    assert_eq!(back.id, "level", "{ids:?}");
    let Action::Play { by_itself, .. } = back.action else { panic!("{}", back.id) };
    assert!(!by_itself, "after a step back nothing sounds without a press");
    history.push(Happening::SteppedBack);
    assert_eq!(step(&bench, &history).id, "connect");
}

/// Riding gain is told from the two tones: 20 dB played, 14 dB heard.
#[test]
fn riding_gain_is_refused() {
    let bench = bench(Output::Headphones, true, false);
    let mut history = Vec::new();
    for count in 0..60 {
        let next = step(&bench, &history);
        if next.id == "linearity_refused" {
            let Action::Refuse { notice } = next.action else { panic!("no refusal") };
            assert_eq!(notice.code, Code::GainRiding);
            assert!((notice.numbers["change_db"] - 6.0).abs() < 1e-9, "{:?}", notice.numbers);
            return;
        }
        let mut answer = straight_on(&next, count);
        if let (Happening::Took { take, .. }, "linearity_mid") = (&mut answer, next.id.as_str()) {
            let quiet = history.iter().any(|h| matches!(h, Happening::Took { step, .. } if step == "linearity_mid"));
            take.channels[0].signal_dbfs = Some(if quiet { -30.0 } else { -16.0 });
            take.channels[0].snr_db = Some(50.0);
        }
        history.push(answer);
    }
    panic!("never refused");
}

/// A driver take with cut-off tops is taken again 6 dB lower.
#[test]
fn clipped_takes_come_again_more_softly() {
    let bench = bench(Output::Headphones, false, true);
    let mut history = Vec::new();
    let mut levels = Vec::new();
    for count in 0..20 {
        let next = step(&bench, &history);
        if let (Action::Play { stimulus, .. }, "driver") = (&next.action, next.id.as_str()) {
            levels.push(stimulus.peak_dbfs);
            if levels.len() == 2 {
                assert!(next.notices.iter().any(|n| n.code == Code::Clipped));
                assert!((levels[0] - levels[1] - 6.0).abs() < 1e-9, "{levels:?}");
                return;
            }
            history.push(took(&next, "clipped", 0));
            continue;
        }
        history.push(straight_on(&next, count));
    }
    panic!("never measured");
}

/// Weight and box are asked for at the reading, take their values and one more take each, and all takes are read together;
/// a slip of the pen is asked again.
#[test]
fn weight_and_box_are_further_rounds() {
    let bench = bench(Output::Headphones, false, true);
    let mut history = Vec::new();
    let mut count = 0;
    let mut slipped = false;
    let mut ids = Vec::new();
    for choice in ["add_weight", "in_box", ""] {
        let read = loop {
            let next = step(&bench, &history);
            if next.id.starts_with("read") {
                break next;
            }
            ids.push(next.id.clone());
            let mut answer = straight_on(&next, count);
            if let (Happening::Confirmed { answers, .. }, "box", false) = (&mut answer, next.id.as_str(), slipped) {
                // Ten litres for a driver that takes 17: no box at all.
                answers.insert("box_volume_m3".to_owned(), Answer::Number(0.010));
                answers.insert("driver_displacement_m3".to_owned(), Answer::Number(0.017));
                slipped = true;
            }
            history.push(answer);
            count += 1;
            assert!(count < 60, "{ids:?}");
        };
        if !choice.is_empty() {
            history.push(chosen(&read, choice));
        }
    }
    assert_eq!(ids.iter().filter(|id| *id == "box").count(), 2, "asked again: {ids:?}");
    let Some(Happening::Read { reading }) = history.last() else { panic!("{ids:?}") };
    assert_eq!(reading.takes.len(), 3);
    let mounted: Vec<_> = history
        .iter()
        .filter_map(|h| match h {
            Happening::Took { step, take } if step.starts_with("driver_") => {
                Some((take.added_mass_kg.is_some(), take.box_volume_m3.is_some()))
            }
            _ => None,
        })
        .collect();
    assert_eq!(mounted, [(true, false), (false, true)]);
    let last = step(&bench, &history);
    history.push(chosen(&last, "without_mountings"));
    let Action::Analyse { takes, .. } = step(&bench, &history).action else { panic!("no analysis") };
    assert_eq!(takes.len(), 1);
}

/// A reading is made of the takes as they are: another take, or one set aside, calls for a new one.
#[test]
fn new_takes_call_for_a_new_reading() {
    let bench = bench(Output::Headphones, false, true);
    let mut history = Vec::new();
    let mut count = 0;
    let to = |history: &mut Vec<Happening>, count: &mut usize, goal: &str| loop {
        let next = step(&bench, history);
        if next.id == goal {
            return next;
        }
        history.push(straight_on(&next, *count));
        *count += 1;
        assert!(*count < 50);
    };
    let read = to(&mut history, &mut count, "read");
    assert_eq!(read.stage, Stage::Read);
    history.push(chosen(&read, "another_take"));
    assert_eq!(step(&bench, &history).id, "driver_again");
    let read = to(&mut history, &mut count, "analyse");
    let Action::Analyse { takes, .. } = read.action else { panic!("no analysis") };
    assert_eq!(takes.len(), 2);
    let _ = to(&mut history, &mut count, "read");
    history.push(Happening::SetAside { take: takes[0].id.clone(), knock: None });
    assert_eq!(step(&bench, &history).id, "driver_again");
}
