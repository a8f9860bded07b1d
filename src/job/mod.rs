//! The record of a job, its versions and migrations. Filled by later checks.
