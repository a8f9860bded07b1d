//! A slipped digit among typed readings: which reading contradicts the others, and what was probably meant.
//!
//! Each reading is left out in turn and compared with what the others ask for (deleted residual over its standard
//! uncertainty, Student's t with the freedom that is left). Where one stands out beyond chance, the digits as typed are
//! tried: a point misplaced, the two voltages exchanged, neighbouring digits exchanged, one digit mistyped; and two whole
//! readings exchanged. Nothing is corrected here: the finding is told, the person decides.

use super::meter_fit::{display_uncertainty, fit, fit_near, stated_error, MeterFit, PRIOR_FREEDOM};
use super::meter_setup::MeterSetup;
use crate::electrical::meter_reading::{log_ratio_of, MeterReading};
use crate::math::quantiles::student_t;
use crate::math::robust::{mad, median};
use crate::signal::notice::{Code, Notice};

/// Good readings are called slipped in one of so many checks.
const FALSE_ALARMS: f64 = 1e-3;
/// Deviations of a ratio below this are never called a slip: a driver differs from the circuit by more than nothing.
const LEAST_SLIP: f64 = 0.02;
/// What was meant must fit the others within so many standard uncertainties.
const FITS_WITHIN: f64 = 3.0;
/// Levels scatter less than this (ln) where all tones had one level.
const ONE_LEVEL: f64 = 0.1;
/// Readings that must be left to judge another one: one more than can always be followed.
const JUDGES_AT_LEAST: usize = 6;

/// A reading that the others contradict, or two that were exchanged.
pub(super) fn find(setup: &MeterSetup, full: Option<&MeterFit>) -> Option<Notice> {
    let all = &setup.readings;
    if all.len() <= JUDGES_AT_LEAST {
        return None;
    }
    let out = worst(setup, full)?;
    if out.beyond_chance() {
        // Two exchanged readings are both wrong; with one of them left out the other still spoils the fit.
        let spoiled = |m: f64| out.others.relative_error > 0.5 * m;
        if full.is_none_or(|f| spoiled(f.relative_error)) {
            if let Some(pair) = exchanged(setup, &out) {
                return Some(pair);
            }
        }
        return Some(describe(setup, &out));
    }
    exchanged(setup, &out)
}

/// One reading against all others.
struct Outlier {
    at: usize,
    others: MeterFit,
    /// ln ratio that the others ask for, and its standard uncertainty with the reading's own.
    expected: f64,
    uncertainty: f64,
    /// (read − expected)/uncertainty.
    t: f64,
    count: usize,
}

impl Outlier {
    fn beyond_chance(&self) -> bool {
        let freedom = (self.others.freedom.max(0.0) + PRIOR_FREEDOM).max(1.0);
        let limit = student_t(1.0 - 0.5 * FALSE_ALARMS / self.count as f64, freedom);
        self.t.abs() > limit && self.t.abs() * self.uncertainty > LEAST_SLIP
    }
}

fn worst(setup: &MeterSetup, full: Option<&MeterFit>) -> Option<Outlier> {
    (0..setup.readings.len()).filter_map(|i| left_out(setup, full, i)).max_by(|a, b| a.t.abs().total_cmp(&b.t.abs()))
}

fn left_out(setup: &MeterSetup, full: Option<&MeterFit>, at: usize) -> Option<Outlier> {
    let mut rest = setup.readings.clone();
    let reading = rest.remove(at);
    // Near a good fit lies a good fit; a slip may have led the whole one astray.
    let near = full.and_then(|f| fit_near(setup, &rest, f)).filter(|f| f.relative_error < 2.0 * stated_error(setup));
    let others = near.or_else(|| fit(setup, &rest))?;
    let (expected, by_circuit) = others.expects(&reading, setup.series_resistor_ohm);
    // The mistyped volts may claim any accuracy: what the others ask for decides about it.
    let meant = reading.with(reading.other_v() * expected.exp(), reading.other_v());
    let display = display_uncertainty(setup, &meant);
    let uncertainty = by_circuit.hypot(display).hypot(2f64.sqrt() * others.relative_error);
    let t = (reading.log_ratio() - expected) / uncertainty;
    Some(Outlier { at, others, expected, uncertainty, t, count: setup.readings.len() })
}

