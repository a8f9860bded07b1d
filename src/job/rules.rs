//! What the contents of a record must keep to, whoever wrote it: sizes that a workshop never reaches and a hostile file
//! does, numbers that are numbers, ids that are ids, days that are days, nothing under one id twice.

use super::record::{CoilEntry, Conditions, Filed, Job, Look, Override, Part, Reference};
use super::versions::RecordError;
use crate::verdict::limits::PairLimit;
use thiserror::Error;

/// What cannot be in a record, and what to do.
#[derive(Clone, Debug, PartialEq, Error)]
#[allow(missing_docs)]
pub enum Wrong {
    #[error("this text is longer than {most} characters; shorten it, or keep it in a file beside the job")]
    TooLong { most: usize },
    #[error("more than {most} of these; make two jobs of it")]
    TooMany { most: usize },
    #[error("this is no number that can be; type it anew where the job was written")]
    Number,
    #[error("this is no id; the record was changed by hand or damaged: take another copy of it")]
    Id,
    #[error("this is no day, which is written 2026-01-31; type it anew where the job was written")]
    Day,
    #[error("this stands here twice under one id; the record was changed by hand or damaged: take another copy of it")]
    Twice,
}

/// Longest texts in characters and most entries of each list.
struct Most {
    id: usize,
    name: usize,
    text: usize,
    lines: usize,
    parts: usize,
    entries: usize,
    readings: usize,
    photos: usize,
    shown: usize,
    conflicts: usize,
}

/// A large workshop's job is a tenth of that.
const MOST: Most = Most {
    id: 64,
    name: 80,
    text: 4000,
    lines: 200,
    parts: 100,
    entries: 300,
    readings: 500,
    photos: 100,
    shown: 500,
    conflicts: 2000,
};

/// Greatest number of any kind, and the last moment that a date can be made of (milliseconds).
const GREATEST: f64 = 1e15;
const LAST_MS: f64 = 8.64e15;

struct Fault {
    place: String,
    wrong: Wrong,
}

impl From<Fault> for RecordError {
    fn from(Fault { place, wrong }: Fault) -> Self {
        RecordError::Content { place, wrong }
    }
}

type Checked = Result<(), Fault>;

fn wrong(name: &str, wrong: Wrong) -> Fault {
    Fault { place: name.to_owned(), wrong }
}

/// Checks the contents of a record.
///
/// # Errors
/// [`RecordError::Content`] with the first thing that cannot be.
pub fn check(job: &Job) -> Result<(), RecordError> {
    Ok(checked(job)?)
}

fn checked(job: &Job) -> Checked {
    id("id", &job.id)?;
    for (name, value) in [
        ("number", &job.number),
        ("title", &job.title),
        ("owner", &job.owner),
        ("wanted", &job.wanted),
        ("technician", &job.technician),
        ("workshop", &job.workshop),
        ("specialist", &job.specialist),
    ] {
        text(name, value)?;
    }
    day("received_on", &job.received_on)?;
    day("handed_over_on", &job.handed_over_on)?;
    for (name, lines) in [("done", &job.done), ("not_done", &job.not_done), ("care", &job.care)] {
        each(name, lines, MOST.lines, |line| text("", line))?;
    }
    each("pair_limits", &job.pair_limits, MOST.lines, pair_limit)?;
    each("conflicts", &job.conflicts, MOST.conflicts, |c| {
        text("other", &c.other)?;
        text("field", &c.field)?;
        moment("at_ms", c.at_ms)
    })?;
    moment("created_at_ms", job.created_at_ms)?;
    moment("changed_at_ms", job.changed_at_ms)?;
    each("parts", &job.parts, MOST.parts, part)?;
    once("parts", &job.parts, |part| &part.id)
}

fn part(part: &Part) -> Checked {
    id("id", &part.id)?;
    for (name, value) in [("band", &part.band), ("model", &part.model), ("mark", &part.mark), ("note", &part.note)] {
        text(name, value)?;
    }
    optional("rated_impedance_ohm", part.rated_impedance_ohm)?;
    order(part).map_err(|fault| under("order", fault))?;
    each("references", &part.references, MOST.lines, reference)?;
    each("looks", &part.looks, MOST.entries, look)?;
    each("coils", &part.coils, MOST.entries, coil)?;
    each("filed", &part.filed, MOST.readings, filed)?;
    once("filed", &part.filed, |filed| &filed.reading)?;
    each("overrides", &part.overrides, MOST.entries, judged)?;
    photos(&part.photos)
}

fn order(part: &Part) -> Checked {
    let order = &part.order;
    text("work", &order.work)?;
    text("surround", &order.surround)?;
    text("roll", &order.roll)?;
    day("sent_on", &order.sent_on)?;
    day("returned_on", &order.returned_on)
}

fn reference(reference: &Reference) -> Checked {
    name("name", &reference.name)?;
    for (name, value) in [("value", reference.value), ("below", reference.below), ("above", reference.above)] {
        number(name, value)?;
    }
    text("source", &reference.source)
}

fn pair_limit(limit: &PairLimit) -> Checked {
    name("name", &limit.name)?;
    number("good", limit.good)?;
    number("acceptable", limit.acceptable)
}

fn look(look: &Look) -> Checked {
    name("point", &look.point)?;
    text("note", &look.note)?;
    moment("at_ms", look.at_ms)?;
    photos(&look.photos)
}

