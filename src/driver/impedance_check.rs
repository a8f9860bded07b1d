//! The two-channel impedance check: from takes to figures, curves and warnings, or to a refusal.
//!
//! Each driver take gives Z = R H/(1 − H) line by line; lines are drawn together finely around the resonance and
//! coarsely elsewhere; one circuit is fitted to all takes; figures get their budget. Units SI. Valid for one driver in
//! free air at small signals; refused where wiring, noise, band or shape say that it is something else.

pub use super::impedance_setup::{CoilChoice, ImpedanceSetup};

use super::equivalent_circuit::Circuit;
use super::impedance_budget as budget;
use super::impedance_curves as curves;
use super::impedance_fit::{fit_circuit, FittedCircuit};
use super::impedance_takes::{measure, Measured};
use super::model_choice::{choose, Choice};
use super::mounted::{self, Fitted, Mounting};
use super::starting_values::{find_peak, nearest, Peak};
use super::three_frequency;
use crate::electrical::impedance::{gather, ImpedancePoint};
use crate::math::order::{arranged, by_name};
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::{Figure, Reading};
use crate::signal::role_take::{RoleTake, SetupError};

const CHECK: &str = "impedance";
/// Name of the check with one input.
pub(super) const CHECK_ONE_CHANNEL: &str = "impedance_one_channel";
/// Name of the check by microphone.
pub(super) const CHECK_MICROPHONE: &str = "impedance_by_microphone";
/// Default band in Hz; the upper end also stays below 0.45 of the rate.
const BAND_HZ: (f64, f64) = (5.0, 20_000.0);
/// At this rate and below the path may be a wireless headset, which treats sound as speech.
const LOW_RATE_HZ: f64 = 24_001.0;
/// A peak that rises less than this above its valleys is no resonance.
const LEAST_PROMINENCE: f64 = 1.15;
/// Relative uncertainty by noise above which f_s, or Q_ts, is refused; a fifth of it makes doubtful.
const NOISE_REFUSED: (f64, f64) = (0.01, 0.10);
/// Root mean square of the relative residual (noise taken off) above which the curve is not that of the circuit.
const MISFIT_REFUSED: f64 = 0.15;
const MISFIT_DOUBTFUL: f64 = 0.03;
/// A meter's own part in a coil's resistance: 1 % of it, and 0.1 Ω of its leads (common practice, no source).
const METER: (f64, f64) = (0.01, 0.1);
/// Standard deviations by which meter and reading may differ.
const METER_DEVIATIONS: f64 = 4.0;
/// Takes by themselves may differ by this much: f_s, R_e, relative.
const CONTRADICTION: f64 = 0.03;

/// Reads the takes.
///
/// # Errors
/// [`SetupError`] for a setup that cannot be used; takes that cannot answer are a refused [`Reading`].
pub fn analyse(setup: &ImpedanceSetup, takes: &[RoleTake]) -> Result<Reading, SetupError> {
    setup.check(takes)?;
    let measured = match measure(setup, takes) {
        Ok(measured) => measured,
        Err(notice) => return Ok(Reading::refused(CHECK, "two-channel ratio", *notice)),
    };
    let rate_hz = takes.iter().map(|t| t.take.rate_hz()).fold(f64::INFINITY, f64::min);
    let mut reading = Reading::new(CHECK, measured.method.words());
    reading.chosen.insert("scale".to_owned(), scale_of(setup, &measured).to_owned());
    if let Some(ohm) = setup.output_resistance_ohm {
        // It lies before both nodes and takes no part in their ratio.
        reading.chosen.insert("output_resistance_ohm".to_owned(), ohm.to_string());
    }
    Ok(conclude(setup, &measured, rate_hz, reading))
}

