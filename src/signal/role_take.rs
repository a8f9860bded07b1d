//! A take with the part it plays in a check, and why a setup could not be used.

use super::take::Take;
use thiserror::Error;

/// A take and what was connected while it was recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct RoleTake {
    /// What the take shows: `driver`, `known_resistor`, `short`, `open`, `same_node`, `free`.
    pub role: String,
    /// The samples.
    pub take: Take,
    /// The known resistor in place of the driver, in ohms.
    pub resistor_ohm: Option<f64>,
    /// The resistor across the driver's terminals, in ohms; none where the terminals are open.
    pub load_ohm: Option<f64>,
    /// Mass fixed to the cone, in kilograms.
    pub added_mass_kg: Option<f64>,
    /// Inner volume of the closed box in which the driver sat, in cubic metres.
    pub box_volume_m3: Option<f64>,
    /// Knocks that the person set aside, counted from 1 in order of time.
    pub set_aside: Vec<u32>,
}

impl RoleTake {
    /// A take in its role, with nothing else connected.
    pub fn new(role: &str, take: Take) -> Self {
        RoleTake {
            role: role.to_owned(),
            take,
            resistor_ohm: None,
            load_ohm: None,
            added_mass_kg: None,
            box_volume_m3: None,
            set_aside: Vec::new(),
        }
    }
}

/// A setup that cannot be used: the field that is wrong and what is wanted there.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{field}: {wanted}")]
pub struct SetupError {
    /// Name of the field as in the setup, e.g. `series_resistor_ohm` or `takes[2].load_ohm`.
    pub field: String,
    /// What is wrong and what is wanted, in words.
    pub wanted: String,
}

impl SetupError {
    /// An error about `field`.
    pub fn new(field: &str, wanted: &str) -> Self {
        SetupError { field: field.to_owned(), wanted: wanted.to_owned() }
    }
}
