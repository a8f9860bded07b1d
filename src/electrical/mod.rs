//! Volts and ohms: the jig and its corrections, impedance with its uncertainty.
pub mod calibration;
pub mod foreign_ratio;
pub mod impedance;
pub mod jig;
pub mod ladder;
pub mod loose_joint;
pub mod meter_accuracy;
pub mod meter_reading;
pub mod one_channel;
pub mod periodic_ratio;
pub mod plain_text;
pub mod plausibility;
pub mod preferred_values;
pub mod ratio;
pub mod resistor_code;
pub mod take_ratio;
pub mod touchstone;
