//! Volts and ohms: the jig and its corrections, impedance with its uncertainty.
pub mod calibration;
pub mod foreign_ratio;
pub mod impedance;
pub mod jig;
pub mod one_channel;
pub mod periodic_ratio;
pub mod plausibility;
pub mod ratio;
pub mod take_ratio;
