//! The job files of a folder and the folders below it.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;
use std::time::UNIX_EPOCH;

use crate::job::JOB_EXTENSION;

/// Folders below the one that is looked through.
const DEEPEST: usize = 5;
/// Most jobs of a shelf.
const MOST: usize = 50_000;

/// What a file was when it was read: its size and time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    /// Bytes.
    pub bytes: i64,
    /// Nanoseconds since 1970.
    pub changed: i64,
}

/// Job files by their names below the folder, with `/` between; kept previous ones and hidden files aside. Folders below
/// that cannot be read are passed over.
pub fn walk(folder: &Path) -> io::Result<BTreeMap<String, Seen>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![(String::new(), fs::read_dir(folder)?, 0)];
    while let Some((below, entries, depth)) = folders.pop() {
        for entry in entries.flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            let Ok(kind) = entry.file_type() else { continue };
            if name.starts_with('.') || found.len() >= MOST {
                continue;
            }
            let place = format!("{below}{name}");
            if kind.is_dir() {
                if depth < DEEPEST
                    && let Ok(entries) = fs::read_dir(entry.path())
                {
                    folders.push((format!("{place}/"), entries, depth + 1));
                }
            } else if is_job(&name)
                && let Ok(meta) = fs::metadata(entry.path())
            {
                let since = meta.modified().ok().and_then(|at| at.duration_since(UNIX_EPOCH).ok());
                let changed = since.map_or(0, |since| since.as_nanos().min(i64::MAX as u128) as i64);
                found.insert(place, Seen { bytes: meta.len() as i64, changed });
            }
        }
    }
    Ok(found)
}

fn is_job(name: &str) -> bool {
    let stem = name.rsplit_once('.').filter(|(_, ending)| ending.eq_ignore_ascii_case(JOB_EXTENSION));
    stem.is_some_and(|(stem, _)| !stem.ends_with(".previous"))
}
