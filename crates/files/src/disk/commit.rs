//! Putting a set in place and taking it back. Both are read off from what lies on the disk, so
//! that either can be taken up again wherever it was stopped: for a file with its number,
//!
//! | `.new` | `.old` | place | |
//! |---|---|---|---|
//! | yes | no | as before | nothing has happened yet |
//! | yes | yes | empty | the old file is set aside |
//! | no | yes or no | a file | the new file is in place |

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::WriteError;
use super::journal::{Entry, Journal, Line, State};
use super::names::folder_of;
use super::place::real_place;

/// A set with all that its journal says.
pub struct Commit<'a> {
    journal: &'a Journal,
    files: Vec<Change>,
    /// Folders inside that were made for it, outermost first.
    made: Vec<String>,
    /// Taken up from a journal that was found.
    found: bool,
}

struct Change {
    entry: Entry,
    real: PathBuf,
    new: PathBuf,
    old: PathBuf,
}

/// Why putting in place cannot be finished.
pub enum Obstacle {
    /// Somebody has put a file where a new one belongs.
    Foreign(String),
    /// A new file is gone.
    Lost(String),
}

impl<'a> Commit<'a> {
    pub fn new(journal: &'a Journal, entries: &[Entry], made: &[String], found: bool) -> Result<Self, WriteError> {
        let files = entries.iter().map(|entry| {
            let path = journal.root.join(&entry.name);
            // What only goes is not what a link points to, but the link.
            let real = if entry.comes { real_place(&path)? } else { path };
            let (new, old) = (journal.new_file(&real, entry.number), journal.old_file(&real, entry.number));
            Ok(Change { entry: entry.clone(), real, new, old })
        });
        Ok(Self { journal, files: files.collect::<Result<_, WriteError>>()?, made: made.to_vec(), found })
    }

    /// All folders whose files change.
    pub fn folders(&self) -> Vec<PathBuf> {
        let mut folders: Vec<_> = self.files.iter().map(|file| folder_of(&file.real).to_owned()).collect();
        folders.push(self.journal.root.clone());
        folders.sort();
        folders.dedup();
        folders
    }

    /// What keeps the set from being put in place.
    pub fn obstacle(&self) -> Option<Obstacle> {
        self.files.iter().filter(|f| f.entry.comes).find_map(|file| {
            let (new, old, there) = (is(&file.new), is(&file.old), is(&file.real));
            let name = file.entry.name.clone();
            match (new, there) {
                (true, true) if old || !file.entry.was_there => Some(Obstacle::Foreign(name)),
                (false, false) => Some(Obstacle::Lost(name)),
                _ => None,
            }
        })
    }

    /// Whether every old file is still to be had.
    pub fn can_go_back(&self) -> bool {
        self.files.iter().filter(|f| f.entry.was_there).all(|file| {
            let untouched = is(&file.real) && (is(&file.new) || !file.entry.comes);
            is(&file.old) || untouched
        })
    }

    /// Puts all files in place: manifests away first, the files, manifests last.
    pub fn forward(&self) -> Result<(), WriteError> {
        let (last, others): (Vec<&Change>, Vec<&Change>) = self.files.iter().partition(|f| f.entry.last);
        for file in &last {
            self.set_aside(file)?;
        }
        for file in &others {
            self.set_aside(file)?;
            self.bring(file)?;
        }
        // Only when the files are there for good may a manifest say so.
        self.sync();
        for file in &last {
            self.bring(file)?;
        }
        self.sync();
        Ok(())
    }

    fn set_aside(&self, file: &Change) -> Result<(), WriteError> {
        // Once the manifests are in place, what lies where an old file was is somebody else's.
        let open = || self.files.iter().any(|f| f.entry.last && is(&f.new));
        let due = if file.entry.comes { is(&file.new) } else { open() };
        if due && is(&file.real) && !is(&file.old) {
            self.rename(&file.real, &file.old, file)?;
        }
        Ok(())
    }

    fn bring(&self, file: &Change) -> Result<(), WriteError> {
        if file.entry.comes && is(&file.new) { self.rename(&file.new, &file.real, file) } else { Ok(()) }
    }

    /// Puts all old files back: manifests away first, the files, manifests last.
    pub fn backward(&self) -> Result<(), WriteError> {
        let (last, others): (Vec<&Change>, Vec<&Change>) = self.files.iter().partition(|f| f.entry.last);
        for file in &last {
            self.take_away(file)?;
        }
        for file in &others {
            self.take_away(file)?;
            self.bring_back(file)?;
        }
        self.sync();
        for file in &last {
            self.bring_back(file)?;
        }
        self.sync();
        Ok(())
    }