/// Two readings that fit once their volts change places, where nothing fits as it stands.
fn exchanged(setup: &MeterSetup, out: &Outlier) -> Option<Notice> {
    let own = setup.readings[out.at];
    let before = fit(setup, &setup.readings)?;
    let swapped_with = |k: usize| {
        let mut readings = setup.readings.clone();
        let other = readings[k];
        if k == out.at || other.across() != own.across() {
            return None;
        }
        readings[k] = other.with(own.driver_v, own.other_v());
        readings[out.at] = own.with(other.driver_v, other.other_v());
        Some((k, fit(setup, &readings)?))
    };
    let swaps = (0..setup.readings.len()).filter_map(swapped_with);
    let (k, fitted) = swaps.min_by(|a, b| a.1.relative_error.total_cmp(&b.1.relative_error))?;
    let moved = (own.log_ratio() - setup.readings[k].log_ratio()).abs();
    let clears = fitted.relative_error < 0.25 * before.relative_error.min(out.others.relative_error);
    let (first, second) = (out.at.min(k), out.at.max(k));
    (clears && moved > LEAST_SLIP).then(|| {
        let numbers = [("reading", first as f64 + 1.0), ("exchanged_with_reading", second as f64 + 1.0)];
        Notice::new(Code::Contradiction, &numbers)
    })
}

/// The finding in numbers: which reading, what is typed, what was probably meant or is asked for.
fn describe(setup: &MeterSetup, out: &Outlier) -> Notice {
    let reading = &setup.readings[out.at];
    let (driver_v, other_v) = (reading.driver_v, reading.other_v());
    let mut numbers = vec![("reading", out.at as f64 + 1.0), ("frequency_hz", reading.frequency_hz)];
    let (typed, probably, expected) = other_names(reading);
    match probable(setup, out) {
        Some((d, o)) => {
            if d != driver_v {
                numbers.extend([("driver_typed_v", driver_v), ("driver_probably_v", d)]);
            }
            if o != other_v {
                numbers.extend([(typed, other_v), (probably, o)]);
            }
        }
        None if level_says_driver(setup, out) != Some(false) => {
            numbers.extend([("driver_typed_v", driver_v), ("driver_expected_v", other_v * out.expected.exp())]);
        }
        None => numbers.extend([(typed, other_v), (expected, driver_v / out.expected.exp())]),
    }
    Notice::new(Code::Contradiction, &numbers)
}

fn other_names(reading: &MeterReading) -> (&'static str, &'static str, &'static str) {
    match reading.resistor_v {
        Some(_) => ("resistor_typed_v", "resistor_probably_v", "resistor_expected_v"),
        None => ("source_typed_v", "source_probably_v", "source_expected_v"),
    }
}

/// The volts (driver, other) that were probably meant: the simplest slip whose correction fits the others.
fn probable(setup: &MeterSetup, out: &Outlier) -> Option<(f64, f64)> {
    let reading = &setup.readings[out.at];
    let (driver_v, other_v) = (reading.driver_v, reading.other_v());
    let misfit = |d: f64, o: f64| ((d / o).ln() - out.expected).abs();
    let fits = |&(d, o): &(f64, f64)| misfit(d, o) < FITS_WITHIN * out.uncertainty;
    let by_level = level_says_driver(setup, out);
    type Slip = fn(&str) -> Vec<String>;
    let kinds: [Slip; 3] = [points_moved, neighbours_exchanged, digits_changed];
    for (rank, kind) in kinds.into_iter().enumerate() {
        if rank == 1 && fits(&(other_v, driver_v)) {
            return Some((other_v, driver_v));
        }
        let variants = |v: f64| kind(&as_typed(setup, v)).into_iter().filter_map(|t| t.parse::<f64>().ok());
        let by_driver = variants(driver_v).map(|v| (v, other_v)).filter(|_| by_level != Some(false));
        let by_other = variants(other_v).map(|v| (driver_v, v)).filter(|_| by_level != Some(true));
        let nearest = |a: &(f64, f64), b: &(f64, f64)| misfit(a.0, a.1).total_cmp(&misfit(b.0, b.1));
        if let Some(found) = by_driver.chain(by_other).filter(fits).min_by(nearest) {
            return Some(found);
        }
    }
    None
}

