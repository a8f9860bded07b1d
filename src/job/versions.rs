//! Opening a record of any version: its version is read first, then the types of that version, then it is carried on from
//! version to version up to today's, then its contents are checked ([`super::rules`]).
//!
//! What changes how: a new field that may be missing takes `#[serde(default)]` and no new version; a field that is renamed,
//! moved, split, or that older pages must not leave out of sight makes a new one. The types that changed then stay here as
//! they were, with `From` into the next version, and a stored record in `tests/job_records` holds them for ever.

use super::record::{Job, Part, Shown, VERSION};
use super::rules::{check, Wrong};
use crate::verdict::limits::PairLimit;
use serde::de::DeserializeOwned;
use serde::Deserialize;
use thiserror::Error;

/// Why a record is not opened, and what to do.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RecordError {
    /// From a page of tomorrow.
    #[error("written by a newer version of this page (version {found} of the record, this page knows {VERSION}); update this page, then open it again")]
    Newer {
        /// Its version.
        found: u32,
    },
    /// Nothing that this page ever wrote.
    #[error("this is no record of a job ({what}); choose a file that this page has saved")]
    NoRecord {
        /// What is wrong.
        what: String,
    },
    /// A field that is missing, unknown or of another type.
    #[error("{what}; the record was changed by hand or damaged: take another copy of it, or update this page if it is newer")]
    Shape {
        /// `parts[2].kind`
        place: String,
        /// What is wrong and what is wanted.
        what: String,
    },
    /// Fields as they should be, and something in them that cannot be.
    #[error("{wrong}")]
    Content {
        /// `parts[2].note`
        place: String,
        /// What cannot be.
        wrong: Wrong,
    },
    /// Two records that are to become one.
    #[error("these are two different jobs; each can be opened by itself")]
    OtherJob,
}

impl RecordError {
    /// The field that is wrong; empty for the whole.
    pub fn place(&self) -> &str {
        match self {
            RecordError::Shape { place, .. } | RecordError::Content { place, .. } => place,
            _ => "",
        }
    }
}

/// A record as it came, its types still open: whatever format it is in.
pub trait Source {
    /// Reads all of it as a `T`.
    ///
    /// # Errors
    /// Place and what is wrong.
    fn read<T: DeserializeOwned>(&self) -> Result<T, (String, String)>;
}

/// Opens a record.
///
/// # Errors
/// [`RecordError`]; nothing is ever half read.
pub fn open(source: &impl Source) -> Result<Job, RecordError> {
    let job = match version_of(source)? {
        1 => Job::from(shaped::<JobV1>(source)?),
        _ => shaped::<Job>(source)?,
    };
    check(&job)?;
    Ok(job)
}

#[derive(Deserialize)]
struct Head {
    version: f64,
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // whole and within the range of a u32
fn version_of(source: &impl Source) -> Result<u32, RecordError> {
    let Head { version } = source.read().map_err(|(_, what)| RecordError::NoRecord { what })?;
    if version.fract() != 0.0 || !(1.0..=f64::from(u32::MAX)).contains(&version) {
        return Err(RecordError::NoRecord { what: "its version is no number from 1 on".to_owned() });
    }
    let found = version as u32;
    if found > VERSION {
        return Err(RecordError::Newer { found });
    }
    Ok(found)
}

fn shaped<T: DeserializeOwned>(source: &impl Source) -> Result<T, RecordError> {
    source.read().map_err(|(place, what)| RecordError::Shape { place, what })
}

/// Version 1: before two records of one job could become one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct JobV1 {
    #[allow(dead_code)] // read by `Head`
    version: u32,
    id: String,
    number: String,
    title: String,
    owner: String,
    wanted: String,
    technician: String,
    workshop: String,
    specialist: String,
    received_on: String,
    handed_over_on: String,
    parts: Vec<Part>,
    pair_limits: Vec<PairLimit>,
    done: Vec<String>,
    not_done: Vec<String>,
    care: Vec<String>,
    shown: Shown,
    created_at_ms: f64,
    changed_at_ms: f64,
}

impl From<JobV1> for Job {
    fn from(old: JobV1) -> Self {
        Job {
            version: VERSION,
            id: old.id,
            number: old.number,
            title: old.title,
            owner: old.owner,
            wanted: old.wanted,
            technician: old.technician,
            workshop: old.workshop,
            specialist: old.specialist,
            received_on: old.received_on,
            handed_over_on: old.handed_over_on,
            parts: old.parts,
            pair_limits: old.pair_limits,
            done: old.done,
            not_done: old.not_done,
            care: old.care,
            shown: old.shown,
            created_at_ms: old.created_at_ms,
            changed_at_ms: old.changed_at_ms,
            ..Job::default()
        }
    }
}
