//! Walks every branch of the check by meter.

use super::super::bench::{MeterBench, Output};
use super::super::rehearsal::{chosen, nonsense, respond};
use super::super::step::{Action, Answer, Happening, ReadingNote, Step};
use super::step;
use crate::driver::meter_check::analyse;
use crate::driver::meter_setup::MeterSetup;
use crate::electrical::meter_accuracy::MeterAccuracy;
use crate::electrical::meter_reading::Across;
use crate::math::fft::Complex64;
use crate::math::random::Random;
use crate::signal::notice::Code;
use crate::signal::reading::Outcome;
use std::collections::{BTreeMap, BTreeSet};

const STEPS: [&str; 13] = [
    "setup_refused",
    "foam_refused",
    "bench_card",
    "connect",
    "ohms",
    "level",
    "tone",
    "readings",
    "analyse",
    "read",
    "read_doubtful",
    "read_refused",
    "finished",
];

fn bench(across: Across, by_hand: bool) -> MeterBench {
    MeterBench {
        series_resistor_ohm: 10.0,
        series_resistor_relative_uncertainty: None,
        accuracy: MeterAccuracy { percent_of_reading: 0.5, counts: 0.0, resolution_v: 0.001, resolution_above_v: None },
        across,
        output: Output::Amplifier,
        limit_v: None,
        rate_hz: 48_000.0,
        by_hand,
        practice: false,
    }
}

/// A driver of 5.6 Ω, f_s 31 Hz, Q_ms 5, Q_es 0.4, and half a millihenry.
fn impedance_ohm(hz: f64) -> Complex64 {
    let x = hz / 31.0;
    Complex64::new(5.6, std::f64::consts::TAU * hz * 0.5e-3) + 70.0 / Complex64::new(1.0, 5.0 * (x - 1.0 / x))
}

/// What a meter shows on a bench of 20 V at full scale.
fn volts(hz: f64, peak_dbfs: f64, field: &str) -> f64 {
    let source_v = 20.0 * 10f64.powf(peak_dbfs / 20.0);
    let z = impedance_ohm(hz);
    let share = match field {
        "driver_v" => z.norm() / (z + 10.0).norm(),
        "resistor_v" => 10.0 / (z + 10.0).norm(),
        _ => 1.0,
    };
    (source_v * share * 1000.0).round() / 1000.0
}

/// Answers a step as a careful person does.
fn straight_on(bench: &MeterBench, next: &Step) -> Happening {
    let id = next.id.clone();
    match &next.action {
        Action::Tick { items, .. } => {
            let answers = items.iter().map(|i| (i.id.clone(), Answer::Bool(true))).collect();
            Happening::Confirmed { step: id, answers }
        }
        Action::Confirm { .. } => Happening::Confirmed { step: id, answers: BTreeMap::new() },
        Action::Ask { .. } if id == "ohms" => {
            let answers = [("ohms", 5.9), ("leads_ohm", 0.3)].map(|(n, v)| (n.to_owned(), Answer::Number(v))).into();
            Happening::Confirmed { step: id, answers }
        }
        Action::Sound { stimulus, fields, .. } => {
            let read = |f: &super::super::step::Field| volts(stimulus.low_hz, stimulus.peak_dbfs, &f.id);
            let mut answers: BTreeMap<String, Answer> =
                fields.iter().map(|f| (f.id.clone(), Answer::Number(read(f)))).collect();
            answers.insert("frequency_hz".to_owned(), Answer::Number(stimulus.low_hz));
            Happening::Confirmed { step: id, answers }
        }
        Action::Analyse { fields, .. } => Happening::Read { reading: read(bench, next, fields) },
        Action::Done { .. } => Happening::Finished,
        other => panic!("{}: {other:?}", next.id),
    }
}