/// True where the level of the tones says that the driver's volts are wrong, false for the other ones; none where the
/// tones had different levels.
fn level_says_driver(setup: &MeterSetup, out: &Outlier) -> Option<bool> {
    let r_ohm = setup.series_resistor_ohm * out.others.resistor_shift.exp();
    // Volts of the source that each of the two voltages speaks of.
    let levels = |reading: &MeterReading| {
        let z = out.others.circuit.impedance(reading.frequency_hz);
        let whole = (z + r_ohm).norm();
        let by_driver = reading.driver_v * whole / z.norm();
        let by_other = by_driver * (log_ratio_of(reading.across(), z, r_ohm) - reading.log_ratio()).exp();
        (by_driver.ln(), by_other.ln())
    };
    let rest = setup.readings.iter().enumerate().filter(|(i, _)| *i != out.at);
    let known: Vec<f64> = rest.map(|(_, r)| levels(r).1).collect();
    let level = median(&known).filter(|_| mad(&known).is_some_and(|spread| spread < ONE_LEVEL))?;
    let (by_driver, by_other) = levels(&setup.readings[out.at]);
    Some((by_driver - level).abs() > (by_other - level).abs())
}

/// The digits as the display shows them; a person types what stands there.
fn as_typed(setup: &MeterSetup, volts: f64) -> String {
    let decimals = (-setup.accuracy.resolution_at_v(volts).log10() - 1e-9).ceil().clamp(0.0, 9.0) as usize;
    let shown = format!("{volts:.decimals$}");
    // A value that the stated resolution cannot show keeps its own digits.
    if shown.parse() == Ok(volts) {
        shown
    } else {
        volts.to_string()
    }
}

fn points_moved(typed: &str) -> Vec<String> {
    let volts: f64 = typed.parse().unwrap_or(f64::NAN);
    [0.1, 10.0, 0.01, 100.0, 0.001, 1000.0].iter().map(|factor| rounded(volts * factor)).collect()
}

/// Without the dust of binary fractions.
fn rounded(volts: f64) -> String {
    let text = format!("{volts:.9}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn neighbours_exchanged(typed: &str) -> Vec<String> {
    let places: Vec<usize> = typed.char_indices().filter(|(_, c)| c.is_ascii_digit()).map(|(i, _)| i).collect();
    let swap = |pair: &[usize]| {
        let mut digits = typed.as_bytes().to_vec();
        digits.swap(pair[0], pair[1]);
        String::from_utf8(digits).unwrap_or_default()
    };
    places.windows(2).map(swap).collect()
}

fn digits_changed(typed: &str) -> Vec<String> {
    let mut variants = Vec::new();
    for (i, was) in typed.char_indices().filter(|(_, c)| c.is_ascii_digit()) {
        for digit in ('0'..='9').filter(|d| *d != was) {
            variants.push(format!("{}{digit}{}", &typed[..i], &typed[i + 1..]));
        }
    }
    variants
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_of_the_typing_hand() {
        assert!(points_moved("0.453").contains(&"4.53".to_owned()));
        assert_eq!(neighbours_exchanged("0.45"), ["4.05", "0.54"]);
        assert_eq!(digits_changed("0.45").len(), 27);
        assert!(digits_changed("0.45").contains(&"0.75".to_owned()));
    }
}
