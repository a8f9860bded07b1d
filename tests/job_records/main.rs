//! Records of jobs: every version is opened for ever, round trips lose nothing, hostile records are refused with what to
//! do, and two records of one job become one without loss. What is read here by serde_json the page reads by its own reader;
//! `browser::record` holds the two against each other.
mod jobs;
mod merging;
mod versions;

use conewright::job::record::Job;
use conewright::job::versions::{open, RecordError, Source};
use serde::de::DeserializeOwned;
use serde_json::Value;

/// A record read by the general library.
struct Json(Value);

impl Source for Json {
    fn read<T: DeserializeOwned>(&self) -> Result<T, (String, String)> {
        serde_json::from_value(self.0.clone()).map_err(|error| (String::new(), error.to_string()))
    }
}

fn opened(value: &Value) -> Result<Job, RecordError> {
    open(&Json(value.clone()))
}

fn stored(name: &str) -> Value {
    let path = format!("{}/tests/job_records/{name}", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}
