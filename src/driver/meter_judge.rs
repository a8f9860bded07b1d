//! Whether typed readings can answer at all, and whether the answer is good enough to be given.

use super::meter_fit::{fit, stated_error, MeterFit};
use super::meter_setup::MeterSetup;
use crate::electrical::meter_reading::{Across, MeterReading};
use crate::math::order::ascending;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::Reading;

/// Frequencies wanted at least: f_s, Q_ms, Q_es, R_e, the coil's size, and one that can contradict; R_e by ohms saves one.
const FREQUENCIES_AT_LEAST: usize = 6;
/// A highest reading that rises less than this above the lowest is no resonance.
const LEAST_PROMINENCE: f64 = 1.15;
/// Moduli that no driver has, in Ω.
const NO_DRIVER_OHM: (f64, f64) = (0.3, 1e4);
/// A meter that reads this many times worse than stated, or columns whose exchange makes the fit so much better.
const FAR_WORSE: f64 = 3.0;
/// Relative error of the readings against the circuit above which the curve is not one driver's; a fifth makes doubtful.
const MISFIT_REFUSED: f64 = 0.08;
/// Relative standard uncertainties of f_s and Q_ts above which the figures are refused, and doubtful.
const COARSE_REFUSED: (f64, f64) = (0.05, 0.30);
const COARSE_DOUBTFUL: (f64, f64) = (0.02, 0.12);
/// Below this many meters are slow. Common practice, no source.
const SLOW_BELOW_HZ: f64 = 30.0;
/// R_e by ohms and by tones may differ by this many standard uncertainties, and by this share.
const OHMS_WITHIN: (f64, f64) = (3.5, 0.04);

/// Readings that cannot be fitted: too few, columns exchanged, nothing connected.
pub(super) fn before_the_fit(setup: &MeterSetup) -> Result<(), Box<Notice>> {
    let mut hz: Vec<f64> = setup.readings.iter().map(|r| r.frequency_hz).collect();
    ascending(&mut hz);
    hz.dedup_by(|a, b| (*a / *b - 1.0).abs() < 1e-6);
    let wanted = FREQUENCIES_AT_LEAST - usize::from(setup.r_e_ohm.is_some());
    if hz.len() < wanted {
        return refuse(Code::TooFewReadings, &[("readings", hz.len() as f64), ("readings_wanted", wanted as f64)]);
    }
    let louder = setup.readings.iter().filter(|r| r.across() == Across::Both && r.log_ratio() >= 0.0).count();
    if 2 * louder > setup.readings.len() {
        return refuse(Code::SwappedChannels, &[("readings_swapped", louder as f64)]);
    }
    let (lowest, highest) = ends(setup, |(_, ohm)| ohm);
    if lowest.1 > NO_DRIVER_OHM.1 {
        return refuse(Code::OpenCircuit, &[("impedance_ohm", lowest.1)]);
    }
    if highest.1 < NO_DRIVER_OHM.0 {
        return refuse(Code::ShortCircuit, &[("impedance_ohm", highest.1)]);
    }
    Ok(())
}

/// Readings that stand on one side of the resonance only, or show none.
pub(super) fn shape(setup: &MeterSetup, full: Option<&MeterFit>) -> Result<(), Box<Notice>> {
    let (lowest, highest) = ends(setup, |(_, ohm)| ohm);
    let (first, last) = ends(setup, |(hz, _)| hz);
    if highest.1 < LEAST_PROMINENCE * lowest.1 {
        return refuse(Code::ModelMisfit, &[]);
    }
    columns_exchanged(setup, full)?;
    if highest.0 <= first.0 || highest.0 >= last.0 {
        return refuse(Code::BandTooNarrow, &[("low_hz", first.0), ("high_hz", last.0), ("highest_hz", highest.0)]);
    }
    Ok(())
}

/// With the two columns of volts exchanged the peak becomes a dip.
fn columns_exchanged(setup: &MeterSetup, full: Option<&MeterFit>) -> Result<(), Box<Notice>> {
    let exchanged: Vec<MeterReading> = setup.readings.iter().map(|r| r.with(r.other_v(), r.driver_v)).collect();
    let (lowest, _) = ends(setup, |(_, ohm)| ohm);
    let (first, last) = ends(setup, |(hz, _)| hz);
    if lowest.0 <= first.0 || lowest.0 >= last.0 {
        return Ok(());
    }
    let as_typed = full.map_or(f64::INFINITY, |f| f.relative_error);
    match fit(setup, &exchanged) {
        Some(better) if FAR_WORSE * better.relative_error < as_typed && as_typed > FAR_WORSE * stated_error(setup) => {
            refuse(Code::SwappedChannels, &[("dip_hz", lowest.0)])
        }
        _ => Ok(()),
    }
}

