//! Listening: whose turn it is, what the next knock should be like, when there are enough, and which takes can be used.

use super::super::bench::PairBench;
use super::super::build::{channel_words, choice};
use super::super::knock::{DIE_AWAY_S, LEAST, TOO_LOUD_DBFS, TOO_QUIET_DBFS, TRIES};
use super::super::past::Past;
use super::super::step::{Action, Choice, KnockNote, Stage, Step, TakeNote};
use super::connect::cables;
use super::rounds::Round;
use crate::signal::notice::{Code, Notice};

/// A listening step, and the role of its take in the analysis.
pub(super) struct Listening {
    pub step: &'static str,
    pub role: &'static str,
}

/// Both drivers, the first alone, the second alone.
pub(super) const LISTENING: [Listening; 3] = [
    Listening { step: "listen", role: "free" },
    Listening { step: "listen_first", role: "first" },
    Listening { step: "listen_second", role: "second" },
];

/// Knocks wanted on each driver.
const WANTED: usize = 4;
/// Longest take: a knock every three seconds on each, with room for as many that do not count.
const MAX_S: f64 = 60.0;

/// Channels that a listening step hears.
fn channels(bench: &PairBench, which: usize) -> Vec<usize> {
    match which {
        0 => vec![bench.first_channel, bench.second_channel],
        1 => vec![bench.first_channel],
        _ => vec![bench.second_channel],
    }
}

fn counts(knock: &KnockNote) -> bool {
    knock.set_aside.is_none() && (TOO_QUIET_DBFS..=TOO_LOUD_DBFS).contains(&knock.peak_dbfs)
}

/// Usable knocks of each channel.
fn usable(past: &Past, channels: &[usize], at: usize, take: &TakeNote) -> Vec<usize> {
    let aside = past.knocks_set_aside(at, &take.id);
    let numbered = take.knocks.iter().zip(1u32..);
    let good: Vec<&KnockNote> =
        numbered.filter(|(knock, number)| counts(knock) && !aside.contains(number)).map(|(knock, _)| knock).collect();
    channels.iter().map(|c| good.iter().filter(|k| k.channel == *c).count()).collect()
}

/// Enough knocks on every driver of the step can be used, and the inputs are two.
pub(super) fn is_good(bench: &PairBench, past: &Past, which: usize, at: usize, take: &TakeNote) -> bool {
    let one = take.notices.iter().any(|n| n.code == Code::SameChannels);
    !one && usable(past, &channels(bench, which), at, take).iter().all(|n| *n >= LEAST)
}

/// The listening step: of both, or of the driver that carries the resistor.
pub(super) fn listen(bench: &PairBench, past: &Past, round: &Round, which: usize, load_ohm: Option<f64>) -> Step {
    let Listening { step: id, .. } = LISTENING[which];
    let heard_by = channels(bench, which);
    let failed = round.takes(past, id);
    let fault = failed.last().map(|(at, take)| fault(past, &heard_by, *at, take));
    // Another knock changes nothing about a cable that joins two inputs or one that is not there.
    let hopeless = |n: &Notice| matches!(n.code, Code::SameChannels | Code::DeadChannel);
    if let Some(notice) = fault.clone().filter(|n| hopeless(n) || failed.len() >= TRIES) {
        let mut choices = vec![choice(&format!("again:{id}"), "Listen again", "After the remedy.")];
        choices.extend(side_actions(round));
        return Step::refused(Stage::Measure, "listen_refused", notice, choices);
    }
    let heard = past.heard_now(id);
    let good: Vec<usize> =
        heard_by.iter().map(|c| heard.iter().filter(|k| counts(k) && k.channel == *c).count()).collect();
    let done: usize = good.iter().map(|n| (*n).min(WANTED)).sum();
    let wanted = WANTED * heard_by.len();
    let action = Action::Listen {
        channel: heard_by[0],
        second_channel: heard_by.get(1).copied(),
        wanted_knocks: wanted as u32,
        max_s: MAX_S,
        end_after_s: (done >= wanted).then_some(DIE_AWAY_S),
        load_ohm,
        added_mass_kg: None,
        box_volume_m3: None,
        button: "Listen".to_owned(),
    };
    let (sentence, note) = words(&heard_by, &heard, &good);
    let mut notices: Vec<Notice> = heard.last().and_then(|k| k.set_aside.clone()).into_iter().collect();
    if heard.is_empty() {
        notices.extend(fault);
    }
    Step::new(Stage::Measure, id, &sentence, action)
        .note(note)
        .drawing(cables(bench, load_ohm.map(|ohm| (which.saturating_sub(1), ohm))))
        .progress(done, wanted, None)
        .choices(side_actions(round))
        .notices(notices)
}

