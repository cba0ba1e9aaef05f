//! A set of files that replaces another as a whole. New files grow under hidden names beside their
//! places; when the last is complete, and not before, old ones are set aside and new ones take
//! their places, manifests away first and back last. An error on the way puts the old set back; a
//! program that is killed on the way leaves a journal, by which the next one finishes the set.

use std::fs::{self, File};
use std::io::{BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use serde_json::Value;

use super::WriteError;
use super::aside::keep_mode;
use super::commit::{Commit, is, is_plain, remove_above, remove_all};
use super::journal::{Entry, Journal, Line, State};
use super::lock::FileLock;
use super::look::{look_with, unfinished};
use super::manifest::{ManifestFile, compose, describe, replaced};
use super::names::{FOLDER_LOCK, folder_of, own_name};
use super::place::{check_place, same_file};
use super::steps::{Always, Steps};
use super::sweep::sweep;

/// How long another program may take to put its set in place. That is a matter of renames.
const PATIENCE: Duration = Duration::from_secs(10);

/// A set that is being made.
pub struct FileSet {
    /// The folder as the caller names it.
    folder: PathBuf,
    journal: Journal,
    /// Files that it must not replace.
    keep: Vec<PathBuf>,
    staged: Vec<Staged>,
    made: Vec<String>,
    made_above: usize,
    found: Vec<String>,
}

struct Staged {
    name: String,
    real: PathBuf,
    last: bool,
    sum: Option<ManifestFile>,
}

/// A file of a set that is being written.
pub struct Growing {
    file: File,
    shown: PathBuf,
    durable: bool,
}

impl Growing {
    /// The place that it will have.
    pub fn place(&self) -> &Path {
        &self.shown
    }

    /// Writes it.
    pub fn fill<E: From<WriteError>>(self, fill: impl FnOnce(&mut BufWriter<&File>) -> Result<(), E>) -> Result<(), E> {
        let wrap = |source| WriteError::io(&self.shown, source);
        let mut out = BufWriter::with_capacity(1 << 18, &self.file);
        fill(&mut out)?;
        out.flush().map_err(wrap)?;
        drop(out);
        if self.durable {
            self.file.sync_all().map_err(wrap)?;
        }
        Ok(())
    }

    /// Writes it from memory.
    pub fn bytes(self, bytes: &[u8]) -> Result<(), WriteError> {
        let shown = self.shown.clone();
        self.fill(|out| out.write_all(bytes).map_err(|e| WriteError::io(&shown, e)))
    }
}

impl FileSet {
    /// Begins a set in `folder`, which is made if it is missing, after a look at what an earlier one
    /// left there. `what` is what people call it. None of the files in `keep` is replaced.
    pub fn begin(folder: &Path, what: &str, keep: &[PathBuf]) -> Result<Self, WriteError> {
        Self::begin_with(folder, what, keep, Arc::new(Always))
    }

    /// The same, with a say before each change of the disk.
    pub(super) fn begin_with(
        folder: &Path,
        what: &str,
        keep: &[PathBuf],
        steps: Arc<dyn Steps>,
    ) -> Result<Self, WriteError> {
        let wrap = |e| WriteError::io(folder, e);
        if fs::metadata(folder).is_ok_and(|meta| !meta.is_dir()) {
            return Err(WriteError::place(folder, "it is a file, and the set needs a folder; choose another name"));
        }
        if fs::symlink_metadata(folder).is_ok() && !folder.exists() {
            return Err(WriteError::place(folder, "it is a link to a folder that does not exist; make it first"));
        }
        let missing = |path: &&Path| !path.as_os_str().is_empty() && !path.exists();
        let made_above = folder.ancestors().take_while(missing).count();
        steps.next().and_then(|()| fs::create_dir_all(folder)).map_err(wrap)?;
        let root = fs::canonicalize(folder).map_err(wrap)?;
        let begun = look_with(&root, &steps).and_then(|found| {
            sweep(&root);
            let journal = Journal::create(&root, steps.clone()).map_err(wrap)?;
            let first = journal.append(&Line::Set { what: what.to_owned(), made_above });
            first.inspect_err(|_| drop(journal.remove())).map_err(wrap)?;
            Ok((journal, found))
        });
        match begun {
            Ok((journal, found)) => Ok(Self {
                folder: folder.to_owned(),
                journal,
                keep: keep.to_vec(),
                staged: Vec::new(),
                made: Vec::new(),
                made_above,
                found,
            }),
            Err(error) => {
                root.ancestors().take(made_above).all(|folder| fs::remove_dir(folder).is_ok());
                Err(error)
            }
        }
    }

    /// Its folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// What an earlier set left, and what was done about it: a sentence each.
    pub fn found(&self) -> &[String] {
        &self.found
    }

    /// Looks at all places before anything is written; the error has every problem.
    pub fn check<'a>(&self, names: impl IntoIterator<Item = &'a str>) -> Result<(), WriteError> {
        let mut problems = Vec::new();
        let mut taken: Vec<(PathBuf, &str)> = Vec::new();
        for name in names {
            let shown = self.folder.join(name);
            let real = match self.folder_exists(name).then(|| check_place(&shown)) {
                // Its folder is made for it.
                None => continue,
                Some(Ok(real)) => real,
                Some(Err(error)) => {
                    problems.push(error);
                    continue;
                }
            };
            if let Some(kept) = self.keep.iter().find(|kept| same_file(kept, &real)) {
                let why = format!(
                    "it is {}, which the set is made from; choose another folder or give --overwrite",
                    kept.display()
                );
                problems.push(WriteError::place(&shown, why));
            }
            if let Some((_, other)) = taken.iter().find(|(path, _)| *path == real) {
                problems
                    .push(WriteError::place(&shown, format!("it is a link to the same file as {other}; remove one")));
            }
            if !taken.iter().any(|(path, _)| folder_of(path) == folder_of(&real))
                && let Err(error) =
                    tempfile::Builder::new().prefix(&own_name()).suffix(".tmp").tempfile_in(folder_of(&real))
            {
                problems.push(WriteError::io(&shown, error));
            }
            taken.push((real, name));
        }
        if problems.is_empty() { Ok(()) } else { Err(WriteError::of_all(problems)) }
    }

    /// Whether the folder of a name inside is there already.
    fn folder_exists(&self, name: &str) -> bool {
        name.rsplit_once('/').is_none_or(|(folder, _)| is(&self.journal.root.join(folder)))
    }

    /// Begins a file of the set by its name inside the folder; folders between are made.
    pub fn stage(&mut self, name: &str) -> Result<Growing, WriteError> {
        let shown = self.folder.join(name);
        let wrap = |e| WriteError::io(&shown, e);
        if !is_plain(name) || self.staged.iter().any(|other| other.name == name) {
            return Err(WriteError::place(&shown, "a set has each name once and none outside of its folder"));
        }
        for (at, _) in name.match_indices('/') {
            let folder = self.journal.root.join(&name[..at]);
            if !folder.is_dir() {
                self.journal.append(&Line::Made(name[..at].to_owned())).map_err(wrap)?;
                self.made.push(name[..at].to_owned());
                self.journal.steps.next().and_then(|()| fs::create_dir(&folder)).map_err(wrap)?;
            }
        }
        let real = check_place(&self.journal.root.join(name))?;
        self.journal.append(&Line::Staged(name.to_owned())).map_err(wrap)?;
        let aside = self.journal.new_file(&real, self.staged.len());
        self.staged.push(Staged { name: name.to_owned(), real, last: false, sum: None });
        let file = self.journal.steps.create(&aside).map_err(wrap)?;
        Ok(Growing { file, shown, durable: self.journal.steps.is_durable() })
    }

    /// Writes the manifest of the files in one folder of the set: their sums, and what `more` says
    /// of them. It is taken away first and put in place last. Gives the files with their sums.
    pub fn manifest(&mut self, name: &str, more: &Value) -> Result<Vec<ManifestFile>, WriteError> {
        let folder = &name[..name.rfind('/').map_or(0, |at| at + 1)];
        let mut files = Vec::new();
        for (number, file) in self.staged.iter_mut().enumerate() {
            let Some(inside) = file.name.strip_prefix(folder) else { continue };
            let aside = self.journal.new_file(&file.real, number);
            let known = file.sum.take().map_or_else(|| describe(inside, &aside), Ok);
            let sum = known.map_err(|e| WriteError::io(&self.folder.join(&file.name), e))?;
            file.sum = Some(sum.clone());
            files.push(ManifestFile { name: inside.to_owned(), ..sum });
        }
        self.stage(name)?.bytes(compose(&files, more).as_bytes())?;
        if let Some(own) = self.staged.last_mut() {
            own.last = true;
        }
        Ok(files)
    }

    /// Puts all files in place and takes away those that the old manifests have and the new do not.
    /// Gives the new files, and what an earlier set left (see [`Self::found`]).
    pub fn put_in_place(mut self) -> Result<(Vec<PathBuf>, Vec<String>), WriteError> {
        let root = self.journal.root.clone();
        let mut folders: Vec<PathBuf> = self.staged.iter().map(|file| folder_of(&file.real).to_owned()).collect();
        folders.push(root.clone());
        let locks = loop {
            self.found.extend(look_with(&root, &self.journal.steps)?);
            let locks = lock_folders(&folders)?;
            if unfinished(&root).is_empty() {
                break locks;
            }
        };
        let entries = self.entries();
        let commit = Commit::new(&self.journal, &entries, &self.made, false)?;
        self.begin_commit(&commit, &entries)?;
        if let Err(error) = commit.forward() {
            let turned = self.journal.turn(State::Back).map_err(|e| WriteError::io(&root, e));
            if let Err(other) = turned.and_then(|()| commit.backward()).and_then(|()| commit.discard()) {
                let why = format!(
                    "{error}; the old files could not all be put back ({other}), and the next look into the folder does that"
                );
                return Err(WriteError::place(&self.folder, why));
            }
            drop(locks);
            return Err(error);
        }
        commit.finish();
        let placed = self.staged.iter().map(|file| self.folder.join(&file.name)).collect();
        Ok((placed, std::mem::take(&mut self.found)))
    }

    /// The last that can go wrong without a trace.
    fn begin_commit(&self, commit: &Commit<'_>, entries: &[Entry]) -> Result<(), WriteError> {
        let wrap = |e| WriteError::io(&self.folder, e);
        let problems: Vec<_> =
            self.staged.iter().filter_map(|f| check_place(&self.folder.join(&f.name)).err()).collect();
        if !problems.is_empty() {
            return Err(WriteError::of_all(problems));
        }
        if commit.obstacle().is_some() {
            return Err(WriteError::place(&self.folder, "its files were changed while the set was made; try again"));
        }
        for (number, file) in self.staged.iter().enumerate() {
            let new = File::open(self.journal.new_file(&file.real, number)).map_err(wrap)?;
            keep_mode(&file.real, &new).map_err(wrap)?;
        }
        self.journal.append(&Line::Entries(entries.to_vec())).map_err(wrap)?;
        self.journal.steps.sync(&commit.folders());
        self.journal.turn(State::Going).map_err(wrap)?;
        self.journal.steps.sync(std::slice::from_ref(&self.journal.root));
        Ok(())
    }

    /// All new files, and old ones that go with the old manifests.
    fn entries(&self) -> Vec<Entry> {
        let entry = |(number, file): (usize, &Staged)| Entry {
            name: file.name.clone(),
            number,
            comes: true,
            was_there: is(&file.real),
            last: file.last,
        };
        let mut entries: Vec<Entry> = self.staged.iter().enumerate().map(entry).collect();
        for manifest in self.staged.iter().filter(|file| file.last) {
            for name in replaced(&self.journal.root, &manifest.name) {
                if !entries.iter().any(|e| e.name == name) {
                    let number = entries.len();
                    entries.push(Entry { name, number, comes: false, was_there: true, last: false });
                }
            }
        }
        entries
    }
}

