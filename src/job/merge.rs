//! Two records of one job become one, and nothing that either held is lost: lists are united, and where a field says two
//! things, that of the record changed later stands and the other is listed among the conflicts.
//!
//! Which record is given first makes no difference but in the order of lists. What was deleted in one and stands in the
//! other comes back: a record does not tell whether its writer had ever seen it. Which sections the owner's record shows
//! (`shown`) is taken from the later one.

use super::record::{
    Attitude, Conditions, Conflict, Filed, Job, Order, Part, PartKind, Phase, Reference, ReferenceKind, Side,
};
use super::rules::check;
use super::versions::RecordError;
use crate::verdict::limits::PairLimit;

/// Both as one.
///
/// # Errors
/// Two different jobs, or one that would be too large.
pub fn merge(one: &Job, two: &Job) -> Result<Job, RecordError> {
    if one.id != two.id {
        return Err(RecordError::OtherJob);
    }
    let (later, earlier) = if two.changed_at_ms > one.changed_at_ms { (two, one) } else { (one, two) };
    let tie = later.changed_at_ms == earlier.changed_at_ms;
    let mut merging = Merging { tie, at_ms: earlier.changed_at_ms, part: "", found: Vec::new() };
    let job = merging.job(later, earlier);
    check(&job)?;
    Ok(job)
}

struct Merging<'a> {
    /// Both were changed at one moment: the greater value stands, so that the order of the two does not matter.
    tie: bool,
    /// When the earlier record was last changed.
    at_ms: f64,
    part: &'a str,
    found: Vec<Conflict>,
}

/// What a field can hold.
trait Value: PartialOrd + Clone {
    fn is_blank(&self) -> bool;
    fn said(&self) -> String;
}

impl Value for String {
    fn is_blank(&self) -> bool {
        self.is_empty()
    }
    fn said(&self) -> String {
        self.clone()
    }
}

impl Value for bool {
    fn is_blank(&self) -> bool {
        false
    }
    fn said(&self) -> String {
        if *self { "yes" } else { "no" }.to_owned()
    }
}

impl Value for f64 {
    fn is_blank(&self) -> bool {
        false
    }
    fn said(&self) -> String {
        self.to_string()
    }
}

impl<T: Value> Value for Option<T> {
    fn is_blank(&self) -> bool {
        self.is_none()
    }
    fn said(&self) -> String {
        self.as_ref().map_or(String::new(), Value::said)
    }
}

/// Names of variants as they stand in the record.
macro_rules! named {
    ($($type:ident($blank:expr): $($variant:ident $name:literal),*;)*) => {$(
        impl Value for $type {
            fn is_blank(&self) -> bool {
                let blank: Option<$type> = $blank;
                blank == Some(*self)
            }
            fn said(&self) -> String {
                match self { $($type::$variant => $name),* }.to_owned()
            }
        }
    )*};
}

named! {
    PartKind(None): Driver "driver", Cabinet "cabinet", Control "control", Crossover "crossover", Loudspeaker "loudspeaker";
    Side(Some(Side::None)): None "none", Left "left", Right "right";
    Phase(None): AsFound "as_found", Returned "returned", BreakIn "break_in", AsLeft "as_left";
    Attitude(None): FaceUp "face_up", FaceDown "face_down", Upright "upright";
}

impl<'a> Merging<'a> {
    fn field<T: Value>(&mut self, name: &str, later: &T, earlier: &T) -> T {
        if later == earlier || earlier.is_blank() {
            return later.clone();
        }
        if later.is_blank() {
            return earlier.clone();
        }
        let (stands, other) = if self.tie && earlier > later { (earlier, later) } else { (later, earlier) };
        self.note(name, other.said());
        stands.clone()
    }

    fn note(&mut self, field: &str, other: String) {
        self.found.push(Conflict { part: self.part.to_owned(), field: field.to_owned(), other, at_ms: self.at_ms });
    }

