//! Setup of the check by meter, and what may not stand in it.

use super::impedance_setup::within;
use crate::electrical::calibration::RESISTOR_RELATIVE_UNCERTAINTY;
use crate::electrical::meter_accuracy::MeterAccuracy;
use crate::electrical::meter_reading::MeterReading;
use crate::signal::role_take::SetupError;
use serde::{Deserialize, Serialize};

/// Relative standard uncertainty of a tone's frequency: a sound card's clock. Common practice, no source.
const FREQUENCY_RELATIVE_UNCERTAINTY: f64 = 1e-4;
/// Standard uncertainty of an ohms reading with the leads subtracted: 0.5 %, and 0.05 Ω for two last digits of 0.1 Ω and
/// the clips. Common practice, no source.
const OHMS_UNCERTAINTY: (f64, f64) = (0.005, 0.05);
/// Readings at most: more than anybody types.
pub const MOST_READINGS: usize = 200;

/// Setup of the check by meter. Values are SI, the unit stands in the name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct MeterSetup {
    /// Series resistor in Ω.
    pub series_resistor_ohm: f64,
    /// Its relative standard uncertainty (0.005 where absent).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub series_resistor_relative_uncertainty: Option<f64>,
    /// What was read, in any order of frequency.
    pub readings: Vec<MeterReading>,
    /// Accuracy of the meter.
    pub accuracy: MeterAccuracy,
    /// The coil's own resistance by the meter's ohms, the leads subtracted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub r_e_ohm: Option<f64>,
    /// Its standard uncertainty in Ω (0.5 % and 0.05 Ω where absent).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub r_e_standard_uncertainty_ohm: Option<f64>,
    /// Relative standard uncertainty of the frequencies (0.0001 where absent).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub frequency_relative_uncertainty: Option<f64>,
}

impl MeterSetup {
    /// Relative standard uncertainty of the series resistor.
    pub fn resistor_uncertainty(&self) -> f64 {
        self.series_resistor_relative_uncertainty.unwrap_or(RESISTOR_RELATIVE_UNCERTAINTY)
    }

    /// Relative standard uncertainty of the frequencies.
    pub fn frequency_uncertainty(&self) -> f64 {
        self.frequency_relative_uncertainty.unwrap_or(FREQUENCY_RELATIVE_UNCERTAINTY)
    }

    /// The ohms reading with its relative standard uncertainty, where there is one.
    pub fn ohms_reading(&self) -> Option<(f64, f64)> {
        let ohm = self.r_e_ohm?;
        let (share, fixed) = OHMS_UNCERTAINTY;
        Some((ohm, self.r_e_standard_uncertainty_ohm.unwrap_or((share * ohm).hypot(fixed)) / ohm))
    }

    /// # Errors
    /// [`SetupError`] naming the field: a value that no bench has, a reading with no or two second voltages.
    pub fn check(&self) -> Result<(), SetupError> {
        within("series_resistor_ohm", Some(self.series_resistor_ohm), 1e-2, 1e6)?;
        within("series_resistor_relative_uncertainty", self.series_resistor_relative_uncertainty, 0.0, 0.5)?;
        within("r_e_ohm", self.r_e_ohm, 0.05, 2000.0)?;
        within("r_e_standard_uncertainty_ohm", self.r_e_standard_uncertainty_ohm, 1e-4, 1000.0)?;
        within("frequency_relative_uncertainty", self.frequency_relative_uncertainty, 0.0, 0.05)?;
        self.accuracy.check()?;
        if self.readings.len() > MOST_READINGS {
            return Err(SetupError::new("readings", &format!("at most {MOST_READINGS} readings are wanted")));
        }
        self.readings.iter().enumerate().try_for_each(|(i, reading)| check_reading(i, reading))
    }
}

fn check_reading(i: usize, reading: &MeterReading) -> Result<(), SetupError> {
    let field = |name: &str| format!("readings[{i}].{name}");
    within(&field("frequency_hz"), Some(reading.frequency_hz), 0.5, 1e5)?;
    // Below a microvolt a meter shows nothing, above a thousand volts nobody measures a driver.
    within(&field("driver_v"), Some(reading.driver_v), 1e-6, 1000.0)?;
    within(&field("source_v"), reading.source_v, 1e-6, 1000.0)?;
    within(&field("resistor_v"), reading.resistor_v, 1e-6, 1000.0)?;
    match (reading.source_v, reading.resistor_v) {
        (None, None) => {
            Err(SetupError::new(&field("resistor_v"), "volts across the resistor, or source_v, are wanted"))
        }
        (Some(_), Some(_)) => {
            Err(SetupError::new(&field("source_v"), "either source_v or resistor_v is wanted, not both"))
        }
        _ => Ok(()),
    }
}
