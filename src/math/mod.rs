//! Numbers only: no units, no sample rates.
pub mod axes;
pub mod budget;
pub mod decimate;
pub mod fft;
pub mod least_squares;
pub mod levenberg_marquardt;
pub mod matrix;
pub mod order;
pub mod quantiles;
pub mod random;
pub mod robust;
pub mod vectors;
pub mod windows;
