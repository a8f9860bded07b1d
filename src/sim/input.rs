//! A sound-card input: loading, coupling capacitor, gain and phase mismatch, noise, hum, gain control, converter,
//! and the buffers that a computer loses.
use serde::{Deserialize, Serialize};

use super::filters::{Biquad, FractionalDelay, HighPass};
use super::noise::{from_db, Hum};
use crate::math::random::Random;

/// One channel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct InputChannel {
    /// Input resistance in Ω.
    pub resistance_ohm: f64,
    /// Peak voltage at full scale in V.
    pub full_scale_v: f64,
    /// Gain error in dB.
    pub gain_db: f64,
    /// Delay against the other channel in samples, 0 to 1.
    pub delay_samples: f64,
    /// Corner of the coupling capacitor in Hz; 0 is none.
    pub coupling_hz: f64,
    /// Corner of the roll-off at the top in Hz; 0 is none.
    pub roll_off_hz: f64,
    /// White noise over the whole band, rms in dBFS (a full-scale sine's rms is −3.01).
    pub noise_dbfs: f64,
    /// Offset as part of full scale.
    pub offset: f64,
    /// Nothing arrives but noise.
    pub dead: bool,
}

/// What happens to a buffer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Loss {
    /// Replaced by zeros.
    Zeros,
    /// Left out: what follows comes too early.
    Dropped,
    /// The buffer before it comes twice; what follows comes too late.
    Repeated,
}

/// A buffer that went wrong.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct BufferFault {
    /// When, as part of the take (0 to 1).
    pub at_part: f64,
    /// Samples concerned.
    pub samples: usize,
    /// How.
    pub loss: Loss,
}

/// Slow gain control.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct GainRiding {
    /// Level it steers for, rms in dBFS.
    pub target_dbfs: f64,
    /// Most it changes in either direction in dB.
    pub range_db: f64,
    /// Time to come down in s.
    pub attack_s: f64,
    /// Time to come up in s.
    pub release_s: f64,
}

/// How channels are mixed up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Routing {
    /// As connected.
    #[default]
    Straight,
    /// Channels exchanged.
    Swapped,
    /// Both carry the mean of the two.
    Mono,
}

/// A stereo input.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Input {
    /// Left and right.
    pub channels: [InputChannel; 2],
    /// Hum on both, stronger on channel 2 (the driver's lead picks it up).
    pub hum: Option<Hum>,
    /// Gain control, each channel for itself.
    pub gain_riding: Option<GainRiding>,
    /// Bits of the converter; none is floating point.
    pub bits: Option<u32>,
    /// Buffers that go wrong.
    pub buffer_faults: Vec<BufferFault>,
    /// Routing.
    pub routing: Routing,
}

/// Part of the hum that reaches channel 1 too.
const HUM_ON_CHANNEL_1: f64 = 0.3;

/// An input at work.
#[derive(Clone, Debug)]
pub struct RunningInput {
    input: Input,
    chains: Vec<Chain>,
    step_s: f64,
    count: u64,
    random: Random,
}

#[derive(Clone, Debug)]
struct Chain {
    top: Biquad,
    coupling: HighPass,
    delay: FractionalDelay,
    gain: f64,
    noise: f64,
    /// Mean square that the gain control sees, and its gain in dB.
    mean_square: f64,
    riding_db: f64,
}

impl RunningInput {
    /// Starts an input; the seed makes its noise.
    pub fn new(input: &Input, rate_hz: f64, seed: u64) -> RunningInput {
        let chain = |c: &InputChannel| Chain {
            top: Biquad::low_pass_first_order(c.roll_off_hz, rate_hz),
            coupling: HighPass::new(c.coupling_hz, rate_hz),
            delay: FractionalDelay::new(c.delay_samples),
            gain: from_db(c.gain_db) / c.full_scale_v,
            noise: from_db(c.noise_dbfs),
            mean_square: 0.0,
            riding_db: 0.0,
        };
        RunningInput {
            chains: input.channels.iter().map(chain).collect(),
            input: input.clone(),
            step_s: 1.0 / rate_hz,
            count: 0,
            random: Random::new(seed ^ 0x1_9e37),
        }
    }

    /// Two voltages in, two samples out.
    pub fn push(&mut self, volts: [f64; 2]) -> [f64; 2] {
        let hum = self.input.hum.map_or(0.0, |h| h.at(self.count as f64 * self.step_s));
        self.count += 1;
        let mut samples = [0.0; 2];
        for c in 0..2 {
            let extra = if c == 0 { hum * HUM_ON_CHANNEL_1 } else { hum };
            samples[c] = self.one_channel(c, volts[c], extra);
        }
        match self.input.routing {
            Routing::Straight => samples,
            Routing::Swapped => [samples[1], samples[0]],
            Routing::Mono => [self.convert((samples[0] + samples[1]) / 2.0); 2],
        }
    }

    fn one_channel(&mut self, c: usize, volts: f64, hum: f64) -> f64 {
        let settings = self.input.channels[c];
        let noise = self.chains[c].noise * self.random.normal();
        let chain = &mut self.chains[c];
        let through = chain.delay.push(chain.coupling.push(chain.top.push(volts)));
        let wanted = if settings.dead { 0.0 } else { through * chain.gain + hum };
        let mut sample = wanted + noise + settings.offset;
        if let Some(riding) = self.input.gain_riding {
            sample = chain.ride(&riding, sample, self.step_s);
        }
        self.convert(sample)
    }

    /// Clips and rounds.
    fn convert(&self, sample: f64) -> f64 {
        match self.input.bits {
            None => sample.clamp(-1.0, 1.0),
            Some(bits) => {
                let steps = f64::from(1u32 << (bits.clamp(2, 24) - 1));
                (sample * steps).round().clamp(-steps, steps - 1.0) / steps
            }
        }
    }
}

impl Chain {
    fn ride(&mut self, riding: &GainRiding, sample: f64, step_s: f64) -> f64 {
        /// Averaging time of the level in s.
        const LEVEL_TIME_S: f64 = 0.1;
        /// Below this mean square nothing is steered (the control waits in silence).
        const FLOOR: f64 = 1e-9;
        self.mean_square += (sample * sample - self.mean_square) * step_s / LEVEL_TIME_S;
        if self.mean_square > FLOOR {
            let wanted_db = riding.target_dbfs - 10.0 * self.mean_square.log10();
            let wanted_db = wanted_db.clamp(-riding.range_db, riding.range_db);
            let time_s = if wanted_db < self.riding_db { riding.attack_s } else { riding.release_s };
            self.riding_db += (wanted_db - self.riding_db) * step_s / time_s;
        }
        sample * from_db(self.riding_db)
    }
}

/// Applies the buffer faults to finished channels; lengths stay as they were.
pub fn lose_buffers(channels: &mut [Vec<f64>], faults: &[BufferFault]) {
    for channel in channels {
        let length = channel.len();
        for fault in faults {
            let start = ((fault.at_part.clamp(0.0, 1.0)) * length as f64) as usize;
            let end = (start + fault.samples).min(length);
            match fault.loss {
                Loss::Zeros => channel[start..end].fill(0.0),
                Loss::Dropped => {
                    channel.drain(start..end);
                    let last = channel.last().copied().unwrap_or(0.0);
                    channel.resize(length, last);
                }
                Loss::Repeated => {
                    let copy = channel[start..end].to_vec();
                    channel.splice(start..start, copy);
                    channel.truncate(length);
                }
            }
        }
    }
}
