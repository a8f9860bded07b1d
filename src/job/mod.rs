//! The record of a job, its versions and migrations, and the overview that is drawn from it.
mod cells;
mod coil_cell;
pub mod look_points;
pub mod merge;
mod next_step;
pub mod overview;
mod partners;
pub mod record;
pub mod rules;
pub mod summary;
pub mod versions;
