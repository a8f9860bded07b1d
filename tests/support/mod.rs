//! The one tolerance policy of all tests, and readers of stored tables.
//!
//! A tolerance is never chosen so that a test passes. It is one of these, and the test says which numbers enter it:
//! - [`Tolerance::Printed`]: the expected value is printed with so many significant digits; half a unit of the last one.
//! - [`Tolerance::Relative`], [`Tolerance::Absolute`]: derived in a comment at the test (truncation, curvature, condition).
//! - [`Tolerance::Statistical`]: the found value has a known standard deviation; four of them are allowed, so that a
//!   correct program fails once in 16 000 seeds (and the seed is fixed).
//! - [`Tolerance::Platform`]: the same computation natively and as wasm, or in another library: sine and logarithm differ
//!   in the last bit, and long sums by their order; 1e-9 relative.
#![allow(dead_code)] // each test program uses its own part of this

/// How close is close enough; see the policy above.
#[derive(Clone, Copy, Debug)]
pub enum Tolerance {
    /// Significant digits printed.
    Printed(u32),
    /// Part of the expected value.
    Relative(f64),
    /// In the unit of the value.
    Absolute(f64),
    /// One standard deviation of the found value.
    Statistical(f64),
    /// Same computation elsewhere.
    Platform,
}

impl Tolerance {
    /// Largest difference allowed from `expected`.
    pub fn allowed(self, expected: f64) -> f64 {
        match self {
            Tolerance::Printed(_) if expected == 0.0 => 0.0,
            Tolerance::Printed(digits) => {
                // One part in 10⁶ of the half unit is added, so that an exact tie is not decided by rounding.
                0.500_000_5 * 10.0_f64.powi(expected.abs().log10().floor() as i32 + 1 - digits as i32)
            }
            Tolerance::Relative(part) => part * expected.abs(),
            Tolerance::Absolute(difference) => difference,
            Tolerance::Statistical(sigma) => 4.0 * sigma,
            Tolerance::Platform => 1e-9 * expected.abs(),
        }
    }
}

/// Fails with both values, the difference and what was allowed.
#[track_caller]
pub fn assert_close(what: &str, found: f64, expected: f64, tolerance: Tolerance) {
    let allowed = tolerance.allowed(expected);
    let difference = (found - expected).abs();
    assert!(
        difference <= allowed,
        "{what}: found {found:e}, expected {expected:e}: off by {difference:e}, allowed {allowed:e} ({tolerance:?})"
    );
}

/// Rows of a stored table: comment lines (`#`) are skipped, fields trimmed.
pub fn rows(text: &str) -> Vec<Vec<String>> {
    text.lines()
        .filter(|line| !line.trim().is_empty() && !line.starts_with('#'))
        .map(|line| line.split(',').map(|field| field.trim().to_owned()).collect())
        .collect()
}

/// Numeric columns of a stored table with one heading row.
pub fn numbers(text: &str) -> Vec<Vec<f64>> {
    let parse = |field: &String| field.parse().unwrap_or_else(|_| panic!("'{field}' is no number"));
    rows(text)[1..].iter().map(|row| row.iter().map(parse).collect()).collect()
}
