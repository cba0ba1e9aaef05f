//! Opening, saving, recovery and named versions; and taking in what the lanes have ready.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use strikeoff_files::job::IDLE;
use strikeoff_files::sheet::SheetKind;

use crate::derived::{Derive, PageKey};
use crate::session::{
    Ask, Chosen, Keeper, KeeperAsk, NotOpened, OnTable, Open, Opened, Report, Revision, Write, Written,
};
use crate::view_state::{Sheet, Typed};
use crate::{Command, Workbench};

impl Workbench {
    /// Shows a dialog of the system.
    pub(super) fn ask_user(&self, ask: Ask) {
        self.state.errands.dialog.request(ask);
    }

    /// Reads a file onto the table.
    pub(super) fn open_file(&mut self, path: PathBuf) {
        let session = &self.state.session;
        let profile = Box::new(session.machine.profile.clone());
        self.state.errands.open.request(Open::File { path, locks: session.locks(), profile });
    }

    /// Reads a grey picture for a new screen.
    pub(super) fn read_grey(&mut self, path: PathBuf) {
        self.state.errands.grey.request(path);
    }

    /// The document, and its screens at full size if they are at hand.
    pub(super) fn to_write(&self) -> Option<(Box<crate::Document>, Option<Arc<strikeoff_core::screens::Screens>>)> {
        let doc = Box::new(self.state.doc()?.clone());
        Some((doc, self.state.current_full().map(|p| p.levels[0].screens.clone())))
    }

    /// Makes the films there.
    pub(super) fn make_films(&mut self, folder: PathBuf) {
        let Some((doc, screens)) = self.to_write() else { return };
        let options = self.scratch.films.clone();
        self.state.errands.write.request(Write::Films { folder, doc, screens, options });
    }

    /// Writes a sheet there.
    pub(super) fn make_sheet(&mut self, kind: SheetKind, path: PathBuf) {
        let level = self.state.current_full().and_then(|full| full.levels.first()).cloned();
        let (Some(doc), Some(level), Some(outlook)) = (self.state.doc(), level, self.state.outlook().cloned()) else {
            return self.fail("the screens are still being made; write the sheet in a moment");
        };
        let (job, paper) = (Box::new(doc.job.clone()), self.scratch.paper.paper);
        self.state.errands.write.request(Write::Sheet { kind, path, paper, job, level, outlook });
    }

    /// What the open sheet was to write is not there: it stays open with the reason.
    fn fail(&mut self, why: impl Into<String>) {
        let why = why.into();
        if matches!(self.scratch.sheet, Some(Sheet::Export | Sheet::Paper(_) | Sheet::Run)) {
            self.scratch.fault = Some(why.clone());
        }
        self.tell(why);
    }

    /// What the open sheet was to write is there.
    fn made(&mut self, sheet: Sheet, said: String) {
        if self.scratch.sheet == Some(sheet) {
            self.scratch.sheet = None;
        }
        self.say(said);
    }

    /// Saves the job there.
    pub(super) fn save_to(&mut self, path: PathBuf) {
        let Some((doc, screens)) = self.to_write() else { return };
        let small = self.state.current_proxy().and_then(|p| p.levels.last()).map(|level| level.screens.clone());
        let seat = self.state.session.table.as_ref().and_then(|table| table.seat.clone());
        let locks = self.state.session.locks();
        self.state.errands.write.request(Write::Job { path, doc, screens, small, seat, locks });
    }

    /// Keeps the job as it is under a name, with its screens.
    pub(super) fn keep_version(&mut self, name: String, note: String) {
        let Some((doc, screens)) = self.to_write() else { return };
        self.state.errands.write.request(Write::Version { name, note, doc, screens });
    }

    /// Stops what runs. The pictures there stay.
    pub(super) fn cancel(&mut self) {
        self.state.errands.write.cancel();
        self.state.errands.angles.cancel();
        self.state.derived.cancel();
    }

