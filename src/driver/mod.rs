//! One driver: equivalent circuit, fit, ring-down and what is derived from them.
pub mod coil;
pub mod equivalent_circuit;
pub mod impedance_budget;
pub mod impedance_check;
pub mod impedance_curves;
pub mod impedance_fit;
pub mod impedance_setup;
pub mod impedance_takes;
pub mod knock_check;
pub mod knock_spotting;
pub mod model_choice;
pub mod starting_values;
pub mod three_frequency;
