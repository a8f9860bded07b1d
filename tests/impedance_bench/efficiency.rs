//! The spread of the figures against the bound of Cramér and Rao.

use super::*;
use conewright::driver::coil::Coil;
use conewright::driver::equivalent_circuit::{Circuit, MOST_PARAMETERS};
use conewright::math::least_squares::Factors;
use conewright::math::matrix::Matrix;

const JIG: TrueJig = TrueJig { series_ohm: 10.0, lead_ohm: 0.0, gain: 1.0 };

/// Relative standard deviations that no unbiased reading of these takes can beat, from the noise on the excited lines and
/// the circuit's derivatives at the truth: f_s, Q_ms, Q_es, R_e and the coil's two.
fn cramer_rao(circuit: &Circuit, noise: f64) -> Vec<f64> {
    let s = stimulus(Shape::Multisine);
    let spectrum = fft::real_forward(&one_period(&s).expect("a stimulus"));
    let used: Vec<usize> = excited_lines(&s);
    let mut jacobian = Matrix::zeros(2 * used.len(), 6);
    for (i, line) in used.iter().enumerate() {
        let mut slopes = [Complex64::default(); MOST_PARAMETERS];
        let z = circuit.impedance_with_derivatives(*line as f64, &mut slopes);
        let h = z / (z + JIG.series_ohm);
        // Six periods averaged, noise in both channels: E|δH|² = N σ² (1 + |H|²)/(6 |X|²); Z moves by R/(1 − H)².
        let of_h = 48_000.0 * noise * noise * (1.0 + h.norm_sqr()) / (6.0 * spectrum[*line].norm_sqr());
        let sigma = (0.5 * of_h).sqrt() * JIG.series_ohm / (1.0 - h).norm_sqr();
        for k in 0..6 {
            jacobian[(2 * i, k)] = slopes[k].re / sigma;
            jacobian[(2 * i + 1, k)] = slopes[k].im / sigma;
        }
    }
    let bound = Factors::new(&jacobian).covariance();
    (0..6).map(|k| bound[(k, k)].sqrt()).collect()
}

/// Root mean square error of each figure over its bound; the model holds the truth, the jig is ideal, 60 dB.
pub fn spread_over_bound(trials: u64) -> Vec<(&'static str, f64)> {
    let coil = Coil::SemiInductance { k_ohm_s_n: 0.02, n: 0.65 };
    let circuit = Circuit { f_s_hz: 38.0, q_ms: 4.5, q_es: 0.5, r_e_ohm: 6.0, coil, creep: None };
    let noise = computed_level() * 1e-3;
    let bound = cramer_rao(&circuit, noise);
    let setup = ImpedanceSetup { suspension_creep: Some(false), ..ImpedanceSetup::plain(10.0) };
    let readings: Vec<Reading> = (0..trials)
        .map(|seed| {
            let take = computed_take(|hz| circuit.impedance(hz), JIG, noise, &mut Random::new(seed));
            let reading = analyse(&setup, &[RoleTake::new("driver", take)]).expect("a usable setup");
            assert_eq!(reading.refusal, None, "seed {seed}");
            reading
        })
        .collect();
    let figures =
        [("f_s_hz", circuit.f_s_hz), ("q_ms", circuit.q_ms), ("q_es", circuit.q_es), ("r_e_ohm", circuit.r_e_ohm)];
    let ratio = |(k, (name, value)): (usize, (&'static str, f64))| {
        let squares = readings.iter().map(|r| (r.values[name].value / value).ln().powi(2));
        (name, (squares.sum::<f64>() / trials as f64).sqrt() / bound[k])
    };
    figures.into_iter().enumerate().map(ratio).collect()
}
