//! What a person states for the polarity check, checked before anything is computed.

use crate::signal::role_take::{RoleTake, SetupError};
use serde::{Deserialize, Serialize};

/// How the sign is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum PolarityMethod {
    /// The cone is pushed inwards by hand, the coil hangs on the input.
    Push,
    /// A one-sided pulse is played, a microphone close to the cone hears it.
    Pulse,
}

/// Setup of the polarity check; channels count from 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct PolaritySetup {
    /// How the sign is told.
    pub method: PolarityMethod,
    /// Channel of the takes.
    pub channel: usize,
    /// Whether the path turns signals upside down, where it was learnt before: with a push the input, with a pulse the
    /// whole way from output to microphone.
    #[serde(default)]
    pub input_inverts: Option<bool>,
}

impl PolaritySetup {
    /// Checks the setup together with its takes.
    ///
    /// # Errors
    /// [`SetupError`] naming the field: an unknown role, a value that belongs to another check, a channel that a take has
    /// not, no take of a driver and none that teaches the input.
    pub fn check(&self, takes: &[RoleTake]) -> Result<(), SetupError> {
        for (i, take) in takes.iter().enumerate() {
            let field = |name: &str| format!("takes[{i}].{name}");
            let known: &[&str] = match self.method {
                PolarityMethod::Push => &["driver", "known_driver", "cell"],
                PolarityMethod::Pulse => &["driver", "known_driver"],
            };
            if !known.contains(&take.role.as_str()) {
                let wanted = format!("one of {} is wanted, not {:?}", known.join(", "), take.role);
                return Err(SetupError::new(&field("role"), &wanted));
            }
            let superfluous = [
                ("resistor_ohm", take.resistor_ohm.is_some()),
                ("load_ohm", take.load_ohm.is_some()),
                ("added_mass_kg", take.added_mass_kg.is_some()),
                ("box_volume_m3", take.box_volume_m3.is_some()),
                ("set_aside", !take.set_aside.is_empty()),
            ];
            if let Some((name, _)) = superfluous.iter().find(|(_, given)| *given) {
                return Err(SetupError::new(&field(name), "is of no use in a polarity check"));
            }
            if take.take.channel(self.channel).is_none() {
                let wanted = format!("the take has channels 1 to {}, not {}", take.take.channel_count(), self.channel);
                return Err(SetupError::new("channel", &wanted));
            }
        }
        if takes.is_empty() {
            return Err(SetupError::new("takes", "at least one take is wanted"));
        }
        Ok(())
    }
}
