//! One pure state machine a check: setup and what happened so far give the next step.
pub mod bench;
mod build;
pub mod cautions;
mod closing;
pub mod defaults;
pub mod happening;
pub mod impedance;
pub mod knock;
mod known_box;
pub mod meter;
pub mod microphone;
pub mod note;
pub mod one_channel;
pub mod pair;
mod past;
pub mod polarity;
#[cfg(test)]
mod rehearsal;
pub mod step;
