//! The record of a job between its text and its types.

use super::reader::Reader;
use super::tree::Tree;
use super::wire::CoreFault;
use crate::job::merge::merge;
use crate::job::record::Job;
use crate::job::versions::{self, RecordError, Source};
use serde::de::DeserializeOwned;

/// Longest text of a record that is read, in bytes.
const LONGEST: usize = 8_000_000;

impl Source for Tree {
    fn read<T: DeserializeOwned>(&self) -> Result<T, (String, String)> {
        T::deserialize(Reader(self)).map_err(|wrong| (wrong.place(), wrong.what))
    }
}

impl From<RecordError> for CoreFault {
    fn from(error: RecordError) -> Self {
        CoreFault { kind: "record".to_owned(), ..CoreFault::at(error.place().to_owned(), error) }
    }
}

/// A job from the text of its record, whatever version wrote it.
///
/// # Errors
/// A [`CoreFault`] of the kind `record`: what is wrong, where, and what to do.
pub fn read_record(json: &str) -> Result<Job, CoreFault> {
    let no_record = |what: &str| CoreFault::from(RecordError::NoRecord { what: what.to_owned() });
    if json.len() > LONGEST {
        return Err(no_record("it is far too long"));
    }
    let tree = Tree::parse(json).map_err(|what| no_record(&what))?;
    Ok(versions::open(&tree)?)
}

/// Two records of one job as one.
///
/// # Errors
/// As [`read_record`]; two different jobs.
pub fn merge_records(one: &str, two: &str) -> Result<Job, CoreFault> {
    Ok(merge(&read_record(one)?, &read_record(two)?)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::{json, Value};

    const NEWEST: &str = include_str!("../../tests/job_records/version_2.json");
    const FIRST: &str = include_str!("../../tests/job_records/version_1.json");

    struct General(Value);

    impl Source for General {
        fn read<T: DeserializeOwned>(&self) -> Result<T, (String, String)> {
            serde_json::from_value(self.0.clone()).map_err(|error| (String::new(), error.to_string()))
        }
    }

    /// By the general library.
    fn generally(json: &str) -> Option<Job> {
        versions::open(&General(serde_json::from_str(json).ok()?)).ok()
    }

    #[test]
    fn both_readers_open_the_stored_records() {
        for json in [FIRST, NEWEST] {
            assert_eq!(read_record(json).unwrap(), generally(json).unwrap());
        }
        let both = merge_records(FIRST, NEWEST).unwrap();
        assert_eq!(both.parts, read_record(NEWEST).unwrap().parts);
    }

    #[test]
    fn what_is_wrong_is_named_with_what_to_do() {
        for (json, place, says) in [
            (NEWEST.replace("\"version\": 2", "\"version\": 9"), None, "version 9"),
            (NEWEST.replace("\"wanted\": true", "\"wanted\": 1"), Some("parts[0].order.wanted"), "true or false"),
            (NEWEST.replace("2026-01-12", "2026-13-12"), Some("parts[0].order.sent_on"), "no day"),
            (NEWEST.replace("\"title\"", "\"tilte\""), Some("tilte"), "another copy"),
            (NEWEST[..900].to_owned(), None, "no record of a job"),
            ("[".repeat(100_000), None, "no record of a job"),
            (" ".repeat(8_000_001), None, "far too long"),
        ] {
            let fault = read_record(&json).unwrap_err();
            assert_eq!((fault.kind.as_str(), fault.field.as_deref()), ("record", place), "{}", fault.message);
            assert!(fault.message.contains(says), "{}", fault.message);
        }
    }

    /// One place of the record replaced, chosen by `steps`.
    fn spoil(value: &mut Value, steps: &[usize], with: &Value) {
        let Some((step, rest)) = steps.split_first() else { return *value = with.clone() };
        match value {
            Value::Object(fields) if !fields.is_empty() => {
                let name = fields.keys().nth(step % fields.len()).cloned().unwrap_or_default();
                spoil(&mut fields[&name], rest, with);
            }
            Value::Array(items) if !items.is_empty() => {
                let at = step % items.len();
                spoil(&mut items[at], rest, with);
            }
            _ => *value = with.clone(),
        }
    }

    proptest! {
        #[test]
        fn both_readers_agree_on_spoilt_records(
            first: bool,
            steps in proptest::collection::vec(0usize..30, 1..6),
            with in proptest::sample::select(vec![json!(null), json!(-7), json!(0.5), json!(1e20), json!("left"), json!("2026-02-03"), json!([]), json!([0.5]), json!({}), json!(true)]),
        ) {
            let mut record: Value = serde_json::from_str(if first { FIRST } else { NEWEST }).unwrap();
            spoil(&mut record, &steps, &with);
            let json = record.to_string();
            prop_assert_eq!(read_record(&json).ok(), generally(&json), "{}", json);
        }

        #[test]
        fn cut_or_garbled_text_is_refused_without_a_panic(at in 0usize..5000, byte: u8, cut: bool) {
            let mut bytes = NEWEST.as_bytes().to_vec();
            let at = at % bytes.len();
            if cut {
                bytes.truncate(at);
            } else {
                bytes[at] = byte;
            }
            let json = String::from_utf8_lossy(&bytes);
            prop_assert_eq!(read_record(&json).ok(), generally(&json));
        }
    }
}
