//! The record of a job, its versions and migrations, and the overview that is drawn from it.
mod cells;
pub mod merge;
mod next_step;
pub mod overview;
mod partners;
pub mod record;
pub mod rules;
pub mod versions;
