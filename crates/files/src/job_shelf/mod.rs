//! The shelf of jobs: the jobs of a folder, found by client, title, order number, date, ink, garment and the colours
//! used. What is found by is kept in an index, an embedded database, in this computer's cache folder; the job files
//! alone are the truth, and the index is made again from them whenever it is gone, broken or of another version.

mod index;
mod walk;
mod words;

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use strikeoff_core::Progress;

use crate::WriteError;
use crate::job::{JobLock, look_at_job};
use index::Index;
use walk::{Seen, walk};

/// A job on the shelf.
#[derive(Debug, Clone, PartialEq)]
pub struct JobCard {
    /// Its file.
    pub path: PathBuf,
    /// Its title, or its artwork's file name.
    pub title: String,
    /// The client.
    pub client: String,
    /// Order number.
    pub order: String,
    /// Day due, as `2026-12-04`; empty if not stated.
    pub due: String,
    /// Day of the latest run; empty if it was not printed.
    pub printed: String,
    /// The garment.
    pub garment: String,
    /// Inks, in print order.
    pub inks: Vec<String>,
    /// A small picture of the proof as PNG, if the job has one.
    pub picture: Option<Vec<u8>>,
}

impl JobCard {
    /// Client, order number, days, garment and inks, what is stated of them.
    pub fn facts(&self) -> Vec<String> {
        let stated = |what: &str, text: &str| (!text.is_empty()).then(|| format!("{what}{text}"));
        let facts = [
            stated("", &self.client),
            stated("order ", &self.order),
            stated("due ", &self.due),
            stated("printed ", &self.printed),
            stated("on ", &self.garment),
            stated("", &self.inks.join(", ")),
        ];
        facts.into_iter().flatten().collect()
    }
}

/// What looking through the folder has found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Refreshed {
    /// Jobs that are on the shelf.
    pub jobs: usize,
    /// Jobs that were read now, because they are new or have changed.
    pub read: usize,
    /// Jobs that have gone.
    pub gone: usize,
    /// Files that cannot be read, with the reason.
    pub unread: Vec<String>,
}

/// Why there is no shelf.
#[derive(Debug, thiserror::Error)]
pub enum ShelfError {
    /// The folder cannot be read.
    #[error("cannot read the folder {}: {source}", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The index cannot be kept.
    #[error("cannot keep the index of jobs: {0}")]
    Index(#[from] rusqlite::Error),
    /// Its folder cannot be made.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// It was stopped.
    #[error("looking for jobs was stopped")]
    Stopped,
}

/// The jobs of a folder.
pub struct JobShelf {
    folder: PathBuf,
    index: Index,
}

/// The folder for indexes on this computer, if the platform names one.
pub fn cache_folder() -> Option<PathBuf> {
    directories::ProjectDirs::from("", "", "strikeoff").map(|dirs| dirs.cache_dir().to_owned())
}

impl JobShelf {
    /// The shelf of a folder. Its index lies in the folder `cache`, named by a hash of the folder; without one it is kept
    /// in memory. Nothing is read before [`JobShelf::refresh`].
    pub fn open(folder: &Path, cache: Option<&Path>) -> Result<Self, ShelfError> {
        let wrong = |source| ShelfError::Folder { path: folder.to_owned(), source };
        let whole = std::fs::canonicalize(folder).map_err(wrong)?;
        Ok(Self { index: Index::open(&whole, cache)?, folder: whole })
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Looks through the folder and reads the jobs that are new or have changed since.
    pub fn refresh(&mut self, progress: &Progress) -> Result<Refreshed, ShelfError> {
        let there = walk(&self.folder).map_err(|source| ShelfError::Folder { path: self.folder.clone(), source })?;
        let known = self.index.known()?;
        let gone: Vec<&String> = known.keys().filter(|name| !there.contains_key(*name)).collect();
        self.index.forget(gone.iter().map(|name| name.as_str()))?;
        let new: Vec<(&String, &Seen)> = there.iter().filter(|(name, seen)| known.get(*name) != Some(*seen)).collect();
        let mut unread = Vec::new();
        for (at, part) in new.chunks(64).enumerate() {
            let done = (at * 64) as f64 / new.len() as f64;
            progress.step("read the jobs", done as f32).map_err(|_| ShelfError::Stopped)?;
            let read: Vec<_> = part.par_iter().map(|(name, _)| look_at_job(&self.folder.join(name))).collect();
            let mut cards = Vec::new();
            for ((name, seen), look) in part.iter().zip(read) {
                match look {
                    Ok(look) => cards.push((name.as_str(), **seen, words::card(name, look))),
                    // It is tried again next time.
                    Err(error) => {
                        self.index.forget(std::iter::once(name.as_str()))?;
                        unread.push(error.to_string());
                    }
                }
            }
            self.index.put(&cards)?;
        }
        Ok(Refreshed { jobs: self.index.count()?, read: new.len() - unread.len(), gone: gone.len(), unread })
    }

    /// Jobs in which every word is found, the ones changed last first, at most so many; and how many there are.
    pub fn find(&self, typed: &str, most: usize) -> Result<(Vec<JobCard>, usize), ShelfError> {
        let words: Vec<String> = typed.split_whitespace().map(words::folded).collect();
        let (mut cards, count) = self.index.find(&words, most)?;
        for card in &mut cards {
            card.path = self.folder.join(&card.path);
        }
        Ok((cards, count))
    }
}

impl JobCard {
    /// Whether some bench has it open for changing.
    pub fn is_taken(&self) -> bool {
        JobLock::is_taken(&self.path)
    }
}
