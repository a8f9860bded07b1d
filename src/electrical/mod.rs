//! Volts and ohms: the jig and its corrections, impedance with its uncertainty.
pub mod calibration;
pub mod impedance;
pub mod jig;
pub mod periodic_ratio;
pub mod plausibility;
pub mod ratio;
pub mod segment_ratio;
pub mod whole_record_ratio;