    fn job(&mut self, later: &'a Job, earlier: &'a Job) -> Job {
        let mut text = |name, pick: fn(&Job) -> &String| self.field(name, pick(later), pick(earlier));
        let mut job = Job {
            version: later.version,
            id: later.id.clone(),
            number: text("number", |j| &j.number),
            title: text("title", |j| &j.title),
            owner: text("owner", |j| &j.owner),
            wanted: text("wanted", |j| &j.wanted),
            technician: text("technician", |j| &j.technician),
            workshop: text("workshop", |j| &j.workshop),
            specialist: text("specialist", |j| &j.specialist),
            received_on: text("received_on", |j| &j.received_on),
            handed_over_on: text("handed_over_on", |j| &j.handed_over_on),
            done: united(&later.done, &earlier.done),
            not_done: united(&later.not_done, &earlier.not_done),
            care: united(&later.care, &earlier.care),
            created_at_ms: later.created_at_ms.min(earlier.created_at_ms),
            ..later.clone()
        };
        job.pair_limits =
            matched(&later.pair_limits, &earlier.pair_limits, |a, b| a.name == b.name, |a, b| self.pair_limit(a, b));
        job.parts = matched(&later.parts, &earlier.parts, |a, b| a.id == b.id, |a, b| self.part(a, b));
        let own = std::mem::take(&mut self.found);
        job.conflicts = later.conflicts.iter().chain(&earlier.conflicts).chain(&own).fold(Vec::new(), listed);
        job
    }

    fn pair_limit(&mut self, later: &PairLimit, earlier: &PairLimit) -> PairLimit {
        let field = |end| ["pair_limits.", &later.name, end].concat();
        PairLimit {
            name: later.name.clone(),
            good: self.field(&field(".good"), &later.good, &earlier.good),
            acceptable: self.field(&field(".acceptable"), &later.acceptable, &earlier.acceptable),
        }
    }

    fn part(&mut self, later: &'a Part, earlier: &'a Part) -> Part {
        self.part = &later.id;
        let part = Part {
            kind: self.field("kind", &later.kind, &earlier.kind),
            side: self.field("side", &later.side, &earlier.side),
            band: self.field("band", &later.band, &earlier.band),
            model: self.field("model", &later.model, &earlier.model),
            mark: self.field("mark", &later.mark, &earlier.mark),
            rated_impedance_ohm: self.field(
                "rated_impedance_ohm",
                &later.rated_impedance_ohm,
                &earlier.rated_impedance_ohm,
            ),
            order: self.order(&later.order, &earlier.order),
            references: matched(&later.references, &earlier.references, same_reference, |a, b| self.reference(a, b)),
            looks: in_time(united(&later.looks, &earlier.looks), |look| look.at_ms),
            coils: in_time(united(&later.coils, &earlier.coils), |coil| coil.at_ms),
            filed: in_time(
                matched(&later.filed, &earlier.filed, |a, b| a.reading == b.reading, |a, b| self.filed(a, b)),
                |filed| filed.at_ms,
            ),
            overrides: in_time(united(&later.overrides, &earlier.overrides), |judged| judged.at_ms),
            photos: united(&later.photos, &earlier.photos),
            note: self.field("note", &later.note, &earlier.note),
            ..later.clone()
        };
        self.part = "";
        part
    }

    fn order(&mut self, later: &Order, earlier: &Order) -> Order {
        Order {
            wanted: self.field("order.wanted", &later.wanted, &earlier.wanted),
            work: self.field("order.work", &later.work, &earlier.work),
            surround: self.field("order.surround", &later.surround, &earlier.surround),
            roll: self.field("order.roll", &later.roll, &earlier.roll),
            leave_cap: self.field("order.leave_cap", &later.leave_cap, &earlier.leave_cap),
            sent_on: self.field("order.sent_on", &later.sent_on, &earlier.sent_on),
            returned_on: self.field("order.returned_on", &later.returned_on, &earlier.returned_on),
        }
    }

