//! A take without a knock: does its input live, or does nothing arrive at all?
//!
//! A dead input shows its converter's own noise and nothing else: no hum, and no level above the floor below. Whoever hears
//! a quiet room through a living input is told that nobody knocked; whoever has no cable in it, that it is silent.
//! Symbols: levels in dB below full scale, root mean square. Valid for takes of two seconds and more (hum needs them).

use crate::signal::health::{assess_channels, ChannelHealth};
use crate::signal::notice::{Code, Notice};
use crate::signal::take::Take;

/// Most that an input shows by itself. Dither and rounding to 16 bit leave half a step, 20 log10(0.5/32768) = −96.3 dB
/// (triangular dither, IEEE 1241 terms); a converter of 90 dB below a full sine (−3 dB) adds −93 dB (common practice, no
/// source): together −91.3 dB, and 1.3 dB of room.
const DEAD_DBFS: f64 = -90.0;

/// The notice of a take that is silent because its input is dead; none where the input lives.
pub fn dead_input(take: &Take, channel: usize) -> Option<Notice> {
    let health = assess_channels(take, &[channel]);
    let silent = health.notices.iter().find(|n| n.code == Code::Silent)?;
    health.channels.iter().all(is_dead).then(|| silent.clone())
}

fn is_dead(channel: &ChannelHealth) -> bool {
    channel.rms_dbfs < DEAD_DBFS && channel.hum.is_none()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    const RATE_HZ: f64 = 48_000.0;

    /// Noise of so much rms (full scale 1), with a line of 50 Hz, dithered and rounded to 16 bit.
    fn quiet(noise: f64, hum: f64) -> Take {
        let mut random = Random::new(5);
        let samples = (0..240_000)
            .map(|n| {
                let line = hum * (std::f64::consts::TAU * 50.0 * f64::from(n) / RATE_HZ).sin();
                let dither = random.uniform() - random.uniform();
                ((noise * random.normal() + line) * 32_768.0 + dither).round() / 32_768.0
            })
            .collect();
        Take::new(RATE_HZ, vec![samples]).expect("a take")
    }

    fn level(db: f64) -> f64 {
        10.0_f64.powf(db / 20.0)
    }

    #[test]
    fn a_floor_of_a_converter_is_dead_and_what_stands_above_it_lives() {
        assert!(dead_input(&quiet(0.0, 0.0), 1).is_some(), "dither alone");
        assert!(dead_input(&quiet(level(-93.0), 0.0), 1).is_some(), "an ordinary converter");
        // With the dither −88.4 dB.
        assert!(dead_input(&quiet(level(-89.2), 0.0), 1).is_none(), "a room");
        assert!(dead_input(&quiet(level(-93.0), level(-92.0)), 1).is_none(), "hum comes in by a cable only");
        assert!(dead_input(&Take::new(RATE_HZ, vec![vec![0.0; 96_000]]).expect("a take"), 1).is_some());
    }
}
