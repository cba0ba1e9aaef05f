//! The bench's part in keeping the job: autosave, recovery, the job's place on the disk, and its
//! named versions.

use std::path::PathBuf;

use strikeoff_core::ink::Ink;
use strikeoff_core::job::compare;
use strikeoff_core::screens::Screens;
use strikeoff_core::tune::{Edit, GreyPicture};
use strikeoff_core::units::Ppi;
use strikeoff_files::job::IDLE;
use strikeoff_files::profile::ShopProfile;

use crate::apply::push;
use crate::intake::{Opened, Write, Written};
use crate::keeping::{Ask, Keeper, Seat, Told};
use crate::looking::{Sheet, Side};
use crate::{Document, Workbench};

impl Workbench {
    /// Keeps recovery copies of unsaved changes in a folder, and offers what a killed window left
    /// there. Without this call nothing is kept and other windows are not seen.
    pub fn keep_in(&mut self, folder: PathBuf) {
        self.keeper = Some(Keeper::new(folder, &self.ctx));
    }

    /// The shop's defaults for jobs that are begun from now on.
    pub fn use_profile(&mut self, profile: ShopProfile) {
        self.profile = profile;
    }

    /// Tells the user something that went wrong before the window was there.
    pub fn warn(&mut self, text: String) {
        self.tell(text);
    }

    /// The folder for locks, which is the recovery folder.
    pub(crate) fn locks(&self) -> Option<PathBuf> {
        self.keeper.as_ref().map(|keeper| keeper.folder().to_owned())
    }

    /// Whether the job differs from the file it is kept in.
    pub(crate) fn is_unsaved(&self) -> bool {
        self.doc.as_ref().is_some_and(|doc| self.saved.as_ref() != Some(&doc.job) || self.versions_unsaved)
    }

    /// Whether the recovery folder has the job as it stands: for tests.
    pub fn is_kept(&self) -> bool {
        self.kept == self.stamp
    }

    /// How many jobs a killed window left: for tests.
    pub fn recovered_jobs(&self) -> usize {
        self.found.len()
    }

    /// Asks the keeper for what is due, and takes in what it says.
    pub(crate) fn keep(&mut self) {
        let told = self.keeper.as_ref().map(Keeper::told).unwrap_or_default();
        for told in told {
            match told {
                Told::Found(jobs, broken) => {
                    if let Some(why) = broken.into_iter().next() {
                        self.tell(format!("a recovered job cannot be opened: {why}"));
                    }
                    if !jobs.is_empty() {
                        self.looking.sheet = Some(Sheet::Recovered);
                    }
                    self.found.extend(jobs);
                }
                Told::Written(stamp) => {
                    if let (true, Some(job)) = (stamp >= self.kept, self.recovered.take())
                        && let Some(keeper) = &self.keeper
                    {
                        keeper.ask(Ask::Discard(job));
                    }
                }
                Told::Failed(text) => self.tell(text),
            }
        }
        if self.kept == self.stamp || self.keeper.is_none() || self.doc.is_none() {
            return;
        }
        let quiet = self.changed_at.elapsed();
        if quiet < IDLE {
            self.ctx.request_repaint_after(IDLE - quiet);
            return;
        }
        self.write_recovery();
    }

    /// Has the job written to the recovery folder, or its copy taken away if it is saved.
    fn write_recovery(&mut self) {
        let (Some(keeper), Some(doc)) = (&self.keeper, &self.doc) else { return };
        keeper.ask(if self.is_unsaved() {
            let file = Box::new(doc.to_file(None));
            Ask::Write { revision: self.stamp, file, origin: doc.path.clone() }
        } else {
            Ask::Saved(doc.path.clone())
        });
        self.kept = self.stamp;
    }

    /// The job goes off the bench. Unsaved, it stays in the recovery folder.
    pub(crate) fn leave(&mut self) {
        if self.kept != self.stamp {
            self.write_recovery();
        }
        let unsaved = self.is_unsaved();
        if let Some(keeper) = &self.keeper {
            if let (true, Some(job)) = (unsaved, self.recovered.take()) {
                keeper.ask(Ask::Discard(job));
            }
            keeper.ask(if unsaved { Ask::Leave } else { Ask::Saved(None) });
        }
        self.recovered = None;
    }

    /// Saves the job there.
    pub(crate) fn save_to(&mut self, path: PathBuf) {
        let Some(doc) = self.doc.clone() else { return };
        let screens = self.current_full().map(|p| p.levels[0].screens.clone());
        let small = self.current_proxy().and_then(|p| p.levels.last()).map(|level| level.screens.clone());
        let (seat, locks) = (self.seat.clone(), self.locks());
        self.write(Write::Job { path, doc: Box::new(doc), screens, small, seat, locks });
    }

