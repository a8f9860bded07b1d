//! What a person states for two drivers at once, checked before anything is computed.

use crate::signal::role_take::{RoleTake, SetupError};
use serde::{Deserialize, Serialize};

/// Setup of the check of two drivers, one on each input channel. Values are SI, the unit stands in the name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct PairSetup {
    /// Channel of the first driver, counted from 1.
    pub first_channel: usize,
    /// Channel of the second driver.
    pub second_channel: usize,
    /// DC resistance of the first coil; without it a loaded knock gives no Q_es.
    #[serde(default)]
    pub first_r_e_ohm: Option<f64>,
    /// DC resistance of the second coil, read with the same meter.
    #[serde(default)]
    pub second_r_e_ohm: Option<f64>,
    /// Resistance of the input, the same for both channels but for the tolerance of its parts.
    #[serde(default)]
    pub input_resistance_ohm: Option<f64>,
}

/// Roles of takes: both drivers as stated, or one of them with a resistor that the other one gets in its turn.
pub(super) const ROLES: [&str; 3] = ["free", "first", "second"];

impl PairSetup {
    /// A setup with nothing optional stated.
    pub fn new(first_channel: usize, second_channel: usize) -> Self {
        PairSetup {
            first_channel,
            second_channel,
            first_r_e_ohm: None,
            second_r_e_ohm: None,
            input_resistance_ohm: None,
        }
    }

    /// Channels in the order of the drivers.
    pub(super) fn channels(&self) -> [usize; 2] {
        [self.first_channel, self.second_channel]
    }

    /// # Errors
    /// The first field that cannot be used, and what is wanted there. What each driver's knocks ask for is checked there.
    pub(super) fn check(&self, takes: &[RoleTake]) -> Result<(), SetupError> {
        if self.first_channel == self.second_channel {
            let wanted = format!("another channel than the first driver's is wanted, not {} again", self.first_channel);
            return Err(SetupError::new("second_channel", &wanted));
        }
        if takes.is_empty() {
            return Err(SetupError::new("takes", "at least one take is wanted"));
        }
        for (k, t) in takes.iter().enumerate() {
            check_take(self, k, t)?;
        }
        for (role, other) in [("first", "second"), ("second", "first")] {
            let with = |role: &str| takes.iter().any(|t| t.role == role);
            let free = || takes.iter().any(|t| t.role == "free");
            if with(role) && !with(other) && !free() {
                let wanted = format!("a take of the role \"{other}\" or \"free\" is wanted beside \"{role}\"");
                return Err(SetupError::new("takes", &wanted));
            }
        }
        Ok(())
    }
}

fn check_take(setup: &PairSetup, index: usize, t: &RoleTake) -> Result<(), SetupError> {
    let field = |name: &str| format!("takes[{index}].{name}");
    if !ROLES.contains(&t.role.as_str()) {
        let wanted = format!("\"free\" (both drivers), \"first\" or \"second\" is wanted, not \"{}\"", t.role);
        return Err(SetupError::new(&field("role"), &wanted));
    }
    for (name, given) in [("added_mass_kg", t.added_mass_kg), ("box_volume_m3", t.box_volume_m3)] {
        if given.is_some() {
            return Err(SetupError::new(&field(name), "a pair is compared without weight and box"));
        }
    }
    for (name, channel) in [("first_channel", setup.first_channel), ("second_channel", setup.second_channel)] {
        if t.take.channel(channel).is_none() {
            let wanted = format!("takes[{index}] has channels 1 to {}, not {channel}", t.take.channel_count());
            return Err(SetupError::new(name, &wanted));
        }
    }
    Ok(())
}