/// From measured curves to figures, whichever check measured them; `reading` brings its name and method.
pub(super) fn conclude(setup: &ImpedanceSetup, measured: &Measured, rate_hz: f64, mut reading: Reading) -> Reading {
    let band = band_of(setup, rate_hz);
    if rate_hz < LOW_RATE_HZ {
        reading.warn(Notice::new(Code::LowRate, &[("rate_hz", rate_hz), ("wanted_hz", 44_100.0)]), true);
    }
    reading.chosen.insert("averaging".to_owned(), measured.method.name().to_owned());
    if measured.inverted {
        reading.chosen.insert("driver_channel".to_owned(), "inverted".to_owned());
    }
    for (notice, doubtful) in &measured.warnings {
        reading.warn(notice.clone(), *doubtful);
    }
    if let Err(notice) = read(setup, measured, band, &mut reading) {
        // Evidence stays, figures do not: neither the fit's nor those read off the curve.
        reading.values.clear();
        reading.alongside.clear();
        let curves = std::mem::take(&mut reading.curves).into_iter();
        reading.curves = by_name(curves.filter(|(name, _)| name != "fit" && name != "residual"));
        reading.outcome = crate::signal::reading::Outcome::Refused;
        reading.refusal = Some(*notice);
    }
    reading
}

/// On what all ohms rest.
fn scale_of(setup: &ImpedanceSetup, measured: &Measured) -> &'static str {
    match (measured.calibrated.proofs.is_empty(), setup.r_e_ohm) {
        (false, _) => "known_resistor",
        (true, Some(_)) => "resistor_checked_by_meter",
        (true, None) => "typed_resistor",
    }
}

fn band_of(setup: &ImpedanceSetup, rate_hz: f64) -> (f64, f64) {
    let [low, high] = setup.band_hz.unwrap_or([BAND_HZ.0, BAND_HZ.1]);
    (low, high.min(0.45 * rate_hz))
}

/// Fits and fills the reading; the measured curve is kept even where the rest is refused.
fn read(
    setup: &ImpedanceSetup,
    measured: &Measured,
    band: (f64, f64),
    reading: &mut Reading,
) -> Result<(), Box<Notice>> {
    let calibrated = &measured.calibrated;
    let in_band = |p: &&ImpedancePoint| (band.0..=band.1).contains(&p.frequency_hz);
    let of = |mounting: &Mounting| -> Vec<Vec<ImpedancePoint>> {
        let all = measured.drivers.iter().zip(&measured.mountings).filter(|(_, m)| *m == mounting);
        all.map(|(d, _)| d.iter().filter(in_band).copied().collect()).collect()
    };
    let takes = of(&Mounting::default());
    let all = together(&takes);
    reading.curves.insert("impedance".to_owned(), curves::measured(&all, &calibrated.jig, &calibrated.sources));
    let (low, high) = (setup.band_hz.map_or(10.0f64.max(band.0), |b| b[0]), band.1);
    reading.curves.insert("refused_bands".to_owned(), curves::refused_bands(&all, low, high));
    let peak = resonance(&all)?;
    let points: Vec<ImpedancePoint> = together(&takes.iter().map(|t| thin(t, peak.frequency_hz)).collect::<Vec<_>>());
    let choice = choose(&points, &peak, setup.coil_model.wanted(), setup.suspension_creep)
        .ok_or_else(|| Box::new(Notice::new(Code::ModelMisfit, &[("frequency_hz", peak.frequency_hz)])))?;
    let repeat = takes_apart(&takes, &peak, &choice.best, reading)?;
    let sources = budget::collect(&choice, &points, &calibrated.jig, &calibrated.sources, &repeat);
    reading.values = budget::figures(&choice.best.circuit, &sources);
    if let Some(beside) = &measured.beside {
        let sources = budget::collect(&choice, &points, &beside.jig, &beside.sources, &repeat);
        let named = budget::figures(&choice.best.circuit, &sources)
            .into_iter()
            .map(|(name, f)| (format!("two_channel_{name}"), f));
        reading.alongside.extend(named);
    }
    fill(reading, &choice, &all, &points, &sources);
    judge(reading, &choice, &points, band)?;
    judge_scale(setup, reading);
    let mut fits = vec![Fitted { mounting: Mounting::default(), circuit: choice.best.circuit, budget: sources }];
    for mounting in other_mountings(&measured.mountings) {
        fits.push(fit_mounted(mounting, &of(&mounting), &choice.best, measured, reading)?);
    }
    mounted::add(setup, &fits, reading)
}

