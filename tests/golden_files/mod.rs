//! Reading what stands in `tests/golden`.
#![allow(dead_code)] // each test file uses its own part

use serde_json::Value;

/// Bytes of a golden file.
pub fn bytes(name: &str) -> Vec<u8> {
    let path = format!("{}/tests/golden/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(&path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// A golden JSON document.
pub fn golden(name: &str) -> Value {
    serde_json::from_slice(&bytes(name)).expect("golden file is JSON")
}

/// A number by name.
pub fn number(v: &Value, key: &str) -> f64 {
    v[key].as_f64().unwrap_or_else(|| panic!("{key} is a number in {v}"))
}

/// A list of numbers by name.
pub fn numbers(v: &Value, key: &str) -> Vec<f64> {
    v[key].as_array().expect("a list").iter().map(|x| x.as_f64().expect("a number")).collect()
}
