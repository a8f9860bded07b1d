use super::{jobs, opened, stored, Json};
use conewright::job::record::{Conflict, Job, VERSION};
use conewright::job::rules::Wrong;
use conewright::job::versions::{open, RecordError};
use proptest::prelude::*;
use serde_json::{json, Value};

/// The newest version as stored, with one thing in it put in another's place.
fn with(pointer: &str, value: Value) -> Value {
    let mut record = stored(&format!("version_{VERSION}.json"));
    *record.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer}")) = value;
    record
}

#[test]
fn every_version_has_a_stored_record_and_is_opened() {
    for version in 1..=VERSION {
        let job = opened(&stored(&format!("version_{version}.json"))).unwrap();
        assert_eq!(job.version, VERSION);
        assert_eq!(job.parts.len(), 2);
    }
}

#[test]
fn version_1_comes_over_field_by_field() {
    let old = stored("version_1.json");
    let new = serde_json::to_value(opened(&old).unwrap()).unwrap();
    for (name, value) in old.as_object().unwrap() {
        if name != "version" {
            // Numbers by value: 8 and 8.0 are the same record. Fields that came later stand beside.
            holds(&new[name], value, name);
        }
    }
    assert_eq!(opened(&old).unwrap().conflicts, Vec::<Conflict>::new());
}

/// Everything in `wanted` stands in `found`.
fn holds(found: &Value, wanted: &Value, place: &str) {
    match wanted {
        Value::Object(fields) => fields.iter().for_each(|(name, value)| holds(&found[name], value, name)),
        Value::Array(items) => {
            assert_eq!(found.as_array().map(Vec::len), Some(items.len()), "{place}");
            items.iter().enumerate().for_each(|(i, value)| holds(&found[i], value, place));
        }
        Value::Number(_) => assert_eq!(found.as_f64(), wanted.as_f64(), "{place}"),
        _ => assert_eq!(found, wanted, "{place}"),
    }
}

#[test]
fn the_newest_version_comes_back_as_it_was_written() {
    let record = stored(&format!("version_{VERSION}.json"));
    holds(&serde_json::to_value(opened(&record).unwrap()).unwrap(), &record, "");
}

#[test]
fn a_newer_version_is_told_from_nonsense() {
    for version in [VERSION + 1, 4_000_000_000] {
        // Whatever else has changed in it.
        let error = opened(&json!({ "version": version, "everything": "else" })).unwrap_err();
        assert_eq!(error, RecordError::Newer { found: version });
        assert!(error.to_string().contains("update this page"), "{error}");
    }
    for nonsense in [json!(null), json!([]), json!({}), json!("job"), json!(3), json!({ "version": "1" })] {
        assert!(matches!(opened(&nonsense), Err(RecordError::NoRecord { .. })), "{nonsense}");
    }
    for version in [json!(0), json!(-1), json!(1.5), json!(1e10)] {
        assert!(matches!(opened(&json!({ "version": version })), Err(RecordError::NoRecord { .. })), "{version}");
    }
}

#[test]
fn unknown_missing_and_wrong_fields_are_refused() {
    let mut unknown = with("/title", json!("x"));
    unknown["colour"] = json!("red");
    let mut deep = with("/title", json!("x"));
    deep["parts"][0]["order"]["colour"] = json!("red");
    let mut missing = with("/title", json!("x"));
    missing.as_object_mut().unwrap().remove("owner");
    let wrong = [
        with("/title", json!(3)),
        with("/title", json!(null)),
        with("/parts", json!({})),
        with("/parts/0/kind", json!("tweeter")),
        with("/parts/0/order", json!([])),
        with("/parts/0/looks/0/finding", json!("fine")),
        with("/parts/0/overrides/0/verdict", json!(true)),
        with("/changed_at_ms", json!("now")),
    ];
    for record in [unknown, deep, missing].iter().chain(&wrong) {
        assert!(matches!(opened(record), Err(RecordError::Shape { .. })), "{record}");
    }
}