    /// Takes in what the lane that writes has done.
    pub(crate) fn take_written(&mut self, written: Written) {
        match written {
            Written::Job { seat, doc: saved } => {
                self.remember_file(&seat.path);
                self.say(format!("Saved as {}", seat.path.display()));
                let Some(doc) = self.doc.as_mut().filter(|d| std::sync::Arc::ptr_eq(&d.art, &saved.art)) else {
                    return;
                };
                doc.path = Some(seat.path.clone());
                self.versions_unsaved = doc.versions.len() != saved.versions.len();
                self.saved = Some(saved.job);
                self.seat = Some(seat);
                // Its recovery copy, and that of the job it was recovered from, are not needed.
                if let (Some(keeper), Some(job)) = (&self.keeper, self.recovered.take()) {
                    keeper.ask(Ask::Discard(job));
                }
                self.write_recovery();
            }
            Written::Version(version, art) => {
                let Some(doc) = self.doc.as_mut().filter(|d| std::sync::Arc::ptr_eq(&d.art_bytes, &art)) else {
                    return;
                };
                let said = format!("Kept as {}", version.name);
                doc.versions.push(*version);
                self.looking.version = Default::default();
                self.versions_changed();
                self.say(said);
            }
            Written::Films(count, folder, found) => {
                let films = format!("{count} films are in {}", folder.display());
                self.say([vec![films], found].concat().join("; "));
            }
            Written::Failed(text) => self.tell(text),
        }
    }

    fn versions_changed(&mut self) {
        self.versions_unsaved = true;
        // The job is the same, but the recovery copy is not.
        self.kept = 0;
        self.changed_at = std::time::Instant::now();
    }

    /// Takes in a file that was opened.
    pub(crate) fn take_opened(&mut self, opened: Opened) {
        match opened {
            Opened::Picture(mut doc) => {
                let orphan = self.orphan.take();
                if let Some(file) = &orphan {
                    doc.job.clone_from(&file.job);
                    doc.versions.clone_from(&file.versions);
                    doc.garments = vec![doc.job.garment.clone()];
                }
                // A new job is measured as the last one was.
                if let (None, Some(last)) = (&orphan, &self.doc) {
                    doc.job.info.unit = last.job.info.unit;
                }
                self.put(*doc);
                if let Some(file) = orphan {
                    self.unsaved();
                    self.show_lost(file.lost.clone());
                    self.say("the lost job's settings are used on this picture; save it under a name");
                }
            }
            Opened::Job { doc, seat, note, lost } => {
                let whole = seat.is_some();
                self.put(*doc);
                self.seat = seat;
                if !whole {
                    self.unsaved();
                }
                if let Some(note) = note {
                    self.tell(note);
                }
                self.show_lost(lost);
            }
            Opened::Orphan(file, said) => {
                self.tell(said);
                self.show_lost(file.lost.clone());
                self.orphan = Some(file);
            }
        }
    }

    fn show_lost(&mut self, lost: Vec<String>) {
        if !lost.is_empty() {
            self.lost = lost;
            self.looking.sheet = Some(Sheet::Lost);
        }
    }

    /// The job on the bench is in no file.
    fn unsaved(&mut self) {
        self.saved = None;
        self.kept = 0;
    }

    /// Opens a job that a killed window left.
    pub(crate) fn open_recovered(&mut self, at: usize) {
        if at >= self.found.len() {
            return;
        }
        let job = self.found.remove(at);
        let art = match job.file.art() {
            Ok(art) => art,
            Err(error) => return self.tell(error.to_string()),
        };
        let mut doc = Document::of_file(job.file.clone(), art);
        // A file that was saved by somebody since is not this job's any more.
        let own = job.origin.clone().filter(|path| {
            let since = path.metadata().and_then(|m| m.modified()).ok();
            since.is_some_and(|since| job.written.is_some_and(|written| since <= written))
        });
        doc.path.clone_from(&own);
        self.put(doc);
        self.unsaved();
        self.looking.sheet = None;
        let mut said = "Recovered what was not saved".to_owned();
        if let Some(path) = own {
            let (seat, elsewhere) = Seat::take(&path, self.locks().as_deref());
            self.seat = Some(seat);
            if let Some(elsewhere) = elsewhere {
                said = elsewhere;
            }
        } else if let Some(path) = &job.origin {
            said = format!("{} was changed or moved since; save the recovered job under another name", path.display());
        }
        self.recovered = Some(Box::new(job));
        self.say(said);
    }

