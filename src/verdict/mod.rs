//! Limits as data; good, acceptable, too far apart or not proven; which parts belong together, and what parts them.
mod around_resonance;
pub mod coil_meter;
pub mod diagnosis;
pub mod difference;
pub mod history;
pub mod limits;
pub mod matching;
pub mod pairing;
pub mod part_limits;
pub mod split;
mod upper_impedance;
