//! The impedance by microphone: what a driver sounds like without and with a resistor in series.
//!
//! Near the cone the pressure follows its acceleration, which follows the coil's current, whatever the suspension does: so
//! the pressures' ratio is that of the currents, (Z + R_o)/(Z + R_o + R) (circuit theory), in which microphone, room and
//! distance cancel as long as nothing moves. It is a divider as with two inputs, with the output's resistance R_o as a lead.
//! Takes come in the order without, with, without; delay is fitted, gain is the mean of the outer two and its change is
//! carried. f_s and the Q's follow from the shape; R_e and Z_max need R and the gain.

pub use super::mic_impedance_setup::MicImpedanceSetup;

use super::impedance_check::{conclude, CHECK_MICROPHONE as CHECK};
use super::impedance_takes::Measured;
use super::mic_forecast::{forecast, Forecast};
use super::mic_impedance_setup::Sorted;
use super::take_by_take::{in_steps, reference, same_signal, spectrum, Limits, Warnings};
use crate::electrical::one_channel::{by_microphone, delay_source};
use crate::electrical::ratio::{Method, RatioCurve};
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::Reading;
use crate::signal::role_take::{RoleTake, SetupError};

const METHOD: &str = "pressure with the resistor over pressure without, take over take, whole periods";
/// With a resistor about as large as R_e a change d of the gain between the outer takes leaves ±2d of R_e at 95 %: half of
/// what one input may change. Rooms and microphones do not repeat a pressure to better than some per cent line by line.
const LIMITS: Limits = Limits { band_hz: (60.0, 500.0), departs: 0.1, gain: (0.02, 0.01) };
/// A resistor in series only takes away; beyond this the takes are exchanged.
const LOUDER_WITH: f64 = 1.04;
/// Standard uncertainties by noise of f_s and Q_ts beyond which the reading itself would be refused.
const HOPELESS: (f64, f64) = (0.01, 0.10);

/// Reads the takes.
///
/// # Errors
/// [`SetupError`] for a setup that cannot be used; takes that cannot answer are a refused [`Reading`].
pub fn analyse(setup: &MicImpedanceSetup, takes: &[RoleTake]) -> Result<Reading, SetupError> {
    let sorted = setup.check(takes)?;
    let rate_hz = takes.iter().map(|t| t.take.rate_hz()).fold(f64::INFINITY, f64::min);
    let measured = match &sorted {
        Sorted::Forecast { silence, without } => return Ok(told(setup, silence, without)),
        Sorted::Reading { without, with } => measure(setup, without, with),
    };
    Ok(match measured {
        Err(notice) => Reading::refused(CHECK, METHOD, *notice),
        Ok((measured, gain_db)) => {
            let mut reading = Reading::new(CHECK, METHOD);
            reading.chosen.insert("gain_change_db".to_owned(), format!("{gain_db:.4}"));
            conclude(&setup.fit(), &measured, rate_hz, reading)
        }
    })
}

/// What takes like this one will give in this room; refused where nothing can come of it.
fn told(setup: &MicImpedanceSetup, silence: &RoleTake, without: &RoleTake) -> Reading {
    let method = "noise of the room against one take, through the fit of a typical driver";
    let spectrum = match spectrum(without, setup.channel, true, &mut Warnings::new()) {
        Ok(spectrum) => spectrum,
        Err(notice) => return Reading::refused(CHECK, method, *notice),
    };
    let rows = forecast(setup, silence.take.channel(setup.channel).unwrap_or_default(), &spectrum);
    let hopeless = |f: &&Forecast| f.f_s_relative < HOPELESS.0 && f.q_ts_relative < HOPELESS.1;
    let best = rows.iter().map(|f| f.q_ts_relative).fold(f64::INFINITY, f64::min);
    let mut reading = if rows.iter().any(|f| hopeless(&f)) {
        Reading::new(CHECK, method)
    } else {
        Reading::refused(CHECK, method, Notice::new(Code::Noise, &[("forecast_q_ts_relative", best)]))
    };
    let column = |of: fn(&Forecast) -> f64| rows.iter().map(of).collect::<Vec<f64>>();
    let curve = [
        ("f_s_hz", column(|f| f.f_s_hz)),
        ("f_s_percent", column(|f| 100.0 * f.f_s_relative)),
        ("q_ts_percent", column(|f| 100.0 * f.q_ts_relative)),
    ];
    reading.curves.insert("forecast".to_owned(), curve.map(|(name, values)| (name.to_owned(), values)).into());
    reading
}

/// The measured curve and the change of gain between the outer takes in dB.
fn measure(
    setup: &MicImpedanceSetup,
    without: &[&RoleTake; 2],
    with: &[&RoleTake],
) -> Result<(Measured, f64), Box<Notice>> {
    let mut warnings = Warnings::new();
    let mut open = |take: &RoleTake, told: bool| spectrum(take, setup.channel, told, &mut warnings);
    let (first, last) = (open(without[0], true)?, open(without[1], false)?);
    let with = with.iter().map(|t| open(t, true)).collect::<Result<Vec<_>, _>>()?;
    same_signal(&first, with.iter().chain([&last]))?;
    let reference = reference(first, last, &LIMITS, &mut warnings)?;
    let mut calibrated = by_microphone(setup.series(), setup.output_resistance_ohm.unwrap_or(0.0), reference.ln_gain);
    let band = setup.band();
    let look = |curve: &RatioCurve| plausible(setup, curve);
    // What was played louder is taken out before anything is looked at.
    let level = |curve: RatioCurve| played_out(setup, curve);
    let (curves, delay_s) = in_steps(with, &reference, &calibrated.jig, (band[0], band[1]), level, look)?;
    calibrated.sources.extend(delay_source(delay_s));
    let measured = Measured {
        mountings: vec![super::mounted::Mounting::default(); curves.len()],
        drivers: curves.iter().map(|c| c.impedance(&calibrated.jig)).collect(),
        method: Method::WholePeriods,
        averages: curves.iter().map(|c| c.averages).sum(),
        inverted: false,
        beside: None,
        calibrated,
        warnings,
    };
    Ok((measured, reference.ln_gain * 20.0 / std::f64::consts::LN_10))
}

fn played_out(setup: &MicImpedanceSetup, mut curve: RatioCurve) -> RatioCurve {
    for line in &mut curve.lines {
        let louder = setup.played(line.frequency_hz);
        line.ratio /= louder;
        line.variance /= louder * louder;
    }
    curve
}

fn plausible(setup: &MicImpedanceSetup, curve: &RatioCurve) -> Result<(), Box<Notice>> {
    let mut moduli: Vec<f64> = curve.lines.iter().map(|l| l.ratio.norm()).collect();
    moduli.sort_by(f64::total_cmp);
    let middle = moduli.get(moduli.len() / 2).copied().unwrap_or(0.0);
    if middle > LOUDER_WITH {
        return Err(Box::new(Notice::new(Code::Contradiction, &[("difference", middle - 1.0), ("allowed", 0.0)])));
    }
    let strays = moduli.iter().filter(|m| (**m - middle).abs() > 0.02).count();
    if middle > 0.9 && 50 * strays < moduli.len() {
        // Nothing was taken away: the resistor was not in the way.
        let numbers = [("found_ohm", 0.0), ("expected_ohm", setup.series_resistor_ohm)];
        return Err(Box::new(Notice::new(Code::WrongResistor, &numbers)));
    }
    Ok(())
}
