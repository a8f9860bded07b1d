//! Knocks on a cone.
use serde::{Deserialize, Serialize};

use super::driver::Driver;
use super::microphone::Microphone;
use crate::math::random::Random;

/// One touch of the cone.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(tag = "kind"))]
#[serde(rename_all = "snake_case")]
pub enum Touch {
    /// A tap: a half cycle of raised cosine.
    Tap {
        /// Start in s.
        time_s: f64,
        /// Peak force in N.
        peak_n: f64,
        /// Length in s; short is hard.
        length_s: f64,
    },
    /// A push that grows slowly and is let go.
    PushAndRelease {
        /// Moment of the release in s.
        time_s: f64,
        /// Force held in N.
        held_n: f64,
        /// How long letting go takes in s.
        release_s: f64,
    },
}

/// Time that a push takes to build up, and is then held, in s.
const PUSH_BUILD_UP_S: f64 = 0.25;

impl Touch {
    /// Force at a time in N, inwards counted positive so that one sign serves all.
    pub fn force_n(&self, t_s: f64) -> f64 {
        match *self {
            Touch::Tap { time_s, peak_n, length_s } => {
                let part = (t_s - time_s) / length_s;
                if (0.0..1.0).contains(&part) {
                    peak_n * (1.0 - (std::f64::consts::TAU * part).cos()) / 2.0
                } else {
                    0.0
                }
            }
            Touch::PushAndRelease { time_s, held_n, release_s } => {
                let up = smooth((t_s - time_s + 2.0 * PUSH_BUILD_UP_S) / PUSH_BUILD_UP_S);
                let gone = smooth((t_s - time_s) / release_s);
                held_n * up * (1.0 - gone)
            }
        }
    }
}

/// 0 before 0, 1 after 1, raised cosine between.
fn smooth(part: f64) -> f64 {
    (1.0 - (std::f64::consts::PI * part.clamp(0.0, 1.0)).cos()) / 2.0
}

/// What hears the ringing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(tag = "kind"))]
#[serde(rename_all = "snake_case")]
pub enum Sensor {
    /// The coil itself, by a cable into channel 1 of the input.
    Coil {
        /// Resistor in series between terminals and input in Ω (0 for none).
        series_ohm: f64,
    },
    /// A microphone, by the converter of channel 1.
    Microphone {
        /// The microphone.
        microphone: Microphone,
    },
}

/// A take with knocks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct KnockScene {
    /// Length of the take in s.
    pub duration_s: f64,
    /// Samples a second.
    pub rate_hz: f64,
    /// The touches.
    pub touches: Vec<Touch>,
    /// Resistor across the terminals in Ω; none is open terminals.
    pub load_ohm: Option<f64>,
    /// Weight on the cone in kg.
    pub added_mass_kg: f64,
    /// Sensor.
    pub sensor: Sensor,
}

impl KnockScene {
    /// `count` taps, 1.6 s apart, of varied strength and softness, such that the coil gives about 0.35 V; it listens.
    ///
    /// A tap of half a period or more is what a soft finger gives; a hand cannot hit shorter than about 2 ms.
    pub fn taps(driver: &Driver, count: usize, rate_hz: f64, seed: u64) -> KnockScene {
        const COIL_V: f64 = 0.35;
        let mut random = Random::new(seed ^ 0x517c);
        let omega = std::f64::consts::TAU * driver.nominal_resonance_hz();
        let typical_s = (1.6 / omega).clamp(0.002, 0.010);
        // A raised cosine of length T and peak F hands over F T/2, which gives a mass the velocity F T/(2 M).
        let typical_n = 2.0 * COIL_V / driver.motor.bl_t_m * driver.moving_mass_kg / typical_s;
        let touches = (0..count)
            .map(|k| Touch::Tap {
                time_s: 0.6 + 1.6 * k as f64 + 0.2 * random.uniform(),
                peak_n: typical_n * random.between(0.6, 1.4),
                length_s: typical_s * random.between(0.7, 1.4),
            })
            .collect();
        KnockScene {
            duration_s: 0.6 + 1.6 * count as f64 + 0.4,
            rate_hz,
            touches,
            load_ohm: None,
            added_mass_kg: 0.0,
            sensor: Sensor::Coil { series_ohm: 0.0 },
        }
    }

    /// The same scene with a resistor across the terminals.
    pub fn loaded(mut self, load_ohm: f64) -> KnockScene {
        self.load_ohm = Some(load_ohm);
        self
    }

    /// The same scene with a weight on the cone.
    pub fn weighted(mut self, added_mass_kg: f64) -> KnockScene {
        self.added_mass_kg = added_mass_kg;
        self
    }

    /// The same scene heard by a microphone.
    pub fn heard_by(mut self, microphone: Microphone) -> KnockScene {
        self.sensor = Sensor::Microphone { microphone };
        self
    }

    /// Sum of all touches in N.
    pub fn force_n(&self, t_s: f64) -> f64 {
        self.touches.iter().map(|t| t.force_n(t_s)).sum()
    }
}
