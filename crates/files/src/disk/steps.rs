//! The changes that putting a set in place makes to the disk, one at a time, so that a test can
//! stop before each of them.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::aside::sync_folder;

/// Comes before each change. An error stands for the change having failed.
pub trait Steps: Send + Sync {
    /// Whether the next change may be made.
    fn next(&self) -> io::Result<()>;

    /// Whether to wait until the disk has what is written. A program that is killed does not need
    /// it, a computer without power does.
    fn is_durable(&self) -> bool {
        true
    }
}

/// Lets every change be made.
pub struct Always;

impl Steps for Always {
    fn next(&self) -> io::Result<()> {
        Ok(())
    }
}

impl dyn Steps {
    pub fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.next()?;
        fs::rename(from, to)
    }

    pub fn remove(&self, path: &Path) -> io::Result<()> {
        self.next()?;
        fs::remove_file(path)
    }

    pub fn remove_folder(&self, path: &Path) -> io::Result<()> {
        self.next()?;
        fs::remove_dir(path)
    }

    pub fn create(&self, path: &Path) -> io::Result<File> {
        self.next()?;
        File::options().create_new(true).write(true).read(true).open(path)
    }

    /// Makes renames in folders last.
    pub fn sync(&self, folders: &[PathBuf]) {
        if self.is_durable() {
            folders.iter().for_each(|folder| sync_folder(folder));
        }
    }

    pub fn append(&self, mut file: &File, line: &[u8]) -> io::Result<()> {
        self.next()?;
        file.write_all(line)?;
        if self.is_durable() { file.sync_data() } else { Ok(()) }
    }
}
