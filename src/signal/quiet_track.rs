//! What is slow in a recording, free of hum: two running means, one of a cycle of 50 Hz and one of a cycle of 60 Hz, then a
//! thousand values a second without their constant part. Both means have their nulls on all multiples of their mains
//! frequency; together they let 1 to 15 Hz pass nearly whole.

use crate::math::robust::median;

/// Values a second.
pub const LOOK_HZ: f64 = 1000.0;
/// Cycles of both mains frequencies.
const CYCLES_S: [f64; 2] = [1.0 / 50.0, 1.0 / 60.0];

/// The slow part of `samples`.
pub fn quiet_track(samples: &[f64], rate_hz: f64) -> Vec<f64> {
    let mut track = samples.to_vec();
    for cycle_s in CYCLES_S {
        track = running_mean(&track, (cycle_s * rate_hz).round() as usize);
    }
    let every = ((rate_hz / LOOK_HZ).round() as usize).max(1);
    let mut track: Vec<f64> = track.into_iter().step_by(every).collect();
    let rest = median(&track).unwrap_or(0.0);
    track.iter_mut().for_each(|v| *v -= rest);
    track
}

/// Mean of the `length` samples up to each; the first ones repeat the first whole mean.
fn running_mean(samples: &[f64], length: usize) -> Vec<f64> {
    let length = length.clamp(1, samples.len().max(1));
    let mut sum: f64 = samples.iter().take(length).sum();
    let mut out = vec![sum / length as f64; samples.len()];
    for i in length..samples.len() {
        sum += samples[i] - samples[i - length];
        out[i] = sum / length as f64;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Running means of one cycle null their frequency exactly where the cycle is a whole number of samples (both are at
    /// 48 kHz); 4 Hz passes both by sin(πfT)/(πfT): 0.9895 · 0.9927 = 0.9823.
    #[test]
    fn hum_goes_and_motion_stays() {
        let tone = |hz: f64| -> f64 {
            let samples: Vec<f64> = (0..96_000).map(|n| (TAU * hz * n as f64 / 48_000.0).sin()).collect();
            let track = quiet_track(&samples, 48_000.0);
            let (low, high) = track[100..].iter().fold((0.0f64, 0.0f64), |(l, h), v| (l.min(*v), h.max(*v)));
            0.5 * (high - low)
        };
        assert!(tone(50.0) < 1e-9 && tone(60.0) < 1e-9 && tone(150.0) < 1e-9);
        assert!((tone(4.0) - 0.9823).abs() < 1e-3, "{}", tone(4.0));
    }
}
