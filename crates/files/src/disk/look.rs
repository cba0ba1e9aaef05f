//! A look at a folder: a set that a killed program left half in place there is finished, or taken
//! back, and that is said.

use std::fs::{self, TryLockError};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use super::WriteError;
use super::commit::{Commit, Content, Obstacle};
use super::journal::{Journal, State, stem_of};
use super::names::{PREFIX, folder_of, is_own};
use super::set::lock_folders;
use super::steps::{Always, Steps};

/// How far above a folder a set may begin that reaches into it: the demo's has two levels.
const ABOVE: usize = 2;
/// A set that was begun this long ago is not being put in place any more, wherever its program
/// runs.
const LONGEST: Duration = Duration::from_secs(600);

/// Finishes a set that was stopped half way in `folder`, so that its files are the old or the new
/// set; gives a sentence for each that was found. Without one it changes nothing.
pub fn look(folder: &Path) -> Result<Vec<String>, WriteError> {
    let always: Arc<dyn Steps> = Arc::new(Always);
    match fs::canonicalize(folder) {
        Ok(root) => look_with(&root, &always),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(Vec::new()),
        Err(error) => Err(WriteError::io(folder, error)),
    }
}

/// The same for an absolute path.
pub fn look_with(folder: &Path, steps: &Arc<dyn Steps>) -> Result<Vec<String>, WriteError> {
    let mut said = Vec::new();
    for root in folder.ancestors().take(1 + ABOVE) {
        for path in unfinished(root) {
            said.extend(take_up(&path, folder, steps)?);
        }
    }
    Ok(said)
}

/// Journals of sets that were being put in place or taken back.
pub fn unfinished(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let ours = entries.filter(|entry| entry.file_name().to_string_lossy().starts_with(PREFIX));
    let going = |path: &PathBuf| stem_of(path).is_some_and(|(_, state)| state != State::Making);
    ours.map(|entry| entry.path()).filter(going).collect()
}

/// Takes up a journal, if its set reaches into `looked`.
fn take_up(path: &Path, looked: &Path, steps: &Arc<dyn Steps>) -> Result<Option<String>, WriteError> {
    let root = folder_of(path);
    let unreadable = |why: String| WriteError::Unfinished { folder: root.to_owned(), why };
    let opened = Journal::open(path, steps.clone()).and_then(|j| Content::of(&j).map(|content| (j, content)));
    let (journal, content) = match opened {
        Ok(opened) => opened,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(_) if root != looked => return Ok(None),
        Err(error) if error.kind() == ErrorKind::PermissionDenied => return Err(unreadable(of_another_user(path))),
        Err(error) => {
            let why = format!("its journal {} cannot be read ({error}); choose another folder", path.display());
            return Err(unreadable(why));
        }
    };
    if content.entries.is_empty() && root == looked {
        return Err(unreadable(format!("its journal {} is empty; choose another folder", path.display())));
    }
    if !content.entries.iter().any(|entry| root.join(&entry.name).starts_with(looked)) {
        return Ok(None);
    }
    let commit = Commit::new(&journal, &content.entries, &content.made, true)?;
    let _locks = lock_folders(&commit.folders())?;
    if !path.exists() {
        // Whoever had the locks has dealt with it, or left it in another state.
        return Ok(None);
    }
    if !is_ours(&journal) {
        return if root == looked { Err(unreadable(of_another_user(path))) } else { Ok(None) };
    }
    if is_alive(path, &journal) {
        return Err(WriteError::Busy { folder: root.to_owned() });
    }
    let so = if finish(&journal, &commit, unreadable)? {
        "was finished: its files are in place"
    } else {
        "was taken back: the files from before it are in place"
    };
    Ok(Some(format!("the {} in {} had been stopped half way and {so}", content.what, root.display())))
}

/// Puts the set in place, or the one before it where that cannot be: true if the set is in place.
fn finish(journal: &Journal, commit: &Commit<'_>, cannot: impl Fn(String) -> WriteError) -> Result<bool, WriteError> {
    if journal.state() == State::Going {
        match commit.obstacle() {
            None => {
                commit.forward()?;
                commit.finish();
                return Ok(true);
            }
            Some(Obstacle::Foreign(name)) => {
                let why = "was put there since, where a file of the set belongs; move it away and try again";
                return Err(cannot(format!("{name} {why}")));
            }
            Some(Obstacle::Lost(name)) if !commit.can_go_back() => {
                return Err(cannot(format!("{name} is gone; choose another folder")));
            }
            Some(Obstacle::Lost(_)) => journal.turn(State::Back).map_err(|e| WriteError::io(&journal.root, e))?,
        }
    }
    commit.backward()?;
    commit.discard()?;
    Ok(false)
}

fn of_another_user(path: &Path) -> String {
    format!("it belongs to another user, who has to finish it or to move {} away", path.display())
}

/// Whether this user wrote the journal. One from somebody else could move this user's files about.
#[cfg(unix)]
fn is_ours(journal: &Journal) -> bool {
    use std::os::unix::fs::MetadataExt;
    let own = tempfile::tempfile_in(&journal.root).and_then(|file| file.metadata());
    matches!((own, journal.file().metadata()), (Ok(own), Ok(meta)) if own.uid() == meta.uid())
}

#[cfg(not(unix))]
fn is_ours(_: &Journal) -> bool {
    true
}

/// Whether the program that wrote the journal may still be at work.
fn is_alive(path: &Path, journal: &Journal) -> bool {
    let age = journal.file().metadata().and_then(|meta| meta.modified()).ok().and_then(|at| at.elapsed().ok());
    let young = age.is_some_and(|age| age < LONGEST);
    let own = path.file_name().is_some_and(|name| is_own(&name.to_string_lossy()));
    match journal.file().try_lock() {
        Err(TryLockError::WouldBlock) => true,
        // Locks of another computer may not be seen here.
        Ok(()) => young && !own,
        Err(TryLockError::Error(_)) => young,
    }
}
