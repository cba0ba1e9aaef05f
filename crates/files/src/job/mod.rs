//! The job file: one zip container with a JSON manifest, the art as received, and caches (the
//! screens as 16-bit PNG, a thumbnail) that may be missing. It opens as it was saved or says why
//! not; saving replaces the old file at once and keeps it as the previous version.

mod container;
mod error;
mod evaluated;
mod file;
mod film_png;
mod grey;
#[cfg(test)]
mod hostile;
mod manifest;
mod open;
mod quiet;
mod recovery;
mod salvage;
mod save;
mod stamp;
mod thumbnail;
mod version;

pub use error::JobFileError;
pub use evaluated::EvaluateError;
pub use file::{JobFile, KeptScreens, ScreensFrom, same_screens};
pub use grey::read_grey;
pub use manifest::{SCHEMA_VERSION, job_schema};
pub use open::{JobLook, look_at_job, open_job};
pub use recovery::{Autosave, IDLE, Recoverable, recoverable, recovery_folder};
pub use salvage::recover_job;
pub use save::{job_into, previous_path, save_job};
pub use stamp::{Claim, JobLock, Stamp};
pub use version::{NamedVersion, PackedScreens, VersionError};

/// Extension of job files, without the dot.
pub const JOB_EXTENSION: &str = "strikeoff";
