//! Numbers only: no units, no sample rates.
pub mod budget;
