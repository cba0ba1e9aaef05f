//! A lock as a file: held by one program at a time and given back when that program ends, however
//! it ends. The file goes with the lock; one that a killed program left is taken by the next.

use std::fs::{self, File, TryLockError};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

/// A lock that is held.
#[derive(Debug)]
pub struct FileLock {
    _file: File,
    path: PathBuf,
}

impl FileLock {
    /// Takes the lock at `path`; none if somebody has it. The error is of the kind `Unsupported`
    /// where the file system has no locks.
    pub fn take(path: &Path) -> io::Result<Option<Self>> {
        loop {
            let file = File::options().create(true).truncate(false).write(true).open(path)?;
            match file.try_lock() {
                // Whoever had it may have taken the file away since it was opened.
                Ok(()) if !is_at(&file, path) => {}
                Ok(()) => return Ok(Some(Self { _file: file, path: path.to_owned() })),
                Err(TryLockError::WouldBlock) => return Ok(None),
                Err(TryLockError::Error(error)) => {
                    let _ = fs::remove_file(path);
                    return Err(io::Error::new(ErrorKind::Unsupported, error));
                }
            }
        }
    }

    /// The same, waiting for it.
    pub fn wait(path: &Path, at_most: Duration) -> io::Result<Option<Self>> {
        let began = Instant::now();
        loop {
            match Self::take(path)? {
                None if began.elapsed() < at_most => thread::sleep(Duration::from_millis(5)),
                taken => return Ok(taken),
            }
        }
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

impl Drop for FileLock {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.path);
    }
}

#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let place = |meta: &fs::Metadata| (meta.dev(), meta.ino());
    matches!((file.metadata(), fs::metadata(path)), (Ok(a), Ok(b)) if place(&a) == place(&b))
}

#[cfg(not(unix))]
fn is_at(_: &File, _: &Path) -> bool {
    true
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};

    use super::*;

    #[test]
    fn one_has_it_at_a_time_and_nothing_stays() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("lock");
        let (inside, most, done) = (AtomicUsize::new(0), AtomicUsize::new(0), AtomicUsize::new(0));
        thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| {
                    for _ in 0..50 {
                        let lock = FileLock::wait(&path, Duration::from_secs(60)).unwrap().unwrap();
                        most.fetch_max(inside.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                        thread::sleep(Duration::from_micros(50));
                        inside.fetch_sub(1, Ordering::SeqCst);
                        done.fetch_add(1, Ordering::SeqCst);
                        drop(lock);
                    }
                });
            }
        });
        assert_eq!((most.into_inner(), done.into_inner()), (1, 400));
        assert!(!path.exists());
    }
}
