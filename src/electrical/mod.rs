//! Volts and ohms: the jig and its corrections, impedance with its uncertainty.
pub mod impedance;
