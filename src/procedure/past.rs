//! What counts of what happened: steps back, repeats and things set aside are resolved here, once.

use crate::math::order::distinct;

use super::step::{Answer, Happening, KnockNote, ReadingNote, TakeNote, TakeUse};

/// Prefix of a choice that forgets a step: `again:level`.
pub(super) const AGAIN: &str = "again:";

/// The happenings that still count, in order.
pub(super) struct Past<'a> {
    events: Vec<&'a Happening>,
    finished: bool,
}

impl<'a> Past<'a> {
    /// Resolves a raw history. `forgets` names the steps that a repeat of a step takes with it.
    pub(super) fn new(history: &'a [Happening], forgets: fn(&str) -> &'static [&'static str]) -> Self {
        let mut events: Vec<&Happening> = Vec::new();
        let mut finished = false;
        for happening in history {
            finished = matches!(happening, Happening::Finished);
            match happening {
                Happening::SteppedBack => step_back(&mut events),
                Happening::Finished => {}
                Happening::Chosen { choice, .. } if choice.starts_with(AGAIN) => {
                    let step = &choice[AGAIN.len()..];
                    let gone = forgets(step);
                    events.retain(|e| e.step_id().is_none_or(|id| id != step && !gone.contains(&id)));
                }
                other => events.push(other),
            }
        }
        Past { events, finished }
    }

    /// The last thing that happened was the person's 'done'.
    pub(super) fn finished(&self) -> bool {
        self.finished
    }

    /// The happenings themselves.
    pub(super) fn events(&self) -> &[&'a Happening] {
        &self.events
    }

    /// The last happening.
    pub(super) fn last(&self) -> Option<&'a Happening> {
        self.events.last().copied()
    }

    /// Place of the last confirmation of `step`.
    pub(super) fn confirmed_at(&self, step: &str) -> Option<usize> {
        self.events.iter().rposition(|e| matches!(e, Happening::Confirmed { step: s, .. } if s == step))
    }

    /// An answer given at `step`; the last one.
    pub(super) fn answer(&self, step: &str, name: &str) -> Option<&'a Answer> {
        self.events.iter().rev().find_map(|e| match e {
            Happening::Confirmed { step: s, answers } if s == step => answers.get(name),
            _ => None,
        })
    }

    /// A number answered at `step`.
    pub(super) fn number(&self, step: &str, name: &str) -> Option<f64> {
        self.answer(step, name).and_then(Answer::number)
    }

    /// How often `choice` was pressed at a step that starts with `step`.
    pub(super) fn times_chosen(&self, step: &str, choice: &str) -> usize {
        self.events
            .iter()
            .filter(|e| matches!(e, Happening::Chosen { step: s, choice: c } if s.starts_with(step) && c == choice))
            .count()
    }

    /// Takes recorded at `step` and not set aside, with their place.
    pub(super) fn takes(&self, step: &str) -> Vec<(usize, &'a TakeNote)> {
        self.takes_in(&[step])
    }

    /// The same for several steps.
    pub(super) fn takes_in(&self, steps: &[&str]) -> Vec<(usize, &'a TakeNote)> {
        let all = self.events.iter().enumerate().filter_map(|(i, e)| match e {
            Happening::Took { step, take } if steps.contains(&step.as_str()) => Some((i, take)),
            _ => None,
        });
        all.filter(|(_, take)| !self.is_set_aside(&take.id)).collect()
    }

    fn is_set_aside(&self, id: &str) -> bool {
        self.events.iter().any(|e| matches!(e, Happening::SetAside { take, knock: None } if take == id))
    }

    /// Knocks of a take that the person set aside, counted from 1. Those named while the take still ran (empty id)
    /// stand between its begin and its `took`.
    pub(super) fn knocks_set_aside(&self, at: usize, id: &str) -> Vec<u32> {
        let running = self.events[..at].iter().rev().take_while(|e| !ends_a_take(e));
        let named = running.filter_map(|e| set_aside_knock(e, ""));
        distinct(named.chain(self.events.iter().filter_map(|e| set_aside_knock(e, id))))
    }

    /// Knocks heard so far in the take that is running now, without those the person set aside.
    pub(super) fn heard_now(&self, step: &str) -> Vec<&'a KnockNote> {
        let running: Vec<&Happening> = self.events.iter().rev().take_while(|e| !ends_a_take(e)).copied().collect();
        let aside: Vec<u32> = running.iter().filter_map(|e| set_aside_knock(e, "")).collect();
        let heard = running.iter().find_map(|e| match e {
            Happening::Heard { step: s, knocks } if s == step => Some(knocks),
            _ => None,
        });
        let numbered = heard.into_iter().flatten().zip(1u32..);
        numbered.filter(|(_, number)| !aside.contains(number)).map(|(knock, _)| knock).collect()
    }

    /// The last reading, where it was made of exactly these takes.
    pub(super) fn reading_of(&self, uses: &[TakeUse]) -> Option<&'a ReadingNote> {
        let ids: Vec<&String> = uses.iter().map(|u| &u.id).collect();
        let at = self.events.iter().rposition(|e| matches!(e, Happening::Read { .. }))?;
        let changed = |e: &&Happening| matches!(e, Happening::SetAside { take, .. } if !take.is_empty());
        if self.events[at..].iter().any(changed) {
            return None;
        }
        match self.events[at] {
            Happening::Read { reading } if reading.takes.iter().eq(ids) => Some(reading),
            _ => None,
        }
    }
}

/// A take as the analysis wants it.
pub(super) fn take_use(past: &Past, at: usize, take: &TakeNote) -> TakeUse {
    TakeUse {
        id: take.id.clone(),
        role: take.role.clone(),
        resistor_ohm: take.resistor_ohm,
        load_ohm: take.load_ohm,
        added_mass_kg: take.added_mass_kg,
        box_volume_m3: take.box_volume_m3,
        set_aside: past.knocks_set_aside(at, &take.id),
    }
}

fn ends_a_take(event: &&Happening) -> bool {
    matches!(event, Happening::Took { .. } | Happening::Voided { .. })
}

fn set_aside_knock(event: &Happening, id: &str) -> Option<u32> {
    match event {
        Happening::SetAside { take, knock: Some(number) } if take == id => Some(*number),
        _ => None,
    }
}

/// One step back takes the last decision with it, and a run of takes of one step as a whole: going back into the middle
/// of a series of levels would make it play on by itself.
fn step_back(events: &mut Vec<&Happening>) {
    while let Some(event) = events.pop() {
        match event {
            Happening::Confirmed { .. } | Happening::Chosen { .. } => return,
            Happening::Took { step, .. } => {
                while events.last().is_some_and(|e| !is_decision(e) && e.step_id().is_none_or(|id| id == step)) {
                    events.pop();
                }
                return;
            }
            _ => {}
        }
    }
}

fn is_decision(event: &Happening) -> bool {
    matches!(event, Happening::Confirmed { .. } | Happening::Chosen { .. })
}
