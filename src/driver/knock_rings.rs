//! From the takes of a check to rings that can be fitted together, or to the reason why not.

use super::knock_quiet::dead_input;
use super::knock_spotting::{find_knocks, unrest, Find};
use super::ring_down_model::Ring;
use super::ring_down_samples::{slow_take, SlowTake};
use crate::math::order::arranged;
use crate::math::robust::median;
use crate::signal::notice::{Code, Notice};
use crate::signal::role_take::RoleTake;

/// What was connected: takes with equal load and weight are one condition.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Condition {
    /// Resistor across the terminals; none where open.
    pub load_ohm: Option<f64>,
    /// Weight on the cone, nought for none.
    pub added_mass_kg: f64,
    /// Inner volume of the closed box around it, nought for none.
    pub box_m3: f64,
}

impl Condition {
    pub(super) fn of(take: &RoleTake) -> Self {
        let or_none = |v: Option<f64>| v.unwrap_or(0.0);
        Condition {
            load_ohm: take.load_ohm,
            added_mass_kg: or_none(take.added_mass_kg),
            box_m3: or_none(take.box_volume_m3),
        }
    }

    /// Neither weight nor box.
    pub(super) fn is_unmounted(&self) -> bool {
        self.added_mass_kg == 0.0 && self.box_m3 == 0.0
    }

    /// Nothing connected, nothing on the cone or around it.
    pub(super) fn is_bare(&self) -> bool {
        self.load_ohm.is_none() && self.is_unmounted()
    }
}

/// One knock that is used, with its place.
#[derive(Clone, Debug)]
pub(super) struct UsedKnock {
    /// Index of its take.
    pub take: usize,
    /// Index of its find in that take.
    pub find: usize,
    /// Condition.
    pub condition: usize,
    /// Periods by which its start was put off because the knock was not over yet.
    pub advance: f64,
    /// First sample of the ring in the slow take.
    pub start: usize,
}

/// All rings of a check.
pub(super) struct Rings {
    /// Conditions met, the bare one first.
    pub conditions: Vec<Condition>,
    /// Finds of every take.
    pub finds: Vec<Vec<Find>>,
    /// Slow takes; none where a take holds no usable knock.
    pub slow: Vec<Option<SlowTake>>,
    /// Knocks in use; `rings[k]` is the ring of `knocks[k]`.
    pub knocks: Vec<UsedKnock>,
    /// Their rings.
    pub rings: Vec<Ring>,
    /// Takes left out with the reason.
    pub left_out: Vec<(usize, Notice)>,
}

/// Knocks from which a scatter can be told at all.
pub(super) const KNOCKS_AT_LEAST: usize = 2;
/// Knocks that a good reading has.
pub(super) const KNOCKS_WANTED: usize = 3;

/// Finds the knocks of all takes and sorts them by condition.
///
/// # Errors
/// The refusal, where no take can be used.
pub(super) fn collect(takes: &[RoleTake], channel: usize) -> Result<Rings, Box<Notice>> {
    let mut out = Rings {
        conditions: conditions_of(takes),
        finds: Vec::new(),
        slow: Vec::new(),
        knocks: Vec::new(),
        rings: Vec::new(),
        left_out: Vec::new(),
    };
    for (k, t) in takes.iter().enumerate() {
        let mut finds = find_knocks(&t.take, channel);
        set_aside_by_hand(&mut finds, &t.set_aside);
        match usable(t, channel, &mut finds) {
            Ok(pitch) => out.add_take(k, t, channel, finds, pitch),
            Err(why) => {
                out.finds.push(finds);
                out.slow.push(None);
                out.left_out.push((k, *why));
            }
        }
    }
    out.drop_thin_conditions();
    match (out.rings.is_empty(), out.left_out.first()) {
        (true, Some((_, why))) => Err(Box::new(why.clone())),
        (true, None) => Err(Box::new(Notice::new(Code::NoKnock, &[("knocks", 0.0)]))),
        _ => Ok(out),
    }
}