    /// Takes in what the lanes have ready.
    pub(crate) fn take_answers(&mut self) {
        self.take_derived();
        let errands = &self.state.errands;
        let (dialog, open) = (errands.dialog.poll(), errands.open.poll());
        let (grey, write, angles) = (errands.grey.poll(), errands.write.poll(), errands.angles.poll());
        if let Some(answer) = dialog {
            self.take_chosen(answer.value);
        }
        if let Some(answer) = write {
            self.take_written(answer.value);
        }
        match grey.map(|answer| answer.value) {
            Some(Ok(picture)) => self.add_grey(picture),
            Some(Err(text)) => self.tell(text),
            None => {}
        }
        match self.state.errands.press.poll().map(|answer| answer.value) {
            Some(Ok((print, read))) => self.keep_press(print, &read),
            Some(Err(text)) => self.tell(text),
            None => {}
        }
        if let Some(answer) = angles {
            let (angles, screens) = answer.value;
            self.edit_job("Angles of all screens", |job| angles.apply(&screens, &mut job.film));
        }
        match open.map(|answer| answer.value) {
            Some(Ok((opened, path))) => {
                self.take_opened(opened);
                if let Some(path) = path {
                    self.remember_file(&path);
                }
            }
            Some(Err(NotOpened { why, recovered })) => {
                self.tell(why);
                if let Some(job) = recovered {
                    // It stays on offer.
                    self.state.session.found.push(*job);
                    self.scratch.sheet = Some(Sheet::Recovered);
                } else if self.state.doc().is_none() {
                    self.scratch.sheet = Some(Sheet::Start);
                }
            }
            None => {}
        }
    }

    /// Takes in what is derived, with what follows from it at once.
    fn take_derived(&mut self) {
        let derived = &mut self.state.derived;
        let proxy = derived.proxy.poll();
        let inks = derived.inks.poll();
        let outlook = derived.outlook.poll();
        derived.poll();
        let failed = derived.inks.failed().filter(|_| inks).map(str::to_owned);
        if let Some(why) = failed {
            self.tell(why);
        }
        if outlook {
            self.scratch.ahead.shown = None;
        }
        if proxy {
            self.choose_a_screen();
        }
        self.take_page();
    }

    /// Puts in the page that the job uses, once it was read.
    fn take_page(&mut self) {
        let Some(table) = &mut self.state.session.table else { return };
        let doc = table.doc();
        let (page, before) = (doc.job.prep.page, doc.page);
        if page == before {
            return;
        }
        let key = PageKey::of(doc);
        if let Some(read) = self.state.derived.page.current(&key) {
            return table.put_art(read.art.clone(), read.facts.clone(), page);
        }
        if let Some(why) = self.state.derived.page.failure(&key).map(str::to_owned) {
            self.edit_job(&format!("Back to page {before}"), |job| job.prep.page = before);
            self.tell(why);
        }
    }

    /// Something is always chosen, so the screen panel is never empty.
    fn choose_a_screen(&mut self) {
        let Some(pyramid) = self.state.pyramid() else { return };
        let screens = &pyramid.levels[0].screens;
        let there = self.scratch.selected.as_ref().is_some_and(|name| screens.position(name).is_some());
        if !there {
            self.scratch.selected = screens.list.last().map(|s| s.name.clone());
        }
    }

    fn take_chosen(&mut self, chosen: (Ask, Chosen)) {
        match chosen {
            (Ask::File, Chosen::Path(path)) => self.send(Command::OpenPath(path)),
            (Ask::Sheet(kind), Chosen::Path(path)) => {
                self.scratch.paper.paths.insert(kind, path.display().to_string());
            }
            (Ask::Folder, Chosen::Path(path)) => self.scratch.folder = path.display().to_string(),
            (Ask::Save | Ask::Grey, Chosen::Path(path)) => self.scratch.typed = path.display().to_string(),
            (_, Chosen::Nothing) => {}
            (ask, Chosen::NoDialog) => {
                if ask == Ask::File {
                    self.scratch.palette = Typed { words: "open ".to_owned(), at: 0 };
                    self.scratch.sheet = Some(Sheet::Find);
                }
                self.tell("This system shows no file dialog (no desktop portal, no zenity): type the path.");
            }
        }
    }

