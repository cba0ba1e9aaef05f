//! Two windows, one job: a lock that the second window sees, and a stamp by which a save notices
//! that somebody else has written the file since it was opened.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::manifest::sha256;
use super::{JobFile, JobFileError, save_job};
use crate::WriteError;

/// What a file on disk was when it was looked at: size, time and identity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    /// None: there was no file.
    seen: Option<(u64, Option<SystemTime>, u64)>,
}

impl Stamp {
    /// The file as it is now.
    pub fn of(path: &Path) -> Self {
        let seen = fs::metadata(path).ok().map(|meta| (meta.len(), meta.modified().ok(), identity(&meta)));
        Self { seen }
    }

    /// Saves, unless the file is no longer the one that was seen. The stamp then follows the new
    /// file.
    pub fn save(&mut self, path: &Path, file: &JobFile) -> Result<(), JobFileError> {
        if *self != Self::of(path) {
            return Err(JobFileError::ChangedOnDisk { path: path.to_owned() });
        }
        save_job(path, file)?;
        *self = Self::of(path);
        Ok(())
    }
}

#[cfg(unix)]
fn identity(meta: &fs::Metadata) -> u64 {
    use std::os::unix::fs::MetadataExt;
    meta.ino()
}

#[cfg(not(unix))]
fn identity(_: &fs::Metadata) -> u64 {
    0
}

/// Held while a job is open for changing; given back when dropped or when the program ends,
/// however it ends. Only programs on the same computer see it; [`Stamp`] sees the rest.
#[derive(Debug)]
pub struct JobLock {
    _file: File,
    path: PathBuf,
}

impl JobLock {
    /// Takes the lock on a job, kept in `folder` (the recovery folder) so that the job's own
    /// folder may be read-only. `None`: another window has it.
    pub fn take(folder: &Path, job: &Path) -> Result<Option<Self>, WriteError> {
        fs::create_dir_all(folder).map_err(|e| WriteError::io(folder, e))?;
        let whole = fs::canonicalize(job).unwrap_or_else(|_| job.to_owned());
        let path = folder.join(format!("{}.lock", &sha256(whole.to_string_lossy().as_bytes())[..24]));
        Ok(lock_file(&path).map_err(|e| WriteError::io(&path, e))?.map(|file| Self { _file: file, path }))
    }

    /// The lock file.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

/// Opens and locks a file; none if another program holds it.
pub(super) fn lock_file(path: &Path) -> io::Result<Option<File>> {
    let file = File::options().create(true).truncate(false).write(true).open(path)?;
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(TryLockError::WouldBlock) => Ok(None),
        Err(TryLockError::Error(error)) => Err(error),
    }
}