/// What the person set aside counts no more than what the search did; numbers count from 1.
fn set_aside_by_hand(finds: &mut [Find], numbers: &[u32]) {
    for number in numbers {
        let find = (*number as usize).checked_sub(1).and_then(|at| finds.get_mut(at));
        if let Some(find) = find {
            find.spotted.set_aside.get_or_insert_with(|| Notice::new(Code::SetAside, &[]));
        }
    }
}

fn conditions_of(takes: &[RoleTake]) -> Vec<Condition> {
    let mut out: Vec<Condition> = Vec::new();
    for t in takes {
        let c = Condition::of(t);
        if !out.contains(&c) {
            out.push(c);
        }
    }
    arranged(out, |c| f64::from(u8::from(!c.is_bare())))
}

/// A loaded Q below which nothing can be told: the cone falls back without ringing.
const RINGS_ABOVE_Q: f64 = 0.7;
/// A take whose quiet lies this close below its loudest moment has no quiet: noise drowns the knocks.
const UNREST: f64 = 0.1;
/// Quiet below this level (full scale 1) is no noise.
const AUDIBLE: f64 = 5e-4;

/// The pitch of the usable knocks of a take, or why there is none.
fn usable(t: &RoleTake, channel: usize, finds: &mut [Find]) -> Result<f64, Box<Notice>> {
    if let Some(silent) = dead_input(&t.take, channel) {
        return Err(Box::new(silent));
    }
    for f in finds.iter_mut().filter(|f| t.load_ohm.is_some() && f.spotted.q < RINGS_ABOVE_Q) {
        // What falls back without a ring has no sinusoid to be recognised by; the load says why.
        if f.spotted.set_aside.as_ref().is_none_or(|n| n.code == Code::ModelMisfit) {
            let numbers = [("q", f.spotted.q), ("q_at_least", RINGS_ABOVE_Q)];
            f.spotted.set_aside = Some(Notice::new(Code::Overdamped, &numbers));
        }
    }
    let pitches: Vec<f64> =
        finds.iter().filter(|f| f.spotted.set_aside.is_none()).map(|f| f.spotted.frequency_hz).collect();
    if let Some(pitch) = median(&pitches) {
        return Ok(pitch);
    }
    let (unrest, quiet) = unrest(&t.take, channel);
    if unrest > UNREST && quiet > AUDIBLE {
        let numbers = [("noise_over_loudest", unrest), ("noise_dbfs", 20.0 * quiet.log10())];
        return Err(Box::new(Notice::new(Code::Noise, &numbers)));
    }
    Err(Box::new(main_objection(finds)))
}

/// Why none of the finds can be used: the commonest reason, with its count.
fn main_objection(finds: &[Find]) -> Notice {
    let reasons: Vec<&Notice> = finds.iter().filter_map(|f| f.spotted.set_aside.as_ref()).collect();
    let count = |code: Code| reasons.iter().filter(|n| n.code == code).count();
    let Some(first) = reasons.iter().max_by_key(|n| count(n.code)) else {
        return Notice::new(Code::NoKnock, &[("knocks", 0.0)]);
    };
    match first.code {
        Code::Clipped | Code::Overdamped | Code::TooShort | Code::Gap => {
            let mut notice = (*first).clone();
            notice.numbers.insert("knocks_set_aside".to_owned(), reasons.len() as f64);
            notice
        }
        _ => Notice::new(Code::NoKnock, &[("knocks", 0.0), ("sounds_set_aside", reasons.len() as f64)]),
    }
}