/// Is the answer good enough to be given?
pub(super) fn after_the_fit(setup: &MeterSetup, found: &MeterFit, reading: &mut Reading) -> Result<(), Box<Notice>> {
    near_the_resonance(setup, found)?;
    misfit(setup, found, reading)?;
    coarse(reading)?;
    let slow: Vec<f64> = setup.readings.iter().map(|r| r.frequency_hz).filter(|hz| *hz < SLOW_BELOW_HZ).collect();
    if !slow.is_empty() {
        let lowest = slow.iter().copied().fold(f64::INFINITY, f64::min);
        reading.warn(Notice::new(Code::SlowMeter, &[("readings", slow.len() as f64), ("frequency_hz", lowest)]), false);
    }
    ohms(setup, reading);
    let r_e_ohm = found.circuit.r_e_ohm;
    if !(1.2..=60.0).contains(&r_e_ohm) {
        // No driver of 2 to 32 Ω has such a coil: the stated resistor is more likely wrong.
        reading.warn(Notice::new(Code::WrongResistor, &[("r_e_ohm", r_e_ohm)]), true);
    }
    Ok(())
}

/// Readings on both sides, the nearest within the width of the peak.
fn near_the_resonance(setup: &MeterSetup, found: &MeterFit) -> Result<(), Box<Notice>> {
    let f_s = found.circuit.f_s_hz;
    let away = |r: &&MeterReading| (r.frequency_hz / f_s).ln().abs();
    let Some(nearest) = setup.readings.iter().min_by(|a, b| away(a).total_cmp(&away(b))) else {
        return refuse(Code::TooFewReadings, &[("readings", 0.0)]);
    };
    let (first, last) = ends(setup, |(hz, _)| hz);
    let width = (1.5 / found.circuit.q_ms).clamp(0.08, 0.6);
    if f_s <= first.0 || f_s >= last.0 || away(&nearest) > width {
        let numbers = [("low_hz", first.0), ("high_hz", last.0), ("f_s_hz", f_s), ("nearest_hz", nearest.frequency_hz)];
        return refuse(Code::BandTooNarrow, &numbers);
    }
    Ok(())
}

fn misfit(setup: &MeterSetup, found: &MeterFit, reading: &mut Reading) -> Result<(), Box<Notice>> {
    let m = found.relative_error;
    let worst = (0..found.deviations.len()).max_by(|&a, &b| {
        let size = |i: usize| (found.deviations[i] / found.scale[i]).abs();
        size(a).total_cmp(&size(b))
    });
    let at = worst.map_or(f64::NAN, |i| setup.readings[i].frequency_hz);
    let numbers = [("relative_misfit", m), ("frequency_hz", at)];
    if m > FAR_WORSE * stated_error(setup) {
        if m > MISFIT_REFUSED {
            return refuse(Code::ModelMisfit, &numbers);
        }
        if m > 0.2 * MISFIT_REFUSED {
            reading.warn(Notice::new(Code::ModelMisfit, &numbers), true);
        }
    }
    Ok(())
}

fn coarse(reading: &mut Reading) -> Result<(), Box<Notice>> {
    let share = |name: &str| {
        let figure = reading.values.get(name);
        figure.and_then(|f| Some(f.standard_uncertainty? / f.value)).unwrap_or(f64::INFINITY)
    };
    let (f_s, q_ts) = (share("f_s_hz"), share("q_ts"));
    let numbers = [("f_s_relative_uncertainty", f_s), ("q_ts_relative_uncertainty", q_ts)];
    // Written so that a figure without uncertainty is refused as well.
    if !(f_s < COARSE_REFUSED.0 && q_ts < COARSE_REFUSED.1) {
        return refuse(Code::CoarseReadings, &numbers);
    }
    if f_s > COARSE_DOUBTFUL.0 || q_ts > COARSE_DOUBTFUL.1 {
        reading.warn(Notice::new(Code::CoarseReadings, &numbers), true);
    }
    Ok(())
}

/// R_e by ohms against what the tones ask for without it.
fn ohms(setup: &MeterSetup, reading: &mut Reading) {
    let Some((typed_ohm, typed_share)) = setup.ohms_reading() else { return };
    let without = MeterSetup { r_e_ohm: None, ..setup.clone() };
    let Some(by_tones) = fit(&without, &without.readings) else { return };
    let found_ohm = by_tones.circuit.r_e_ohm;
    let apart = (found_ohm / typed_ohm).ln().abs();
    let uncertainty = by_tones.covariance[(3, 3)].sqrt().hypot(typed_share);
    if apart > OHMS_WITHIN.0 * uncertainty && apart > OHMS_WITHIN.1 {
        let numbers = [("r_e_typed_ohm", typed_ohm), ("r_e_by_tones_ohm", found_ohm)];
        reading.warn(Notice::new(Code::Contradiction, &numbers), true);
    }
}

/// The readings (frequency in Hz, modulus in Ω taking the driver as a resistance) with the least and greatest `by`.
fn ends(setup: &MeterSetup, by: fn((f64, f64)) -> f64) -> ((f64, f64), (f64, f64)) {
    let modulus = |r: &MeterReading| r.magnitude_ohm(setup.series_resistor_ohm, 0.0).unwrap_or(f64::MAX);
    let all = || setup.readings.iter().map(|r| (r.frequency_hz, modulus(r)));
    let less = |a: (f64, f64), b: (f64, f64)| if by(b) < by(a) { b } else { a };
    let more = |a: (f64, f64), b: (f64, f64)| if by(b) > by(a) { b } else { a };
    let none = (f64::NAN, f64::NAN);
    (all().reduce(less).unwrap_or(none), all().reduce(more).unwrap_or(none))
}

fn refuse(code: Code, numbers: &[(&str, f64)]) -> Result<(), Box<Notice>> {
    Err(Box::new(Notice::new(code, numbers)))
}