    fn reference(&mut self, later: &Reference, earlier: &Reference) -> Reference {
        let field = |end| ["references.", &later.name, end].concat();
        Reference {
            value: self.field(&field(".value"), &later.value, &earlier.value),
            below: self.field(&field(".below"), &later.below, &earlier.below),
            above: self.field(&field(".above"), &later.above, &earlier.above),
            common_practice: self.field(&field(".common_practice"), &later.common_practice, &earlier.common_practice),
            ..later.clone()
        }
    }

    fn filed(&mut self, later: &Filed, earlier: &Filed) -> Filed {
        let field = |end| ["filed.", &later.reading, end].concat();
        Filed {
            phase: self.field(&field(".phase"), &later.phase, &earlier.phase),
            conditions: self.conditions(&field(""), &later.conditions, &earlier.conditions),
            note: self.field(&field(".note"), &later.note, &earlier.note),
            at_ms: later.at_ms.min(earlier.at_ms),
            ..later.clone()
        }
    }

    fn conditions(&mut self, begin: &str, later: &Conditions, earlier: &Conditions) -> Conditions {
        let field = |end| [begin, end].concat();
        Conditions {
            temperature_c: self.field(&field(".temperature_c"), &later.temperature_c, &earlier.temperature_c),
            level_v: self.field(&field(".level_v"), &later.level_v, &earlier.level_v),
            rest_min: self.field(&field(".rest_min"), &later.rest_min, &earlier.rest_min),
            attitude: self.field(&field(".attitude"), &later.attitude, &earlier.attitude),
            break_in_h: self.field(&field(".break_in_h"), &later.break_in_h, &earlier.break_in_h),
        }
    }
}

fn same_reference(a: &Reference, b: &Reference) -> bool {
    let kind = matches!(a.kind, ReferenceKind::Earlier) == matches!(b.kind, ReferenceKind::Earlier);
    a.name == b.name && kind && a.source == b.source
}

/// Everything in either; an entry that differs in anything is another one.
fn united<T: Clone + PartialEq>(later: &[T], earlier: &[T]) -> Vec<T> {
    let mut all = later.to_vec();
    for entry in earlier {
        // As often as it stands in one of the two, not as often as in both.
        let wanted = earlier.iter().filter(|other| *other == entry).count();
        if all.iter().filter(|other| *other == entry).count() < wanted {
            all.push(entry.clone());
        }
    }
    all
}

/// Everything in either; what is the same piece in both becomes one by `join`.
fn matched<'a, T: Clone>(
    later: &'a [T],
    earlier: &'a [T],
    same: impl Fn(&T, &T) -> bool,
    mut join: impl FnMut(&'a T, &'a T) -> T,
) -> Vec<T> {
    let mut taken = vec![false; earlier.len()];
    let mut all = Vec::with_capacity(later.len() + earlier.len());
    for entry in later {
        let other = (0..earlier.len()).find(|&i| !taken[i] && same(entry, &earlier[i]));
        if let Some(i) = other {
            taken[i] = true;
        }
        all.push(other.map_or_else(|| entry.clone(), |i| join(entry, &earlier[i])));
    }
    all.extend(earlier.iter().zip(taken).filter(|(_, taken)| !taken).map(|(entry, _)| entry.clone()));
    all
}

/// The latest last; those of one moment stay as they stand.
fn in_time<T>(mut list: Vec<T>, at_ms: impl Fn(&T) -> f64) -> Vec<T> {
    // By insertion: the lists are short and nearly in order.
    for end in 1..list.len() {
        let mut at = end;
        while at > 0 && at_ms(&list[at - 1]) > at_ms(&list[at]) {
            list.swap(at - 1, at);
            at -= 1;
        }
    }
    list
}

/// Each conflict once, with the time at which it was first seen.
fn listed(mut list: Vec<Conflict>, new: &Conflict) -> Vec<Conflict> {
    let same = |c: &&mut Conflict| c.part == new.part && c.field == new.field && c.other == new.other;
    match list.iter_mut().find(same) {
        Some(known) => known.at_ms = known.at_ms.min(new.at_ms),
        None => list.push(new.clone()),
    }
    list
}
