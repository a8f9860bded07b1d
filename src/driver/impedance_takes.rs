//! From the takes of an impedance check to one measured curve: ratios, wiring faults, calibration.

use super::impedance_setup::ImpedanceSetup;
use super::mounted::Mounting;
use crate::electrical::calibration::{calibrate, Calibrated, JigTakes};
use crate::electrical::foreign_ratio::{noise_ratio, sweep_ratio};
use crate::electrical::impedance::ImpedancePoint;
use crate::electrical::jig::Track;
use crate::electrical::periodic_ratio::periodic_ratio;
use crate::electrical::plausibility;
use crate::electrical::ratio::{Method, RatioCurve};
use crate::signal::classify::{classify, Kind};
use crate::signal::health::{assess_known_period, Health};
use crate::signal::notice::{Code, Notice};
use crate::signal::period_search::active_span;
use crate::signal::periods::PeriodsError;
use crate::signal::role_take::RoleTake;
use std::ops::Range;

/// Calibrations are smooth: bins of a sixth of an octave.
const CALIBRATION_BIN: f64 = 0.12;

/// What the takes measured.
pub struct Measured {
    /// The jig with its uncertainties.
    pub calibrated: Calibrated,
    /// Impedance of each driver take, line by line, in rising frequency.
    pub drivers: Vec<Vec<ImpedancePoint>>,
    /// How the driver was mounted in each of them.
    pub mountings: Vec<Mounting>,
    /// How the first driver take was evaluated.
    pub method: Method,
    /// Periods or segments that count, all driver takes together.
    pub averages: usize,
    /// True where the driver channel came in upside down and was turned.
    pub inverted: bool,
    /// Another jig whose budget is to be shown beside, for the same curve.
    pub beside: Option<Calibrated>,
    /// What a person should know; true where it makes the reading doubtful.
    pub warnings: Vec<(Notice, bool)>,
}

/// Measures, or says why the takes cannot answer. The setup has been checked.
pub fn measure(setup: &ImpedanceSetup, takes: &[RoleTake]) -> Result<Measured, Box<Notice>> {
    let mut warnings = Vec::new();
    let mut jig_takes = JigTakes::default();
    let (mut curves, mut mountings) = (Vec::new(), Vec::new());
    for take in takes.iter().filter(|t| t.role == "driver") {
        let added_mass_kg = take.added_mass_kg.unwrap_or(0.0);
        mountings.push(Mounting { added_mass_kg, box_volume_m3: take.box_volume_m3 });
        curves.push(driver_ratio(setup, take, &mut warnings)?);
    }
    // Each take by itself: a plug may have been turned between two of them.
    let turned: Vec<bool> = curves.iter().map(plausibility::inverted).collect();
    let inverted = turned.contains(&true);
    curves.iter_mut().zip(&turned).filter(|(_, turned)| **turned).for_each(|(c, _)| c.turn());
    for take in takes.iter().filter(|t| t.role != "driver") {
        let curve = calibration_ratio(setup, take, inverted, &mut warnings)?;
        keep_calibration(take, &curve, &mut jig_takes);
    }
    let gain = jig_takes.same_node.as_ref().map_or(1.0, Track::middle_modulus);
    for curve in &curves {
        if let Some(fault) = plausibility::ratio_fault(curve, gain, setup.series_resistor_ohm) {
            return Err(Box::new(fault));
        }
    }
    let calibrated =
        calibrate(setup.series_resistor_ohm, setup.resistor_uncertainty(), setup.input_resistance_ohm, &jig_takes);
    check_proofs(&calibrated, &mut warnings)?;
    Ok(Measured {
        drivers: curves.iter().map(|c| c.impedance(&calibrated.jig)).collect(),
        mountings,
        calibrated,
        method: curves[0].method,
        averages: curves.iter().map(|c| c.averages).sum(),
        inverted,
        beside: None,
        warnings,
    })
}

fn channels<'a>(setup: &ImpedanceSetup, take: &'a RoleTake) -> (&'a [f64], &'a [f64]) {
    let channel = |number: usize| take.take.channel(number).unwrap_or_default();
    (channel(setup.source_channel), channel(setup.driver_channel))
}

