//! Sound and motion: which way a cone moves.
pub mod polarity;
mod polarity_pulse;
mod polarity_push;
pub mod polarity_setup;