/// Each weight and box once, in order.
fn other_mountings(all: &[Mounting]) -> Vec<Mounting> {
    let mut out: Vec<Mounting> = Vec::new();
    for m in all.iter().filter(|m| !m.is_free()) {
        if !out.contains(m) {
            out.push(*m);
        }
    }
    out
}

/// A curve with a weight or in a box, by the circuit that won in free air.
fn fit_mounted(
    mounting: Mounting,
    takes: &[Vec<ImpedancePoint>],
    free: &FittedCircuit,
    measured: &Measured,
    reading: &mut Reading,
) -> Result<Fitted, Box<Notice>> {
    let all = together(takes);
    let peak_hz = resonance(&all)?.frequency_hz;
    let points = together(&takes.iter().map(|t| thin(t, peak_hz)).collect::<Vec<_>>());
    let start = Circuit { f_s_hz: peak_hz, ..free.circuit };
    let fit = fit_circuit(&points, &start)
        .ok_or_else(|| Box::new(Notice::new(Code::ModelMisfit, &[("frequency_hz", peak_hz)])))?;
    judge_misfit(reading, &fit, &points)?;
    let name = match mounting.box_volume_m3 {
        Some(volume) => format!("impedance_in_{:.1}_l", 1e3 * volume),
        None => format!("impedance_with_{:.1}_g", 1e3 * mounting.added_mass_kg),
    };
    let calibrated = &measured.calibrated;
    reading.curves.insert(name, curves::measured(&all, &calibrated.jig, &calibrated.sources));
    let choice = Choice { best: fit, other_coils: Vec::new(), other_suspension: None };
    let budget = budget::collect(&choice, &points, &calibrated.jig, &calibrated.sources, &[]);
    Ok(Fitted { mounting, circuit: choice.best.circuit, budget })
}

/// All takes in one list of rising frequency.
fn together(takes: &[Vec<ImpedancePoint>]) -> Vec<ImpedancePoint> {
    if let [only] = takes {
        // In order already.
        return only.clone();
    }
    arranged(takes.concat(), |point| point.frequency_hz)
}

/// Bins: a 240th of the frequency within an octave of the peak (a resonance of Q 15 is a 15th wide), a 60th up to three
/// octaves, a 30th above.
fn thin(points: &[ImpedancePoint], peak_hz: f64) -> Vec<ImpedancePoint> {
    gather(points, |hz| match hz / peak_hz {
        x if (0.5..2.0).contains(&x) => hz / 240.0,
        x if x < 8.0 => hz / 60.0,
        _ => hz / 30.0,
    })
}

fn resonance(points: &[ImpedancePoint]) -> Result<Peak, Box<Notice>> {
    let ends = match (points.first(), points.last()) {
        (Some(first), Some(last)) if points.len() > 10 => (first.frequency_hz, last.frequency_hz),
        _ => return Err(Box::new(Notice::new(Code::Noise, &[("lines", points.len() as f64)]))),
    };
    match find_peak(points) {
        Some(peak) if peak.prominence() > LEAST_PROMINENCE => Ok(peak),
        _ => {
            let bins = gather(points, |hz| 0.1 * hz);
            let lowest = bins.iter().map(|p| p.z_ohm.norm()).fold(f64::INFINITY, f64::min);
            let falls = bins.first().is_some_and(|p| p.z_ohm.norm() > LEAST_PROMINENCE * lowest);
            let code = if falls { Code::BandTooNarrow } else { Code::ModelMisfit };
            Err(Box::new(Notice::new(code, &[("low_hz", ends.0), ("high_hz", ends.1)])))
        }
    }
}

