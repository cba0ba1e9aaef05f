//! Why something could not be written.

use std::io;
use std::path::{Path, PathBuf};

/// A file or a set of files could not be written. What was there before is untouched.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// The system refused.
    #[error("cannot write {}: {source}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// No file can be written there.
    #[error("cannot write {}: {why}", path.display())]
    Place {
        /// The place.
        path: PathBuf,
        /// Why not, and what to do.
        why: String,
    },
    /// Several files of a set cannot be written, so none was.
    #[error("nothing was written, because {} files of the set cannot be: {}", .0.len(), listed(.0))]
    Places(Vec<WriteError>),
    /// A set that was stopped half way is in the folder, and can be neither finished nor taken back.
    #[error("a set of files in {} was stopped half way and cannot be finished: {why}", folder.display())]
    Unfinished {
        /// The folder.
        folder: PathBuf,
        /// What is in the way, and what to do.
        why: String,
    },
    /// Another program is changing the files there.
    #[error("another program is writing a set of files into {}; wait until it is done and try again", folder.display())]
    Busy {
        /// The folder.
        folder: PathBuf,
    },
}

impl WriteError {
    /// Wraps what the system said about `path`.
    pub fn io(path: &Path, source: io::Error) -> Self {
        Self::Io { path: path.to_owned(), source }
    }

    pub(super) fn place(path: &Path, why: impl Into<String>) -> Self {
        Self::Place { path: path.to_owned(), why: why.into() }
    }

    /// One error for all of `problems`, which is not empty.
    pub(super) fn of_all(mut problems: Vec<Self>) -> Self {
        if problems.len() == 1 { problems.remove(0) } else { Self::Places(problems) }
    }
}

/// All problems, without saying "cannot write" each time.
fn listed(problems: &[WriteError]) -> String {
    let one = |problem: &WriteError| problem.to_string().replacen("cannot write ", "", 1);
    problems.iter().map(one).collect::<Vec<_>>().join("; ")
}
