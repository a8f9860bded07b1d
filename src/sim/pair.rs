//! Two drivers on one bench, each by its own cable at one channel of the same input.

use super::bench::{coil_volts, PracticeBench};
use super::driver::Driver;
use super::input::{lose_buffers, RunningInput};
use super::knock::{KnockScene, Touch};
use crate::signal::take::{Take, TakeError};

/// Part of one channel's voltage that is heard by the other inside an input: 70 dB down, as sound cards of computers do.
pub const CROSSTALK: f64 = 3e-4;

/// What both channels hear while the cones are touched: first driver left, second right. `bench` holds the first driver
/// and the input.
///
/// # Errors
/// [`TakeError`] if the scene has no length or its rate cannot be.
pub fn knock_pair(
    bench: &PracticeBench,
    second: &Driver,
    scenes: [&KnockScene; 2],
    crosstalk: f64,
    seed: u64,
) -> Result<Take, TakeError> {
    let rate_hz = scenes[0].rate_hz;
    let longest_s = scenes[0].duration_s.max(scenes[1].duration_s);
    let samples = (longest_s * rate_hz).round().max(0.0) as usize;
    let beside = PracticeBench { driver: second.clone(), ..bench.clone() };
    let volts = |bench: &PracticeBench, d: usize| {
        coil_volts(bench, scenes[d], bench.input.channels[d].resistance_ohm, 0.0, samples)
    };
    let (a, b) = (volts(bench, 0), volts(&beside, 1));
    let mut input = RunningInput::new(&bench.input, rate_hz, seed);
    let mut channels = [Vec::with_capacity(samples), Vec::with_capacity(samples)];
    for (a, b) in a.iter().zip(&b) {
        let heard = input.push([a + crosstalk * b, b + crosstalk * a]);
        channels.iter_mut().zip(heard).for_each(|(channel, sample)| channel.push(sample));
    }
    lose_buffers(&mut channels, &bench.input.buffer_faults);
    Take::new(rate_hz, channels.into())
}

/// Knocks on both in turn, `count` on each; half of the usual wait lies between the two.
pub fn in_turn(drivers: [&Driver; 2], count: usize, rate_hz: f64, seed: u64) -> [KnockScene; 2] {
    const LATER_S: f64 = 0.8;
    let first = KnockScene::taps(drivers[0], count, rate_hz, seed);
    let mut second = KnockScene::taps(drivers[1], count, rate_hz, seed ^ 0x2d);
    second.duration_s += LATER_S;
    for touch in &mut second.touches {
        let (Touch::Tap { time_s, .. } | Touch::PushAndRelease { time_s, .. }) = touch;
        *time_s += LATER_S;
    }
    [first, second]
}