fn coil(coil: &CoilEntry) -> Checked {
    each("shown_ohm", &coil.shown_ohm, MOST.shown, |value| number("", *value))?;
    each("moved_ohm", &coil.moved_ohm, MOST.shown, |value| number("", *value))?;
    for (name, value) in [
        ("leads_ohm", coil.leads_ohm),
        ("meter_percent", Some(coil.meter_percent)),
        ("meter_ohm", Some(coil.meter_ohm)),
        ("temperature_c", coil.temperature_c),
        ("to_frame_megohm", coil.to_frame_megohm),
    ] {
        optional(name, value)?;
    }
    moment("at_ms", coil.at_ms)?;
    text("note", &coil.note)
}

fn filed(filed: &Filed) -> Checked {
    id("reading", &filed.reading)?;
    conditions(&filed.conditions).map_err(|fault| under("conditions", fault))?;
    text("note", &filed.note)?;
    moment("at_ms", filed.at_ms)
}

fn conditions(conditions: &Conditions) -> Checked {
    optional("temperature_c", conditions.temperature_c)?;
    optional("level_v", conditions.level_v)?;
    optional("rest_min", conditions.rest_min)?;
    optional("break_in_h", conditions.break_in_h)
}

fn judged(judged: &Override) -> Checked {
    name("check", &judged.check)?;
    text("reason", &judged.reason)?;
    text("by", &judged.by)?;
    moment("at_ms", judged.at_ms)
}

fn photos(photos: &[String]) -> Checked {
    each("photos", photos, MOST.photos, |photo| id("", photo))
}

/// Letters, digits, `-` and `_`, a letter or digit first: what this page makes ids of. No name that means something to a
/// program that holds things by their name begins so.
fn id(name: &str, id: &str) -> Checked {
    let first = id.bytes().next().is_some_and(|b| b.is_ascii_alphanumeric());
    let rest = id.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_');
    if first && rest && id.len() <= MOST.id {
        Ok(())
    } else {
        Err(wrong(name, Wrong::Id))
    }
}

fn text(name: &str, text: &str) -> Checked {
    no_longer(name, text, MOST.text)
}

fn name(field: &str, name: &str) -> Checked {
    no_longer(field, name, MOST.name)
}

fn no_longer(name: &str, text: &str, most: usize) -> Checked {
    if text.chars().count() > most {
        return Err(wrong(name, Wrong::TooLong { most }));
    }
    Ok(())
}

fn number(name: &str, value: f64) -> Checked {
    if value.is_finite() && value.abs() <= GREATEST {
        Ok(())
    } else {
        Err(wrong(name, Wrong::Number))
    }
}

fn optional(name: &str, value: Option<f64>) -> Checked {
    number(name, value.unwrap_or(0.0))
}

fn moment(name: &str, at_ms: f64) -> Checked {
    if (0.0..=LAST_MS).contains(&at_ms) {
        Ok(())
    } else {
        Err(wrong(name, Wrong::Number))
    }
}

/// Empty, or a day of the calendar.
fn day(name: &str, day: &str) -> Checked {
    if day.is_empty() || is_day(day) {
        Ok(())
    } else {
        Err(wrong(name, Wrong::Day))
    }
}

fn is_day(day: &str) -> bool {
    let bytes = day.as_bytes();
    if bytes.len() != 10 || bytes[4] != b'-' || bytes[7] != b'-' {
        return false;
    }
    let whole = |range: std::ops::Range<usize>| {
        let digits = &bytes[range];
        digits.iter().all(u8::is_ascii_digit).then(|| digits.iter().fold(0, |n, d| 10 * n + u32::from(d - b'0')))
    };
    let (Some(year), Some(month), Some(day)) = (whole(0..4), whole(5..7), whole(8..10)) else { return false };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 => 28 + u32::from(leap),
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => 0,
    };
    year > 0 && (1..=days).contains(&day)
}

fn each<T>(name: &str, list: &[T], most: usize, check: impl Fn(&T) -> Checked) -> Checked {
    if list.len() > most {
        return Err(wrong(name, Wrong::TooMany { most }));
    }
    list.iter().enumerate().try_for_each(|(i, item)| check(item).map_err(|fault| at(name, i, fault)))
}

fn once<T>(name: &str, list: &[T], id: impl Fn(&T) -> &str) -> Checked {
    for (i, item) in list.iter().enumerate() {
        if list[..i].iter().any(|other| id(other) == id(item)) {
            return Err(at(name, i, wrong("", Wrong::Twice)));
        }
    }
    Ok(())
}

fn under(name: &str, fault: Fault) -> Fault {
    let dot = if fault.place.is_empty() || fault.place.starts_with('[') { "" } else { "." };
    Fault { place: [name, dot, &fault.place].concat(), ..fault }
}

fn at(name: &str, place: usize, fault: Fault) -> Fault {
    under(&format!("{name}[{place}]"), fault)
}

#[cfg(test)]
mod tests {
    use super::is_day;

    #[test]
    fn days_are_days_of_the_calendar() {
        for day in ["2026-01-31", "2024-02-29", "2000-02-29", "1999-12-01"] {
            assert!(is_day(day), "{day}");
        }
        for day in [
            "2026-02-29",
            "1900-02-29",
            "2026-04-31",
            "2026-00-10",
            "2026-13-01",
            "26-1-1",
            "2026/01/31",
            "0000-01-01",
            "２０２６-01",
            "2026-01-3x",
        ] {
            assert!(!is_day(day), "{day}");
        }
    }
}
