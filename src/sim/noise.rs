//! Noise of converters and rooms.
use std::f64::consts::TAU;

use serde::{Deserialize, Serialize};

use crate::math::random::Random;

/// Mains hum.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Hum {
    /// 50 or 60 Hz.
    pub mains_hz: f64,
    /// Level of the fundamental in dBFS of a sine's peak.
    pub fundamental_dbfs: f64,
}

impl Hum {
    /// Value at a time: fundamental and odd and even harmonics falling off, as rectifiers make them.
    pub fn at(&self, time_s: f64) -> f64 {
        const RELATIVE: [f64; 7] = [1.0, 0.35, 0.5, 0.12, 0.25, 0.05, 0.12];
        let phase = TAU * self.mains_hz * time_s;
        let sum: f64 = RELATIVE.iter().enumerate().map(|(k, a)| a * ((k + 1) as f64 * phase + k as f64).sin()).sum();
        from_db(self.fundamental_dbfs) * sum
    }
}

/// Amplitude ratio of a level in dB.
pub fn from_db(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}

/// Noise with a 1/f power spectrum between about 1 Hz and a quarter of the rate, of unit standard deviation.
///
/// A sum of first-order low-passed noises whose corners lie a factor of four apart: each contributes equal power.
#[derive(Clone, Debug)]
pub struct PinkNoise {
    rows: Vec<(f64, f64, f64)>,
    scale: f64,
}

impl PinkNoise {
    /// Noise for a sample rate.
    pub fn new(rate_hz: f64) -> PinkNoise {
        let mut rows = Vec::new();
        let mut corner_hz = 1.0;
        while corner_hz < rate_hz / 8.0 {
            let decay = (-TAU * corner_hz / rate_hz).exp();
            rows.push((decay, (1.0 - decay * decay).sqrt(), 0.0));
            corner_hz *= 4.0;
        }
        let scale = 1.0 / (rows.len() as f64).sqrt();
        PinkNoise { rows, scale }
    }

    /// One sample.
    pub fn next(&mut self, random: &mut Random) -> f64 {
        let mut sum = 0.0;
        for (decay, drive, state) in &mut self.rows {
            *state = *state * *decay + *drive * random.normal();
            sum += *state;
        }
        sum * self.scale
    }
}
