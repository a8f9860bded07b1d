//! The impedance check with one input: a known resistor, the driver, the resistor again, and something else once.
//!
//! Each take is brought in step with the first one of the resistor (delay fitted), gain is the mean of both takes of the
//! resistor, and from there on it is a jig as with two inputs: [`crate::electrical::one_channel`]. The change of gain
//! between the two takes of the resistor is carried as an uncertainty, and ends the reading where it alone could hide the
//! difference of an acceptable pair. What two inputs would have given is worked out from the same curve and shown beside.

pub use super::one_channel_setup::OneChannelSetup;

use super::impedance_check::{conclude, CHECK_ONE_CHANNEL as CHECK};
use super::impedance_takes::Measured;
use super::mounted::Mounting;
use super::one_channel_setup::Sorted;
use super::take_by_take::{in_steps, reference, same_signal, spectrum, Limits, Reference, Warnings};
use crate::electrical::calibration::{calibrate as two_channels, Calibrated, JigTakes};
use crate::electrical::one_channel::{calibrate, delay_source, second_level, Behind};
use crate::electrical::plausibility::ratio_fault;
use crate::electrical::ratio::{Method, RatioCurve};
use crate::electrical::take_ratio::TakeSpectrum;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::Reading;
use crate::signal::role_take::{RoleTake, SetupError};

const METHOD: &str = "driver over known resistor, take over take, whole periods";
/// Gain may change by this much between the takes of the resistor: members of a pair are acceptable within 4 % of R_e and
/// good within 2 % (common practice), and a change d leaves ±d at 95 %, so 4 % can tell neither, 2 % not a good one. But
/// for the gain two takes of one resistor are alike; a driver left connected bends their ratio by tens of per cent.
/// Compared where every path is flat.
const LIMITS: Limits = Limits { band_hz: (100.0, 5000.0), departs: 0.03, gain: (0.04, 0.02) };
/// The resistance found behind the driver may be this much below the stated series resistor (part and reading), or this
/// many ohms above it: headphone outputs of more are not made; few have more than the second number (common practice, no
/// source). What is found is what is reckoned with, so a wrong print on the series resistor is told and does no harm.
const SERIES_LESS: f64 = 0.9;
const OUTPUT_MOST_OHM: f64 = 150.0;
const OUTPUT_USUAL_OHM: f64 = 40.0;
/// A coupling capacitor lets the low end of a light load stand above the middle by this much: refused, told.
const OUTPUT_BENDS: (f64, f64) = (0.05, 0.01);
/// H beyond this is more than an open circuit.
const MORE_THAN_OPEN: f64 = 1.04;
/// Lines of this band are read.
const BAND_HZ: (f64, f64) = (3.0, 20_000.0);

/// Reads the takes.
///
/// # Errors
/// [`SetupError`] for a setup that cannot be used; takes that cannot answer are a refused [`Reading`].
pub fn analyse(setup: &OneChannelSetup, takes: &[RoleTake]) -> Result<Reading, SetupError> {
    let sorted = setup.check(takes)?;
    let rate_hz = takes.iter().map(|t| t.take.rate_hz()).fold(f64::INFINITY, f64::min);
    Ok(match measure(setup, &sorted) {
        Err(notice) => Reading::refused(CHECK, METHOD, *notice),
        Ok((measured, chosen)) => {
            let mut reading = Reading::new(CHECK, METHOD);
            reading.chosen.extend(chosen.map(|(name, text)| (name.to_owned(), text)));
            conclude(&setup.fit(measured.calibrated.jig.series_resistor_ohm), &measured, rate_hz, reading)
        }
    })
}

