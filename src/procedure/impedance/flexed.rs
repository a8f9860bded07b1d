//! The loose-joint check on the jig of the impedance check: the same bench card, wiring and level, then a tone while leads
//! are flexed and the cone is moved.

use super::super::bench::ImpedanceBench;
use super::super::build::choice;
use super::super::closing::{self, Ending, Material};
use super::super::past::{take_use, Past};
use super::super::step::{Action, Choice, DrawingKind, Happening, ReadingNote, Stage, Step, TakeNote};
use super::super::{cautions, defaults};
use super::connect::jig;
use super::level::found;
use super::takes::TRIES;
use super::{connect, level};
use crate::electrical::loose_joint::TONE_HZ;
use crate::signal::notice::{Code, Notice};
use std::collections::BTreeMap;

/// Clips, lead-outs, tinsel leads and the cone want their time.
const TONE_S: u32 = 20;

type Station = fn(&ImpedanceBench, &Past) -> Option<Step>;

const ROAD: [Station; 7] =
    [connect::setup, connect::bench_card, connect::connect, connect::volts, level::level, flex, analyse];

/// Next step of the loose-joint check. Never fails.
pub fn step(bench: &ImpedanceBench, history: &[Happening]) -> Step {
    let past = Past::new(history, forgets);
    ROAD.iter().find_map(|station| station(bench, &past)).unwrap_or_else(|| read(bench, &past))
}

/// What a repeat of a step makes worthless.
fn forgets(step: &str) -> &'static [&'static str] {
    match step {
        "bench_card" | "connect" => &["level", "flexed", "volts_tone"],
        "level" => &["flexed"],
        _ => &[],
    }
}

/// Why a take cannot be used. Cut-off tops do not count: a joint that opens sparks.
fn fault(_: &ImpedanceBench, take: &TakeNote) -> Option<Notice> {
    const FATAL: [Code; 3] = [Code::Silent, Code::DeadChannel, Code::SameChannels];
    take.notices.iter().find(|n| FATAL.contains(&n.code)).cloned()
}

fn good_takes<'a>(bench: &ImpedanceBench, past: &Past<'a>) -> Vec<(usize, &'a TakeNote)> {
    past.takes("flexed").into_iter().filter(|(_, take)| fault(bench, take).is_none()).collect()
}

fn flex(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    if good_takes(bench, past).len() > past.times_chosen("read", "flex_again") {
        return None;
    }
    let all = past.takes("flexed");
    let last = all.last().and_then(|(_, take)| fault(bench, take));
    let bad = all.iter().rev().take_while(|(_, take)| fault(bench, take).is_some()).count();
    if let Some(notice) = last.clone().filter(|_| bad >= TRIES) {
        let wiring = choice("again:connect", "Back to the wiring", "");
        return Some(Step::refused(Stage::Measure, "flexed_refused", notice, vec![wiring]));
    }
    let (level_dbfs, _) = found(bench, past);
    let stimulus = defaults::tone(bench.rate_hz, TONE_HZ, level_dbfs, TONE_S);
    let seconds = defaults::seconds(&stimulus) + defaults::tail_s(bench.practice);
    let action = Action::Play {
        stimulus,
        role: "flexed".to_owned(),
        tail_s: defaults::tail_s(bench.practice),
        resistor_ohm: None,
        added_mass_kg: None,
        box_volume_m3: None,
        channels: vec![bench.source_channel, bench.driver_channel],
        by_itself: false,
        button: "Play the tone".to_owned(),
    };
    let note = "First the clips, then the lead-outs, then the thin leads at the cone; then push the cone gently in and out. Keep \
                on until the tone ends.";
    Some(
        Step::new(Stage::Measure, "flexed", "While the tone plays, flex the leads and move the cone.", action)
            .note(note)
            .cautions(if bench.practice { Vec::new() } else { vec![cautions::hearing(), cautions::foam()] })
            .drawing(jig(bench, DrawingKind::TwoChannelDivider, &[]))
            .progress(all.len(), all.len() + 1, Some(seconds))
            .notices(last.into_iter().collect()),
    )
}

fn material(bench: &ImpedanceBench, past: &Past) -> Material {
    let takes = good_takes(bench, past).into_iter().map(|(at, take)| take_use(past, at, take)).collect();
    Material { fields: BTreeMap::from([("tone_hz".to_owned(), TONE_HZ)]), ..Material::of(takes) }
}

fn analyse(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    closing::analyse(past, material(bench, past))
}

fn read(bench: &ImpedanceBench, past: &Past) -> Step {
    closing::read(past, material(bench, past), |reading| Ending {
        next: suggestions(reading),
        note: "A joint that holds now may open when it is warm: repeat after the hot test.".to_owned(),
        notices: Vec::new(),
    })
}

fn suggestions(reading: &ReadingNote) -> Vec<Choice> {
    let mut next = vec![choice("flex_again", "Flex once more", "One lead at a time shows which of them it is.")];
    if reading.refusal.as_ref().is_some_and(|n| n.code != Code::TooShort) {
        next.push(choice("again:level", "Look for the level again", "The level did not suit."));
    }
    next
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::procedure::bench::Output;
    use crate::procedure::impedance::walks::bench;
    use crate::procedure::rehearsal::{reading, took};
    use crate::procedure::step::Answer;

    #[test]
    fn the_road_leads_over_a_safe_level_to_a_reading() {
        let bench = bench(Output::Headphones, false, true);
        let mut history = Vec::new();
        let mut ids: Vec<String> = Vec::new();
        for count in 0..40 {
            let next = step(&bench, &history);
            if ids.last() != Some(&next.id) {
                ids.push(next.id.clone());
            }
            let answers = |items: &[crate::procedure::step::TickItem]| {
                items.iter().map(|i| (i.id.clone(), Answer::Bool(true))).collect()
            };
            history.push(match &next.action {
                Action::Play { stimulus, .. } => {
                    assert!(stimulus.peak_dbfs <= -1.0);
                    took(&next, &format!("take {count}"), 9)
                }
                Action::Tick { items, .. } => Happening::Confirmed { step: next.id.clone(), answers: answers(items) },
                Action::Confirm { .. } => Happening::Confirmed { step: next.id.clone(), answers: BTreeMap::new() },
                Action::Analyse { takes, fields } => {
                    assert_eq!(fields["tone_hz"], TONE_HZ);
                    Happening::Read { reading: reading(takes, 9) }
                }
                _ => break,
            });
        }
        assert_eq!(ids, ["bench_card", "connect", "level", "flexed", "analyse", "read"]);
        history.push(Happening::Chosen { step: "read".to_owned(), choice: "flex_again".to_owned() });
        assert_eq!(step(&bench, &history).id, "flexed");
    }
}