/// Each take by itself, where there are several: contradictions, and the parameters for the scatter.
fn takes_apart(
    takes: &[Vec<ImpedancePoint>],
    peak: &Peak,
    joint: &FittedCircuit,
    reading: &mut Reading,
) -> Result<Vec<Vec<f64>>, Box<Notice>> {
    if takes.len() < 2 {
        return Ok(Vec::new());
    }
    let alone = |t: &Vec<ImpedancePoint>| fit_circuit(&thin(t, peak.frequency_hz), &joint.circuit);
    let fits: Vec<Circuit> = takes.iter().filter_map(alone).map(|f| f.circuit).collect();
    let range = |f: fn(&Circuit) -> f64| {
        let values = fits.iter().map(f);
        (values.clone().fold(f64::INFINITY, f64::min), values.fold(0.0, f64::max))
    };
    let (low_hz, high_hz) = range(|c| c.f_s_hz);
    let (least, most) = range(|c| c.r_e_ohm);
    let difference = (high_hz / low_hz - 1.0).max(most / least - 1.0);
    if fits.len() < takes.len() || difference > CONTRADICTION {
        let numbers =
            [("difference", difference), ("allowed", CONTRADICTION), ("low_hz", low_hz), ("high_hz", high_hz)];
        let notice = Notice::new(Code::Contradiction, &numbers);
        if fits.len() == takes.len() && difference < 3.0 * CONTRADICTION {
            reading.warn(notice, true);
        } else {
            return Err(Box::new(notice));
        }
    }
    Ok(fits.iter().map(Circuit::parameters).collect())
}

/// Curves, choices, and the reading by three frequencies.
fn fill(
    reading: &mut Reading,
    choice: &Choice,
    all: &[ImpedancePoint],
    points: &[ImpedancePoint],
    sources: &budget::FitBudget,
) {
    let circuit = &choice.best.circuit;
    reading.curves.insert("fit".to_owned(), curves::fitted(circuit, sources, points));
    reading.curves.insert("residual".to_owned(), curves::residual(all, circuit));
    let chosen = [
        ("coil_model", circuit.coil.model().name().to_owned()),
        ("suspension_creep", circuit.creep.is_some().to_string()),
        ("fit_ended", choice.best.stop.name().to_owned()),
        // Structure left over is a model error m above nought; the budget then carries it as `misfit` and by model.
        ("residual", if choice.best.excess > 0.0 { "structured" } else { "as_the_noise" }.to_owned()),
    ];
    reading.chosen.extend(chosen.map(|(k, v)| (k.to_owned(), v)));
    let peak_hz = circuit.peak().0;
    if let Some(r) = three_frequency::from_curve(points, nearest(points, peak_hz), circuit.r_e_ohm) {
        let reason = "read off the curve at three frequencies for comparison; the voice coil is not allowed for";
        for (name, value) in
            [("f_s_hz", r.f_s_hz), ("q_ms", r.q_ms), ("q_es", r.q_es), ("q_ts", r.q_ts), ("z_max_ohm", r.z_max_ohm)]
        {
            let figure = Figure::without_uncertainty(value, reason);
            reading.alongside.insert(format!("three_frequency_{name}"), figure);
        }
    }
}

/// Is the answer good enough to be given?
fn judge(
    reading: &mut Reading,
    choice: &Choice,
    points: &[ImpedancePoint],
    band: (f64, f64),
) -> Result<(), Box<Notice>> {
    judge_noise(reading)?;
    judge_misfit(reading, &choice.best, points)?;
    let f_s_hz = choice.best.circuit.f_s_hz;
    let (low, high) = (points[0].frequency_hz, points[points.len() - 1].frequency_hz);
    let numbers = [("low_hz", low), ("high_hz", high), ("f_s_hz", f_s_hz)];
    if f_s_hz < 1.25 * low || f_s_hz > 0.5 * high {
        return Err(Box::new(Notice::new(Code::BandTooNarrow, &numbers)));
    }
    if f_s_hz < 1.7 * low || 8.0 * f_s_hz > high.max(band.0) {
        reading.warn(Notice::new(Code::BandTooNarrow, &numbers), true);
    }
    let r_e_ohm = choice.best.circuit.r_e_ohm;
    if !(1.2..=60.0).contains(&r_e_ohm) {
        // No driver of 2 to 32 Ω has such a coil: the stated resistor is more likely wrong.
        reading.warn(Notice::new(Code::WrongResistor, &[("r_e_ohm", r_e_ohm)]), true);
    }
    Ok(())
}