    fn take_away(&self, file: &Change) -> Result<(), WriteError> {
        let placed = file.entry.comes && !is(&file.new) && is(&file.real);
        // A journal in a folder that came from elsewhere must not reach files outside of it.
        let ours = !self.found || is(&file.old) || self.is_inside(&file.real);
        if placed && ours { self.rename(&file.real, &file.new, file) } else { Ok(()) }
    }

    fn bring_back(&self, file: &Change) -> Result<(), WriteError> {
        if is(&file.old) && !is(&file.real) { self.rename(&file.old, &file.real, file) } else { Ok(()) }
    }

    /// Takes away what is left when all new files are in place. The journal goes last, so that
    /// whatever stays is taken away the next time.
    pub fn finish(&self) {
        let gone = |path: &Path| !is(path) || self.journal.steps.remove(path).is_ok();
        if self.files.iter().filter(|file| !gone(&file.old)).count() == 0 {
            let _ = self.journal.remove();
        }
    }

    /// Takes away what is left when all old files are in place. From here on it is a set that was
    /// never put in place: a new file that is gone does not mean that it has a place.
    pub fn discard(&self) -> Result<(), WriteError> {
        self.journal.turn(State::Making).map_err(|e| WriteError::io(&self.journal.root, e))?;
        let new: Vec<PathBuf> = self.files.iter().filter(|f| f.entry.comes).map(|f| f.new.clone()).collect();
        remove_all(self.journal, &new, &self.made);
        Ok(())
    }

    fn rename(&self, from: &Path, to: &Path, file: &Change) -> Result<(), WriteError> {
        let shown = self.journal.root.join(&file.entry.name);
        self.journal.steps.rename(from, to).map_err(|e| WriteError::io(&shown, e))
    }

    fn is_inside(&self, real: &Path) -> bool {
        match (fs::canonicalize(folder_of(real)), fs::canonicalize(&self.journal.root)) {
            (Ok(folder), Ok(root)) => folder.starts_with(root),
            _ => false,
        }
    }

    fn sync(&self) {
        self.journal.steps.sync(&self.folders());
    }
}

/// Takes away the new files of a set that is given up, folders made for it, and its journal.
pub fn remove_all(journal: &Journal, new: &[PathBuf], made: &[String]) {
    let gone = |path: &PathBuf| !is(path) || journal.steps.remove(path).is_ok();
    let all = new.iter().filter(|place| !gone(place)).count() == 0;
    for folder in made.iter().rev() {
        // Goes only if it is empty.
        let _ = journal.steps.remove_folder(&journal.root.join(folder));
    }
    if all {
        let _ = journal.remove();
    }
}

/// Takes away folders that were made for a set: `count` of them from `root` upwards, as far as they
/// are empty.
pub fn remove_above(journal: &Journal, count: usize) {
    for folder in journal.root.ancestors().take(count) {
        if journal.steps.remove_folder(folder).is_err() {
            break;
        }
    }
}

/// What the lines of a journal say, taken together.
pub struct Content {
    pub what: String,
    pub made_above: usize,
    pub made: Vec<String>,
    pub staged: Vec<String>,
    pub entries: Vec<Entry>,
}

impl Content {
    /// Reads a journal. Names that lead out of its folder make it unreadable.
    pub fn of(journal: &Journal) -> io::Result<Self> {
        let mut all =
            Self { what: String::new(), made_above: 0, made: Vec::new(), staged: Vec::new(), entries: Vec::new() };
        for line in journal.lines()? {
            match line {
                Line::Set { what, made_above } => (all.what, all.made_above) = (what, made_above),
                Line::Made(name) => all.made.push(name),
                Line::Staged(name) => all.staged.push(name),
                Line::Entries(entries) => all.entries = entries,
            }
        }
        let names = all.made.iter().chain(&all.staged).chain(all.entries.iter().map(|e| &e.name));
        match names.into_iter().find(|name| !is_plain(name)) {
            Some(name) => Err(io::Error::other(format!("{name:?} leads out of the folder"))),
            None if all.what.chars().any(char::is_control) => Err(io::Error::other("it was not written here")),
            None => Ok(all),
        }
    }
}

/// Whether a name stays inside its folder: relative, `/` between parts, no `..`, no drive.
pub fn is_plain(name: &str) -> bool {
    !name.is_empty()
        && !name.contains(|c: char| c.is_control() || matches!(c, '\\' | ':'))
        && name.split('/').all(|part| !part.is_empty() && part != "." && part != "..")
}

/// Whether anything of that name is there, a link into nowhere too.
pub fn is(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok()
}