fn driver_ratio(
    setup: &ImpedanceSetup,
    take: &RoleTake,
    warnings: &mut Vec<(Notice, bool)>,
) -> Result<RatioCurve, Box<Notice>> {
    let (source, driver) = channels(setup, take);
    let (kind, health) = look(setup, take, source);
    let broken = health.notices.iter().any(|n| n.code == Code::Gap);
    for notice in health.notices {
        match severity(&notice, take.take.len()) {
            Severity::Refuses => return Err(Box::new(notice)),
            Severity::Doubtful => warnings.push((notice, true)),
            Severity::Told => warnings.push((notice, false)),
        }
    }
    if let Some(fault) = plausibility::unrelated_fault(source, driver, setup.source_channel, setup.driver_channel) {
        return Err(Box::new(fault));
    }
    let curve = ratio_of(take, source, driver, kind)?;
    spoiled_periods(&curve, broken, warnings)?;
    let numbers = [("snr_db", curve.snr_db), ("wanted_db", SNR_WANTED_DB)];
    if curve.snr_db < SNR_REFUSED_DB {
        return Err(Box::new(Notice::new(Code::Noise, &numbers)));
    }
    if curve.snr_db < SNR_WANTED_DB {
        warnings.push((Notice::new(Code::Noise, &numbers), curve.snr_db < SNR_DOUBTFUL_DB));
    }
    Ok(curve)
}

/// Kind of the signal and health of both channels; the period is searched once for both.
fn look(setup: &ImpedanceSetup, take: &RoleTake, source: &[f64]) -> (Kind, Health) {
    let kind = classify(source, take.take.rate_hz());
    let period = match kind {
        Kind::Periodic { samples } => Some(samples),
        _ => None,
    };
    (kind, assess_known_period(&take.take, &[setup.source_channel, setup.driver_channel], period))
}

/// What a notice about the samples means for an impedance.
pub(super) enum Severity {
    Refuses,
    Doubtful,
    Told,
}

pub(super) fn severity(notice: &Notice, samples: usize) -> Severity {
    let number = |name: &str| notice.numbers.get(name).copied().unwrap_or(0.0);
    match notice.code {
        Code::Silent | Code::SameChannels | Code::DeadChannel => Severity::Refuses,
        Code::Clipped if number("clipped_samples") > CLIPPED_REFUSED * samples as f64 => Severity::Refuses,
        Code::Clipped => Severity::Doubtful,
        Code::GainRiding if number("change_db").abs() > RIDING_REFUSED_DB => Severity::Refuses,
        Code::GainRiding => Severity::Doubtful,
        Code::Hum if number("below_signal_db").abs() < HUM_DOUBTFUL_DB => Severity::Doubtful,
        _ => Severity::Told,
    }
}

/// Lost samples, or periods that differ for another reason: a joint, a bump.
fn spoiled_periods(curve: &RatioCurve, broken: bool, warnings: &mut Vec<(Notice, bool)>) -> Result<(), Box<Notice>> {
    if broken && curve.method != Method::WholePeriods {
        // Without periods there is no part of the record that the break left whole.
        return Err(Box::new(Notice::new(Code::Gap, &[])));
    }
    let numbers = [("periods_dropped", curve.set_aside as f64), ("slips", curve.slips as f64)];
    if curve.slips > 0 && !broken {
        warnings.push((Notice::new(Code::Gap, &numbers), false));
    } else if curve.set_aside > 0 && !broken {
        let many = curve.set_aside as f64 > 0.4 * (curve.set_aside + curve.averages) as f64;
        warnings.push((Notice::new(Code::Noise, &numbers), many));
    }
    Ok(())
}

/// Part of the samples that may be cut off before the take is refused.
const CLIPPED_REFUSED: f64 = 1e-4;
/// Change of level between periods beyond which ratios are not believed.
const RIDING_REFUSED_DB: f64 = 1.0;
/// Hum nearer to the signal than this may do more than stand on its own lines.
const HUM_DOUBTFUL_DB: f64 = 10.0;
/// Signal over scatter in the driver channel: less is told of; less still makes doubtful.
const SNR_WANTED_DB: f64 = 30.0;
const SNR_DOUBTFUL_DB: f64 = 12.0;
/// Below this the channels may as well be strangers.
const SNR_REFUSED_DB: f64 = 3.0;

/// How a recording that is not ours is read: source, driver, rate, active span.
type ForeignRatio = fn(&[f64], &[f64], f64, Range<usize>) -> Option<RatioCurve>;

