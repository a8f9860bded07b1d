//! Rounds: knocks on both with open terminals first; then, as the person chooses, the same again, or one resistor that
//! goes across the one driver and after that across the other, so that its error falls out of their difference.

use super::super::bench::PairBench;
use super::super::build::{channel_words, choice, ohm_field, ohm_words};
use super::super::knock::{load_ohm, of_two, LOAD_OHM};
use super::super::past::Past;
use super::super::step::{Action, Field, Happening, Stage, Step, TakeNote};
use super::connect::cables;
use super::listen::{self, LISTENING};

/// What a round is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Both with open terminals.
    Open,
    /// One resistor, moved from driver to driver.
    Load,
}

/// One round: the happenings from its choice up to the next round's.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Round {
    /// Kind.
    pub kind: Kind,
    /// First happening of it.
    pub from: usize,
    /// One behind the last.
    pub to: usize,
}

/// Step in which the resistor is fitted, and the answer's step of its value.
const FITTED: [&str; 2] = ["first_loaded", "second_loaded"];

/// Rounds so far, the first always with open terminals.
pub(super) fn rounds(past: &Past) -> Vec<Round> {
    let end = past.events().len();
    let mut rounds = vec![Round { kind: Kind::Open, from: 0, to: end }];
    for (at, event) in past.events().iter().enumerate() {
        let Happening::Chosen { step, choice } = event else { continue };
        let kind = match choice.as_str() {
            "knock_again" => Kind::Open,
            "add_resistor" => Kind::Load,
            _ => continue,
        };
        if step.starts_with("read") {
            if let Some(last) = rounds.last_mut() {
                last.to = at;
            }
            rounds.push(Round { kind, from: at, to: end });
        }
    }
    rounds
}

impl Round {
    fn given_up(&self, past: &Past) -> bool {
        let inside = &past.events()[self.from..self.to];
        self.from > 0 && inside.iter().any(|e| matches!(e, Happening::Chosen { choice, .. } if choice == "give_up"))
    }

    fn confirmed<'a>(&self, past: &Past<'a>, step: &str) -> Option<&'a Happening> {
        let inside = past.events()[self.from..self.to].iter().rev();
        inside.copied().find(|e| matches!(e, Happening::Confirmed { step: s, .. } if s == step))
    }

    /// The resistor of this round.
    pub(super) fn load_ohm(&self, past: &Past) -> Option<f64> {
        let Happening::Confirmed { answers, .. } = self.confirmed(past, "load")? else { return None };
        answers.get("load_ohm")?.number().filter(|r| (LOAD_OHM.0..=LOAD_OHM.1).contains(r))
    }

    /// Its takes at a listening step, in order of time.
    pub(super) fn takes<'a>(&self, past: &Past<'a>, step: &str) -> Vec<(usize, &'a TakeNote)> {
        past.takes(step).into_iter().filter(|(at, _)| (self.from..self.to).contains(at)).collect()
    }

    /// Takes that can be used, with the role in which the analysis wants them; none until the round is complete.
    pub(super) fn good_takes<'a>(
        &self,
        bench: &PairBench,
        past: &Past<'a>,
    ) -> Vec<(&'static str, usize, &'a TakeNote)> {
        let good = |which: usize| {
            let found = self.takes(past, LISTENING[which].step).into_iter();
            let mut good = found.filter(|(at, take)| listen::is_good(bench, past, which, *at, take));
            good.next().map(|(at, take)| (LISTENING[which].role, at, take))
        };
        let wanted: &[usize] = if self.kind == Kind::Open { &[0] } else { &[1, 2] };
        let found: Vec<_> = wanted.iter().filter_map(|which| good(*which)).collect();
        if found.len() == wanted.len() {
            found
        } else {
            Vec::new()
        }
    }
}

/// What this round still wants; none where it has its takes or was given up.
pub(super) fn next(bench: &PairBench, past: &Past, round: &Round) -> Option<Step> {
    if round.given_up(past) || !round.good_takes(bench, past).is_empty() {
        return None;
    }
    if round.kind == Kind::Open {
        let again = round.from > 0 && round.confirmed(past, "opened").is_none();
        return Some(if again { opened(bench) } else { listen::listen(bench, past, round, 0, None) });
    }
    let Some(ohm) = round.load_ohm(past) else { return Some(ask_load(past, round)) };
    for (driver, fitted) in FITTED.into_iter().enumerate() {
        let which = driver + 1;
        let mut takes = round.takes(past, LISTENING[which].step).into_iter();
        if takes.any(|(at, take)| listen::is_good(bench, past, which, at, take)) {
            continue;
        }
        if round.confirmed(past, fitted).is_none() {
            return Some(fit(bench, driver, ohm));
        }
        return Some(listen::listen(bench, past, round, which, Some(ohm)));
    }
    None
}

fn ask_load(past: &Past, round: &Round) -> Step {
    let values = past.events().iter().rev().find_map(|e| match e {
        Happening::Read { reading } => Some(&reading.values),
        _ => None,
    });
    let get = |name: &str| values.and_then(|v| v.get(name)).copied();
    let r_e = past.number("load", "first_r_e_ohm");
    let suggested = load_ohm(get("first_q_ms").unwrap_or(f64::MAX), get("first_q_es"), r_e);
    let help = format!(
        "One and the same part, which is moved from driver to driver: its error then falls out of the difference.{}",
        suggested.and_then(of_two).unwrap_or_default()
    );
    let coil = |id: &str, label: &str| {
        let help = "From a meter, at rest; the same meter and leads for both. Without it there is no Q_es.";
        Field { optional: true, ..ohm_field(id, label, (0.1, 1000.0), past.number("load", id), help) }
    };
    let fields = vec![
        ohm_field("load_ohm", "Resistor across the terminals", LOAD_OHM, suggested, &help),
        coil("first_r_e_ohm", "The first coil's own resistance"),
        coil("second_r_e_ohm", "The second coil's own resistance"),
    ];
    let note = if round.confirmed(past, "load").is_some() {
        "A short or nearly one stops the cone at once, and there is no ring to read. Take 1 Ω or more."
    } else {
        "It damps the ring through the coil, and that tells Q_es and Q_ts of each."
    };
    let action = Action::Ask { fields, button: "Keep".to_owned() };
    Step::new(Stage::Measure, "load", "Which resistor goes across the terminals?", action)
        .note(note)
        .choices(vec![choice("give_up", "Not now", "Back to the reading.")])
}

fn fit(bench: &PairBench, driver: usize, ohm: f64) -> Step {
    let channel = channel_words([bench.first_channel, bench.second_channel][driver]);
    let (sentence, note) = match driver {
        0 => (
            format!("Clip {} across the driver at {channel}.", ohm_words(ohm)),
            "The cables stay where they are; the resistor goes beside one of them.",
        ),
        _ => (
            format!("Move the resistor over to the driver at {channel}."),
            "The same part, so that what is wrong with it is wrong with both. The first driver is open again.",
        ),
    };
    Step::new(Stage::Connect, FITTED[driver], &sentence, Action::Confirm { button: "Fitted".to_owned() })
        .note(note)
        .drawing(cables(bench, Some((driver, ohm))))
        .choices(vec![choice("give_up", "Leave this round out", "Back to the reading.")])
}

fn opened(bench: &PairBench) -> Step {
    let action = Action::Confirm { button: "Both open".to_owned() };
    Step::new(Stage::Connect, "opened", "Take the resistor off.", action)
        .note("Only the two cables stay connected, as in the first round.")
        .drawing(cables(bench, None))
}