    /// Throws such a job away.
    pub(crate) fn discard_recovered(&mut self, at: usize) {
        if at < self.found.len()
            && let Some(keeper) = &self.keeper
        {
            keeper.ask(Ask::Discard(Box::new(self.found.remove(at))));
        }
        if self.found.is_empty() {
            self.looking.sheet = None;
        }
    }

    /// Keeps the job as it is under a name, with its screens.
    pub(crate) fn keep_version(&mut self, name: String, note: String) {
        let Some(doc) = self.doc.clone() else { return };
        let screens = self.current_full().map(|p| p.levels[0].screens.clone());
        self.write(Write::Version { name, note, doc: Box::new(doc), screens });
    }

    /// Makes the job what a version was; undo brings back what it is now.
    pub(crate) fn go_to_version(&mut self, name: &str, what: &str) {
        let Some(version) = self.doc.as_ref().and_then(|d| d.versions.iter().find(|v| v.name == name)) else { return };
        let job = version.job.clone();
        self.change(job, what, None);
        if let Some(doc) = &mut self.doc {
            self.looking.garment = doc.add_garment(doc.job.garment.clone());
        }
    }

    /// Takes a version out of the job.
    pub(crate) fn drop_version(&mut self, name: &str) {
        if let Some(doc) = &mut self.doc {
            doc.versions.retain(|v| v.name != name);
            self.versions_changed();
        }
    }

    /// What differs between the job as it is and a version, in settings: a line each.
    pub(crate) fn version_differences(&mut self, name: &str) -> Vec<String> {
        let shown = self.version_shown.as_ref().filter(|(stamp, of, _)| *stamp == self.stamp && of == name);
        if let Some((_, _, lines)) = shown {
            return lines.clone();
        }
        let Some(doc) = &self.doc else { return Vec::new() };
        let Some(version) = doc.versions.iter().find(|v| v.name == name) else { return Vec::new() };
        let ppi = Ppi::new(1.0).unwrap_or_else(|_| unreachable!());
        let none = Screens { width: 0, height: 0, ppi, list: Vec::new() };
        let found = compare((&version.job, &none), (&doc.job, &none));
        let brief = |v: &serde_json::Value| {
            let text = if v.is_null() { "nothing".to_owned() } else { v.to_string() };
            if text.chars().count() > 40 { format!("{}...", text.chars().take(37).collect::<String>()) } else { text }
        };
        let line =
            |s: &strikeoff_core::job::SettingDifference| format!("{}: {} now {}", s.setting, brief(&s.a), brief(&s.b));
        let lines: Vec<String> = found.settings.iter().map(line).collect();
        self.version_shown = Some((self.stamp, name.to_owned(), lines.clone()));
        lines
    }

    /// A screen from a grey picture, in the chosen screen's ink until it is given its own.
    pub(crate) fn add_grey(&mut self, picture: GreyPicture) {
        let taken = self.screen_names();
        let stem = picture.file.rsplit_once('.').map_or(picture.file.as_str(), |(stem, _)| stem).to_owned();
        let name = free_name(&stem, &taken);
        let Some(ink) = self.chosen_ink() else {
            return self.tell("choose a screen first; the grey picture takes its ink until it is given another");
        };
        let light = self.looking.grey_light;
        let what = format!("Screen {name} from {}", picture.file);
        self.looking.selected = Some(name.clone());
        self.looking.side = Side::Edits;
        self.looking.open_edit = self.doc.as_ref().map(|d| d.job.edits.len());
        self.edit_job(&what, |job| push(job, Edit::Import { name, ink, picture, light }));
    }

    /// Ink of the chosen screen.
    pub(crate) fn chosen_ink(&self) -> Option<Ink> {
        let screens = &self.proxy.as_ref()?.pyramid.levels[0].screens;
        let at = screens.position(self.looking.selected.as_deref()?).unwrap_or(0);
        screens.list.get(at).map(|s| s.ink.clone())
    }
}

/// A name that no screen has yet.
pub fn free_name(wanted: &str, taken: &[String]) -> String {
    let free = |name: &String| !taken.iter().any(|t| t.eq_ignore_ascii_case(name));
    let wanted = if wanted.trim().is_empty() { "Screen" } else { wanted.trim() };
    std::iter::once(wanted.to_owned())
        .chain((2..).map(|i| format!("{wanted} {i}")))
        .find(free)
        .unwrap_or_else(|| wanted.to_owned())
}

impl Drop for Workbench {
    /// What is not saved when the window closes is offered when it opens again.
    fn drop(&mut self) {
        self.leave();
    }
}
