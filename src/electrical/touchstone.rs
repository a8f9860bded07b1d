//! A measured impedance as a Touchstone 1.1 file of one port (`.s1p`).
//!
//! Touchstone File Format Specification 1.1 (open standard): comments begin with `!`; one option line
//! `# unit parameter format R n`; a line a frequency, rising; angles in degrees. Impedances (`Z`) of version 1 are
//! divided by the reference resistance n, so with n = 1 Ω the numbers of the file are ohms, however it is read.
//! Numbers are written so that they read back to the very same value.

use super::plain_text::one_line;
use std::fmt::Write;
use thiserror::Error;

/// Impedance at one frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnePort {
    /// Frequency in Hz.
    pub frequency_hz: f64,
    /// Modulus in Ω.
    pub magnitude_ohm: f64,
    /// Phase in degrees.
    pub phase_deg: f64,
    /// Standard uncertainty of the modulus in Ω; written as a comment of its line.
    pub standard_uncertainty_ohm: f64,
}

/// Why no file can be written.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum TouchstoneError {
    /// There is no point.
    #[error("the curve has no points")]
    Empty,
    /// The reference is not a positive resistance.
    #[error("{0} ohms cannot be a reference resistance")]
    Reference(f64),
    /// A number that is not finite, or a frequency that does not rise.
    #[error("point {0} of the curve is not a number, or its frequency does not rise")]
    Point(usize),
}

/// The text of the file. `remarks` stand at its head.
pub fn one_port(points: &[OnePort], reference_ohm: f64, remarks: &[String]) -> Result<String, TouchstoneError> {
    if !(reference_ohm.is_finite() && reference_ohm > 0.0) {
        return Err(TouchstoneError::Reference(reference_ohm));
    }
    check(points)?;
    let mut out = String::new();
    for remark in remarks {
        line(&mut out, format_args!("! {}", one_line(remark)));
    }
    line(&mut out, format_args!("! Z in units of the reference resistance, {reference_ohm} ohm; angle in degrees"));
    line(&mut out, format_args!("! behind each line: standard uncertainty of the modulus in ohm"));
    line(&mut out, format_args!("# HZ Z MA R {reference_ohm}"));
    for p in points {
        let z = p.magnitude_ohm / reference_ohm;
        line(&mut out, format_args!("{} {z} {} ! {:.3e}", p.frequency_hz, p.phase_deg, p.standard_uncertainty_ohm));
    }
    Ok(out)
}

fn check(points: &[OnePort]) -> Result<(), TouchstoneError> {
    let mut below = -f64::MIN_POSITIVE;
    for (i, p) in points.iter().enumerate() {
        let finite = p.magnitude_ohm.is_finite() && p.phase_deg.is_finite() && p.standard_uncertainty_ohm.is_finite();
        // Not `<=`: what is no number fails as well.
        if !(finite && p.frequency_hz.is_finite() && p.frequency_hz > below && p.magnitude_ohm >= 0.0) {
            return Err(TouchstoneError::Point(i + 1));
        }
        below = p.frequency_hz;
    }
    if points.is_empty() {
        return Err(TouchstoneError::Empty);
    }
    Ok(())
}

/// Writing to a string cannot fail.
fn line(out: &mut String, text: std::fmt::Arguments) {
    let _ = out.write_fmt(text);
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(frequency_hz: f64, magnitude_ohm: f64, phase_deg: f64) -> OnePort {
        OnePort { frequency_hz, magnitude_ohm, phase_deg, standard_uncertainty_ohm: 0.01 }
    }

    /// Example 2 of the specification: at 100 MHz and R 75 the file says 0.99 at -4 degrees, which is 74.25 Ω.
    #[test]
    fn impedances_are_divided_by_the_reference() {
        let text = one_port(&[point(1e8, 74.25, -4.0), point(2e8, 60.0, -22.0)], 75.0, &[]).unwrap();
        let rows: Vec<&str> = text.lines().filter(|l| !l.starts_with('!')).collect();
        assert_eq!(rows[0], "# HZ Z MA R 75");
        assert_eq!(rows[1], "100000000 0.99 -4 ! 1.000e-2");
        assert_eq!(rows[2], "200000000 0.8 -22 ! 1.000e-2");
    }

    #[test]
    fn remarks_stay_comments() {
        let text = one_port(&[point(10.0, 6.0, 1.0)], 1.0, &["Six\n# GHz S RI R 50".to_owned()]).unwrap();
        assert_eq!(text.lines().filter(|l| l.starts_with('#')).count(), 1);
    }

    #[test]
    fn what_makes_no_file_is_told() {
        let good = point(10.0, 6.0, 1.0);
        assert_eq!(one_port(&[], 1.0, &[]), Err(TouchstoneError::Empty));
        assert_eq!(one_port(&[good], 0.0, &[]), Err(TouchstoneError::Reference(0.0)));
        assert_eq!(one_port(&[good, good], 1.0, &[]), Err(TouchstoneError::Point(2)));
        assert_eq!(one_port(&[point(f64::NAN, 1.0, 0.0)], 1.0, &[]), Err(TouchstoneError::Point(1)));
    }
}
