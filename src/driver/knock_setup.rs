//! What a person states for the knock check, checked before anything is computed.

use super::mounted::{assumed_displacement_m3, too_small_a_box};
use crate::signal::role_take::{RoleTake, SetupError};
use serde::{Deserialize, Serialize};

/// What hears the knock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum KnockSensor {
    /// The driver's own coil on the input: voltage is velocity.
    Coil,
    /// A microphone close to the cone.
    Microphone,
}

/// Setup of the knock check. Values are SI, the unit stands in the name; channels count from 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct KnockSetup {
    /// What hears the knock.
    pub sensor: KnockSensor,
    /// Channel of the takes that holds it.
    pub channel: usize,
    /// DC resistance of the coil; without it a loaded knock gives no Q_es.
    #[serde(default)]
    pub r_e_ohm: Option<f64>,
    /// Resistance of the input, which loads the coil.
    #[serde(default)]
    pub input_resistance_ohm: Option<f64>,
    /// Effective diameter of the cone, for V_as and efficiency.
    #[serde(default)]
    pub effective_diameter_m: Option<f64>,
    /// Volume that the driver takes in a box; assumed from the diameter where not stated.
    #[serde(default)]
    pub driver_displacement_m3: Option<f64>,
    /// Temperature of the air; 20 °C where not stated.
    #[serde(default)]
    pub air_temperature_c: Option<f64>,
    /// Pressure of the air; 101325 Pa where not stated.
    #[serde(default)]
    pub air_pressure_pa: Option<f64>,
}

impl KnockSetup {
    /// A setup with nothing optional stated.
    pub fn new(sensor: KnockSensor, channel: usize) -> Self {
        KnockSetup {
            sensor,
            channel,
            r_e_ohm: None,
            input_resistance_ohm: None,
            effective_diameter_m: None,
            driver_displacement_m3: None,
            air_temperature_c: None,
            air_pressure_pa: None,
        }
    }

    /// # Errors
    /// The first field that cannot be used, and what is wanted there.
    pub(super) fn check(&self, takes: &[RoleTake]) -> Result<(), SetupError> {
        within("r_e_ohm", self.r_e_ohm, 0.1, 2000.0, "ohms")?;
        within("input_resistance_ohm", self.input_resistance_ohm, 100.0, 1e9, "ohms")?;
        within("effective_diameter_m", self.effective_diameter_m, 0.005, 1.0, "metres")?;
        within("driver_displacement_m3", self.driver_displacement_m3, 1e-6, 0.5, "cubic metres")?;
        within("air_temperature_c", self.air_temperature_c, -30.0, 60.0, "degrees Celsius")?;
        within("air_pressure_pa", self.air_pressure_pa, 50_000.0, 110_000.0, "pascals")?;
        if takes.is_empty() {
            return Err(SetupError::new("takes", "at least one take is wanted"));
        }
        for (k, t) in takes.iter().enumerate() {
            check_take(k, t, self.channel)?;
            self.check_box(k, t)?;
        }
        Ok(())
    }

    fn check_box(&self, index: usize, t: &RoleTake) -> Result<(), SetupError> {
        let field = format!("takes[{index}].box_volume_m3");
        within(&field, t.box_volume_m3, 1e-5, 2.0, "cubic metres")?;
        if t.added_mass_kg.is_some() && t.box_volume_m3.is_some() {
            return Err(SetupError::new(&field, "a take has a weight or a box, not both"));
        }
        let too_small = t.box_volume_m3.and_then(|volume| too_small_a_box(volume, self.displacement_m3()));
        too_small.map_or(Ok(()), |wanted| Err(SetupError::new(&field, &wanted)))
    }

    /// Volume that the driver takes in a box: as stated, or by its diameter.
    pub(super) fn displacement_m3(&self) -> f64 {
        let assumed = self.effective_diameter_m.map_or(0.0, assumed_displacement_m3);
        self.driver_displacement_m3.unwrap_or(assumed)
    }
}

fn check_take(index: usize, t: &RoleTake, channel: usize) -> Result<(), SetupError> {
    let field = |name: &str| format!("takes[{index}].{name}");
    if t.role != "free" {
        let wanted = format!("a knock take has the role \"free\", not \"{}\"", t.role);
        return Err(SetupError::new(&field("role"), &wanted));
    }
    if t.resistor_ohm.is_some() {
        return Err(SetupError::new(&field("resistor_ohm"), "a resistor across the terminals is called load_ohm"));
    }
    within(&field("load_ohm"), t.load_ohm, 0.0, 1e7, "ohms")?;
    within(&field("added_mass_kg"), t.added_mass_kg, 1e-6, 5.0, "kilograms")?;
    if t.take.channel(channel).is_none() {
        let wanted = format!("the take has channels 1 to {}, not {channel}", t.take.channel_count());
        return Err(SetupError::new("channel", &wanted));
    }
    Ok(())
}

fn within(field: &str, value: Option<f64>, low: f64, high: f64, unit: &str) -> Result<(), SetupError> {
    match value {
        Some(v) if !(low..=high).contains(&v) => {
            Err(SetupError::new(field, &format!("{v} is outside {low} to {high} {unit}")))
        }
        _ => Ok(()),
    }
}