impl Rings {
    fn add_take(&mut self, index: usize, t: &RoleTake, channel: usize, finds: Vec<Find>, pitch: f64) {
        let condition = Condition::of(t);
        let condition = self.conditions.iter().position(|c| *c == condition).unwrap_or(0);
        let slow = slow_take(&t.take, channel, &finds, pitch);
        if let Some(slow) = &slow {
            for (k, find) in finds.iter().enumerate().filter(|(_, f)| f.spotted.set_aside.is_none()) {
                if let Some((ring, start)) = slow.ring(find, condition, 0.0) {
                    self.knocks.push(UsedKnock { take: index, find: k, condition, advance: 0.0, start });
                    self.rings.push(ring);
                }
            }
        }
        self.finds.push(finds);
        self.slow.push(slow);
    }

    /// Starts the ring of one knock later by `periods`; false where too little would be left.
    pub(super) fn put_off(&mut self, knock: usize, periods: f64) -> bool {
        let k = &mut self.knocks[knock];
        let (Some(slow), find) = (&self.slow[k.take], &self.finds[k.take][k.find]) else { return false };
        match slow.ring(find, k.condition, k.advance + periods) {
            Some((ring, start)) if ring.samples.len() > 30 => {
                k.advance += periods;
                k.start = start;
                self.rings[knock] = ring;
                true
            }
            _ => false,
        }
    }

    /// Takes a knock out, with the reason that is shown beside it.
    pub(super) fn set_aside(&mut self, knock: usize, why: Notice) {
        let k = self.knocks.remove(knock);
        self.rings.remove(knock);
        self.finds[k.take][k.find].spotted.set_aside = Some(why);
    }

    /// Leaves out conditions with too few knocks, and renumbers.
    pub(super) fn drop_thin_conditions(&mut self) {
        let counts: Vec<usize> = (0..self.conditions.len()).map(|c| self.count(c)).collect();
        for (take, slow) in self.slow.iter_mut().enumerate() {
            if slow.is_none() {
                continue;
            }
            // A take whose knocks all came too close together has none here: it must not vanish without a word.
            let count = self.knocks.iter().find(|k| k.take == take).map_or(0, |k| counts[k.condition]);
            if count < KNOCKS_AT_LEAST {
                let numbers = [("knocks", count as f64), ("knocks_wanted", KNOCKS_WANTED as f64)];
                self.left_out.push((take, Notice::new(Code::TooFewKnocks, &numbers)));
                *slow = None;
            }
        }
        let mut place = Vec::new();
        let mut kept = 0;
        for count in &counts {
            let keep = *count >= KNOCKS_AT_LEAST;
            place.push(keep.then_some(kept));
            kept += usize::from(keep);
        }
        let moved = |c: usize| place[c];
        let keep: Vec<bool> = self.knocks.iter().map(|k| moved(k.condition).is_some()).collect();
        let mut flags = keep.iter();
        self.knocks.retain(|_| *flags.next().unwrap_or(&false));
        let mut flags = keep.iter();
        self.rings.retain(|_| *flags.next().unwrap_or(&false));
        for (k, r) in self.knocks.iter_mut().zip(&mut self.rings) {
            k.condition = moved(k.condition).unwrap_or(0);
            r.condition = k.condition;
        }
        let mut index = 0;
        self.conditions.retain(|_| {
            index += 1;
            counts[index - 1] >= KNOCKS_AT_LEAST
        });
    }

    /// Knocks of a condition.
    pub(super) fn count(&self, condition: usize) -> usize {
        self.knocks.iter().filter(|k| k.condition == condition).count()
    }

    /// First-sight frequency and Q of a condition.
    pub(super) fn first_sight(&self, condition: usize) -> Option<(f64, f64)> {
        let motions: Vec<_> = self
            .knocks
            .iter()
            .filter(|k| k.condition == condition)
            .filter_map(|k| self.finds[k.take][k.find].ring)
            .collect();
        let f = median(&motions.iter().map(|m| m.frequency_hz).collect::<Vec<_>>())?;
        let q = median(&motions.iter().map(|m| m.q).collect::<Vec<_>>())?;
        Some((f, q))
    }
}