#[test]
fn contents_that_cannot_be_are_refused_and_named() {
    let long = "x".repeat(4001);
    let day = |text: &str| (json!(text), Wrong::Day);
    let (no_id, too_long) = (|text: &str| (json!(text), Wrong::Id), (json!(long), Wrong::TooLong { most: 4000 }));
    let cases = [
        ("/title", too_long.clone()),
        ("/parts/1/note", too_long.clone()),
        ("/parts/0/order/work", too_long.clone()),
        ("/parts/0/filed/0/note", too_long.clone()),
        ("/done/0", too_long),
        ("/parts/0/looks/0/point", (json!("x".repeat(81)), Wrong::TooLong { most: 80 })),
        ("/done", (json!(vec![""; 201]), Wrong::TooMany { most: 200 })),
        ("/parts/0/coils/0/shown_ohm", (json!(vec![1.0; 501]), Wrong::TooMany { most: 500 })),
        ("/parts/0/photos", (json!(vec!["a"; 101]), Wrong::TooMany { most: 100 })),
        ("/parts/0/rated_impedance_ohm", (json!(1e16), Wrong::Number)),
        ("/parts/0/references/0/value", (json!(-1e300), Wrong::Number)),
        ("/parts/0/filed/0/conditions/level_v", (json!(1e40), Wrong::Number)),
        ("/created_at_ms", (json!(-1), Wrong::Number)),
        ("/changed_at_ms", (json!(1e16), Wrong::Number)),
        ("/id", no_id("")),
        ("/parts/0/id", no_id("../x")),
        ("/parts/0/filed/0/reading", no_id("__proto__")),
        ("/parts/0/looks/0/photos/0", no_id("a b")),
        ("/parts/0/photos/0", no_id(&"a".repeat(65))),
        ("/received_on", day("2026-02-30")),
        ("/parts/0/order/sent_on", day("last week")),
        ("/parts/1/id", (json!("b7a7c0de-0000-4000-8000-000000000001"), Wrong::Twice)),
        ("/parts/0/filed/1/reading", (json!("b7a7c0de-0000-4000-8000-0000000000aa"), Wrong::Twice)),
    ];
    for (pointer, (value, wanted)) in cases {
        let error = opened(&with(pointer, value)).expect_err(pointer);
        let RecordError::Content { place, wrong } = &error else { panic!("{pointer}: {error:?}") };
        assert_eq!(wrong, &wanted, "{pointer}");
        // What stands twice is named by its entry, the rest by the field.
        let field = pointer.trim_start_matches('/').replace("/0", "[0]").replace("/1", "[1]").replace('/', ".");
        assert!(field.starts_with(place.as_str()), "{place} instead of {field}");
        assert!(place.len() + 9 > field.len(), "{place} instead of {field}");
    }
}

#[test]
fn numbers_beyond_all_numbers_are_refused() {
    let mut job = opened(&stored(&format!("version_{VERSION}.json"))).unwrap();
    for bad in [f64::NAN, f64::INFINITY] {
        job.parts[0].coils[0].meter_ohm = bad;
        let error = conewright::job::rules::check(&job).unwrap_err();
        assert_eq!(error.place(), "parts[0].coils[0].meter_ohm");
    }
}

/// Puts something else into a place of the record, chosen by `steps`.
fn spoil(value: &mut Value, steps: &[usize], with: &Value, remove: bool) {
    let Some((step, rest)) = steps.split_first() else { return *value = with.clone() };
    match value {
        Value::Object(fields) if !fields.is_empty() => {
            let name = fields.keys().nth(step % fields.len()).unwrap().clone();
            if rest.is_empty() && remove {
                fields.remove(&name);
            } else {
                spoil(&mut fields[&name], rest, with, remove);
            }
        }
        Value::Array(items) if !items.is_empty() => {
            let at = step % items.len();
            if rest.is_empty() && remove {
                items.remove(at);
            } else {
                spoil(&mut items[at], rest, with, remove);
            }
        }
        _ => *value = with.clone(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn what_is_written_is_read_again(job in jobs::job()) {
        let text = serde_json::to_string(&job).unwrap();
        prop_assert_eq!(open(&Json(serde_json::from_str(&text).unwrap())), Ok(job));
    }

    #[test]
    fn an_older_record_opens_to_the_same_job(job in jobs::job()) {
        let mut old = serde_json::to_value(&job).unwrap();
        old["version"] = json!(1);
        old.as_object_mut().unwrap().remove("conflicts");
        prop_assert_eq!(opened(&old), Ok(Job { conflicts: Vec::new(), ..job }));
    }

    #[test]
    fn what_is_spoilt_is_refused_or_read_whole(
        job in jobs::job(),
        steps in proptest::collection::vec(0usize..30, 1..6),
        with in proptest::sample::select(vec![json!(null), json!(-7), json!(1e300), json!("x"), json!("2026-99-99"), json!([]), json!([[]]), json!({"x": 1}), json!(true)]),
        remove: bool,
    ) {
        let mut record = serde_json::to_value(&job).unwrap();
        spoil(&mut record, &steps, &with, remove);
        if let Ok(read) = opened(&record) {
            // Nothing of it was left out or made up.
            prop_assert_eq!(opened(&serde_json::to_value(&read).unwrap()), Ok(read.clone()));
            holds(&serde_json::to_value(read).unwrap(), &record, "");
        }
    }
}
