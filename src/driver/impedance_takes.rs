//! From the takes of an impedance check to one measured curve: ratios, wiring faults, calibration.

use super::impedance_setup::ImpedanceSetup;
use crate::electrical::calibration::{calibrate, Calibrated, JigTakes};
use crate::electrical::impedance::ImpedancePoint;
use crate::electrical::periodic_ratio::periodic_ratio;
use crate::electrical::plausibility;
use crate::electrical::ratio::{Method, RatioCurve};
use crate::signal::notice::{Code, Notice};
use crate::signal::periods::PeriodsError;
use crate::signal::role_take::RoleTake;

/// Calibrations are smooth: bins of a sixth of an octave.
const CALIBRATION_BIN: f64 = 0.12;

/// What the takes measured.
pub struct Measured {
    /// The jig with its uncertainties.
    pub calibrated: Calibrated,
    /// Impedance of each driver take, line by line, in rising frequency.
    pub drivers: Vec<Vec<ImpedancePoint>>,
    /// How the first driver take was evaluated.
    pub method: Method,
    /// Periods or segments that count, all driver takes together.
    pub averages: usize,
    /// True where the driver channel came in upside down and was turned.
    pub inverted: bool,
    /// What a person should know; true where it makes the reading doubtful.
    pub warnings: Vec<(Notice, bool)>,
}

/// Measures, or says why the takes cannot answer. The setup has been checked.
pub fn measure(setup: &ImpedanceSetup, takes: &[RoleTake]) -> Result<Measured, Box<Notice>> {
    let mut warnings = Vec::new();
    let mut jig_takes = JigTakes::default();
    let mut curves = Vec::new();
    for take in takes {
        let (source, driver) = channels(setup, take);
        if take.role == "driver" {
            curves.push(driver_ratio(setup, take, source, driver, &mut warnings)?);
        } else {
            calibration_take(take, source, driver, &mut jig_takes)?;
        }
    }
    let inverted = curves.iter().all(plausibility::inverted);
    if inverted {
        curves.iter_mut().flat_map(|c| &mut c.lines).for_each(|l| l.ratio = -l.ratio);
    }
    for curve in &curves {
        if let Some(fault) = plausibility::ratio_fault(curve, setup.series_resistor_ohm) {
            return Err(Box::new(fault));
        }
    }
    let calibrated =
        calibrate(setup.series_resistor_ohm, setup.resistor_uncertainty(), setup.input_resistance_ohm, &jig_takes);
    check_proofs(&calibrated, &mut warnings)?;
    Ok(Measured {
        drivers: curves.iter().map(|c| c.impedance(&calibrated.jig)).collect(),
        calibrated,
        method: curves[0].method,
        averages: curves.iter().map(|c| c.averages).sum(),
        inverted,
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
    source: &[f64],
    driver: &[f64],
    warnings: &mut Vec<(Notice, bool)>,
) -> Result<RatioCurve, Box<Notice>> {
    if let Some(fault) = plausibility::channel_fault(source, driver, setup.source_channel, setup.driver_channel) {
        return Err(Box::new(fault));
    }
    let curve = ratio_of(take, source, driver)?;
    if curve.set_aside + curve.slips > 0 {
        let numbers = [("periods_dropped", curve.set_aside as f64), ("slips", curve.slips as f64)];
        warnings.push((Notice::new(Code::Gap, &numbers), false));
    }
    let below_signal_db = 20.0 * curve.hum_ratio.max(1e-12).log10();
    if below_signal_db > HUM_WORTH_SAYING_DB {
        let notice = Notice::new(Code::Hum, &[("below_signal_db", below_signal_db)]);
        warnings.push((notice, below_signal_db > HUM_DOUBTFUL_DB));
    }
    Ok(curve)
}

/// Hum louder than this against the signal is told of.
const HUM_WORTH_SAYING_DB: f64 = -40.0;
/// Louder than this it may do more than stand on its own lines.
const HUM_DOUBTFUL_DB: f64 = -10.0;

fn ratio_of(take: &RoleTake, source: &[f64], driver: &[f64]) -> Result<RatioCurve, Box<Notice>> {
    match periodic_ratio(source, driver, take.take.rate_hz()) {
        Ok(curve) => Ok(curve),
        Err(PeriodsError::TooFew { good, found, samples }) if good < found => {
            let dropped = (found - good) as f64;
            let period_s = samples as f64 / take.take.rate_hz();
            Err(Box::new(Notice::new(Code::Gap, &[("periods_dropped", dropped), ("period_s", period_s)])))
        }
        Err(_) => Err(Box::new(Notice::new(Code::TooShort, &[("duration_s", take.take.duration_s())]))),
    }
}

fn calibration_take(
    take: &RoleTake,
    source: &[f64],
    driver: &[f64],
    jig_takes: &mut JigTakes,
) -> Result<(), Box<Notice>> {
    let curve = ratio_of(take, source, driver)?;
    let fault = match take.role.as_str() {
        "same_node" => plausibility::one_clip_fault(&curve),
        "short" => plausibility::short_fault(&curve),
        _ => None,
    };
    if let Some(fault) = fault {
        return Err(Box::new(fault));
    }
    let track = curve.track(CALIBRATION_BIN);
    match (take.role.as_str(), take.resistor_ohm) {
        ("same_node", _) => jig_takes.same_node = Some(track),
        ("short", _) => jig_takes.short = Some(track),
        ("open", _) => jig_takes.open = Some(track),
        (_, Some(ohm)) => jig_takes.known_resistors.push((ohm, track)),
        _ => {}
    }
    Ok(())
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