fn ratio_of(take: &RoleTake, source: &[f64], driver: &[f64], kind: Kind) -> Result<RatioCurve, Box<Notice>> {
    let rate_hz = take.take.rate_hz();
    let too_short = || Box::new(Notice::new(Code::TooShort, &[("duration_s", take.take.duration_s())]));
    let foreign = |f: ForeignRatio| {
        active_span(source, rate_hz).and_then(|active| f(source, driver, rate_hz, active)).ok_or_else(too_short)
    };
    match kind {
        Kind::Periodic { samples } => match periodic_ratio(source, driver, rate_hz, samples) {
            Ok(curve) => Ok(curve),
            Err(PeriodsError::TooFew { good, found, .. }) if found >= 2 => {
                Err(Box::new(Notice::new(Code::Gap, &[("periods_dropped", (found - good) as f64)])))
            }
            Err(_) => Err(too_short()),
        },
        Kind::SingleSweep => foreign(sweep_ratio),
        Kind::StationaryNoise => foreign(noise_ratio),
        Kind::Tone { frequency_hz } => {
            let numbers = [("low_hz", frequency_hz), ("high_hz", frequency_hz)];
            Err(Box::new(Notice::new(Code::BandTooNarrow, &numbers)))
        }
        Kind::Silent => Err(Box::new(Notice::new(Code::Silent, &[]))),
        Kind::NotUsable if take.take.duration_s() < SHORTEST_S => Err(too_short()),
        Kind::NotUsable => Err(Box::new(Notice::new(Code::NoStimulus, &[]))),
    }
}

/// A take shorter than this holds no two periods of anything useful at 20 Hz.
const SHORTEST_S: f64 = 1.5;

/// Ratio of a calibration take, turned upright where the driver channel comes in upside down.
fn calibration_ratio(
    setup: &ImpedanceSetup,
    take: &RoleTake,
    inverted: bool,
    warnings: &mut Vec<(Notice, bool)>,
) -> Result<RatioCurve, Box<Notice>> {
    let (source, driver) = channels(setup, take);
    let (kind, health) = look(setup, take, source);
    for notice in health.notices.into_iter().filter(|n| !belongs_to(&take.role, n.code)) {
        match severity(&notice, take.take.len()) {
            Severity::Refuses => return Err(Box::new(notice)),
            Severity::Doubtful => warnings.push((notice, true)),
            Severity::Told => {}
        }
    }
    let mut curve = ratio_of(take, source, driver, kind)?;
    // A short leaves so little that its own sign may be noise: there the driver takes decide.
    if if take.role == "short" { inverted } else { plausibility::inverted(&curve) } {
        curve.turn();
    }
    let fault = match take.role.as_str() {
        "same_node" => plausibility::one_clip_fault(&curve),
        "short" => plausibility::short_fault(&curve),
        "open" => plausibility::open_fault(&curve),
        _ => None,
    };
    fault.map_or(Ok(curve), |fault| Err(Box::new(fault)))
}

/// What would be a fault with a driver is what these takes are made for.
fn belongs_to(role: &str, code: Code) -> bool {
    match role {
        "same_node" | "open" => code == Code::SameChannels,
        "short" => matches!(code, Code::DeadChannel | Code::Silent),
        _ => false,
    }
}

fn keep_calibration(take: &RoleTake, curve: &RatioCurve, jig_takes: &mut JigTakes) {
    let track = curve.track(CALIBRATION_BIN);
    match (take.role.as_str(), take.resistor_ohm) {
        ("same_node", _) => jig_takes.same_node = Some(track),
        ("short", _) => jig_takes.short = Some(track),
        ("open", _) => jig_takes.open = Some(track),
        (_, Some(ohm)) => jig_takes.known_resistors.push((ohm, track)),
        _ => {}
    }
}

/// A known resistor further off than ten per cent is another resistor; further than four deviations makes doubtful.
fn check_proofs(calibrated: &Calibrated, warnings: &mut Vec<(Notice, bool)>) -> Result<(), Box<Notice>> {
    for proof in &calibrated.proofs {
        let numbers =
            [("found_ohm", proof.found_ohm), ("expected_ohm", proof.stated_ohm), ("deviations", proof.deviations)];
        if proof.deviations.abs() > 4.0 {
            let notice = Notice::new(Code::WrongResistor, &numbers);
            if (proof.found_ohm / proof.stated_ohm - 1.0).abs() > 0.1 {
                return Err(Box::new(notice));
            }
            warnings.push((notice, true));
        }
    }
    Ok(())
}
