//! A set of files that comes as a whole or not at all: the files grow in a hidden folder inside
//! their target and are moved to their places when the last one is complete. Whatever ends the
//! work before (an error, a cancel) leaves neither files nor a folder made for them.

use std::fs;
use std::path::{Path, PathBuf};

use crate::WriteError;

/// The hidden folder.
pub struct SetAside {
    target: PathBuf,
    made_target: bool,
    hidden: Option<tempfile::TempDir>,
}

impl SetAside {
    /// Opens it inside `target`, which is made if it is missing.
    pub fn new(target: &Path) -> Result<Self, WriteError> {
        let made_target = !target.exists();
        fs::create_dir_all(target).map_err(|e| WriteError::io(target, e))?;
        let hidden =
            tempfile::Builder::new().prefix(".strikeoff-").tempdir_in(target).map_err(|e| WriteError::io(target, e))?;
        Ok(Self { target: target.to_owned(), made_target, hidden: Some(hidden) })
    }

    /// Where a file of the set is written for now.
    pub fn path(&self, name: &str) -> PathBuf {
        self.hidden.as_ref().map_or_else(|| self.target.join(name), |hidden| hidden.path().join(name))
    }

    /// Moves the named files to their places, over older ones of the same names.
    pub fn place(mut self, names: &[String]) -> Result<Vec<PathBuf>, WriteError> {
        let mut placed = Vec::new();
        for name in names {
            let to = self.target.join(name);
            fs::rename(self.path(name), &to).map_err(|e| WriteError::io(&to, e))?;
            placed.push(to);
        }
        self.made_target = false;
        Ok(placed)
    }
}

impl Drop for SetAside {
    fn drop(&mut self) {
        self.hidden = None;
        if self.made_target {
            // Goes only if it is empty.
            let _ = fs::remove_dir(&self.target);
        }
    }
}
