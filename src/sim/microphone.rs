//! A microphone close to the cone, and the room around it.
use serde::{Deserialize, Serialize};

use super::filters::Biquad;
use super::noise::{from_db, PinkNoise};
use crate::math::random::Random;

/// Density of air in kg/m³ at 20 °C and 101325 Pa.
const AIR_DENSITY: f64 = 1.204;
/// Pressure of 0 dB in Pa.
const REFERENCE_PA: f64 = 20e-6;

/// A microphone and its room.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Microphone {
    /// Distance from the cone's middle in m.
    pub distance_m: f64,
    /// Full scale as a sound pressure level (peak of a sine) in dB.
    pub full_scale_db_spl: f64,
    /// Second-order roll-off at the bottom in Hz.
    pub roll_off_hz: f64,
    /// Q of that roll-off.
    pub roll_off_q: f64,
    /// Room noise with a 1/f spectrum, rms in dB.
    pub room_noise_db_spl: f64,
    /// Rumble around 25 Hz (traffic, fans), rms in dB.
    pub rumble_db_spl: f64,
    /// A resonance of the room that the driver excites.
    pub room_mode: Option<RoomMode>,
    /// Bumps from the hand that holds it, a second.
    pub handling_per_s: f64,
    /// Peak of such a bump in dB.
    pub handling_db_spl: f64,
    /// Somebody speaks: rms of the syllables in dB.
    pub speech_db_spl: Option<f64>,
}

/// A resonance of the room.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct RoomMode {
    /// Frequency in Hz.
    pub frequency_hz: f64,
    /// Q.
    pub q: f64,
    /// Its share of the direct pressure.
    pub share: f64,
}

/// Disturbances of one kind, as pressure in Pa.
#[derive(Clone, Debug)]
struct Disturbances {
    room: PinkNoise,
    rumble: Biquad,
    rumble_noise: PinkNoise,
    syllables: Biquad,
    bump: Biquad,
    syllable_level: f64,
    syllable_left: usize,
}

/// A microphone at work.
#[derive(Clone, Debug)]
pub struct RunningMicrophone {
    microphone: Microphone,
    rate_hz: f64,
    last_velocity: f64,
    mode: Option<Biquad>,
    roll_off: Biquad,
    disturbances: Disturbances,
    random: Random,
}

impl RunningMicrophone {
    /// Starts a microphone.
    pub fn new(microphone: &Microphone, rate_hz: f64, seed: u64) -> RunningMicrophone {
        let roll_off_hz = microphone.roll_off_hz.max(0.01);
        RunningMicrophone {
            rate_hz,
            last_velocity: 0.0,
            mode: microphone.room_mode.map(|m| Biquad::resonance(m.frequency_hz, m.q, rate_hz)),
            roll_off: Biquad::high_pass(roll_off_hz, microphone.roll_off_q, rate_hz),
            disturbances: Disturbances {
                room: PinkNoise::new(rate_hz),
                rumble: Biquad::resonance(25.0, 2.0, rate_hz),
                rumble_noise: PinkNoise::new(rate_hz),
                syllables: Biquad::resonance(180.0, 1.5, rate_hz),
                bump: Biquad::resonance(35.0, 0.8, rate_hz),
                syllable_level: 0.0,
                syllable_left: 0,
            },
            microphone: microphone.clone(),
            random: Random::new(seed ^ 0x3c6e),
        }
    }

    /// Cone velocity in, pressure sample (full scale 1, not yet converted) out.
    ///
    /// Near a piston of area S_d the pressure follows its acceleration: on the axis at distance r it is
    /// ρ a (√(r² + S_d/π) − r) for wavelengths long against both (Rayleigh integral of a flat piston).
    pub fn push(&mut self, velocity_m_per_s: f64, s_d_m2: f64) -> f64 {
        let acceleration = (velocity_m_per_s - self.last_velocity) * self.rate_hz;
        self.last_velocity = velocity_m_per_s;
        let r = self.microphone.distance_m;
        let direct_pa = AIR_DENSITY * acceleration * ((r * r + s_d_m2 / std::f64::consts::PI).sqrt() - r);
        let mut pa = direct_pa + self.disturbances_pa();
        if let (Some(filter), Some(mode)) = (self.mode.as_mut(), self.microphone.room_mode) {
            pa += mode.share * filter.push(direct_pa);
        }
        let full_scale_pa = REFERENCE_PA * from_db(self.microphone.full_scale_db_spl) * std::f64::consts::SQRT_2;
        self.roll_off.push(pa) / full_scale_pa
    }

    fn disturbances_pa(&mut self) -> f64 {
        let m = &self.microphone;
        let d = &mut self.disturbances;
        let room = REFERENCE_PA * from_db(m.room_noise_db_spl) * d.room.next(&mut self.random);
        // The band of the rumble filter holds about a sixth of the power of the 1/f noise that feeds it.
        let rumble = d.rumble.push(2.4 * d.rumble_noise.next(&mut self.random));
        let mut pa = room + REFERENCE_PA * from_db(m.rumble_db_spl) * rumble;
        if m.handling_per_s > 0.0 {
            let hit = self.random.uniform() < m.handling_per_s / self.rate_hz;
            // An impulse through the bump filter peaks at about (π f/Q)/rate·2 of its area.
            let impulse = if hit { self.rate_hz / 220.0 } else { 0.0 };
            pa += REFERENCE_PA * from_db(m.handling_db_spl) * d.bump.push(impulse);
        }
        if let Some(level_db) = m.speech_db_spl {
            pa += REFERENCE_PA * from_db(level_db) * d.speech(&mut self.random, self.rate_hz);
        }
        pa
    }
}

impl Disturbances {
    /// Bursts of 120 to 350 ms of noise around 180 Hz with pauses, roughly as syllables come.
    fn speech(&mut self, random: &mut Random, rate_hz: f64) -> f64 {
        if self.syllable_left == 0 {
            self.syllable_left = ((0.12 + 0.23 * random.uniform()) * rate_hz) as usize;
            self.syllable_level = if random.uniform() < 0.4 { 0.0 } else { 0.4 + random.uniform() };
        }
        self.syllable_left -= 1;
        // Unit noise through this band keeps about √(π/2 · bandwidth/(rate/2)) of its rms.
        let band = (1.57 * 120.0 / (rate_hz / 2.0)).sqrt();
        self.syllables.push(random.normal() * self.syllable_level / band)
    }
}
