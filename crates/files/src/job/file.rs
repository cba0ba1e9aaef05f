//! A job with everything that belongs to it, in memory.

use std::path::PathBuf;
use std::sync::Arc;

use strikeoff_core::bounds::table;
use strikeoff_core::job::{ALGORITHM_VERSION, Job};
use strikeoff_core::names::clean;
use strikeoff_core::screens::Screens;

use super::NamedVersion;
use super::manifest::{fingerprint, sha256};
use super::thumbnail::thumbnail;

/// A job file in memory.
#[derive(Debug, Clone, PartialEq)]
pub struct JobFile {
    /// What the user decided.
    pub job: Job,
    /// File name of the art as received, without control codes and at most as long as the manifest takes it.
    pub art_name: String,
    /// The art, byte for byte as received.
    pub art_bytes: Arc<Vec<u8>>,
    /// Screens made earlier; a cache. Set it with [`JobFile::keep_screens`].
    pub screens: Option<KeptScreens>,
    /// A small picture of the proof as PNG; a cache.
    pub thumbnail: Option<Vec<u8>>,
    /// Named states, oldest first.
    pub versions: Vec<NamedVersion>,
    /// In a recovery file: where the job it belongs to was opened from.
    pub recovery_of: Option<PathBuf>,
    /// What was lost on opening (caches that were damaged), one sentence each. Not saved.
    pub lost: Vec<String>,
}

/// Screens with what they were made by and from.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptScreens {
    /// The screens.
    pub screens: Screens,
    /// Algorithm version that made them.
    pub algorithm_version: u32,
    pub(super) made_from: String,
}

/// Where the screens of a job file come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ScreensFrom {
    /// Stored in the file by the same algorithm from the same settings and art.
    Stored,
    /// Stored by another version of the algorithm; kept, because they are what was printed.
    StoredByOther {
        /// Version that made them.
        stored: u32,
        /// This program's version.
        program: u32,
    },
    /// None stored that fit: they are made again.
    Made,
}

impl ScreensFrom {
    /// A sentence for the user where there is something to say.
    pub fn note(self) -> Option<String> {
        match self {
            Self::StoredByOther { stored, program } => Some(format!(
                "the screens were made by algorithm version {stored}, this program has version {program}; the stored \
                 screens are kept, and any change of the separation or the edits makes them again"
            )),
            Self::Stored | Self::Made => None,
        }
    }
}

/// Whether two jobs on the same art give the same screens.
pub fn same_screens(a: &Job, b: &Job) -> bool {
    a.screen_inputs() == b.screen_inputs()
}

impl JobFile {
    /// A job with its art and no caches.
    pub fn new(job: Job, art_name: impl Into<String>, art_bytes: impl Into<Arc<Vec<u8>>>) -> Self {
        Self {
            job,
            art_name: clean(&Into::<String>::into(art_name), table::FILE_NAME.most),
            art_bytes: art_bytes.into(),
            screens: None,
            thumbnail: None,
            versions: Vec::new(),
            recovery_of: None,
            lost: Vec::new(),
        }
    }

    /// Keeps the screens that this program made from the job and art as they are now, and makes
    /// the thumbnail from them.
    pub fn keep_screens(&mut self, screens: Screens) {
        self.make_thumbnail(&screens);
        let made_from = self.fingerprint();
        self.screens = Some(KeptScreens { screens, algorithm_version: ALGORITHM_VERSION, made_from });
    }

    /// The kept screens, if they belong to the job and art as they are now.
    pub fn fitting_screens(&self) -> Option<&KeptScreens> {
        self.screens.as_ref().filter(|kept| kept.made_from == self.fingerprint())
    }

    /// Where the screens come from.
    pub fn screens_from(&self) -> ScreensFrom {
        match self.fitting_screens() {
            None => ScreensFrom::Made,
            Some(kept) if kept.algorithm_version == ALGORITHM_VERSION => ScreensFrom::Stored,
            Some(kept) => ScreensFrom::StoredByOther { stored: kept.algorithm_version, program: ALGORITHM_VERSION },
        }
    }

    /// Makes the thumbnail from screens of any size, such as a proxy's.
    pub fn make_thumbnail(&mut self, screens: &Screens) {
        self.thumbnail = Some(thumbnail(&self.job, screens));
    }

    /// Keeps screens again that an earlier [`JobFile::screens`] gave, if they still fit.
    pub fn keep_again(&mut self, kept: KeptScreens) {
        self.screens = Some(kept);
        if self.fitting_screens().is_none() {
            self.screens = None;
        }
    }

    fn fingerprint(&self) -> String {
        fingerprint(&self.job, &sha256(&self.art_bytes))
    }
}
