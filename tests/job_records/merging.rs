use super::{jobs, opened, stored};
use conewright::job::merge::merge;
use conewright::job::record::{Conflict, Job};
use conewright::job::versions::RecordError;
use proptest::prelude::*;
use serde_json::{json, Value};

fn stored_job() -> Job {
    opened(&stored("version_2.json")).unwrap()
}

#[test]
fn the_later_text_stands_and_the_other_is_listed() {
    let one = stored_job();
    let mut two = one.clone();
    two.changed_at_ms += 1.0;
    two.parts[0].note = "another note".to_owned();
    two.parts[1].note = "filled in only here".to_owned();
    let both = merge(&one, &two).unwrap();
    assert_eq!(both.parts[0].note, "another note");
    assert_eq!(both.parts[1].note, "filled in only here");
    let new: Vec<&Conflict> = both.conflicts.iter().filter(|c| !one.conflicts.contains(c)).collect();
    assert_eq!(new.len(), 1);
    assert_eq!((new[0].part.as_str(), new[0].field.as_str()), (one.parts[0].id.as_str(), "note"));
    assert_eq!((&new[0].other, new[0].at_ms), (&one.parts[0].note, one.changed_at_ms));
}

#[test]
fn entries_of_both_are_kept_in_time() {
    let mut one = stored_job();
    let mut two = one.clone();
    let mut early = one.parts[0].filed[0].clone();
    early.reading = "earlier".to_owned();
    early.at_ms = 1.0;
    two.parts[0].filed.push(early);
    one.parts[0].coils[0].shown_ohm.push(6.5);
    one.done.push("leads soldered anew".to_owned());
    let both = merge(&one, &two).unwrap();
    let readings: Vec<&str> = both.parts[0].filed.iter().map(|f| f.reading.as_str()).collect();
    assert_eq!(readings[0], "earlier");
    assert_eq!(readings.len(), 3);
    assert_eq!(both.parts[0].coils.len(), 2, "the one coil reading that was changed stands in both forms");
    assert_eq!(both.done.len(), 3);
}

#[test]
fn another_job_is_not_mixed_in() {
    let one = stored_job();
    let two = Job { id: "another".to_owned(), ..one.clone() };
    assert_eq!(merge(&one, &two), Err(RecordError::OtherJob));
}

/// The record with all lists sorted: what is the same up to the order.
fn sorted(job: &Job) -> Value {
    fn sort(value: &mut Value) {
        match value {
            Value::Array(items) => {
                items.iter_mut().for_each(sort);
                items.sort_by_key(ToString::to_string);
            }
            Value::Object(fields) => fields.values_mut().for_each(sort),
            _ => {}
        }
    }
    let mut value = serde_json::to_value(job).unwrap();
    value["shown"] = json!(null);
    sort(&mut value);
    value
}

/// Every text and number of a record; what `shown` says is a choice of the later one, and of two times of writing or filing
/// one stands.
fn leaves(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| leaves(item, found)),
        Value::Object(fields) => {
            fields
                .iter()
                .filter(|(name, _)| *name != "shown" && !name.ends_with("_ms"))
                .for_each(|(_, value)| leaves(value, found));
        }
        // What was not filled in: `side`.
        Value::String(text) if text == "none" => {}
        Value::String(text) => found.push(text.clone()),
        Value::Number(number) => found.push(number.as_f64().unwrap().to_string()),
        Value::Bool(yes) => found.push(if *yes { "yes" } else { "no" }.to_owned()),
        Value::Null => {}
    }
}

fn leaves_of(job: &Job) -> Vec<String> {
    let mut found = Vec::new();
    let value = serde_json::to_value(job).unwrap();
    leaves(&value, &mut found);
    found
}

/// Entries of lists that are kept as they are.
fn entries(job: &Job) -> Vec<String> {
    let parts = job.parts.iter().flat_map(|part| {
        let id = |value: Value| format!("{} {value}", part.id);
        let looks = part.looks.iter().map(move |entry| id(json!(entry)));
        let id = |value: Value| format!("{} {value}", part.id);
        let coils = part.coils.iter().map(move |entry| id(json!(entry)));
        let id = |value: Value| format!("{} {value}", part.id);
        let overrides = part.overrides.iter().map(move |entry| id(json!(entry)));
        let filed = part.filed.iter().map(|entry| format!("{} {}", part.id, entry.reading));
        looks.chain(coils).chain(overrides).chain(filed)
    });
    parts.chain(job.done.iter().cloned()).chain(job.not_done.iter().cloned()).chain(job.care.iter().cloned()).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn a_job_with_itself_is_the_job(job in jobs::job()) {
        let once = merge(&job, &job).unwrap();
        prop_assert_eq!(sorted(&once), sorted(&job));
    }

    #[test]
    fn merging_again_changes_nothing(one in jobs::job(), two in jobs::job()) {
        let both = merge(&one, &two).unwrap();
        prop_assert_eq!(sorted(&merge(&both, &one).unwrap()), sorted(&both));
        prop_assert_eq!(sorted(&merge(&both, &two).unwrap()), sorted(&both));
    }

    #[test]
    fn it_does_not_matter_which_comes_first(one in jobs::job(), two in jobs::job()) {
        prop_assert_eq!(sorted(&merge(&one, &two).unwrap()), sorted(&merge(&two, &one).unwrap()));
    }

    #[test]
    fn nothing_is_lost(one in jobs::job(), two in jobs::job()) {
        let both = merge(&one, &two).unwrap();
        let (found, kept) = (leaves_of(&both), entries(&both));
        for job in [&one, &two] {
            for leaf in leaves_of(job).iter().filter(|leaf| !leaf.is_empty()) {
                prop_assert!(found.contains(leaf), "{leaf} is lost");
            }
            for entry in entries(job) {
                prop_assert!(kept.contains(&entry), "{entry} is lost");
            }
        }
    }
}