fn read(bench: &MeterBench, next: &Step, fields: &BTreeMap<String, f64>) -> ReadingNote {
    let setup = MeterSetup {
        series_resistor_ohm: bench.series_resistor_ohm,
        series_resistor_relative_uncertainty: None,
        readings: next.readings.clone(),
        accuracy: bench.accuracy,
        r_e_ohm: fields.get("r_e_ohm").copied(),
        r_e_standard_uncertainty_ohm: None,
        frequency_relative_uncertainty: None,
    };
    let reading = analyse(&setup, &[]).expect("a usable setup");
    ReadingNote {
        takes: Vec::new(),
        outcome: reading.outcome,
        refusal: reading.refusal,
        warnings: reading.warnings.iter().map(|n| n.code).collect(),
        values: reading.values.iter().map(|(k, f)| (k.clone(), f.value)).collect(),
    }
}

fn to(bench: &MeterBench, history: &mut Vec<Happening>, goal: &str) -> Step {
    for _ in 0..40 {
        let next = step(bench, history);
        if next.id == goal {
            return next;
        }
        history.push(straight_on(bench, &next));
    }
    panic!("{goal} is not reached");
}

/// From the bench card to the reading in at most twelve tones, at about one volt; the figures are the driver's.
#[test]
fn straight_to_the_reading() {
    for across in [Across::Resistor, Across::Both] {
        let bench = bench(across, false);
        let mut history = Vec::new();
        let first = to(&bench, &mut history, "tone");
        let Action::Sound { stimulus, .. } = &first.action else { panic!("no tone") };
        assert!((volts(100.0, stimulus.peak_dbfs, "level_v") - 1.0).abs() < 0.02, "{}", stimulus.peak_dbfs);
        let last = to(&bench, &mut history, "read");
        assert!((8..=12).contains(&last.readings.len()), "{}", last.readings.len());
        let Some(Happening::Read { reading }) = history.last() else { panic!("no reading") };
        assert_eq!(reading.outcome, Outcome::Reading, "{:?}", reading.warnings);
        // Nothing but rounding is wrong: half a millivolt. Across the resistor that is 0.4 % of |Z| at the peak (0.13 V
        // there); across both it is 0.5 mV/(0.93 · 0.07 V) = 0.8 %, and Q_ms follows the peak twice over.
        let (f_s, q_ms) = if across == Across::Resistor { (0.003, 0.02) } else { (0.005, 0.04) };
        assert!((reading.values["f_s_hz"] / 31.0 - 1.0).abs() < f_s, "{}", reading.values["f_s_hz"]);
        assert!((reading.values["q_ms"] / 5.0 - 1.0).abs() < q_ms, "{}", reading.values["q_ms"]);
        let count = last.readings.len();
        history.push(chosen(&last, "another_tone"));
        let more = to(&bench, &mut history, "tone");
        assert_eq!(more.readings.len(), count);
        history.push(straight_on(&bench, &more));
        assert!(to(&bench, &mut history, "read").readings.len() > count);
    }
}

/// A tone never sounds louder than the limit: every step of the level is read before it counts.
#[test]
fn the_level_stays_within_its_limit() {
    let bench = MeterBench { limit_v: Some(0.3), ..bench(Across::Resistor, false) };
    let mut history = Vec::new();
    let tone = to(&bench, &mut history, "tone");
    let Action::Sound { stimulus, .. } = &tone.action else { panic!("no tone") };
    assert!(volts(100.0, stimulus.peak_dbfs, "level_v") <= 0.3 * 1.1);
    let levels = history.iter().filter(|h| h.step_id() == Some("level")).count();
    assert!((1..=3).contains(&levels), "{levels}");
}

