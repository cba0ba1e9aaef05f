//! Takes away what killed programs have left in a folder: hidden files of ours (see `names`) that
//! nobody is at work on. A file whose writer lives is locked by it. The rule:
//!
//! | left-over | goes when |
//! |---|---|
//! | made on this computer, and nobody holds its lock | a minute old |
//! | made on another computer, or no locks on this file system | a day old |
//! | a hidden folder, or a name without a computer | an hour old |
//! | a journal of a set that is being put in place | never here: `look` deals with it |
//!
//! What cannot be taken away does no harm and stays.

use std::fs::{self, DirEntry, File, TryLockError};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use super::commit::{Content, remove_above, remove_all};
use super::journal::{Journal, State, stem_of};
use super::lock::FileLock;
use super::names::{FOLDER_LOCK, JOB_LOCK, PREFIX, folder_of, is_own};
use super::place::real_place;
use super::steps::Always;

const MINUTE: Duration = Duration::from_secs(60);
const HOUR: Duration = Duration::from_secs(3600);
const DAY: Duration = Duration::from_secs(24 * 3600);

/// Sweeps a folder.
pub fn sweep(folder: &Path) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if name == FOLDER_LOCK || (name.starts_with(JOB_LOCK) && name.ends_with(".lock")) {
            // Whoever gets it takes it away with it.
            if is_older(&entry, MINUTE) {
                drop(FileLock::take(&entry.path()));
            }
        } else if name.starts_with(PREFIX) {
            sweep_one(&entry, &name);
        }
    }
}

fn sweep_one(entry: &DirEntry, name: &str) {
    let path = entry.path();
    if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
        if is_older(entry, HOUR) {
            let _ = fs::remove_dir_all(&path);
        }
        return;
    }
    match stem_of(&path) {
        Some((_, State::Making)) => {
            if let Some(_lock) = left_over(entry, name) {
                drop_set(&path);
            }
        }
        Some(_) => {}
        None if name.ends_with(".tmp") => {
            if let Some(_lock) = left_over(entry, name) {
                let _ = fs::remove_file(&path);
            }
        }
        // A file of a set goes with its journal. Without one it is old before it goes.
        None if name.ends_with(".new") || name.ends_with(".old") => {
            if is_older(entry, DAY) && !has_journal(&path, name) {
                let _ = fs::remove_file(&path);
            }
        }
        None => {
            if is_older(entry, HOUR) {
                let _ = fs::remove_file(&path);
            }
        }
    }
}

/// The file, held, if nobody is at work on it.
fn left_over(entry: &DirEntry, name: &str) -> Option<File> {
    if !is_older(entry, MINUTE) {
        return None;
    }
    let file = File::options().write(true).open(entry.path()).ok()?;
    let held = match file.try_lock() {
        Ok(()) => !is_own(name) && !is_older(entry, DAY),
        Err(TryLockError::WouldBlock) => true,
        Err(TryLockError::Error(_)) => !is_older(entry, DAY),
    };
    (!held).then_some(file)
}

fn is_older(entry: &DirEntry, than: Duration) -> bool {
    let age = entry.metadata().and_then(|meta| meta.modified()).ok().and_then(|at| at.elapsed().ok());
    age.is_some_and(|age| age > than)
}

/// Takes away what a set has made that never came to be put in place.
fn drop_set(path: &Path) {
    let Ok(journal) = Journal::open(path, Arc::new(Always)) else { return };
    let Ok(content) = Content::of(&journal) else { return };
    let new = content
        .staged
        .iter()
        .enumerate()
        .filter_map(|(number, name)| Some(journal.new_file(&real_place(&journal.root.join(name)).ok()?, number)));
    let new: Vec<_> = new.collect();
    remove_all(&journal, &new, &content.made);
    remove_above(&journal, content.made_above);
}

/// Whether a journal of the same set lies in the folder or the two above it.
fn has_journal(path: &Path, name: &str) -> bool {
    let Some((stem, _)) = name.rsplit_once('-') else { return false };
    let endings = [".set", ".going", ".back"];
    let above = folder_of(path).ancestors().take(3);
    above.into_iter().any(|folder| endings.iter().any(|ending| folder.join(format!("{stem}{ending}")).exists()))
}

#[cfg(test)]
mod tests {
    use std::time::SystemTime;

    use super::*;
    use crate::disk::names::own_name;

    /// Makes a file, or a folder with a file in it, of that age.
    fn left(folder: &Path, name: &str, age: Duration) {
        let path = folder.join(name);
        if name.ends_with('/') {
            fs::create_dir(&path).unwrap();
            fs::write(path.join("inside"), "half").unwrap();
        } else {
            fs::write(&path, "half").unwrap();
        }
        File::open(&path).unwrap().set_modified(SystemTime::now() - age).unwrap();
    }

    #[test]
    fn left_overs_go_by_age_and_owner() {
        let dir = tempfile::tempdir().unwrap();
        let own = own_name();
        let cases: [(String, Duration, bool); 13] = [
            (format!("{own}a1.tmp"), 2 * MINUTE, false),
            (format!("{own}a2.tmp"), MINUTE / 2, true),
            (".strikeoff-00000000-b1.tmp".into(), 2 * HOUR, true),
            (".strikeoff-00000000-b2.tmp".into(), 2 * DAY, false),
            (format!("{own}c1.tmp/"), 2 * HOUR, false),
            (format!("{own}c2.tmp/"), MINUTE * 5, true),
            (format!("{own}d-0.new"), 2 * DAY, false),
            (format!("{own}e-0.old"), 2 * HOUR, true),
            (format!("{own}f.going"), 2 * DAY, true),
            (format!("{own}f-0.old"), 2 * DAY, true),
            (FOLDER_LOCK.into(), 2 * MINUTE, false),
            (".other-a1.tmp".into(), 2 * DAY, true),
            ("strikeoff-a1.tmp".into(), 2 * DAY, true),
        ];
        for (name, age, _) in &cases {
            left(dir.path(), name, *age);
        }
        // One that is being written: its writer holds it, however long it takes.
        let held = dir.path().join(format!("{own}g.tmp"));
        let writer = File::create(&held).unwrap();
        writer.lock().unwrap();
        writer.set_modified(SystemTime::now() - 3 * DAY).unwrap();
        sweep(dir.path());
        for (name, age, stays) in &cases {
            assert_eq!(dir.path().join(name).exists(), *stays, "{name} {age:?}");
        }
        assert!(held.exists());
        drop(writer);
        sweep(dir.path());
        assert!(!held.exists());
    }

    #[test]
    fn every_write_sweeps_its_folder() {
        let dir = tempfile::tempdir().unwrap();
        let name = format!("{}a.tmp", own_name());
        left(dir.path(), &name, 2 * MINUTE);
        crate::write_bytes(&dir.path().join("a.txt"), b"a").unwrap();
        let names: Vec<_> = fs::read_dir(dir.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
        assert_eq!(names, ["a.txt"]);
    }
}
