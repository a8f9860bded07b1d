//! What a person has at hand, asked once and kept. Setup of the two procedures.

pub use crate::acoustic::polarity::PolarityMethod;
pub use crate::driver::knock_check::KnockSensor as Sensor;
use crate::electrical::meter_accuracy::MeterAccuracy;
use crate::electrical::meter_reading::Across;
use serde::{Deserialize, Serialize};

/// What drives the jig.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Output {
    /// Headphone output of the computer or sound card.
    Headphones,
    /// A power amplifier behind a line output.
    Amplifier,
}

/// Bench of the impedance check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct ImpedanceBench {
    /// Known resistor between source and driver.
    pub series_resistor_ohm: f64,
    /// One standard uncertainty of it, as a fraction.
    #[serde(default)]
    pub series_resistor_relative_uncertainty: Option<f64>,
    /// Input channel on the source side of the resistor, counted from 1.
    pub source_channel: usize,
    /// Input channel on the driver, counted from 1.
    pub driver_channel: usize,
    /// What drives it.
    pub output: Output,
    /// Most volts (root mean square) that the driver's circuit may see; none: the default of the procedure.
    #[serde(default)]
    pub limit_v: Option<f64>,
    /// Sample rate of the open audio session.
    pub rate_hz: f64,
    /// The device was never checked for gain control.
    #[serde(default)]
    pub new_device: bool,
    /// The practice bench: nothing can be harmed, and the calibrations are offered, not asked for.
    #[serde(default)]
    pub practice: bool,
}

/// Bench of the impedance check with one input.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct OneChannelBench {
    /// Resistor between output and driver.
    pub series_resistor_ohm: f64,
    /// One standard uncertainty of it, as a fraction.
    #[serde(default)]
    pub series_resistor_relative_uncertainty: Option<f64>,
    /// Input channel across the driver, counted from 1.
    pub channel: usize,
    /// Sample rate of the open audio session.
    pub rate_hz: f64,
    /// The device was never checked for gain control.
    #[serde(default)]
    pub new_device: bool,
    /// The practice bench.
    #[serde(default)]
    pub practice: bool,
}

/// Bench of the impedance check by microphone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct MicrophoneBench {
    /// Resistor that is put between amplifier and driver.
    pub series_resistor_ohm: f64,
    /// One standard uncertainty of it, as a fraction.
    #[serde(default)]
    pub series_resistor_relative_uncertainty: Option<f64>,
    /// Channel of the microphone, counted from 1.
    pub channel: usize,
    /// Most volts (root mean square) that the driver may see; none: the default of the procedure.
    #[serde(default)]
    pub limit_v: Option<f64>,
    /// Sample rate of the open audio session.
    pub rate_hz: f64,
    /// The practice bench.
    #[serde(default)]
    pub practice: bool,
}

/// Where the cable goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Socket {
    /// Line input.
    Line,
    /// Microphone input of a sound card.
    Microphone,
    /// Combined headset socket of a phone or laptop.
    Headset,
}

/// Bench of the polarity check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct PolarityBench {
    /// By push or by pulse.
    pub method: PolarityMethod,
    /// Input channel, counted from 1.
    pub channel: usize,
    /// Sample rate of the open audio session.
    pub rate_hz: f64,
    /// Whether the path inverts, where it was learnt before on this device.
    #[serde(default)]
    pub input_inverts: Option<bool>,
    /// The practice bench.
    #[serde(default)]
    pub practice: bool,
}

/// Bench of the knock check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct KnockBench {
    /// Sensor.
    pub sensor: Sensor,
    /// Input channel, counted from 1.
    pub channel: usize,
    /// Socket of the cable; ignored with a microphone.
    #[serde(default)]
    pub socket: Option<Socket>,
    /// DC resistance of the coil, where a meter gave it.
    #[serde(default)]
    pub r_e_ohm: Option<f64>,
    /// Resistance of the input, where known.
    #[serde(default)]
    pub input_resistance_ohm: Option<f64>,
    /// Effective diameter of the cone (middle of the surround to middle of the surround).
    #[serde(default)]
    pub effective_diameter_m: Option<f64>,
    /// The practice bench.
    #[serde(default)]
    pub practice: bool,
}

/// Bench of the check of two drivers at once.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct PairBench {
    /// Input channel of the first driver, counted from 1.
    pub first_channel: usize,
    /// Input channel of the second driver.
    pub second_channel: usize,
    /// Resistance of the input, where known.
    #[serde(default)]
    pub input_resistance_ohm: Option<f64>,
    /// The practice bench.
    #[serde(default)]
    pub practice: bool,
}

/// Bench of the check by meter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct MeterBench {
    /// Known resistor between source and driver.
    pub series_resistor_ohm: f64,
    /// One standard uncertainty of it, as a fraction.
    #[serde(default)]
    pub series_resistor_relative_uncertainty: Option<f64>,
    /// What the meter's display is worth.
    pub accuracy: MeterAccuracy,
    /// Across what the second voltage is read.
    pub across: Across,
    /// What drives it.
    pub output: Output,
    /// Most volts (root mean square) that the driver's circuit may see; none: the default of the procedure.
    #[serde(default)]
    pub limit_v: Option<f64>,
    /// Sample rate of the open output.
    pub rate_hz: f64,
    /// Nothing is played: the readings come from elsewhere, or from paper.
    #[serde(default)]
    pub by_hand: bool,
    /// The practice bench.
    #[serde(default)]
    pub practice: bool,
}
