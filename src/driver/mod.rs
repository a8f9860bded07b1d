//! One driver: equivalent circuit, fit, ring-down and what is derived from them.
pub mod coil;
pub mod equivalent_circuit;
pub mod impedance_fit;
pub mod knock_check;
pub mod knock_spotting;
pub mod model_choice;
pub mod starting_values;
pub mod three_frequency;
