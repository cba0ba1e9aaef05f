//! What can be wrong with a job file.

use std::io;
use std::path::PathBuf;

use crate::WriteError;

/// A job file could not be opened or saved. On a failed save the old file is untouched.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum JobFileError {
    /// The system refused to read it.
    #[error("cannot read the job {}: {source}", path.display())]
    Read {
        /// The job file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A file without a byte.
    #[error("the job is empty, it has no bytes; its previous version or the recovery folder may have it: {}", path.display())]
    Empty {
        /// The job file.
        path: PathBuf,
    },
    /// Not a job file at all.
    #[error("not a Strikeoff job (a job is a zip container with job.json in it): {}", path.display())]
    NotAJob {
        /// The file.
        path: PathBuf,
    },
    /// The container or a member that cannot be done without is damaged.
    #[error("the job is damaged: {what}; its previous version or the recovery folder may have it whole: {}", path.display())]
    Damaged {
        /// The job file.
        path: PathBuf,
        /// Which part, and how.
        what: String,
    },
    /// The manifest is JSON, but not what it should be.
    #[error("the job's settings are not as they should be: {what}: {}", path.display())]
    Settings {
        /// The job file.
        path: PathBuf,
        /// Where and what.
        what: String,
    },
    /// Something in it is beyond its range, so that it could not be opened again.
    #[error("the job is not saved, as it could not be opened again: {what}: {}", path.display())]
    Beyond {
        /// The job file.
        path: PathBuf,
        /// What, and its range.
        what: String,
    },
    /// Written by a later program.
    #[error(
        "the job was written by a later version of Strikeoff (job format {found}, this program reads up to {known}); \
         open it with that version: {}", path.display()
    )]
    Future {
        /// The job file.
        path: PathBuf,
        /// Format version in the file.
        found: u64,
        /// Latest version known here.
        known: u32,
    },
    /// A member that no honest job has: too large, or named to escape a folder.
    #[error("the job is refused: {what}: {}", path.display())]
    Unsafe {
        /// The job file.
        path: PathBuf,
        /// Which member, and why.
        what: String,
    },
    /// More than a job may have, so that it could not be opened again.
    #[error("the job cannot be saved: {what}; delete versions or edits first: {}", path.display())]
    TooMuch {
        /// The job file.
        path: PathBuf,
        /// What there is too much of.
        what: String,
    },
    /// Somebody else wrote it since it was opened.
    #[error(
        "the job has changed on disk since it was opened; save under another name, or open it again to see the other \
         version: {}", path.display()
    )]
    ChangedOnDisk {
        /// The job file.
        path: PathBuf,
    },
    /// Somebody else is changing it.
    #[error(
        "the job is open in a window, or another program is changing it; close it there, or try again later: {}",
        path.display()
    )]
    Taken {
        /// The job file.
        path: PathBuf,
    },
    /// Writing failed.
    #[error(transparent)]
    Write(#[from] WriteError),
}
