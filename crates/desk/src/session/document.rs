//! What is saved: the job with its art and named versions, and the garments it is looked at on.

use std::path::PathBuf;
use std::sync::Arc;

use strikeoff_core::ink::Garment;
use strikeoff_core::job::{ALGORITHM_VERSION, Job};
use strikeoff_core::raster::Art;
use strikeoff_core::screens::Screens;
use strikeoff_files::art::FileFacts;
use strikeoff_files::job::{JobFile, KeptScreens, NamedVersion, PackedScreens, same_screens};

/// A job on the bench.
#[derive(Debug, Clone)]
pub struct Document {
    /// Everything the user decided. On the bench it is always the history's present.
    pub job: Job,
    /// The client's picture.
    pub art: Arc<Art>,
    /// The picture's file name.
    pub art_name: String,
    /// The picture's file, byte for byte: what a job file keeps.
    pub art_bytes: Arc<Vec<u8>>,
    /// Page of that file that `art` is.
    pub page: usize,
    /// Facts of the file, where they were read with the art.
    pub facts: Option<Arc<FileFacts>>,
    /// Garments the job may print on; the job's own is among them.
    pub garments: Vec<Garment>,
    /// Where the job is kept, once it is.
    pub path: Option<PathBuf>,
    /// Named states, oldest first.
    pub versions: Arc<Vec<NamedVersion>>,
    /// Screens stored in the job's file by another version of the algorithm, with the job that
    /// they belong to: they are what was printed, so they stand as long as that job does.
    stored: Option<(Arc<Job>, Arc<KeptScreens>)>,
    thumbnail: Option<Vec<u8>>,
}

impl Document {
    /// A job on the bench that was not saved yet. `art` is what `art_bytes` decode to.
    pub fn new(job: Job, art: Art, art_name: impl Into<String>, art_bytes: impl Into<Arc<Vec<u8>>>) -> Self {
        let garments = job.garments().cloned().collect();
        let page = job.prep.page;
        Self {
            job,
            art: Arc::new(art),
            art_name: art_name.into(),
            art_bytes: art_bytes.into(),
            page,
            facts: None,
            garments,
            path: None,
            versions: Arc::default(),
            stored: None,
            thumbnail: None,
        }
    }

    /// The job of a file; `art` is its art, decoded.
    pub fn of_file(file: JobFile, art: Art) -> Self {
        let kept = file.fitting_screens().filter(|kept| kept.algorithm_version != ALGORITHM_VERSION).cloned();
        let stored = kept.map(|kept| (Arc::new(file.job.clone()), Arc::new(kept)));
        let JobFile { job, art_name, art_bytes, versions, thumbnail, .. } = file;
        Self { versions: Arc::new(versions), stored, thumbnail, ..Self::new(job, art, art_name, art_bytes) }
    }

    /// As a file, with its full-size screens if they are at hand.
    pub fn to_file(&self, screens: Option<&Screens>) -> JobFile {
        let mut file = JobFile::new(self.job.clone(), self.art_name.clone(), self.art_bytes.clone());
        file.versions.clone_from(&*self.versions);
        file.thumbnail.clone_from(&self.thumbnail);
        match (self.older_screens().and_then(|older| older.of(&self.job)), screens) {
            (Some(kept), _) => file.keep_again(KeptScreens::clone(&kept)),
            (None, Some(screens)) => file.keep_screens(screens.clone()),
            (None, None) => {}
        }
        file
    }

    /// Screens of another algorithm version, if any are there at all.
    pub fn older_screens(&self) -> Option<OlderScreens> {
        let older = |v: &NamedVersion| v.screens.as_ref().is_some_and(is_older);
        (self.stored.is_some() || self.versions.iter().any(older))
            .then(|| OlderScreens { stored: self.stored.clone(), versions: self.versions.clone() })
    }

    /// What the job is called: its title, or else its artwork's file name.
    pub fn title(&self) -> &str {
        if self.job.info.title.is_empty() { &self.art_name } else { &self.job.info.title }
    }

    /// Puts another page of the same file in.
    pub(crate) fn put_art(&mut self, art: Arc<Art>, facts: Arc<FileFacts>, page: usize) {
        self.art = art;
        self.facts = Some(facts);
        self.page = page;
    }

    /// Adds a garment to look at, unless its colour is there; gives its place.
    pub fn add_garment(&mut self, garment: Garment) -> usize {
        if let Some(at) = self.garments.iter().position(|g| g.color == garment.color) {
            return at;
        }
        self.garments.push(garment);
        self.garments.len() - 1
    }
}

/// Screens of another algorithm version that a document has: those of the file it was opened from, and
/// those of named versions. Equal to itself and copies of itself.
#[derive(Debug, Clone)]
pub struct OlderScreens {
    stored: Option<(Arc<Job>, Arc<KeptScreens>)>,
    versions: Arc<Vec<NamedVersion>>,
}

impl PartialEq for OlderScreens {
    fn eq(&self, other: &Self) -> bool {
        let stored = match (&self.stored, &other.stored) {
            (Some((_, a)), Some((_, b))) => Arc::ptr_eq(a, b),
            (a, b) => a.is_none() && b.is_none(),
        };
        stored && Arc::ptr_eq(&self.versions, &other.versions)
    }
}

impl OlderScreens {
    /// Those that belong to a state of the job. Unpacks pictures: not for the window's thread.
    pub fn of(&self, job: &Job) -> Option<Arc<KeptScreens>> {
        if let Some((of, kept)) = &self.stored
            && same_screens(of, job)
        {
            return Some(kept.clone());
        }
        let fits = |v: &&NamedVersion| v.screens.as_ref().is_some_and(is_older) && same_screens(&v.job, job);
        let version = self.versions.iter().find(fits)?;
        version.screens.as_ref()?.unpack().ok().map(Arc::new)
    }
}

fn is_older(screens: &PackedScreens) -> bool {
    screens.algorithm_version() != ALGORITHM_VERSION
}
