//! Free vibration against the textbooks, and the fit against the bound of Cramér and Rao.

use super::*;
use crate::driver::ring_down_fit::fit;
use crate::math::random::Random;

const PLAIN: Shape = Shape { conditions: 1, real_poles: 0, pairs: 0, law: Law::Exponential };

fn ring(samples: Vec<f64>, rate_hz: f64, noise: f64) -> Ring {
    let prepared = Prepared { data: samples.clone(), nuisance: None };
    let whitener = Whitener::none();
    Ring {
        samples,
        rate_hz,
        condition: 0,
        hum_hz: Vec::new(),
        noise,
        whitener,
        strength: 1.0,
        decay_per_s: 1.0,
        prepared,
    }
}

#[test]
fn decrement_of_the_textbooks() {
    // Free vibration, f_0 30 Hz and Q 5: f_d 29.84962 Hz, ratio after ten periods 0.001809257.
    let p = pole(30.0_f64.ln(), 5.0_f64.ln()).expect("a pole");
    let f_d = p.omega / (2.0 * PI);
    assert!((f_d - 29.84962).abs() < 5e-6, "{f_d}");
    assert!((1e3 / p.alpha - 53.05165).abs() < 5e-6, "{}", p.alpha);
    let r = ring(vec![0.0; 241], 24.0 * f_d, 1.0);
    let columns = r.columns(&PLAIN, &[30.0_f64.ln(), 5.0_f64.ln()]).expect("columns");
    assert!((columns[0][240] - 0.001809257).abs() < 5e-10, "{}", columns[0][240]);
    // Ratio 5 over 5 periods at f_d 29.85 Hz: decrement 0.321888, Q 9.77271, f_0 29.88915 Hz.
    let p = pole(29.88915_f64.ln(), 9.77271_f64.ln()).expect("a pole");
    assert!((2.0 * PI * p.alpha / p.omega - 0.321888).abs() < 1e-6);
    assert!((p.omega / (2.0 * PI) - 29.85).abs() < 1e-5);
}

#[test]
fn the_fit_states_the_bound_of_cramer_and_rao_and_keeps_it() {
    // Damped sinusoid, amplitude, phase, frequency and decay unknown (Yao and Pandit 1995; Fisher matrix): A 1, σ 0.01,
    // 2000 samples at 2 kHz, τ 80 ms, 40 Hz, φ 0: standard deviations 6.32940 mHz and 0.0392365 /s.
    let (alpha, omega) = (12.5, 2.0 * PI * 40.0);
    let size = f64::hypot(alpha, omega);
    let truth = [(size / (2.0 * PI)).ln(), (size / (2.0 * alpha)).ln()];
    let clean: Vec<f64> =
        (0..2000).map(|n| f64::from(n) / 2000.0).map(|t| (-alpha * t).exp() * (omega * t).cos()).collect();
    let p = pole(truth[0], truth[1]).expect("a pole");
    let exact = fit(&[ring(clean.clone(), 2000.0, 0.01)], &PLAIN, &truth, &[0, 1], &[]).expect("a fit");
    let c = |i: usize, j: usize| exact.covariance.row(i)[j];
    let decay = alpha * (c(0, 0) + c(1, 1) - 2.0 * c(0, 1)).sqrt();
    let (a, b) = (p.omega, p.omega_by_ln_q);
    let pitch = (a * a * c(0, 0) + b * b * c(1, 1) + 2.0 * a * b * c(0, 1)).sqrt() / (2.0 * PI);
    assert!((pitch * 1e3 - 6.32940).abs() < 5e-5, "{pitch}");
    assert!((decay * 1e3 - 39.2365).abs() < 5e-4, "{decay}");
    // Spread of 300 noisy fits: its own standard error is 1/√600 = 4.1 %; three of them.
    let mut random = Random::new(5);
    let squares: f64 = (0..300)
        .map(|_| {
            let noisy = clean.iter().map(|v| v + 0.01 * random.normal()).collect();
            let found = fit(&[ring(noisy, 2000.0, 0.01)], &PLAIN, &truth, &[0, 1], &[]).expect("a fit").parameters;
            let one = pole(found[0], found[1]).expect("a pole");
            ((one.omega - omega) / (2.0 * PI)).powi(2)
        })
        .sum();
    let ratio = (squares / 300.0).sqrt() / pitch;
    assert!((ratio - 1.0).abs() < 0.123, "{ratio}");
}
