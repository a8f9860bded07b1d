//! The impedance by microphone: what a driver sounds like without and with a resistor in series.
//!
//! Near the cone the pressure follows its acceleration, which follows the coil's current, whatever the suspension does: so
//! the pressures' ratio is that of the currents, (Z + R_o)/(Z + R_o + R) (circuit theory), in which microphone, room and
//! distance cancel as long as nothing moves. It is a divider as with two inputs, with the output's resistance R_o as a lead.
//! Takes come in the order without, with, without; delay is fitted, gain is the mean of the outer two and its change is
//! carried. Takes with the resistor may be shaped so that the cone travels as it did without: those are read then, and the
//! plain ones beside them show whether gain follows level. f_s and the Q's follow from the shape; R_e and Z_max need R and
//! the gain. R_o is stated, or found from a take with a resistor across the output.

pub use super::mic_impedance_setup::MicImpedanceSetup;

use super::impedance_check::{conclude, CHECK_MICROPHONE as CHECK};
use super::impedance_takes::Measured;
use super::mic_forecast::{forecast, Forecast};
use super::mic_impedance_setup::Sorted;
use super::mic_riding::{judge, level_db, Judged};
use super::take_by_take::{in_steps, reference, same_signal, spectrum, Limits, Reference, Warnings};
use crate::electrical::jig::Jig;
use crate::electrical::loaded_output::{found_output, FoundOutput};
use crate::electrical::one_channel::{by_microphone, delay_source, Resistor};
use crate::electrical::ratio::{Method, RatioCurve};
use crate::electrical::take_ratio::TakeSpectrum;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::{Figure, Reading};
use crate::signal::role_take::{RoleTake, SetupError};

const METHOD: &str = "pressure with the resistor over pressure without, take over take, whole periods";
/// With a resistor about as large as R_e a change d of the gain between the outer takes leaves ±2d of R_e at 95 %: half of
/// what one input may change. Rooms and microphones do not repeat a pressure to better than some per cent line by line.
pub(super) const LIMITS: Limits = Limits { band_hz: (60.0, 500.0), departs: 0.1, gain: (0.02, 0.01) };
/// A resistor in series only takes away; beyond this the takes are exchanged.
const LOUDER_WITH: f64 = 1.04;
/// Standard uncertainties by noise of f_s and Q_ts beyond which the reading itself would be refused.
const HOPELESS: (f64, f64) = (0.01, 0.10);
/// Resonances of which the forecast is told as figures, in Hz.
const TOLD_HZ: [f64; 3] = [25.0, 50.0, 100.0];

