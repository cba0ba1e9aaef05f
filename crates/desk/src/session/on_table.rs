//! The job on the table: the document with its past and future, and how it stands to the files that
//! keep it. The job changes here alone.

use std::sync::Arc;
use std::time::Instant;

use strikeoff_core::job::Job;
use strikeoff_core::raster::Art;
use strikeoff_core::tune::History;
use strikeoff_files::art::FileFacts;
use strikeoff_files::job::{NamedVersion, Recoverable};

use super::Document;
use super::keeping::Seat;
use super::{Same, ScreensKey, Value};

/// A state of what a job file keeps.
#[derive(Debug, Clone, PartialEq)]
pub struct Revision {
    job: Value<Job>,
    versions: Same<Vec<NamedVersion>>,
}

impl Revision {
    /// That of a document.
    pub fn of(doc: &Document) -> Self {
        Self { job: Value::new(doc.job.clone()), versions: Same(doc.versions.clone()) }
    }
}

/// The job on the table.
pub struct OnTable {
    doc: Document,
    /// The job's past and future; its present is the document's job.
    history: History<Job>,
    job: Value<Job>,
    screens: Value<ScreensKey>,
    changed_at: Instant,
    /// What its file has; none if it is in no file.
    saved: Option<Revision>,
    /// The state that the recovery folder has, or that needs none.
    pub kept: Option<Revision>,
    /// Its place on the disk.
    pub seat: Option<Seat>,
    /// What it was recovered from, to be thrown away once it is written again.
    pub recovered: Option<Box<Recoverable>>,
}

impl OnTable {
    /// A document, as it is in its file.
    pub fn new(doc: Document) -> Self {
        let revision = Some(Revision::of(&doc));
        Self {
            history: History::new(doc.job.clone()),
            job: Value::new(doc.job.clone()),
            screens: Value::new(ScreensKey::of(&doc)),
            changed_at: Instant::now(),
            saved: revision.clone(),
            kept: revision,
            seat: None,
            recovered: None,
            doc,
        }
    }

    /// The document.
    pub fn doc(&self) -> &Document {
        &self.doc
    }

    /// All of the job, as a key.
    pub fn job_key(&self) -> &Value<Job> {
        &self.job
    }

    /// What its screens follow from.
    pub fn screens_key(&self) -> &Value<ScreensKey> {
        &self.screens
    }

    /// When it changed last.
    pub fn changed_at(&self) -> Instant {
        self.changed_at
    }

    /// What undo would take back and redo would do again.
    pub fn undo_and_redo(&self) -> [Option<&str>; 2] {
        [self.history.undo_label(), self.history.redo_label()]
    }

    /// Steps that can be undone, and redone.
    pub fn depth(&self) -> (usize, usize) {
        self.history.depth()
    }

    /// Makes `job` the present, screens that are new to it with angles of their own. Changes of one drag are one
    /// step.
    pub fn change(&mut self, mut job: Job, what: &str, drag: bool) {
        job.give_angles();
        match drag {
            true => self.history.drag(what, job),
            false => self.history.apply(what, job),
        }
        self.follow();
    }

    /// Ends a drag.
    pub fn settle(&mut self) {
        self.history.settle();
    }

    /// One step back or forward; what it was called.
    pub fn step(&mut self, back: bool) -> Option<String> {
        let done = if back { self.history.undo() } else { self.history.redo() };
        self.follow();
        done
    }

    /// The document's job follows the history.
    fn follow(&mut self) {
        if self.doc.job != *self.history.present() {
            self.doc.job.clone_from(self.history.present());
            self.changed();
        }
    }

    /// Puts another page of the artwork in.
    pub fn put_art(&mut self, art: Arc<Art>, facts: Arc<FileFacts>, page: usize) {
        self.doc.put_art(art, facts, page);
        self.changed();
    }

    /// Changes the garments that it is looked at on, or where it is kept: nothing that screens or
    /// revisions depend on.
    pub fn look_on<R>(&mut self, change: impl FnOnce(&mut Vec<strikeoff_core::ink::Garment>) -> R) -> R {
        change(&mut self.doc.garments)
    }

    /// Adds a garment to look at; gives its place.
    pub fn add_garment(&mut self, garment: strikeoff_core::ink::Garment) -> usize {
        self.doc.add_garment(garment)
    }

    /// Changes the named versions.
    pub fn change_versions(&mut self, change: impl FnOnce(&mut Vec<NamedVersion>)) {
        change(Arc::make_mut(&mut self.doc.versions));
        self.changed();
    }

    /// It was written to a file in this state.
    pub fn was_saved(&mut self, seat: Seat, saved: &Document) {
        self.doc.path = Some(seat.path.clone());
        self.seat = Some(seat);
        self.saved = Some(Revision::of(saved));
    }

    /// It is in no file.
    pub fn in_no_file(&mut self) {
        self.saved = None;
        self.kept = None;
    }

    /// How it stands.
    pub fn revision(&self) -> Revision {
        Revision { job: self.job.clone(), versions: Same(self.doc.versions.clone()) }
    }

    /// Whether it differs from its file.
    pub fn is_unsaved(&self) -> bool {
        self.saved.as_ref() != Some(&self.revision())
    }

    /// Whether the recovery folder has it as it stands, or need not.
    pub fn is_kept(&self) -> bool {
        self.kept.as_ref() == Some(&self.revision())
    }

    fn changed(&mut self) {
        self.job = Value::new(self.doc.job.clone());
        let screens = ScreensKey::of(&self.doc);
        // An equal key stays the same object, so that comparing it costs nothing.
        if *self.screens != screens {
            self.screens = Value::new(screens);
        }
        self.changed_at = Instant::now();
    }
}
