//! One pure state machine a check: setup and what happened so far give the next step.
pub mod bench;
pub mod step;