type Chosen = [(&'static str, String); 3];

fn measure(setup: &OneChannelSetup, sorted: &Sorted) -> Result<(Measured, Chosen), Box<Notice>> {
    let mut warnings = Warnings::new();
    let [first, last] = sorted.known;
    let known_ohm = first.resistor_ohm.unwrap_or_default();
    let mut open = |take: &RoleTake, told: bool| spectrum(take, setup.channel, told, &mut warnings);
    let (first, last) = (open(first, true)?, open(last, false)?);
    let second = sorted.second.map(|t| Ok::<_, Box<Notice>>((t.resistor_ohm, open(t, false)?))).transpose()?;
    let drivers = sorted.drivers.iter().map(|t| open(t, true)).collect::<Result<Vec<_>, _>>()?;
    same_signal(&first, drivers.iter().chain([&last]).chain(second.as_ref().map(|(_, s)| s)))?;
    let reference = reference(first, last, &LIMITS, &mut warnings)?;
    let behind = behind(setup, second, &reference.mean, &mut warnings)?;
    let mut calibrated = calibrate(setup.known(known_ohm), behind, setup.input_resistance_ohm, reference.ln_gain);
    let series_ohm = calibrated.jig.series_resistor_ohm;
    plausible_series(setup, series_ohm, &mut warnings)?;
    let look = |curve: &RatioCurve| plausible(curve, &calibrated);
    let (curves, delay_s) = in_steps(drivers, &reference, &calibrated.jig, BAND_HZ, |curve| curve, look)?;
    calibrated.sources.extend(delay_source(delay_s));
    let relative = setup.series().relative;
    let measured = Measured {
        mountings: vec![Mounting::default(); curves.len()],
        drivers: curves.iter().map(|c| c.impedance(&calibrated.jig)).collect(),
        method: Method::WholePeriods,
        averages: curves.iter().map(|c| c.averages).sum(),
        inverted: false,
        beside: Some(two_channels(series_ohm, relative, setup.input_resistance_ohm, &JigTakes::default())),
        calibrated,
        warnings,
    };
    Ok((measured, chosen(series_ohm, &reference)))
}

fn chosen(series_ohm: f64, reference: &Reference) -> Chosen {
    let gain_db = reference.ln_gain * 20.0 / std::f64::consts::LN_10;
    [
        ("series_and_output_ohm", format!("{series_ohm:.3}")),
        ("gain_change_db", format!("{gain_db:.4}")),
        ("clocks", if reference.one_clock { "one" } else { "two" }.to_owned()),
    ]
}

/// What lies before the driver: found from the second load, or as stated.
fn behind(
    setup: &OneChannelSetup,
    second: Option<(Option<f64>, TakeSpectrum)>,
    reference: &TakeSpectrum,
    warnings: &mut Warnings,
) -> Result<Behind, Box<Notice>> {
    let Some((ohm, second)) = second else {
        return Ok(Behind::Stated(setup.series(), setup.output_resistance_ohm.unwrap_or_default()));
    };
    let apart = second.later_s(reference);
    let Some((level, bend)) = second_level(&second.earlier(apart), reference) else {
        return Err(Box::new(Notice::new(Code::Noise, &[("lines", 0.0)])));
    };
    if bend.abs() > OUTPUT_BENDS.1 {
        let notice = Notice::new(Code::OutputNotResistive, &[("low_end_off", bend)]);
        if bend.abs() > OUTPUT_BENDS.0 {
            return Err(Box::new(notice));
        }
        warnings.push((notice, true));
    }
    Ok(Behind::Found(ohm.map(|ohm| setup.known(ohm)), level))
}

/// Is there a driver between the clips?
fn plausible(curve: &RatioCurve, calibrated: &Calibrated) -> Result<(), Box<Notice>> {
    let jig = &calibrated.jig;
    let mut moduli: Vec<f64> = curve.lines.iter().map(|l| l.ratio.norm() / jig.gain_ratio).collect();
    moduli.sort_by(f64::total_cmp);
    let middle = moduli.get(moduli.len() / 2).copied().unwrap_or(0.0);
    if middle > MORE_THAN_OPEN {
        return Err(Box::new(Notice::new(Code::Contradiction, &[("difference", middle - 1.0), ("allowed", 0.0)])));
    }
    ratio_fault(curve, jig.gain_ratio, jig.series_resistor_ohm).map_or(Ok(()), |fault| Err(Box::new(fault)))
}

/// The resistance found behind the driver must be the stated resistor and an output.
fn plausible_series(setup: &OneChannelSetup, series_ohm: f64, warnings: &mut Warnings) -> Result<(), Box<Notice>> {
    let stated = setup.series_resistor_ohm;
    let notice = Notice::new(Code::WrongResistor, &[("found_ohm", series_ohm), ("expected_ohm", stated)]);
    if !(SERIES_LESS * stated..stated + OUTPUT_MOST_OHM).contains(&series_ohm) {
        return Err(Box::new(notice));
    }
    if setup.output_resistance_ohm.is_none() && series_ohm > stated + OUTPUT_USUAL_OHM {
        warnings.push((notice, false));
    }
    Ok(())
}
