//! The journal of a set: which files it stages and then which of them go where, a JSON value a
//! line. Its ending says how far the set is, and changes by a rename:
//!
//! - `.set`: files are being made. Whatever ends the work now leaves the old set as it was.
//! - `.going`: all files are made and are being put in place. Whoever finds it finishes that.
//! - `.back`: putting them in place failed. Whoever finds it puts the old ones back.
//!
//! The program that writes the set holds a lock on it.

use std::cell::Cell;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::names::{folder_of, own_name};
use super::steps::Steps;

/// How far a set is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    Making,
    Going,
    Back,
}

impl State {
    const ALL: [Self; 3] = [Self::Making, Self::Going, Self::Back];

    fn ending(self) -> &'static str {
        match self {
            Self::Making => ".set",
            Self::Going => ".going",
            Self::Back => ".back",
        }
    }
}

/// A line of the journal.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// The first: what the set is, and how many folders were made for it, from its own upwards.
    Set { what: String, made_above: usize },
    /// A folder inside was made.
    Made(String),
    /// The next file is staged: its name inside the folder.
    Staged(String),
    /// All files of the set, and all that go with the old one.
    Entries(Vec<Entry>),
}

/// What happens at one place.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Entry {
    /// Name inside the folder, with `/` between folders.
    pub name: String,
    /// Number of its hidden files.
    pub number: usize,
    /// Whether a new file comes; else the old one only goes.
    pub comes: bool,
    /// Whether a file was there before.
    pub was_there: bool,
    /// A manifest: taken away first and put in place last.
    pub last: bool,
}

/// A journal on the disk.
pub struct Journal {
    pub root: PathBuf,
    /// Its file name without the ending.
    stem: String,
    state: Cell<State>,
    file: File,
    pub steps: Arc<dyn Steps>,
}

impl Journal {
    /// Begins one in the folder `root`.
    pub fn create(root: &Path, steps: Arc<dyn Steps>) -> io::Result<Self> {
        steps.next()?;
        let made = tempfile::Builder::new().prefix(&own_name()).suffix(State::Making.ending()).tempfile_in(root)?;
        // Where there are no locks, its age speaks for it.
        let _ = made.as_file().lock();
        let (file, path) = made.keep().map_err(|e| e.error)?;
        let stem = stem_of(&path).map_or_else(String::new, |(stem, _)| stem);
        Ok(Self { root: root.to_owned(), stem, state: Cell::new(State::Making), file, steps })
    }

    /// Opens one that was found, for finishing it.
    pub fn open(path: &Path, steps: Arc<dyn Steps>) -> io::Result<Self> {
        let (stem, state) = stem_of(path).ok_or(io::ErrorKind::InvalidInput)?;
        let file = File::options().read(true).append(true).open(path)?;
        Ok(Self { root: folder_of(path).to_owned(), stem, state: Cell::new(state), file, steps })
    }

    pub fn file(&self) -> &File {
        &self.file
    }

    pub fn path(&self) -> PathBuf {
        self.root.join(format!("{}{}", self.stem, self.state.get().ending()))
    }

    /// Writes a line through to the disk.
    pub fn append(&self, line: &Line) -> io::Result<()> {
        let mut text = serde_json::to_vec(line)?;
        text.push(b'\n');
        self.steps.append(&self.file, &text)
    }

    /// Says that the set is that far now.
    pub fn turn(&self, state: State) -> io::Result<()> {
        let from = self.path();
        let before = self.state.replace(state);
        self.steps.rename(&from, &self.path()).inspect_err(|_| self.state.set(before))
    }

    pub fn state(&self) -> State {
        self.state.get()
    }

    /// Where the new file for `real` waits.
    pub fn new_file(&self, real: &Path, number: usize) -> PathBuf {
        folder_of(real).join(format!("{}-{number}.new", self.stem))
    }

    /// Where the old file of `real` is kept.
    pub fn old_file(&self, real: &Path, number: usize) -> PathBuf {
        folder_of(real).join(format!("{}-{number}.old", self.stem))
    }

    pub fn remove(&self) -> io::Result<()> {
        self.steps.remove(&self.path())
    }

    /// Its lines. One that was not written to its end has not happened.
    pub fn lines(&self) -> io::Result<Vec<Line>> {
        let text = fs::read_to_string(self.path())?;
        let whole = text.rfind('\n').map_or("", |end| &text[..end]);
        whole.lines().map(|line| serde_json::from_str(line).map_err(io::Error::from)).collect()
    }
}

/// Name without the ending and state of a journal; none if it is none.
pub fn stem_of(path: &Path) -> Option<(String, State)> {
    let name = path.file_name()?.to_str()?;
    State::ALL.into_iter().find_map(|state| Some((name.strip_suffix(state.ending())?.to_owned(), state)))
}
