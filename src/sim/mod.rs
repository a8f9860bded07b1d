//! Driver, faults, jig, room and sound-card input integrated in the time domain.
//!
//! Nothing here is shared with the analysis it tests: the coil is a ladder of resistors and inductors, the suspension
//! a chain of springs and dashpots, the room and the converter are filters and noise. `truth` reads the small-signal
//! parameters from those same physical parts, by evaluating their network at single frequencies.
pub mod bench;
pub mod coil;
pub mod driver;
pub mod energy_system;
pub mod faults;
pub mod filters;
pub mod hands;
pub mod input;
pub mod jig;
pub mod knock;
pub mod matrix_exponential;
pub mod meter;
pub mod microphone;
pub mod noise;
pub mod oversampling;
pub mod pair;
pub mod practice;
pub mod practice_meter;
pub mod practice_pair;
pub mod practice_takes;
pub mod stepper;
pub mod stream;
pub mod truth;