    /// Takes in what the lane that writes has done.
    fn take_written(&mut self, written: Written) {
        match written {
            Written::Job { seat, doc: saved } => {
                self.remember_file(&seat.path);
                self.say(format!("Saved as {}", seat.path.display()));
                let session = &mut self.state.session;
                let table = session.table.as_mut().filter(|table| Arc::ptr_eq(&table.doc().art, &saved.art));
                let Some(table) = table else { return };
                table.was_saved(seat, &saved);
                // Its recovery copy, and that of the job it was recovered from, are not needed.
                if let (Some(keeper), Some(job)) = (&session.keeper, table.recovered.take()) {
                    keeper.ask(KeeperAsk::Discard(job));
                }
                session.write_recovery();
            }
            Written::Version(version, art) => {
                let table = self.state.session.table.as_mut();
                let Some(table) = table.filter(|table| Arc::ptr_eq(&table.doc().art_bytes, &art)) else { return };
                let said = format!("Kept as {}", version.name);
                table.change_versions(|versions| versions.push(*version));
                self.scratch.version = Default::default();
                self.say(said);
            }
            Written::Run(run, version, art) => self.take_run(*run, version, &art),
            Written::Films(count, folder, found) => {
                let films = format!("{count} films are in {}", folder.display());
                self.made(Sheet::Export, [vec![films], found].concat().join("; "));
            }
            Written::Sheet(kind, path, note) => {
                let said = format!("The {} is {}", kind.title(), path.display());
                self.made(Sheet::Paper(kind), std::iter::once(said).chain(note).collect::<Vec<_>>().join("; "));
            }
            Written::Failed(text) => self.fail(text),
        }
    }

    /// Takes in what was opened.
    fn take_opened(&mut self, opened: Opened) {
        match opened {
            Opened::Picture(mut doc) => {
                let orphan = self.state.session.orphan.take();
                if let Some(file) = &orphan {
                    doc.job.clone_from(&file.job);
                    doc.versions = Arc::new(file.versions.clone());
                    doc.garments = vec![doc.job.garment.clone()];
                }
                // A new job is measured as the last one was.
                if let (None, Some(last)) = (&orphan, self.state.job()) {
                    doc.job.info.unit = last.info.unit;
                }
                self.put(*doc);
                if let Some(file) = orphan {
                    self.in_no_file();
                    self.show_lost(file.lost.clone());
                    self.say("the lost job's settings are used on this picture; save it under a name");
                }
            }
            Opened::Job { doc, seat, note, lost } => {
                self.put(*doc);
                match seat {
                    Some(seat) => self.take_seat(seat),
                    None => self.in_no_file(),
                }
                if let Some(run) = self.state.job().and_then(|job| job.info.runs.last()) {
                    let day = run.date.words();
                    self.say(format!("Printed on {day}; Reorder (Ctrl+K) says what has changed since"));
                }
                if let Some(note) = note {
                    self.tell(note);
                }
                self.show_lost(lost);
            }
            Opened::Orphan(file, said) => {
                self.tell(said);
                self.show_lost(file.lost.clone());
                self.state.session.orphan = Some(file);
            }
            Opened::Recovered { doc, seat, note, job } => {
                self.put(*doc);
                self.in_no_file();
                if let Some(table) = &mut self.state.session.table {
                    table.seat = seat;
                    table.recovered = Some(job);
                }
                self.say(note);
            }
        }
    }

    fn take_seat(&mut self, seat: crate::session::Seat) {
        if let Some(table) = &mut self.state.session.table {
            table.seat = Some(seat);
        }
    }

    fn show_lost(&mut self, lost: Vec<String>) {
        if !lost.is_empty() {
            self.state.session.lost = lost;
            self.scratch.sheet = Some(Sheet::Lost);
        }
    }

