//! The practice bench: everything between the page's output and its input, and the takes it gives.
use serde::{Deserialize, Serialize};

use super::driver::{Driver, Loaded};
use super::energy_system::SOURCE_TERMS;
use super::input::{lose_buffers, Input, InputChannel, RunningInput};
use super::jig::{Jig, Position};
use super::knock::{KnockScene, Sensor};
use super::microphone::{Microphone, RunningMicrophone};
use super::stepper::Stepper;
use super::stream::Stream;
use crate::signal::take::{Take, TakeError};

/// A joint in the driver's lead that opens and closes by itself.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct LooseJoint {
    /// Extra resistance while it is open, in Ω.
    pub open_ohm: f64,
    /// Mean time closed in s.
    pub mean_closed_s: f64,
    /// Mean time open in s.
    pub mean_open_s: f64,
}

/// What is wrong at the far end of the leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum LeadFault {
    /// The driver is not connected, or its coil is open.
    Open,
    /// The leads touch at the terminals.
    Short,
}

/// A whole bench.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PracticeBench {
    /// The driver, its faults included.
    pub driver: Driver,
    /// The jig as it truly is.
    pub jig: Jig,
    /// The input.
    pub input: Input,
    /// A joint that does not hold.
    pub loose_joint: Option<LooseJoint>,
    /// A lead that touches or hangs free.
    pub lead_fault: Option<LeadFault>,
    /// What the person did to the driver.
    #[serde(default)]
    pub mounting: Mounting,
}

/// A weight on the cone, a box around its back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Mounting {
    /// Weight in kg.
    pub added_mass_kg: f64,
    /// Air in the closed box, the driver's own volume taken off, in m³; none for free air.
    pub net_box_m3: Option<f64>,
}

impl PracticeBench {
    /// The converter behind a microphone: its own roll-off is that of the whole path, full scale is 1.
    pub fn microphone_input(&self) -> Input {
        let converter = InputChannel { full_scale_v: 1.0, gain_db: 0.0, coupling_hz: 0.0, ..self.input.channels[0] };
        Input { channels: [converter; 2], hum: None, ..self.input.clone() }
    }

    /// The driver as it is mounted.
    pub fn loaded(&self) -> Loaded {
        let loaded = self.driver.with_added_mass_kg(self.mounting.added_mass_kg);
        match self.mounting.net_box_m3 {
            Some(net_m3) => loaded.in_box(net_m3),
            None => loaded,
        }
    }

    /// What truly hangs in the jig when the person means to have connected `position`.
    pub fn true_position(&self, position: Position) -> Position {
        match (position, self.lead_fault) {
            (Position::Driver, Some(LeadFault::Open)) => Position::Open,
            (Position::Driver, Some(LeadFault::Short)) => Position::Short,
            _ => position,
        }
    }
}

/// Plays `dac` (full scale ±1) and gives what the two input channels hear, as many samples as were played.
///
/// Everything comes [`Stream::delay_samples`] samples later than it was played.
///
/// # Errors
/// [`TakeError`] if `dac` is empty or the rate cannot be.
pub fn play(
    bench: &PracticeBench,
    dac: &[f64],
    rate_hz: f64,
    position: Position,
    seed: u64,
) -> Result<Take, TakeError> {
    let mut stream = Stream::new(bench, position, rate_hz, seed);
    let mut channels = [Vec::with_capacity(dac.len()), Vec::with_capacity(dac.len())];
    for sample in dac {
        for (channel, value) in channels.iter_mut().zip(stream.push(*sample)) {
            channel.push(value);
        }
    }
    lose_buffers(&mut channels, &bench.input.buffer_faults);
    Take::new(rate_hz, channels.into())
}

/// What channel 1 hears while the cone is touched.
///
/// # Errors
/// [`TakeError`] if the scene has no length or its rate cannot be.
pub fn knock(bench: &PracticeBench, scene: &KnockScene, seed: u64) -> Result<Take, TakeError> {
    let samples = (scene.duration_s * scene.rate_hz).round().max(0.0) as usize;
    let mut channel = match &scene.sensor {
        Sensor::Coil { series_ohm } => by_coil(bench, scene, *series_ohm, samples, seed),
        Sensor::Microphone { microphone } => by_microphone(bench, scene, microphone, samples, seed),
    };
    lose_buffers(std::slice::from_mut(&mut channel), &bench.input.buffer_faults);
    Take::new(scene.rate_hz, vec![channel])
}

fn by_coil(bench: &PracticeBench, scene: &KnockScene, series_ohm: f64, samples: usize, seed: u64) -> Vec<f64> {
    let mut input = RunningInput::new(&bench.input, scene.rate_hz, seed);
    let input_ohm = bench.input.channels[0].resistance_ohm;
    coil_volts(bench, scene, input_ohm, series_ohm, samples).into_iter().map(|v| input.push([v, 0.0])[0]).collect()
}

/// What the coil gives to an input of `input_ohm` behind `series_ohm`, sample by sample.
pub(super) fn coil_volts(
    bench: &PracticeBench,
    scene: &KnockScene,
    input_ohm: f64,
    series_ohm: f64,
    samples: usize,
) -> Vec<f64> {
    let sensing_ohm = input_ohm + series_ohm;
    let outside_ohm = scene.load_ohm.map_or(sensing_ohm, |load| load * sensing_ohm / (load + sensing_ohm));
    // The coil drives its current backwards through what hangs at the terminals.
    ring(bench, scene, outside_ohm, samples, |motion_current_a, _| {
        -motion_current_a * outside_ohm * input_ohm / sensing_ohm
    })
}

fn by_microphone(
    bench: &PracticeBench,
    scene: &KnockScene,
    microphone: &Microphone,
    samples: usize,
    seed: u64,
) -> Vec<f64> {
    let outside_ohm = scene.load_ohm.unwrap_or(OPEN_OHM);
    let mut running = RunningMicrophone::new(microphone, scene.rate_hz, seed);
    let mut input = RunningInput::new(&bench.microphone_input(), scene.rate_hz, seed);
    let s_d_m2 = bench.driver.s_d_m2;
    ring(bench, scene, outside_ohm, samples, |_, velocity| input.push([running.push(velocity, s_d_m2), 0.0])[0])
}

/// Resistance that stands for terminals with nothing connected, in Ω.
const OPEN_OHM: f64 = 1e8;

/// Runs the touched cone and gives (coil current, velocity) of each sample to `hear`.
fn ring(
    bench: &PracticeBench,
    scene: &KnockScene,
    outside_ohm: f64,
    samples: usize,
    mut hear: impl FnMut(f64, f64) -> f64,
) -> Vec<f64> {
    let mut loaded = bench.driver.with_added_mass_kg(scene.added_mass_kg + bench.mounting.added_mass_kg);
    if let Some(net_m3) = bench.mounting.net_box_m3 {
        loaded = loaded.in_box(net_m3);
    }
    let step_s = 1.0 / scene.rate_hz;
    let mut stepper = Stepper::new(&loaded, &[outside_ohm], step_s);
    let mut force_n = scene.force_n(0.0);
    (1..=samples)
        .map(|n| {
            let next_n = scene.force_n(n as f64 * step_s);
            stepper.step(0, &[0.0; SOURCE_TERMS], [force_n, next_n]);
            force_n = next_n;
            let motion = stepper.motion();
            hear(motion.current_a, motion.velocity_m_per_s)
        })
        .collect()
}
