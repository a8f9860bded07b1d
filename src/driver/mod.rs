//! One driver: equivalent circuit, fit, ring-down and what is derived from them.
mod knock_budget;
pub mod knock_check;
mod knock_curves;
mod knock_doubts;
mod knock_figures;
mod knock_fit;
mod knock_next;
mod knock_rings;
mod knock_setup;
pub mod knock_spotting;
mod ring_down_choice;
mod ring_down_fit;
mod ring_down_model;
mod ring_down_noise;
mod ring_down_projection;
mod ring_down_samples;
mod ring_down_subspace;