impl Drop for FileSet {
    /// A set that is given up leaves nothing.
    fn drop(&mut self) {
        if self.journal.state() == State::Making {
            let new = |(number, file): (usize, &Staged)| self.journal.new_file(&file.real, number);
            let new: Vec<PathBuf> = self.staged.iter().enumerate().map(new).collect();
            remove_all(&self.journal, &new, &self.made);
            remove_above(&self.journal, self.made_above);
        }
    }
}

/// Takes the locks of folders, so that one set at a time is put in place in each.
pub fn lock_folders(folders: &[PathBuf]) -> Result<Vec<FileLock>, WriteError> {
    let whole = |folder: &PathBuf| fs::canonicalize(folder).map_err(|e| WriteError::io(folder, e));
    let mut all = folders.iter().map(whole).collect::<Result<Vec<_>, _>>()?;
    // In one order for all programs, or two could wait for each other.
    all.sort();
    all.dedup();
    let mut locks = Vec::new();
    for folder in all {
        match FileLock::wait(&folder.join(FOLDER_LOCK), PATIENCE) {
            Ok(Some(lock)) => locks.push(lock),
            Ok(None) => return Err(WriteError::Busy { folder }),
            // A file system without locks: the journal's age has to do.
            Err(error) if error.kind() == ErrorKind::Unsupported => {}
            Err(error) => return Err(WriteError::io(&folder, error)),
        }
    }
    Ok(locks)
}
