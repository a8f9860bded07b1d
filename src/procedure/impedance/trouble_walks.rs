//! Walks with trouble on the way: lost samples, and a calibration that is not asked for.

use super::super::bench::{ImpedanceBench, Output};
use super::super::rehearsal::{chosen, took};
use super::super::step::{Action, Happening, Step};
use super::step;
use super::walks::{bench, straight_on};
use crate::signal::notice::{Code, Notice};

fn gap() -> Notice {
    Notice::new(Code::Gap, &[("slips", 1.0)])
}

/// A take of this step with lost samples, which look like noise.
fn broken(next: &Step, count: usize) -> Happening {
    let mut answer = took(next, &format!("broken {count}"), 9);
    if let Happening::Took { take, .. } = &mut answer {
        take.notices.push(gap());
        take.channels.iter_mut().for_each(|c| (c.snr_db, c.drift_db) = (Some(8.0), Some(3.0)));
    }
    answer
}

/// The first step of this name on the straight road.
fn until(bench: &ImpedanceBench, history: &mut Vec<Happening>, goal: &str) -> Step {
    for count in 0..60 {
        let next = step(bench, history);
        if next.id == goal {
            return next;
        }
        history.push(straight_on(&next, 100 * history.len() + count));
    }
    panic!("{goal} is not reached")
}

fn played_dbfs(step: &Step) -> f64 {
    match &step.action {
        Action::Play { stimulus, .. } => stimulus.peak_dbfs,
        other => panic!("{}: {other:?}", step.id),
    }
}

/// A lost buffer tells nothing about the level: the same one again, three times in all, then it is said.
#[test]
fn lost_samples_do_not_make_it_louder() {
    let bench = bench(Output::Headphones, false, true);
    let mut history = Vec::new();
    let first = until(&bench, &mut history, "level");
    for count in 0..2 {
        history.push(broken(&first, count));
        let again = step(&bench, &history);
        assert_eq!((again.id.as_str(), played_dbfs(&again)), ("level", played_dbfs(&first)));
        assert!(again.notices.iter().any(|n| n.code == Code::Gap), "it says why");
    }
    let mut recovered = history.clone();
    recovered.push(straight_on(&first, 7));
    assert_ne!(step(&bench, &recovered).id, "level_refused");
    history.push(broken(&first, 2));
    let refused = step(&bench, &history);
    let Action::Refuse { notice } = &refused.action else { panic!("{}", refused.id) };
    assert_eq!(notice.code, Code::Gap);
}

/// Nor does it look like gain control in the check with two tones.
#[test]
fn a_broken_tone_is_played_again() {
    let bench = bench(Output::Headphones, true, true);
    let mut history = Vec::new();
    let loud = until(&bench, &mut history, "linearity_mid");
    history.push(broken(&loud, 0));
    let again = step(&bench, &history);
    assert_eq!((again.id.as_str(), played_dbfs(&again)), ("linearity_mid", played_dbfs(&loud)));
    let mut recovered = history.clone();
    assert_eq!(until(&bench, &mut recovered, "driver").id, "driver");
    history.extend([broken(&loud, 1), broken(&loud, 2)]);
    let refused = step(&bench, &history);
    let Action::Refuse { notice } = &refused.action else { panic!("{}", refused.id) };
    assert_eq!((refused.id.as_str(), notice.code), ("linearity_refused", Code::Gap));
    assert_eq!(refused.choices.len(), 2, "again, or without");
}

/// 'The inputs alone': offered while the leads are off the driver and beside a reading, refused with the driver still on.
#[test]
fn the_inputs_alone_are_offered_and_proven() {
    let bench = bench(Output::Headphones, false, false);
    let mut history = Vec::new();
    let offer = until(&bench, &mut history, "reconnect");
    assert!(offer.choices.iter().any(|c| c.id == "open"), "{:?}", offer.choices);
    history.push(chosen(&offer, "open"));
    let open = step(&bench, &history);
    assert_eq!(open.id, "open");
    let with = |ratio_db: f64| {
        let mut answer = took(&open, &format!("open {ratio_db}"), 9);
        if let Happening::Took { take, .. } = &mut answer {
            take.channels[1].signal_dbfs = take.channels[0].signal_dbfs.map(|s| s + ratio_db);
        }
        answer
    };
    let same_node_db = |h: &Happening| match h {
        Happening::Took { step, take } if step == "same_node" => {
            Some(take.channels[1].signal_dbfs? - take.channels[0].signal_dbfs?)
        }
        _ => None,
    };
    let gain_db = history.iter().find_map(same_node_db).expect("both inputs were on one clip");
    history.push(with(gain_db - 15.0));
    let again = step(&bench, &history);
    assert_eq!((again.id.as_str(), again.notices[0].code), ("open", Code::NotOpen));
    history.push(with(gain_db - 0.3));
    let analyse = until(&bench, &mut history, "analyse");
    let Action::Analyse { takes, .. } = &analyse.action else { panic!("{}", analyse.id) };
    assert!(takes.iter().any(|t| t.role == "open"), "{takes:?}");
    let read = until(&bench, &mut history, "read");
    let Action::Done { next } = read.action else { panic!("{}", read.id) };
    assert!(next.iter().all(|c| c.id != "open"), "offered once");
}
