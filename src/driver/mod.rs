//! One driver: equivalent circuit, fit, ring-down and what is derived from them.
pub mod knock_spotting;
mod ring_down_choice;
mod ring_down_fit;
mod ring_down_model;
mod ring_down_noise;
mod ring_down_projection;
mod ring_down_samples;
mod ring_down_subspace;