/// Every ohm is in proportion to the series resistor, and nothing in the take tells a wrong one; a meter at the coil does.
fn judge_scale(setup: &ImpedanceSetup, reading: &mut Reading) {
    let (Some(meter_ohm), Some(figure)) = (setup.r_e_ohm, reading.values.get("r_e_ohm")) else { return };
    let own = (METER.0 * meter_ohm).hypot(METER.1).hypot(figure.standard_uncertainty.unwrap_or(0.0));
    let deviations = (figure.value - meter_ohm) / own;
    if deviations.abs() > METER_DEVIATIONS {
        let fitting_ohm = setup.series_resistor_ohm * meter_ohm / figure.value;
        let numbers = [
            ("r_e_ohm", figure.value),
            ("meter_r_e_ohm", meter_ohm),
            ("fitting_ohm", fitting_ohm),
            ("deviations", deviations),
        ];
        reading.warn(Notice::new(Code::WrongResistor, &numbers), true);
    }
}

fn judge_noise(reading: &mut Reading) -> Result<(), Box<Notice>> {
    let share = |name: &str| {
        let figure = reading.values.get(name);
        let noise = figure.and_then(|f| f.budget.iter().find(|c| c.source == "noise"));
        noise.map_or(0.0, |n| n.effect.abs() / figure.map_or(1.0, |f| f.value))
    };
    let worst = (share("f_s_hz") / NOISE_REFUSED.0).max(share("q_ts") / NOISE_REFUSED.1);
    let numbers = [("f_s_relative_uncertainty", share("f_s_hz")), ("q_ts_relative_uncertainty", share("q_ts"))];
    if worst > 1.0 {
        return Err(Box::new(Notice::new(Code::Noise, &numbers)));
    }
    if worst > 0.2 {
        reading.warn(Notice::new(Code::Noise, &numbers), true);
    }
    Ok(())
}

fn judge_misfit(reading: &mut Reading, fit: &FittedCircuit, points: &[ImpedancePoint]) -> Result<(), Box<Notice>> {
    let relative: Vec<f64> = points
        .iter()
        .zip(&fit.residuals_ohm)
        .map(|(p, r)| (r.norm_sqr() - p.variance_ohm2).max(0.0) / p.z_ohm.norm_sqr())
        .collect();
    // What noise leaves of the sum where nothing is amiss: the mean of (|r|² − σ²)⁺ is σ²/e, and it scatters by less than σ².
    let noise: Vec<f64> = points.iter().map(|p| p.variance_ohm2 / p.z_ohm.norm_sqr()).collect();
    let by_chance =
        noise.iter().sum::<f64>() / std::f64::consts::E + 2.0 * noise.iter().map(|v| v * v).sum::<f64>().sqrt();
    let misfit = (relative.iter().sum::<f64>() - by_chance).max(0.0);
    let relative_misfit = (misfit / relative.len() as f64).sqrt();
    let worst = (0..points.len()).max_by(|&a, &b| relative[a].total_cmp(&relative[b])).unwrap_or(0);
    let numbers = [("relative_misfit", relative_misfit), ("frequency_hz", points[worst].frequency_hz)];
    if relative_misfit > MISFIT_REFUSED {
        return Err(Box::new(Notice::new(Code::ModelMisfit, &numbers)));
    }
    if relative_misfit > MISFIT_DOUBTFUL {
        reading.warn(Notice::new(Code::ModelMisfit, &numbers), true);
    }
    Ok(())
}