/// Reads the takes.
///
/// # Errors
/// [`SetupError`] for a setup that cannot be used; takes that cannot answer are a refused [`Reading`].
pub fn analyse(setup: &MicImpedanceSetup, takes: &[RoleTake]) -> Result<Reading, SetupError> {
    let sorted = setup.check(takes)?;
    let rate_hz = takes.iter().map(|t| t.take.rate_hz()).fold(f64::INFINITY, f64::min);
    let measured = match sorted {
        Sorted::Forecast { silence, without } => return Ok(told(setup, silence, without)),
        Sorted::Reading { without, with, shaped, loaded } => opened(setup, without, &with, &shaped, loaded)
            .and_then(|(spectra, warnings)| measure(setup, spectra, warnings)),
    };
    Ok(match measured {
        Err(notice) => Reading::refused(CHECK, METHOD, *notice),
        Ok((measured, chosen, output)) => {
            let mut reading = Reading::new(CHECK, METHOD);
            reading.chosen.extend(chosen);
            let begins_hz =
                measured.drivers.iter().flat_map(|d| d.first()).map(|p| p.frequency_hz).fold(f64::INFINITY, f64::min);
            let mut reading = conclude(&setup.fit(begins_hz), &measured, rate_hz, reading);
            if let Some(found) = output.filter(|_| reading.refusal.is_none()) {
                reading.values.insert("output_resistance_ohm".to_owned(), figure(&found));
            }
            reading
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
    let hopeful = |f: &&Forecast| f.f_s_relative < HOPELESS.0 && f.q_ts_relative < HOPELESS.1;
    let best = rows.iter().map(|f| f.q_ts_relative).fold(f64::INFINITY, f64::min);
    let mut reading = if rows.iter().any(|f| hopeful(&f)) {
        Reading::new(CHECK, method)
    } else {
        Reading::refused(CHECK, method, Notice::new(Code::Noise, &[("forecast_q_ts_relative", best)]))
    };
    if reading.refusal.is_none() {
        for row in rows.iter().filter(|f| TOLD_HZ.contains(&f.f_s_hz)) {
            for (of, relative) in [("f_s", row.f_s_relative), ("q_ts", row.q_ts_relative)] {
                let figure = Figure::without_uncertainty(100.0 * relative, "a forecast, of noise alone");
                reading.values.insert(format!("forecast_{of}_percent_{}_hz", row.f_s_hz), figure);
            }
        }
    }
    let column = |of: fn(&Forecast) -> f64| rows.iter().map(of).collect::<Vec<f64>>();
    let curve = [
        ("f_s_hz", column(|f| f.f_s_hz)),
        ("f_s_percent", column(|f| 100.0 * f.f_s_relative)),
        ("q_ts_percent", column(|f| 100.0 * f.q_ts_relative)),
    ];
    reading.curves.insert("forecast".to_owned(), curve.map(|(name, values)| (name.to_owned(), values)).into());
    reading
}

/// Spectra of all takes.
struct Spectra {
    without: [TakeSpectrum; 2],
    with: Vec<TakeSpectrum>,
    shaped: Vec<TakeSpectrum>,
    loaded: Option<(Resistor, TakeSpectrum)>,
}

fn opened(
    setup: &MicImpedanceSetup,
    without: [&RoleTake; 2],
    with: &[&RoleTake],
    shaped: &[&RoleTake],
    loaded: Option<&RoleTake>,
) -> Result<(Spectra, Warnings), Box<Notice>> {
    let mut warnings = Warnings::new();
    let mut open = |take: &RoleTake, told: bool| spectrum(take, setup.channel, told, &mut warnings);
    let without = [open(without[0], true)?, open(without[1], false)?];
    let shaped = shaped.iter().map(|t| open(t, true)).collect::<Result<Vec<_>, _>>()?;
    let with = with.iter().map(|t| open(t, shaped.is_empty())).collect::<Result<Vec<_>, _>>()?;
    let loaded = loaded.map(|t| Ok::<_, Box<Notice>>((setup.across(t), open(t, false)?))).transpose()?;
    let others = with.iter().chain(&shaped).chain([&without[1]]).chain(loaded.as_ref().map(|(_, s)| s));
    same_signal(&without[0], others)?;
    Ok((Spectra { without, with, shaped, loaded }, warnings))
}

type Chosen = Vec<(String, String)>;

fn measure(
    setup: &MicImpedanceSetup,
    spectra: Spectra,
    mut warnings: Warnings,
) -> Result<(Measured, Chosen, Option<FoundOutput>), Box<Notice>> {
    let Spectra { without: [first, last], with, shaped, loaded } = spectra;
    let reference = reference(first, last, &LIMITS, &mut warnings)?;
    let levels = (level_db(&with), level_db(&shaped), level_db(std::slice::from_ref(&reference.mean)));
    let plain = in_step(setup, with, &reference, false)?;
    let shaped = in_step(setup, shaped, &reference, true)?;
    let riding = judge(&plain.0, &shaped.0, levels, &mut warnings)?;
    let (curves, delay_s) = if shaped.0.is_empty() { plain } else { shaped };
    let output = loaded.map(|(across, take)| output(setup, across, take, &curves[0], &reference)).transpose()?;
    let ohm = output.as_ref().map_or(setup.output_resistance_ohm.unwrap_or(0.0), |o| o.ohm);
    let ln_gain = reference.ln_gain;
    let mut calibrated = by_microphone(
        setup.series(),
        (ohm, output.as_ref().map(|o| o.uncertainty_ohm)),
        ln_gain.hypot(2.0 * riding.left_ln),
    );
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
    Ok((measured, chosen(ln_gain, riding), output))
}

/// Takes with the resistor over the reference, in step; what was played louder is taken out before anything is looked at.
fn in_step(
    setup: &MicImpedanceSetup,
    takes: Vec<TakeSpectrum>,
    reference: &Reference,
    shaped: bool,
) -> Result<(Vec<RatioCurve>, f64), Box<Notice>> {
    let band = setup.band();
    let look = |curve: &RatioCurve| plausible(setup, curve);
    let level = |curve: RatioCurve| if shaped { played_out(setup, curve) } else { curve };
    in_steps(takes, reference, &Jig::plain(setup.series_resistor_ohm), (band[0], band[1]), level, look)
}

fn output(
    setup: &MicImpedanceSetup,
    across: Resistor,
    take: TakeSpectrum,
    curve: &RatioCurve,
    reference: &Reference,
) -> Result<FoundOutput, Box<Notice>> {
    let apart_s = take.later_s(&reference.mean);
    let [low, high] = setup.band();
    let loaded = take.earlier(apart_s).over(&reference.mean, (low, high.min(LIMITS.band_hz.1)));
    let seen = curve.impedance(&Jig::plain(setup.series_resistor_ohm));
    found_output(&seen, &loaded, across, reference.ln_gain)
        .ok_or_else(|| Box::new(Notice::new(Code::Noise, &[("lines", 0.0)])))
}

fn figure(found: &FoundOutput) -> Figure {
    Figure {
        value: found.ohm,
        standard_uncertainty: Some(found.uncertainty_ohm),
        // From hundreds of lines: the normal distribution's.
        half_width_95: Some(1.96 * found.uncertainty_ohm),
        reason: None,
        budget: found.budget.to_vec(),
    }
}

fn chosen(ln_gain: f64, riding: Judged) -> Chosen {
    let db = 20.0 / std::f64::consts::LN_10;
    let mut chosen = vec![("gain_change_db".to_owned(), format!("{:.4}", ln_gain * db))];
    if let Some(ln) = riding.followed_ln {
        chosen.push(("gain_with_level_db".to_owned(), format!("{:.4}", ln * db)));
    }
    chosen
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
