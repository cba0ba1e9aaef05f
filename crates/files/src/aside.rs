//! Writing so that a file is there whole or not at all: into a temporary file beside the target,
//! flushed to the disk, then renamed over it.

use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// A file could not be written. The old file, if there was one, is untouched.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// The system refused.
    #[error("cannot write {}: {source}", path.display())]
    Io {
        /// The file that was wanted.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// Writes `path` through `fill`; on any error nothing of the new file is left. Folders above
/// `path` must exist.
pub fn write_aside<E: From<WriteError>>(
    path: &Path,
    fill: impl FnOnce(&mut BufWriter<&fs::File>) -> Result<(), E>,
) -> Result<(), E> {
    let wrap = |source| WriteError::Io { path: path.to_owned(), source };
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let aside = tempfile::Builder::new().prefix(".strikeoff-").suffix(".tmp").tempfile_in(folder).map_err(wrap)?;
    let mut out = BufWriter::with_capacity(1 << 18, aside.as_file());
    fill(&mut out)?;
    out.flush().map_err(wrap)?;
    drop(out);
    aside.as_file().sync_all().map_err(wrap)?;
    // A temporary file is private to its maker; give the new file the usual permissions.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(path).map_or(0o644, |old| old.permissions().mode() & 0o777);
        aside.as_file().set_permissions(fs::Permissions::from_mode(mode)).map_err(wrap)?;
    }
    aside.persist(path).map_err(|e| wrap(e.error))?;
    if let Ok(folder) = fs::File::open(folder) {
        // Makes the rename itself durable where the system allows it.
        let _ = folder.sync_all();
    }
    Ok(())
}

/// Writes `bytes` to `path`, whole or not at all.
pub fn write_bytes(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    write_aside(path, |out| out.write_all(bytes).map_err(|e| WriteError::io(path, e)))
}

impl WriteError {
    /// Wraps what the system said about `path`.
    pub fn io(path: &Path, source: io::Error) -> Self {
        Self::Io { path: path.to_owned(), source }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file_and_nothing_else() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.txt");
        write_aside::<WriteError>(&path, |out| out.write_all(b"old").map_err(|e| WriteError::io(&path, e))).unwrap();
        let failed = write_aside::<WriteError>(&path, |out| {
            out.write_all(b"new").unwrap();
            Err(WriteError::io(&path, io::Error::other("disk full")))
        });
        assert!(failed.unwrap_err().to_string().contains("disk full"));
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_missing_folder_is_named() {
        let error = write_aside::<WriteError>(Path::new("/no/such/folder/a.txt"), |_| Ok(())).unwrap_err();
        assert!(error.to_string().contains("/no/such/folder/a.txt"), "{error}");
    }
}
