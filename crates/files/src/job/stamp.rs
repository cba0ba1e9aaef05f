//! Two programs, one job: a lock that the second one sees, a stamp by which a save notices that
//! somebody else has written the file since it was read, and both together as a claim.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime};

use super::manifest::sha256;
use super::save::save_over;
use super::{JobFile, JobFileError};
use crate::WriteError;
use crate::disk::{FileLock, JOB_LOCK, folder_of, identity, resting_place};

/// What a file on disk was when it was looked at: size, time and identity. Take it before the file
/// is read.
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
        save_over(path, file, Some(*self))?;
        *self = Self::of(path);
        Ok(())
    }
}

/// Held while a job is open for changing; given back when dropped or when the program ends,
/// however it ends. One lock lies on this computer, and one beside the job where that folder can be written and has
/// locks: on a share all benches see it. Where neither is seen, [`Stamp`] sees what was written.
#[derive(Debug)]
pub struct JobLock {
    lock: FileLock,
    _beside: Option<FileLock>,
}

impl JobLock {
    /// Takes the lock on a job, kept in `folder` (the recovery folder) so that the job's own
    /// folder may be read-only. `None`: another window has it.
    pub fn take(folder: &Path, job: &Path) -> Result<Option<Self>, WriteError> {
        Self::wait(folder, job, Duration::ZERO)
    }

    /// The same, waiting for it.
    pub fn wait(folder: &Path, job: &Path, at_most: Duration) -> Result<Option<Self>, WriteError> {
        fs::create_dir_all(folder).map_err(|e| WriteError::io(folder, e))?;
        // One lock for all names of a job: through links and from any folder.
        let whole = resting_place(job).or_else(|| std::path::absolute(job).ok()).unwrap_or_else(|| job.to_owned());
        let path = folder.join(format!("{}.lock", &sha256(whole.as_os_str().as_encoded_bytes())[..24]));
        let began = Instant::now();
        let taken = FileLock::wait(&path, at_most).map_err(|e: io::Error| WriteError::io(&path, e))?;
        let Some(lock) = taken else { return Ok(None) };
        match FileLock::wait(&beside(&whole), at_most.saturating_sub(began.elapsed())) {
            Ok(None) => Ok(None),
            Ok(beside) => Ok(Some(Self { lock, _beside: beside })),
            // A folder that only can be read, or has no locks: nobody else writes there, or only the stamp tells.
            Err(_) => Ok(Some(Self { lock, _beside: None })),
        }
    }

    /// Whether some bench has the job open for changing.
    pub fn is_taken(job: &Path) -> bool {
        let whole = resting_place(job).unwrap_or_else(|| job.to_owned());
        let beside = beside(&whole);
        beside.exists() && matches!(FileLock::take(&beside), Ok(None))
    }

    /// The lock file.
    pub fn path(&self) -> &Path {
        self.lock.path()
    }
}

/// The lock that lies beside a job.
fn beside(job: &Path) -> PathBuf {
    let name = job.file_name().unwrap_or_default().as_encoded_bytes();
    folder_of(job).join(format!("{JOB_LOCK}{}.lock", &sha256(name)[..24]))
}

/// A job that is being changed: nobody else changes it meanwhile, and what somebody whose lock is not seen
/// saves meanwhile is not overwritten. Take it before the job is read.
#[derive(Debug)]
pub struct Claim {
    path: PathBuf,
    stamp: Stamp,
    _lock: Option<JobLock>,
}

impl Claim {
    /// Claims the job at `path`, waiting for whoever has it for `patience`. Locks lie in the folder
    /// `locks`; without one only the stamp guards the job.
    pub fn take(path: &Path, locks: Option<&Path>, patience: Duration) -> Result<Self, JobFileError> {
        let lock = match locks {
            None => None,
            Some(folder) => match JobLock::wait(folder, path, patience)? {
                None => return Err(JobFileError::Taken { path: path.to_owned() }),
                taken => taken,
            },
        };
        Ok(Self { path: path.to_owned(), stamp: Stamp::of(path), _lock: lock })
    }

    /// Saves the job, unless the file has changed since it was claimed.
    pub fn save(&mut self, file: &JobFile) -> Result<(), JobFileError> {
        self.stamp.save(&self.path, file)
    }
}
