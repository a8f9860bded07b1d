//! The takes of the driver: one, a second where the first is noisy, more where the person wants them.

use super::super::bench::ImpedanceBench;
use super::super::build::choice;
use super::super::past::Past;
use super::super::step::{Action, DrawingKind, Stage, Step, TakeNote};
use super::super::{cautions, defaults};
use super::connect::{goes_on, jig};
use super::level::{channel, found, is_clipped, snr};
use crate::signal::notice::{Code, Notice};

/// A take below this is repeated once: its scatter would lead the budget. Common practice, no source.
pub(super) const REPEAT_BELOW_DB: f64 = 45.0;
/// Takes in a row that cannot be used before the road ends with the reason.
pub(super) const TRIES: usize = 3;
/// Steps that give driver takes.
pub(super) const STEPS: [&str; 2] = ["driver", "driver_again"];
/// Findings of the health check that make a take useless here.
const FATAL: [Code; 4] = [Code::Clipped, Code::Silent, Code::DeadChannel, Code::SameChannels];

/// Station: takes of the driver until there are enough.
pub(super) fn driver(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    let all = past.takes_in(&STEPS);
    let good = good_takes(bench, past);
    if good.len() >= wanted(bench, past, &good) {
        return None;
    }
    let last_fault = all.last().and_then(|(_, take)| fault(bench, take));
    let bad_in_a_row = all.iter().rev().take_while(|(_, take)| fault(bench, take).is_some()).count();
    if let Some(notice) = last_fault.clone().filter(|_| bad_in_a_row >= TRIES) {
        let again = choice("again:driver", "Take it again", "After the remedy.");
        let wiring = choice("again:connect", "Back to the wiring", "");
        return Some(Step::refused(Stage::Measure, "driver_refused", notice, vec![again, wiring]));
    }
    let (done, wanted) = (good.len(), wanted(bench, past, &good));
    Some(play(bench, past, (done, wanted), last_fault.into_iter().collect()))
}

/// Takes of the driver that can be used, with their place.
pub(super) fn good_takes<'a>(bench: &ImpedanceBench, past: &Past<'a>) -> Vec<(usize, &'a TakeNote)> {
    past.takes_in(&STEPS).into_iter().filter(|(_, take)| fault(bench, take).is_none()).collect()
}

fn wanted(bench: &ImpedanceBench, past: &Past, good: &[(usize, &TakeNote)]) -> usize {
    let noisy = good.first().is_some_and(|(_, take)| is_noisy(bench, take));
    1 + usize::from(noisy) + past.times_chosen("read", "another_take")
}

/// Scatter is large, or a part of the take was lost: a second take shows what repeats.
fn is_noisy(bench: &ImpedanceBench, take: &TakeNote) -> bool {
    let gap = take.notices.iter().any(|n| n.code == Code::Gap);
    gap || channel(take, bench.driver_channel).is_some_and(|c| c.snr_db.is_some() && snr(c) < REPEAT_BELOW_DB)
}

/// Why a take cannot be used; none where it can.
pub(super) fn fault(bench: &ImpedanceBench, take: &TakeNote) -> Option<Notice> {
    let (Some(source), Some(driver)) = (channel(take, bench.source_channel), channel(take, bench.driver_channel))
    else {
        return Some(Notice::new(Code::TooFewChannels, &[("channels", take.channels.len() as f64)]));
    };
    if is_clipped(bench, take) {
        return Some(Notice::new(Code::Clipped, &[("peak_dbfs", source.peak_dbfs.max(driver.peak_dbfs))]));
    }
    take.notices.iter().find(|n| FATAL.contains(&n.code)).cloned()
}

fn play(bench: &ImpedanceBench, past: &Past, count: (usize, usize), faults: Vec<Notice>) -> Step {
    let (done, wanted) = count;
    let (level_dbfs, level_notice) = found(bench, past);
    let stimulus = defaults::measuring(bench.rate_hz, level_dbfs);
    let seconds = defaults::seconds(&stimulus) + defaults::tail_s(bench.practice);
    let (id, sentence) = match done {
        0 => ("driver", "Measuring. Leave the driver alone."),
        _ => ("driver_again", "Once more, with nothing moved."),
    };
    let action = Action::Play {
        stimulus,
        role: "driver".to_owned(),
        tail_s: defaults::tail_s(bench.practice),
        resistor_ohm: None,
        added_mass_kg: None,
        box_volume_m3: None,
        channels: vec![bench.source_channel, bench.driver_channel],
        by_itself: (goes_on(past, "driver") || goes_on(past, "driver_again")) && faults.is_empty(),
        button: "Measure".to_owned(),
    };
    let mut notices = faults;
    notices.extend(level_notice);
    let practice = bench.practice;
    let note = if past.times_chosen("read", "add_weight") + past.times_chosen("read", "in_box") > 0 {
        "Without weight and box, as at the beginning. Keep still until the signal ends."
    } else {
        "Keep still, and keep doors and fans still, until the signal ends."
    };
    Step::new(Stage::Measure, id, sentence, action)
        .note(note)
        .cautions(if practice { Vec::new() } else { vec![cautions::hearing(), cautions::foam()] })
        .drawing(jig(bench, DrawingKind::TwoChannelDivider, &[]))
        .progress(done, wanted, Some(seconds))
        .choices(vec![choice("again:level", "Look for the level again", "After a knob was turned.")])
        .notices(notices)
}
