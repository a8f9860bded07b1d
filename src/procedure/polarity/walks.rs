//! The roads of the polarity check, walked.

use super::step;
use crate::acoustic::polarity::PolarityMethod;
use crate::procedure::bench::PolarityBench;
use crate::procedure::rehearsal::took;
use crate::procedure::step::{Action, Answer, Happening, ReadingNote, Stage, Step};
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::Outcome;
use crate::signal::stimulus::Shape;
use std::collections::BTreeMap;

fn bench(method: PolarityMethod, input_inverts: Option<bool>) -> PolarityBench {
    PolarityBench { method, channel: 1, rate_hz: 48_000.0, input_inverts, practice: false }
}

fn confirmed(step: &Step, way: &str) -> Happening {
    let answers = BTreeMap::from([("way".to_owned(), Answer::Text(way.to_owned()))]);
    Happening::Confirmed { step: step.id.clone(), answers }
}

fn read_of(step: &Step, refusal: Option<Code>) -> Happening {
    let Action::Analyse { takes, .. } = &step.action else { panic!("{}", step.id) };
    let outcome = if refusal.is_some() { Outcome::Refused } else { Outcome::Reading };
    let reading = ReadingNote {
        takes: takes.iter().map(|t| t.id.clone()).collect(),
        outcome,
        refusal: refusal.map(|code| Notice::new(code, &[])),
        warnings: Vec::new(),
        values: BTreeMap::new(),
    };
    Happening::Read { reading }
}

/// Walks until a reading; gives the names of the steps.
fn walk(bench: &PolarityBench, history: &mut Vec<Happening>, way: &str, refusal: Option<Code>) -> Vec<String> {
    let mut ids = Vec::new();
    for count in 0..30 {
        let next = step(bench, history);
        ids.push(next.id.clone());
        history.push(match &next.action {
            Action::Play { .. } => took(&next, &format!("take {} {count}", history.len()), 9),
            Action::Analyse { .. } => read_of(&next, refusal),
            Action::Tick { .. } | Action::Confirm { .. } => confirmed(&next, way),
            _ => return ids,
        });
    }
    panic!("no end: {ids:?}");
}

#[test]
fn a_cell_teaches_the_input_and_drivers_follow() {
    let bench = bench(PolarityMethod::Push, None);
    let mut history = Vec::new();
    let ids = walk(&bench, &mut history, "cell", None);
    assert_eq!(ids, ["bench_card", "sign", "connect_cell", "cell", "connect_driver", "driver", "analyse", "read"]);
    history.push(Happening::Chosen { step: "read".to_owned(), choice: "another_driver".to_owned() });
    assert_eq!(walk(&bench, &mut history, "cell", None), ["connect_driver", "driver", "analyse", "read"]);
    let Some(Happening::Read { reading }) = history.last() else { panic!() };
    assert_eq!(reading.takes.len(), 3);
    // A known input asks nothing.
    let known = super::super::bench::PolarityBench { input_inverts: Some(true), ..bench };
    let ids = walk(&known, &mut Vec::new(), "cell", None);
    assert_eq!(ids, ["bench_card", "connect_driver", "driver", "analyse", "read"]);
}

#[test]
fn cautions_stand_where_the_danger_is() {
    let bench = bench(PolarityMethod::Push, None);
    let mut history = Vec::new();
    let mut seen = BTreeMap::new();
    for count in 0..8 {
        let next = step(&bench, &history);
        seen.insert(next.id.clone(), next.cautions.iter().map(|c| c.id.clone()).collect::<Vec<_>>());
        history.push(match &next.action {
            Action::Play { .. } => took(&next, &format!("take {count}"), 9),
            Action::Analyse { .. } => break,
            _ => confirmed(&next, "cell"),
        });
    }
    assert!(seen["bench_card"].contains(&"old_professional".to_owned()));
    for at in ["connect_cell", "cell"] {
        assert!(seen[at].contains(&"direct_current".to_owned()), "{seen:?}");
    }
}

/// The pulse starts soft and rises by a press and 6 dB at a time; louder makes the takes before it worthless.
#[test]
fn the_pulse_rises_by_a_press_only() {
    let bench = bench(PolarityMethod::Pulse, Some(false));
    let mut history = Vec::new();
    let mut levels = Vec::new();
    for _ in 0..6 {
        let _ = walk(&bench, &mut history, "compare", Some(Code::NoMovement));
        let played = history.iter().rev().find_map(|h| match h {
            Happening::Took { take, .. } => take.stimulus_peak_dbfs,
            _ => None,
        });
        levels.push(played.expect("a level"));
        let last = step(&bench, &history);
        assert_eq!((last.stage, last.id.as_str()), (Stage::Read, "read_refused"));
        let louder = last.choices.iter().any(|c| c.id == "louder");
        assert_eq!(louder, levels.len() < 5, "{levels:?}");
        if !louder {
            break;
        }
        history.push(Happening::Chosen { step: last.id, choice: "louder".to_owned() });
    }
    assert_eq!(levels, [-26.0, -20.0, -14.0, -8.0, -2.0]);
    let first = history.iter().find_map(|h| match h {
        Happening::Took { take, .. } => Some(take.role.clone()),
        _ => None,
    });
    assert_eq!(first.as_deref(), Some("driver"));
    let next = step(&bench, &[confirmed(&step(&bench, &[]), ""), Happening::SteppedBack]);
    assert_eq!(next.id, "bench_card");
    let _ = Shape::Pulse;
}