    /// The job on the table is in no file.
    fn in_no_file(&mut self) {
        if let Some(table) = &mut self.state.session.table {
            table.in_no_file();
        }
    }

    /// Opens a job that a killed window left.
    pub(super) fn open_recovered(&mut self, at: usize) {
        let session = &mut self.state.session;
        if at >= session.found.len() {
            return;
        }
        let (job, locks) = (Box::new(session.found.remove(at)), session.locks());
        self.scratch.sheet = None;
        self.state.errands.open.request(Open::Recovered { job, locks });
    }

    /// Throws such a job away.
    pub(super) fn discard_recovered(&mut self, at: usize) {
        let session = &mut self.state.session;
        if at < session.found.len()
            && let Some(keeper) = &session.keeper
        {
            keeper.ask(KeeperAsk::Discard(Box::new(session.found.remove(at))));
        }
        if session.found.is_empty() {
            self.scratch.sheet = None;
        }
    }

    /// Makes the job what a version was; undo brings back what it is now.
    pub(super) fn go_to_version(&mut self, name: &str, what: &str) {
        let version = self.state.doc().and_then(|d| d.versions.iter().find(|v| v.name == name));
        let Some(mut job) = version.map(|version| version.job.clone()) else { return };
        // Runs are of all versions.
        job.info.runs = self.state.job().map(|now| now.info.runs.clone()).unwrap_or_default();
        self.change(job, what, false);
        if let Some(table) = &mut self.state.session.table {
            self.scratch.garment = table.add_garment(table.doc().job.garment.clone());
        }
    }

    /// Takes a version out of the job.
    pub(super) fn drop_version(&mut self, name: &str) {
        let Some(table) = &mut self.state.session.table else { return };
        if let Some(run) = table.doc().job.info.runs.iter().find(|run| run.version == name) {
            let day = run.date.words();
            return self
                .tell(format!("{name} is what was printed on {day}; delete the run first, in Runs of this job"));
        }
        table.change_versions(|versions| versions.retain(|v| v.name != name));
    }

    fn remember_file(&mut self, path: &Path) {
        if let Err(text) = self.state.session.machine.remember(path) {
            self.tell(text);
        }
    }

    /// Asks the keeper for what is due, and takes in what it has to say.
    pub(crate) fn keep(&mut self) {
        let reports = self.state.session.keeper.as_ref().map(Keeper::reports).unwrap_or_default();
        reports.into_iter().for_each(|report| self.take_report(report));
        let session = &mut self.state.session;
        let Some(table) = session.table.as_ref().filter(|table| !table.is_kept()) else { return };
        if session.keeper.is_none() {
            return;
        }
        let quiet = table.changed_at().elapsed();
        if quiet < IDLE {
            return self.ctx.request_repaint_after(IDLE - quiet);
        }
        session.write_recovery();
    }

    fn take_report(&mut self, report: Report) {
        match report {
            Report::Found(jobs, broken) => {
                if let Some(why) = broken.into_iter().next() {
                    self.tell(format!("a recovered job cannot be opened: {why}"));
                }
                if !jobs.is_empty() {
                    self.scratch.sheet = Some(Sheet::Recovered);
                }
                self.state.session.found.extend(jobs);
            }
            Report::Left(jobs) => self.state.session.found.extend(jobs),
            Report::Written(revision) => self.is_in_recovery(&revision),
            Report::Failed(text) => self.tell(text),
        }
    }

    /// The recovery folder has the job: the copy that it was recovered from is not needed.
    fn is_in_recovery(&mut self, revision: &Revision) {
        let session = &mut self.state.session;
        let newest = |table: &&mut OnTable| table.kept.as_ref() == Some(revision);
        let recovered = session.table.as_mut().filter(newest).and_then(|table| table.recovered.take());
        if let (Some(keeper), Some(job)) = (&session.keeper, recovered) {
            keeper.ask(KeeperAsk::Discard(job));
        }
    }
}