/// Corrected, deleted and taken back: the list follows, and what was read is read anew.
#[test]
fn readings_are_corrected_deleted_and_taken_back() {
    let bench = bench(Across::Resistor, true);
    let mut history = Vec::new();
    to(&bench, &mut history, "readings");
    let typed = |more: &[(&str, f64)]| {
        let answers = more.iter().map(|(n, v)| ((*n).to_owned(), Answer::Number(*v))).collect();
        Happening::Confirmed { step: "readings".to_owned(), answers }
    };
    for hz in [14.0, 22.0, 27.0, 31.0, 36.0, 52.0, 110.0, 330.0] {
        let (d, r) = (volts(hz, -26.0, "driver_v"), volts(hz, -26.0, "resistor_v"));
        history.push(typed(&[("frequency_hz", hz), ("driver_v", d), ("resistor_v", r)]));
    }
    let good = step(&bench, &history);
    assert!(good.readings.len() == 8 && good.notices.is_empty(), "{:?}", good.notices);
    let was = good.readings[3];
    let typed_anew = [("number", 4.0), ("frequency_hz", 31.0), ("resistor_v", was.other_v())];
    history.push(typed(&[&typed_anew[..], &[("driver_v", 10.0 * was.driver_v)]].concat()));
    let slipped = step(&bench, &history);
    assert_eq!(slipped.notices[0].code, Code::Contradiction);
    assert_eq!(slipped.notices[0].numbers["reading"], 4.0);
    assert_eq!(slipped.notices[0].numbers["driver_probably_v"], was.driver_v);
    history.push(Happening::SteppedBack);
    assert_eq!(step(&bench, &history).readings, good.readings);
    history.push(Happening::Confirmed {
        step: "readings".to_owned(),
        answers: [("number", Answer::Number(8.0)), ("deleted", Answer::Bool(true))]
            .map(|(n, a)| (n.to_owned(), a))
            .into(),
    });
    let fewer = step(&bench, &history);
    assert_eq!(fewer.readings, good.readings[..7]);
    history.push(chosen(&fewer, "read_now"));
    let done = to(&bench, &mut history, "read");
    history.push(chosen(&done, "look_through"));
    assert_eq!(step(&bench, &history).id, "readings");
    history.push(chosen(&step(&bench, &history), "read_now"));
    assert_eq!(step(&bench, &history).id, "read", "nothing has changed: the reading still stands");
}

#[test]
fn every_step_is_reached_and_no_other() {
    let mut random = Random::new(7);
    let mut seen = BTreeSet::new();
    let crumbling = vec![chosen(&step(&bench(Across::Both, false), &[]), "foam_crumbles")];
    seen.insert(step(&bench(Across::Both, false), &crumbling).id);
    for walk in 0..14 {
        let across = if walk % 2 == 0 { Across::Resistor } else { Across::Both };
        let mut bench = bench(across, walk % 3 == 0);
        bench.series_resistor_ohm = if walk == 5 { 0.0 } else { 10.0 };
        let mut history = Vec::new();
        for count in 0..26 {
            let next = step(&bench, &history);
            assert!(!next.sentence.is_empty() && !next.sentence.contains('!'), "{}", next.id);
            let careful =
                walk > 4 && !matches!(next.action, Action::Refuse { .. } | Action::Done { .. } | Action::Ask { .. });
            history.push(match random.below(5) {
                1.. if careful && !matches!(next.action, Action::Analyse { .. }) => straight_on(&bench, &next),
                _ => respond(&next, &mut random, count),
            });
            seen.insert(next.id);
        }
    }
    assert_eq!(seen, STEPS.iter().map(|s| (*s).to_owned()).collect());
}

/// Whatever is reported, there is a next step.
#[test]
fn nonsense_never_stumbles() {
    for seed in 0..15 {
        let mut random = Random::new(seed);
        let bench = bench(if seed % 2 == 0 { Across::Resistor } else { Across::Both }, seed % 3 == 0);
        let mut history = Vec::new();
        for _ in 0..30 {
            let choices = ["read_now", "another_tone", "look_through", "skip", "again:level", "again:connect"];
            history.push(match random.below(3) {
                0 => {
                    let wild = |random: &mut Random| [f64::NAN, -1.0, 0.0, 1e9, 30.0, 0.5, 0.01, 3.0][random.below(8)];
                    let names = ["frequency_hz", "driver_v", "resistor_v", "source_v", "level_v", "number", "ohms"];
                    let answers = names.map(|n| (n.to_owned(), Answer::Number(wild(&mut random)))).into();
                    Happening::Confirmed { step: STEPS[random.below(STEPS.len())].to_owned(), answers }
                }
                _ => nonsense(&mut random, &STEPS, &choices),
            });
            let next = step(&bench, &history);
            assert!(STEPS.contains(&next.id.as_str()) && !next.sentence.is_empty());
        }
    }
}
