//! What room, level and length will give, told from a take of silence and one of the driver before any time is spent.
//!
//! The silence is cut into pieces as long as a period, as the signal will be; their power line by line is the noise that
//! one period will meet. With the level of the driver's take it gives the scatter of each line of the ratio, and the scatter
//! gives, through the fit of a typical driver (R_e 6 Ω, Q_ms 4, Q_es 0.5) at each of a row of resonances, the standard
//! uncertainty by noise of f_s and Q_ts. Nothing else counts in it: it is the least that the reading can have.

use super::coil::Coil;
use super::equivalent_circuit::Circuit;
use super::impedance_budget as budget;
use super::impedance_fit::fit_circuit;
use super::mic_impedance_setup::MicImpedanceSetup;
use super::model_choice::Choice;
use crate::electrical::impedance::{gather, ImpedancePoint};
use crate::electrical::jig::Jig;
use crate::electrical::ratio::pooled;
use crate::electrical::take_ratio::TakeSpectrum;
use crate::math::fft;

/// Resonances for which it is told, in Hz: a third of an octave apart.
const RESONANCES_HZ: [f64; 9] = [20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0];

/// Relative standard uncertainties by noise for a driver of one resonance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    /// Resonance of the driver.
    pub f_s_hz: f64,
    /// Of f_s.
    pub f_s_relative: f64,
    /// Of Q_ts.
    pub q_ts_relative: f64,
}

/// Tells what takes like `without` will give in the noise of `silence` (samples of the same channel).
pub fn forecast(setup: &MicImpedanceSetup, silence: &[f64], without: &TakeSpectrum) -> Vec<Forecast> {
    let noise = noise_power(silence, without.period);
    if noise.is_empty() {
        return Vec::new();
    }
    let band = setup.band();
    let hz = |k: usize| k as f64 * without.rate_hz / without.period as f64;
    let lines: Vec<usize> = without.excited.iter().copied().filter(|&k| (band[0]..=band[1]).contains(&hz(k))).collect();
    let frequency_hz: Vec<f64> = lines.iter().map(|&k| hz(k)).collect();
    let floor = pooled(&frequency_hz, &lines.iter().map(|&k| noise[k]).collect::<Vec<_>>(), 0.05, 6);
    let kept = without.counts.0.max(1) as f64;
    let jig = Jig { lead_ohm: setup.output_resistance_ohm.unwrap_or(0.0), ..Jig::plain(setup.series_resistor_ohm) };
    let one = |f_s_hz: f64| {
        let circuit = typical(f_s_hz);
        let point = |i: usize| {
            let z_ohm = circuit.impedance(frequency_hz[i]);
            let ratio = jig.recorded_ratio(frequency_hz[i], z_ohm);
            let relative = floor[i] / kept / without.mean[lines[i]].norm_sqr();
            // One take with the resistor, two without.
            let variance = relative * (1.0 / setup.played(frequency_hz[i]).powi(2) + 0.5 * ratio.norm_sqr());
            let slope2 = jig.impedance(frequency_hz[i], ratio).1;
            ImpedancePoint { frequency_hz: frequency_hz[i], z_ohm, variance_ohm2: variance * slope2 }
        };
        let points = gather(&(0..lines.len()).map(point).collect::<Vec<_>>(), |hz| hz / 60.0);
        uncertainties(&points, &circuit, &jig)
    };
    RESONANCES_HZ.iter().filter_map(|f| one(*f)).collect()
}

fn typical(f_s_hz: f64) -> Circuit {
    let coil = Coil::Inductance { l_e_h: 0.5e-3 };
    Circuit { f_s_hz, q_ms: 4.0, q_es: 0.5, r_e_ohm: 6.0, coil, creep: None }
}

fn uncertainties(points: &[ImpedancePoint], circuit: &Circuit, jig: &Jig) -> Option<Forecast> {
    let best = fit_circuit(points, circuit)?;
    let choice = Choice { best, other_coils: Vec::new(), other_suspension: None };
    let figures = budget::figures(&choice.best.circuit, &budget::collect(&choice, points, jig, &[], &[]));
    let by_noise = |name: &str| {
        let figure = figures.get(name)?;
        Some(figure.budget.iter().find(|c| c.source == "noise")?.effect.abs() / figure.value)
    };
    Some(Forecast { f_s_hz: circuit.f_s_hz, f_s_relative: by_noise("f_s_hz")?, q_ts_relative: by_noise("q_ts")? })
}

/// Mean |amplitude|² of noise on each line of a period.
fn noise_power(silence: &[f64], period: usize) -> Vec<f64> {
    let pieces: Vec<&[f64]> = silence.chunks_exact(period.max(1)).collect();
    let mut power = vec![0.0; if pieces.is_empty() { 0 } else { period / 2 + 1 }];
    let scale = (2.0 / period as f64).powi(2) / pieces.len().max(1) as f64;
    for piece in pieces {
        for (sum, line) in power.iter_mut().zip(fft::real_forward(piece)) {
            *sum += scale * line.norm_sqr();
        }
    }
    power
}
