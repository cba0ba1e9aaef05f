//! Autosave: every change is written to a recovery folder once the user has paused, and taken
//! away again when the job is saved or closed. What is found there with nobody holding it was left
//! by a program that was killed, and is offered.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime};

use super::{JOB_EXTENSION, JobFile, JobFileError, open_job, save_job};
use crate::WriteError;
use crate::disk::{FileLock, sweep};

/// How long a change waits for the next before it is written.
pub const IDLE: Duration = Duration::from_secs(1);

/// The folder for recovery files on this computer, if the platform names one.
pub fn recovery_folder() -> Option<PathBuf> {
    directories::ProjectDirs::from("", "", "strikeoff").map(|dirs| dirs.data_local_dir().join("recovery"))
}

/// The autosave of one open job.
#[derive(Debug)]
pub struct Autosave {
    path: PathBuf,
    /// Tells others that somebody is at work on this file.
    _lock: FileLock,
    /// Where the job was opened from.
    origin: Option<PathBuf>,
    revision: u64,
    written: u64,
    changed_at: Instant,
}

impl Autosave {
    /// Autosave for a job opened from `origin` (none: not saved yet) that stands at `revision`
    /// of its history.
    pub fn new(folder: &Path, origin: Option<&Path>, revision: u64, now: Instant) -> Result<Self, WriteError> {
        fs::create_dir_all(folder).map_err(|e| WriteError::io(folder, e))?;
        let stem = origin.and_then(Path::file_stem).map_or_else(|| "untitled".into(), |s| s.to_string_lossy());
        for number in 1..10_000u32 {
            let path = folder.join(format!("{stem}-{number}.{JOB_EXTENSION}"));
            let lock_path = path.with_extension("lock");
            // A file without a holder waits to be recovered; its name is taken.
            if path.exists() {
                continue;
            }
            if let Some(lock) = FileLock::take(&lock_path).map_err(|e| WriteError::io(&lock_path, e))? {
                let origin = origin.map(Path::to_owned);
                return Ok(Self { path, _lock: lock, origin, revision, written: revision, changed_at: now });
            }
        }
        Err(WriteError::io(folder, std::io::Error::other("it holds thousands of unclaimed jobs; clear it out")))
    }

    /// Tells that the job stands at `revision` now.
    pub fn changed(&mut self, revision: u64, now: Instant) {
        if revision != self.revision {
            self.revision = revision;
            self.changed_at = now;
        }
    }

    /// Whether there is a change to write and the user has paused for [`IDLE`].
    pub fn due(&self, now: Instant) -> bool {
        self.revision != self.written && now.duration_since(self.changed_at) >= IDLE
    }

    /// Writes the job, without its screens, which can be made again.
    pub fn write(&mut self, file: &JobFile) -> Result<(), JobFileError> {
        let bare = JobFile { screens: None, recovery_of: self.origin.clone(), ..file.clone() };
        save_job(&self.path, &bare)?;
        let _ = fs::remove_file(super::previous_path(&self.path));
        self.written = self.revision;
        Ok(())
    }

    /// The job was saved to `origin`: nothing is left to recover.
    pub fn saved(&mut self, origin: &Path) -> Result<(), WriteError> {
        self.origin = Some(origin.to_owned());
        self.written = self.revision;
        remove(&self.path)
    }

    /// Another job comes onto the bench: what is written stays to be offered.
    pub fn leave(self) {}

    /// The recovery file, whether it is there or not.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The job is closed on the user's word: takes the recovery file away.
    pub fn close(self) -> Result<(), WriteError> {
        remove(&self.path)
    }
}

fn remove(path: &Path) -> Result<(), WriteError> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(WriteError::io(path, error)),
        _ => Ok(()),
    }
}

/// A job that a killed program left behind.
#[derive(Debug)]
pub struct Recoverable {
    /// The recovery file.
    pub path: PathBuf,
    /// Where the job was opened from; none if it had never been saved.
    pub origin: Option<PathBuf>,
    /// Title of the job.
    pub title: String,
    /// When it was written.
    pub written: Option<SystemTime>,
    /// The job.
    pub file: JobFile,
    /// Held as long as the offer stands, so that no other window makes it too.
    _lock: FileLock,
}

