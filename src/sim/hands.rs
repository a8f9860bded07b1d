//! What a person does on the practice bench beside playing through the jig: pushing a cone, touching the input with a
//! cell, holding a microphone to the cone, moving cone and leads while a tone plays.

use serde::{Deserialize, Serialize};

use super::bench::{knock, PracticeBench};
use super::driver::Driver;
use super::input::{lose_buffers, RunningInput};
use super::jig::Position;
use super::knock::{KnockScene, Sensor, Touch};
use super::microphone::{Microphone, RunningMicrophone};
use super::stream::Stream;
use crate::math::random::Random;
use crate::signal::take::{Take, TakeError};

/// What the person does while a take runs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Scene {
    /// Nothing: what is played goes through the jig.
    #[default]
    Jig,
    /// The cone is pushed inwards by hand, its marked terminal on the input of channel 1.
    Push,
    /// The plus pole of a cell touches the input of channel 1, through a divider of 10 kΩ to 1 kΩ.
    Cell,
    /// What is played goes to the driver, a microphone close to the cone listens.
    Microphone,
    /// What is played goes through the jig; leads are flexed and the cone is moved.
    Flexing,
    /// An amplifier straight at the driver, a microphone close to the cone.
    Close,
    /// The same with a resistor in series.
    CloseWithResistor,
    /// The same with a resistor across the amplifier's output.
    CloseLoaded,
}

/// A cell of 1.5 V behind the divider.
const CELL_V: f64 = 1.5 / 11.0;
/// A touch of the cell every so often, and how long it lasts.
const TOUCH_EVERY_S: f64 = 2.2;
const TOUCH_S: f64 = 0.4;
/// How far a gentle finger pushes a cone.
const PUSH_M: f64 = 0.0012;

/// Pushes inwards that fill `duration_s`, 2.2 s apart, each let go within a second. An `unsteady` hand also pulls.
pub fn pushes(driver: &Driver, duration_s: f64, rate_hz: f64, unsteady: bool, seed: u64) -> KnockScene {
    let mut random = Random::new(seed ^ 0x9a4d);
    let count = ((duration_s - 1.2) / TOUCH_EVERY_S).max(1.0) as usize;
    let held_n = PUSH_M * driver.suspension.stiffness_n_per_m;
    let touches = (0..count)
        .map(|k| Touch::PushAndRelease {
            time_s: 1.2 + TOUCH_EVERY_S * k as f64 + 0.2 * random.uniform(),
            // Outwards is positive in the simulated cone.
            held_n: -held_n * random.between(0.6, 1.4) * if unsteady && k % 2 == 1 { -1.0 } else { 1.0 },
            release_s: random.between(0.02, 0.25),
        })
        .collect();
    let sensor = Sensor::Coil { series_ohm: 0.0 };
    KnockScene { duration_s, rate_hz, touches, load_ohm: None, added_mass_kg: 0.0, sensor }
}

/// What channel 1 hears of pushes.
///
/// # Errors
/// [`TakeError`] if there is no length or the rate cannot be.
pub fn push(
    bench: &PracticeBench,
    duration_s: f64,
    rate_hz: f64,
    unsteady: bool,
    seed: u64,
) -> Result<Take, TakeError> {
    knock(bench, &pushes(&bench.driver, duration_s, rate_hz, unsteady, seed), seed)
}

/// What channel 1 hears of a cell's plus pole.
///
/// # Errors
/// As [`push`].
pub fn cell(bench: &PracticeBench, duration_s: f64, rate_hz: f64, seed: u64) -> Result<Take, TakeError> {
    let mut input = RunningInput::new(&bench.input, rate_hz, seed);
    let touched = |t: f64| t > 1.0 && (t - 1.0) % TOUCH_EVERY_S < TOUCH_S;
    let samples = (duration_s * rate_hz).round().max(0.0) as usize;
    let heard = (0..samples).map(|n| {
        let volts = if touched(n as f64 / rate_hz) { CELL_V } else { 0.0 };
        input.push([volts, 0.0])[0]
    });
    let mut channel: Vec<f64> = heard.collect();
    lose_buffers(std::slice::from_mut(&mut channel), &bench.input.buffer_faults);
    Take::new(rate_hz, vec![channel])
}

/// What a microphone at the cone hears while `dac` is played through the jig. A series resistor of next to nothing is
/// none.
///
/// # Errors
/// As [`push`].
pub fn hear(
    bench: &PracticeBench,
    microphone: &Microphone,
    dac: &[f64],
    rate_hz: f64,
    seed: u64,
) -> Result<Take, TakeError> {
    let mut stream = Stream::new(bench, Position::Driver, rate_hz, seed);
    let mut running = RunningMicrophone::new(microphone, rate_hz, seed);
    let mut input = RunningInput::new(&bench.microphone_input(), rate_hz, seed);
    let s_d_m2 = bench.driver.s_d_m2;
    let heard = dac.iter().map(|sample| {
        stream.push_volts(*sample);
        let velocity = stream.motion().map_or(0.0, |m| m.velocity_m_per_s);
        input.push([running.push(velocity, s_d_m2), 0.0])[0]
    });
    let mut channel: Vec<f64> = heard.collect();
    lose_buffers(std::slice::from_mut(&mut channel), &bench.input.buffer_faults);
    Take::new(rate_hz, vec![channel])
}

/// A take, and when a loose joint was open: begin and length in s.
pub type Flexed = (Take, Vec<(f64, f64)>);

/// What both channels hear of `dac` while a hand moves the cone (where `moved`) and the joint, where it is loose, opens.
///
/// # Errors
/// As [`push`].
pub fn flex(bench: &PracticeBench, dac: &[f64], rate_hz: f64, moved: bool, seed: u64) -> Result<Flexed, TakeError> {
    let mut stream = Stream::new(bench, Position::Driver, rate_hz, seed);
    let hand_n = if moved { PUSH_M * bench.driver.suspension.stiffness_n_per_m } else { 0.0 };
    let turn = |hz: f64, t: f64| (std::f64::consts::TAU * hz * t).sin();
    let mut channels = [Vec::with_capacity(dac.len()), Vec::with_capacity(dac.len())];
    let mut opened: Vec<(f64, f64)> = Vec::new();
    let mut open = false;
    for (n, sample) in dac.iter().enumerate() {
        let t = n as f64 / rate_hz;
        // In and out about once a second, and a tremor.
        stream.hold(hand_n * (0.8 * turn(1.1, t) + 0.3 * turn(3.7, t) + 0.05 * turn(11.0, t)));
        for (channel, value) in channels.iter_mut().zip(stream.push(*sample)) {
            channel.push(value);
        }
        match (open, stream.joint_is_open()) {
            (false, true) => opened.push((t, 0.0)),
            (true, true) => opened.iter_mut().last().into_iter().for_each(|o| o.1 = t - o.0),
            _ => {}
        }
        open = stream.joint_is_open();
    }
    lose_buffers(&mut channels, &bench.input.buffer_faults);
    Ok((Take::new(rate_hz, channels.into())?, opened))
}
