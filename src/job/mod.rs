//! The record of a job, its versions and migrations, and the overview that is drawn from it.
mod cells;
mod next_step;
pub mod overview;
mod partners;
pub mod record;