impl Recoverable {
    /// The user does not want it, or has saved it elsewhere.
    pub fn discard(self) -> Result<(), WriteError> {
        remove(&self.path)
    }
}

/// Every job in the recovery folder that no running program holds, the latest first, and the files
/// that cannot be opened with the reason.
pub fn recoverable(folder: &Path) -> (Vec<Recoverable>, Vec<JobFileError>) {
    let (mut jobs, mut broken) = (Vec::new(), Vec::new());
    sweep(folder);
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.extension().is_some_and(|e| e == "lock") {
            // One that a killed program left goes as it is given back.
            let _ = FileLock::take(&path);
        }
        if path.extension().is_none_or(|e| e != JOB_EXTENSION) {
            continue;
        }
        let Ok(Some(lock)) = FileLock::take(&path.with_extension("lock")) else { continue };
        let written = entry.metadata().ok().and_then(|m| m.modified().ok());
        match open_job(&path) {
            Ok(file) => jobs.push(Recoverable {
                origin: file.recovery_of.clone(),
                title: file.job.info.title.clone(),
                path,
                written,
                file: JobFile { recovery_of: None, ..file },
                _lock: lock,
            }),
            Err(error) => broken.push(error),
        }
    }
    jobs.sort_by(|a, b| b.written.cmp(&a.written).then_with(|| a.path.cmp(&b.path)));
    (jobs, broken)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{JobLock, Stamp};
    use strikeoff_core::ink::Garment;
    use strikeoff_core::job::Job;

    fn file(title: &str) -> JobFile {
        let mut job = Job::new(Garment::of_color("#204060".parse().unwrap()));
        job.info.title = title.into();
        JobFile::new(job, "heron.png", vec![1, 2, 3])
    }

    #[test]
    fn a_change_is_written_after_a_pause_and_offered_when_its_holder_is_gone() {
        let dir = tempfile::tempdir().unwrap();
        let start = Instant::now();
        let origin = Path::new("/jobs/heron.strikeoff");
        let mut autosave = Autosave::new(dir.path(), Some(origin), 4, start).unwrap();
        assert!(!autosave.due(start + IDLE * 9));
        autosave.changed(5, start);
        assert!(!autosave.due(start + IDLE / 2));
        autosave.changed(6, start + IDLE / 2);
        assert!(!autosave.due(start + IDLE));
        assert!(autosave.due(start + IDLE * 2));
        autosave.write(&file("Fair")).unwrap();
        assert!(!autosave.due(start + IDLE * 2));
        assert_eq!(recoverable(dir.path()).0.len(), 0, "its holder lives");
        drop(autosave);
        let (mut jobs, broken) = recoverable(dir.path());
        assert_eq!((jobs.len(), broken.len()), (1, 0));
        let job = jobs.remove(0);
        assert_eq!((job.origin.as_deref(), job.title.as_str()), (Some(origin), "Fair"));
        assert_eq!(job.file, file("Fair"));
        // A second program does not write over it.
        let other = Autosave::new(dir.path(), Some(origin), 0, start).unwrap();
        assert_ne!(other.path(), job.path);
        other.close().unwrap();
        job.discard().unwrap();
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0);
    }

    #[test]
    fn two_windows_see_each_other() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.strikeoff");
        save_job(&path, &file("one")).unwrap();
        let first = JobLock::take(&dir.path().join("locks"), &path).unwrap();
        assert!(first.is_some());
        assert!(JobLock::take(&dir.path().join("locks"), &path).unwrap().is_none());
        drop(first);
        assert!(JobLock::take(&dir.path().join("locks"), &path).unwrap().is_some());

        let (mut mine, mut yours) = (Stamp::of(&path), Stamp::of(&path));
        yours.save(&path, &file("yours")).unwrap();
        yours.save(&path, &file("yours again")).unwrap();
        let error = mine.save(&path, &file("mine")).unwrap_err().to_string();
        assert!(error.contains("changed on disk"), "{error}");
        assert_eq!(open_job(&path).unwrap().job.info.title, "yours again");
    }
}