fn side_actions(round: &Round) -> Vec<Choice> {
    let mut choices = vec![choice("again:connect", "Back to the wiring", "All rounds begin anew.")];
    if round.from > 0 {
        choices.insert(0, choice("give_up", "Leave this round out", "Back to the reading."));
    }
    choices
}

/// The sentence after what was heard last.
fn words(channels: &[usize], heard: &[&KnockNote], good: &[usize]) -> (String, &'static str) {
    let Some(turn) = (0..good.len()).filter(|d| good[*d] < WANTED).min_by_key(|d| good[*d]) else {
        return ("Enough. Let it die away.".to_owned(), "The take ends by itself.");
    };
    let at = channel_words(channels[turn]);
    let wait = "Wait for it to die away, then the other one. One knock every two seconds.";
    match heard.last() {
        Some(knock) if knock.peak_dbfs > TOO_LOUD_DBFS => (
            format!("Softer. The tops of that one were cut off. Now {at}."),
            "Louder is not better. If it stays too loud, turn that input down.",
        ),
        Some(knock) if knock.set_aside.is_some() => {
            (format!("That one does not count. Now {at}."), "Keep quiet, and let each knock die away before the next.")
        }
        Some(knock) if knock.peak_dbfs < TOO_QUIET_DBFS => {
            (format!("A little firmer. Now {at}."), "Or turn that input's gain up.")
        }
        _ if channels.len() == 1 => {
            (format!("Knock softly on the driver at {at}."), "Wait for it to die away. One every two or three seconds.")
        }
        _ => (format!("Knock softly on the driver at {at}."), wait),
    }
}

/// Why a take did not count.
fn fault(past: &Past, channels: &[usize], at: usize, take: &TakeNote) -> Notice {
    let told = |code: Code| take.notices.iter().find(|n| n.code == code).cloned();
    if let Some(notice) = told(Code::SameChannels).or_else(|| told(Code::Silent)) {
        return notice;
    }
    let counted = usable(past, channels, at, take);
    let fewest = (0..channels.len()).min_by_key(|d| counted[*d]).unwrap_or(0);
    let channel = channels[fewest];
    let own: Vec<&KnockNote> = take.knocks.iter().filter(|k| k.channel == channel).collect();
    if own.is_empty() {
        let dead = |n: &&Notice| n.code == Code::DeadChannel && n.numbers.get("channel") == Some(&(channel as f64));
        return take.notices.iter().find(dead).cloned().unwrap_or_else(|| missing(channel, 0));
    }
    let loudest = own.iter().map(|k| k.peak_dbfs).fold(f64::NEG_INFINITY, f64::max);
    let most = |out: fn(&KnockNote) -> bool| 2 * own.iter().filter(|k| out(k)).count() > own.len();
    let numbers = [("channel", channel as f64), ("peak_dbfs", loudest)];
    if most(|k| k.peak_dbfs > TOO_LOUD_DBFS) {
        return Notice::new(Code::Clipped, &numbers);
    }
    if most(|k| k.peak_dbfs < TOO_QUIET_DBFS) {
        return Notice::new(Code::TooQuiet, &numbers);
    }
    missing(channel, counted[fewest])
}

fn missing(channel: usize, there: usize) -> Notice {
    let numbers = [("knocks", there as f64), ("wanted", LEAST as f64), ("channel", channel as f64)];
    Notice::new(Code::TooFewKnocks, &numbers)
}
