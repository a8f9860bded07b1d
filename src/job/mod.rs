//! The record of a job, its versions and migrations, and the overview that is drawn from it.
pub mod record;
