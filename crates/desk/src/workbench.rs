//! The bench as a whole: holds the state, takes in what the lanes have ready, lets the views
//! draw, applies their commands and asks the lanes for what is missing. All of it within a few
//! milliseconds a frame.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::{Context, Ui};
use strikeoff_core::job::{Art, Detail, Job};
use strikeoff_core::separate::Worth;
use strikeoff_core::tune::{GreyPicture, History};
use strikeoff_files::job::{JobFile, Recoverable};
use strikeoff_files::profile::ShopProfile;

use crate::advice::{InkSet, Question, suggest_lane, worth_lane};
use crate::art_desk::ArtDesk;
use crate::chain::Chain;
use crate::foresight::Foresight;
use crate::intake::{Ask, Chosen, Open, Opened, Write, dialog_lane, grey_lane, open_lane, write_lane};
use crate::keeping::{Keeper, Seat};
use crate::looking::Looking;
use crate::method_desk::MethodDesk;
use crate::render::{Look, Pyramid};
use crate::tiles::Pane;
use crate::views::Offer;
use crate::work::{Doing, Lane, Manner};
use crate::{Command, Document, Keep, KeepShop, Log, Preferences, Shop, theme, views};

/// Longest side of the proxy in pixels: sharp on the table at first sight, evaluated in a moment.
pub const PROXY_PX: usize = 1400;
/// The full size is evaluated once the job has been left alone for this long.
const QUIET: Duration = Duration::from_millis(350);

/// What the bench opens on.
pub enum Opening {
    /// A job that is at hand.
    Document(Box<Document>),
    /// A picture or a job file.
    File(PathBuf),
    /// The start sheet.
    Start,
}

/// Something to tell the user, with a way to dismiss it.
#[derive(Debug, Clone, PartialEq)]
pub struct Note {
    /// One plain sentence.
    pub text: String,
    /// Whether something failed.
    pub failed: bool,
}

struct Evaluate {
    job: Job,
    art: Arc<Art>,
    stamp: u64,
    /// The document, if it has screens of another algorithm version that may stand for this job.
    stored: Option<Box<Document>>,
}

/// An evaluated job: the pyramid, or one sentence why not.
struct Outcome {
    stamp: u64,
    pyramid: Result<Pyramid, String>,
}

/// Evaluated pictures of one job state.
pub struct Evaluated {
    /// The job state it belongs to.
    pub stamp: u64,
    /// The pictures.
    pub pyramid: Arc<Pyramid>,
    /// Time it took.
    pub took: Duration,
}

/// Worker threads that serve the whole bench.
struct Lanes {
    proxy: Lane<Evaluate, Outcome>,
    full: Lane<Evaluate, Outcome>,
    dialog: Lane<Ask, (Ask, Chosen)>,
    open: Lane<Open, Result<Opened, String>>,
    grey: Lane<PathBuf, Result<GreyPicture, String>>,
    write: Lane<Write, crate::intake::Written>,
    suggest: Lane<Question, Result<Vec<InkSet>, String>>,
    worth: Lane<Question, (u64, Worth)>,
}

/// The last frames' times, for the overlay and for the smoke run's log.
#[derive(Default)]
pub struct Times {
    frames: VecDeque<Duration>,
    /// All frames so far.
    pub count: u64,
}

impl Times {
    fn add(&mut self, time: Duration) {
        self.frames.push_back(time);
        self.count += 1;
        if self.frames.len() > 600 {
            self.frames.pop_front();
        }
    }

    /// The share `part` (0..=1) of the last frames took no longer than this.
    pub fn percentile(&self, part: f64) -> Duration {
        let mut sorted: Vec<_> = self.frames.iter().copied().collect();
        sorted.sort();
        let at = ((sorted.len() as f64 - 1.0) * part).round().max(0.0) as usize;
        sorted.get(at).copied().unwrap_or_default()
    }
}

/// The workbench.
pub struct Workbench {
    pub(crate) ctx: Context,
    pub(crate) shop: Arc<Shop>,
    pub(crate) demo: Option<Box<Document>>,
    pub(crate) doc: Option<Document>,
    pub(crate) looking: Looking,
    /// The job's past and future; its present is the document's job.
    pub(crate) history: Option<History<Job>>,
    pub(crate) proxy: Option<Evaluated>,
    pub(crate) full: Option<Evaluated>,
    pub(crate) panes: [Pane; 2],
    pub(crate) commands: Vec<Command>,
    pub(crate) method_desk: MethodDesk,
    pub(crate) art_desk: ArtDesk,
    pub(crate) thumbnail: Option<(u64, egui::TextureHandle)>,
    pub(crate) saved: Option<Job>,
    /// Whether named versions were kept or dropped since the job was saved.
    pub(crate) versions_unsaved: bool,
    /// What the versions panel shows of a version: the job's state, its name, what differs.
    pub(crate) version_shown: Option<(u64, String, Vec<String>)>,
    /// The shop's defaults for new jobs.
    pub(crate) profile: ShopProfile,
    pub(crate) keeper: Option<Keeper>,
    pub(crate) seat: Option<Seat>,
    /// Jobs that a killed window left, to be offered.
    pub(crate) found: Vec<Recoverable>,
    /// The recovered job on the bench, whose old file goes once the job is written anew.
    pub(crate) recovered: Option<Box<Recoverable>>,
    /// Settings of a job that has lost its artwork, for the next picture that is opened.
    pub(crate) orphan: Option<Box<JobFile>>,
    /// What was lost of the job that was opened, a sentence each.
    pub(crate) lost: Vec<String>,
    /// The state of the job that the recovery folder has, or that needs none.
    pub(crate) kept: u64,
    pub(crate) offers: Vec<Offer>,
    pub(crate) worth: Option<(u64, Worth)>,
    asked_worth: u64,
    pub(crate) foresight: Foresight,
    pub(crate) note: Option<Note>,
    pub(crate) problem: Option<String>,
    pub(crate) times: Times,
    pub(crate) log: Option<Log>,
    pub(crate) preferences: Preferences,
    pub(crate) keep_preferences: Option<Keep>,
    pub(crate) keep_shop: Option<KeepShop>,
    /// The file being opened, for the list of recent ones.
    opening: Option<PathBuf>,
    lanes: Lanes,
    /// Counts the states of the job; a picture is current if it carries this number.
    pub(crate) stamp: u64,
    asked: u64,
    asked_full: u64,
    pub(crate) changed_at: Instant,
}

impl Workbench {
    /// A bench on `ctx`. `demo` is the job behind the command "Demo job".
    pub fn new(ctx: &Context, shop: Shop, demo: Option<Document>, opening: Opening) -> Self {
        theme::install(ctx);
        let shop = Arc::new(shop);
        let lanes = Lanes {
            proxy: evaluate_lane("evaluate", ctx, Manner::FinishFirst, Detail::Proxy { longest_px: PROXY_PX }),
            full: evaluate_lane("evaluate full size", ctx, Manner::StopAtOnce, Detail::Full),
            dialog: dialog_lane(ctx),
            open: open_lane(ctx, shop.clone()),
            grey: grey_lane(ctx),
            write: write_lane(ctx),
            suggest: suggest_lane(ctx),
            worth: worth_lane(ctx),
        };
        let mut bench = Self {
            ctx: ctx.clone(),
            shop,
            demo: demo.map(Box::new),
            doc: None,
            looking: Looking::default(),
            history: None,
            proxy: None,
            full: None,
            panes: [Pane::new(ctx, "table"), Pane::new(ctx, "against")],
            commands: Vec::new(),
            method_desk: MethodDesk::new(ctx),
            art_desk: ArtDesk::new(ctx),
            thumbnail: None,
            saved: None,
            versions_unsaved: false,
            version_shown: None,
            profile: ShopProfile::default(),
            keeper: None,
            seat: None,
            found: Vec::new(),
            recovered: None,
            orphan: None,
            lost: Vec::new(),
            kept: 0,
            offers: Vec::new(),
            worth: None,
            asked_worth: 0,
            foresight: Foresight::new(ctx),
            note: None,
            problem: None,
            times: Times::default(),
            log: None,
            preferences: Preferences::default(),
            keep_preferences: None,
            keep_shop: None,
            opening: None,
            lanes,
            stamp: 0,
            asked: 0,
            asked_full: 0,
            changed_at: Instant::now(),
        };
        match opening {
            Opening::Document(doc) => bench.put(*doc),
            Opening::File(path) => bench.commands.push(Command::OpenPath(path)),
            Opening::Start => bench.looking.sheet = Some(crate::looking::Sheet::Start),
        }
        bench
    }

    /// Takes on what this computer remembers; `keep` is called with every change of it. On the first
    /// run the hints are shown.
    pub fn with_preferences(mut self, preferences: Preferences, keep: Keep) -> Self {
        preferences.apply(&self.ctx);
        self.looking.tour = (!preferences.tour_seen).then_some(0);
        self.preferences = preferences;
        self.keep_preferences = Some(keep);
        self
    }

    /// Has every change of the shop profile kept.
    pub fn keep_shop_with(&mut self, keep: KeepShop) {
        self.keep_shop = Some(keep);
    }

    /// Writes down from now on what the bench does.
    pub fn log_to(&mut self, log: Log) {
        self.log = Some(log);
    }

    /// Puts a document on the bench. An unsaved one that lies there stays in the recovery folder.
    pub fn put(&mut self, doc: Document) {
        self.leave();
        let garment = doc.garments.iter().position(|g| *g == doc.job.garment).unwrap_or(0);
        let old = &self.looking;
        self.looking = Looking {
            garment,
            fabric: old.fabric,
            loupe: old.loupe,
            times: old.times,
            tour: old.tour,
            // A job opened at the start does not hide the offer of one that was lost.
            sheet: old.sheet.filter(|sheet| *sheet == crate::looking::Sheet::Recovered),
            ..Looking::default()
        };
        self.saved = Some(doc.job.clone());
        self.versions_unsaved = false;
        self.version_shown = None;
        self.seat = None;
        self.lost.clear();
        self.history = Some(History::new(doc.job.clone()));
        self.doc = Some(doc);
        self.method_desk.clear();
        self.art_desk.clear();
        self.proxy = None;
        self.full = None;
        self.offers.clear();
        self.worth = None;
        self.foresight.forget();
        self.panes.iter_mut().for_each(Pane::clear);
        self.changed();
        self.kept = self.stamp;
    }

    /// The job changed: pictures of it are out of date.
    pub(crate) fn changed(&mut self) {
        self.stamp += 1;
        self.changed_at = Instant::now();
        self.problem = None;
    }

    /// Sends a command as a view would.
    pub fn send(&mut self, command: Command) {
        self.commands.push(command);
    }

    /// Draws a frame and does what follows from it.
    pub fn ui(&mut self, ui: &mut Ui) {
        let started = Instant::now();
        self.looking.peek = false;
        self.art_desk.hold = false;
        self.take_answers();
        views::keys(ui, self);
        views::window_ui(ui, self);
        let commands = std::mem::take(&mut self.commands);
        let acted = !commands.is_empty();
        for command in commands {
            self.apply(command);
        }
        // What is let go in this frame still belongs to its drag.
        if !ui.input(|i| i.pointer.any_down())
            && let Some(history) = &mut self.history
        {
            history.settle();
        }
        if acted {
            // What they changed is drawn, and asked of the lanes, in the next frame.
            ui.ctx().request_repaint();
        }
        self.ask();
        self.ask_foresight();
        self.keep();
        let took = started.elapsed();
        self.times.add(took);
        let at_rest = self.log.is_some() && !acted && self.is_at_rest();
        if let Some(log) = &mut self.log {
            log.frame(took);
            if log.rest(at_rest) {
                ui.ctx().request_repaint();
            }
        }
    }

    /// Whether everything asked for is on the screen at full size and no work is under way.
    fn is_at_rest(&self) -> bool {
        let lanes = &self.lanes;
        let idle = lanes.open.doing().is_none()
            && lanes.write.doing().is_none()
            && lanes.suggest.doing().is_none()
            && lanes.worth.doing().is_none()
            && lanes.grey.doing().is_none();
        let whole = self.doc.is_none() || self.problem.is_some() || self.current_full().is_some();
        let sharp = !self.panes.iter().any(Pane::is_sharpening);
        idle && sharp && whole && self.is_settled() && (self.looking.against.is_none() || self.panes[1].is_current())
    }

    /// Whether everything asked for is on the screen: for tests and the smoke run.
    pub fn is_settled(&self) -> bool {
        let current = |e: &Option<Evaluated>| e.as_ref().is_some_and(|e| e.stamp == self.stamp);
        self.commands.is_empty()
            && (self.doc.is_none() || self.problem.is_some() || (current(&self.proxy) && self.panes[0].is_current()))
    }

    /// The screens' proxy, if it is that of the job as it stands.
    pub(crate) fn current_proxy(&self) -> Option<&Arc<Pyramid>> {
        self.proxy.as_ref().filter(|e| e.stamp == self.stamp).map(|e| &e.pyramid)
    }

    /// The full size, if it is that of the job as it stands.
    pub(crate) fn current_full(&self) -> Option<&Arc<Pyramid>> {
        self.full.as_ref().filter(|e| e.stamp == self.stamp).map(|e| &e.pyramid)
    }

    /// The look of a view as the user has set things.
    pub(crate) fn look(&self, view: crate::View) -> Option<Look> {
        let doc = self.doc.as_ref()?;
        let garment = doc.garments.get(self.looking.garment).unwrap_or(&doc.job.garment).clone();
        Some(Look {
            view,
            garment,
            press: doc.job.press.clone(),
            film: doc.job.film.clone(),
            hidden: self.looking.hidden.clone(),
            screen: self.looking.selected.clone(),
            drifts: self.drifts_of(view),
        })
    }

    /// Long work that runs now, in the words of its steps.
    pub(crate) fn doing(&self) -> Option<Doing> {
        let long = |d: Doing| (d.since > Duration::from_millis(200)).then_some(d);
        let opening = self.lanes.open.doing().and_then(long).map(|d| Doing { what: "read the file".into(), ..d });
        let writing = self.lanes.write.doing().map(|d| match d.what.is_empty() {
            true => Doing { what: "write".into(), ..d },
            false => d,
        });
        opening.or(writing).or_else(|| self.lanes.proxy.doing().and_then(long)).or_else(|| {
            self.lanes.full.doing().and_then(long).map(|d| Doing { what: format!("{}, full size", d.what), ..d })
        })
    }

    /// Shows a dialog of the system.
    pub(crate) fn ask_user(&self, ask: Ask) {
        self.lanes.dialog.request(ask);
    }

    /// Reads a file onto the bench.
    pub(crate) fn open_file(&mut self, path: PathBuf) {
        self.opening = Some(path.clone());
        self.lanes.open.request(Open { path, locks: self.locks(), profile: self.profile.clone() });
    }

    /// Reads a grey picture for a new screen.
    pub(crate) fn read_grey(&mut self, path: PathBuf) {
        self.lanes.grey.request(path);
    }

    /// Gives work to the lane that writes.
    pub(crate) fn write(&self, work: Write) {
        self.lanes.write.request(work);
    }

    /// Asks for ink sets.
    pub(crate) fn suggest_inks(&mut self) {
        let wanted = self.looking.wanted;
        match self.question(wanted) {
            Some(question) => self.lanes.suggest.request(question),
            None => self.tell("the proof is not ready yet; ask for inks again in a moment"),
        }
    }

    /// The choosing of inks, while it runs.
    pub(crate) fn suggesting(&self) -> Option<Doing> {
        self.lanes.suggest.doing()
    }

    fn question(&self, screens: usize) -> Option<Question> {
        let doc = self.doc.as_ref()?;
        let level = self.proxy.as_ref()?.pyramid.levels.last()?.clone();
        let shelf = Arc::new(self.shop.shelf.clone());
        Some(Question { level, job: doc.job.clone(), shelf, screens, stamp: self.stamp })
    }

    /// Makes the films there.
    pub(crate) fn make_films(&mut self, folder: PathBuf) {
        let Some(doc) = self.doc.clone() else { return };
        let screens = self.current_full().map(|p| p.levels[0].screens.clone());
        let options = self.looking.films.clone();
        self.lanes.write.request(Write::Films { folder, doc: Box::new(doc), screens, options });
    }

    /// Stops what runs. The pictures there stay.
    pub(crate) fn cancel(&mut self) {
        self.lanes.write.cancel();
        self.lanes.suggest.cancel();
        self.lanes.proxy.cancel();
        self.lanes.full.cancel();
        self.foresight.cancel();
    }

    fn take_answers(&mut self) {
        if let Some(answer) = self.lanes.dialog.poll() {
            match answer.value {
                (Ask::File, Chosen::Path(path)) => self.send(Command::OpenPath(path)),
                (Ask::Folder, Chosen::Path(path)) => self.looking.folder = path.display().to_string(),
                (Ask::Save | Ask::Grey, Chosen::Path(path)) => self.looking.typed = path.display().to_string(),
                (_, Chosen::Nothing) => {}
                (ask, Chosen::NoDialog) => {
                    if ask == Ask::File {
                        self.looking.finding = crate::views::Finding { words: "open ".to_owned(), at: 0 };
                        self.looking.sheet = Some(crate::looking::Sheet::Find);
                    }
                    self.tell("This system shows no file dialog (no desktop portal, no zenity): type the path.");
                }
            }
        }
        if let Some(answer) = self.lanes.suggest.poll() {
            match answer.value {
                Ok(sets) => {
                    let offer = |set: InkSet| Offer {
                        proof: self.ctx.load_texture("ink set", set.proof, egui::TextureOptions::LINEAR),
                        choice: set.choice,
                    };
                    self.offers = sets.into_iter().map(offer).collect();
                }
                Err(text) => self.tell(text),
            }
        }
        if let Some(answer) = self.lanes.worth.poll() {
            self.worth = Some(answer.value);
        }
        if let Some(answer) = self.lanes.write.poll() {
            self.take_written(answer.value);
        }
        if let Some(answer) = self.lanes.grey.poll() {
            match answer.value {
                Ok(picture) => self.add_grey(picture),
                Err(text) => self.tell(text),
            }
        }
        if let Some(answer) = self.lanes.open.poll() {
            match answer.value {
                Ok(opened) => {
                    self.take_opened(opened);
                    if let Some(path) = self.opening.take() {
                        self.remember_file(&path);
                    }
                }
                Err(text) => {
                    self.tell(text);
                    if self.doc.is_none() {
                        self.looking.sheet = Some(crate::looking::Sheet::Start);
                    }
                }
            }
        }
        if let Some(doc) = &mut self.doc
            && let Some(text) = self.art_desk.take_page(doc)
        {
            self.tell(text);
        }
        self.art_desk.take_study(&self.ctx);
        if let Some(answer) = self.lanes.proxy.poll() {
            let (outcome, took) = (answer.value, answer.took);
            match outcome.pyramid {
                Ok(pyramid) => {
                    self.proxy = Some(Evaluated { stamp: outcome.stamp, pyramid: Arc::new(pyramid), took });
                    self.choose_a_screen();
                }
                Err(text) if outcome.stamp == self.stamp => self.problem = Some(text),
                Err(_) => {}
            }
        }
        if let Some(answer) = self.lanes.full.poll() {
            let (outcome, took) = (answer.value, answer.took);
            if let Ok(pyramid) = outcome.pyramid {
                self.full = Some(Evaluated { stamp: outcome.stamp, pyramid: Arc::new(pyramid), took });
            }
        }
    }

    /// Something is always chosen, so the screen panel is never empty.
    fn choose_a_screen(&mut self) {
        let Some(proxy) = &self.proxy else { return };
        let screens = &proxy.pyramid.levels[0].screens;
        let there = self.looking.selected.as_ref().is_some_and(|name| screens.position(name).is_some());
        if !there {
            self.looking.selected = screens.list.last().map(|s| s.name.clone());
        }
    }

    fn ask(&mut self) {
        let Some(doc) = &self.doc else { return };
        if !self.art_desk.has_page(doc) {
            return;
        }
        let request = || Evaluate {
            job: doc.job.clone(),
            art: doc.art.clone(),
            stamp: self.stamp,
            stored: doc.has_stored().then(|| Box::new(doc.clone())),
        };
        if self.asked != self.stamp {
            self.asked = self.stamp;
            self.lanes.full.cancel();
            self.full = None;
            self.lanes.proxy.request(request());
        }
        let ready = self.proxy.as_ref().is_some_and(|e| e.stamp == self.stamp);
        if let Some(proxy) = self.proxy.as_ref().filter(|_| ready) {
            self.art_desk.ask(doc, &proxy.pyramid.levels[0].prepared);
        }
        if ready && self.asked_full != self.stamp {
            let quiet = self.changed_at.elapsed();
            if quiet >= QUIET {
                self.asked_full = self.stamp;
                self.lanes.full.request(request());
                if self.asked_worth != self.stamp
                    && let Some(question) = self.question(0)
                {
                    self.asked_worth = self.stamp;
                    self.lanes.worth.request(question);
                }
            } else {
                self.ctx.request_repaint_after(QUIET - quiet);
            }
        }
    }
}

fn evaluate_lane(name: &str, ctx: &Context, manner: Manner, detail: Detail) -> Lane<Evaluate, Outcome> {
    let mut chain = Chain::default();
    let stop_px = if detail == Detail::Full { PROXY_PX } else { 350 };
    Lane::new(name, ctx, manner, move |request: Evaluate, progress| {
        let stored = request.stored.and_then(|doc| doc.stored_for(&request.job));
        let level = chain.evaluate(&request.job, &request.art, detail, stored.as_deref(), progress);
        // Stopped work says nothing; everything else is said in its own sentence.
        let stopped = progress.step("", 1.0).is_err();
        if stopped {
            return None;
        }
        let pyramid = match level {
            Ok(level) => Ok(Pyramid::build(level, stop_px, progress).ok()?),
            Err(error) => Err(error.to_string()),
        };
        Some(Outcome { stamp: request.stamp, pyramid })
    })
}

/// What tests and the smoke run ask the bench about.
impl Workbench {
    /// Names and mean coverage of the screens, in print order.
    pub fn screens(&self) -> Vec<(String, f64)> {
        let of = |e: &Evaluated| {
            let list = e.pyramid.levels[0].screens.list.iter();
            list.zip(&e.pyramid.tones).map(|(s, tones)| (s.name.clone(), tones.mean)).collect()
        };
        self.proxy.as_ref().map(of).unwrap_or_default()
    }

    /// The print's size, width and height in mm.
    pub fn print_size_mm(&self) -> Option<[f64; 2]> {
        self.proxy.as_ref().map(|e| e.pyramid.levels[0].prepared.print_size_mm)
    }

    /// The job on the bench.
    pub fn job(&self) -> Option<&Job> {
        self.doc.as_ref().map(|d| &d.job)
    }

    /// Whether a screen is left out of the proof.
    pub fn is_hidden(&self, name: &str) -> bool {
        self.looking.hidden.contains(name)
    }

    /// The view on the table.
    pub fn view(&self) -> crate::View {
        self.looking.view
    }

    /// What was said last.
    pub fn note(&self) -> Option<&str> {
        self.note.as_ref().map(|n| n.text.as_str())
    }

    /// Why there is no proof, if there is none.
    pub fn problem(&self) -> Option<&str> {
        self.problem.as_deref()
    }

    /// How often art was evaluated to screens so far.
    pub fn evaluations(&self) -> u64 {
        self.asked
    }

    /// What is known of the artwork, once it is: its specks and its facts at print size.
    pub fn artwork_facts(&self) -> Option<(&strikeoff_core::prep::PrintFacts, usize)> {
        let study = self.art_desk.study.as_ref().filter(|_| self.art_desk.is_current())?;
        Some((&study.print, study.specks.len()))
    }

    /// A pixel of the prepared artwork, at fractions of the print.
    pub fn artwork_at(&self, x: f64, y: f64) -> Option<[u16; 4]> {
        let picture = &self.proxy.as_ref()?.pyramid.levels[0].prepared.picture;
        let at = |part: f64, length: usize| ((part * length as f64) as usize).min(length - 1);
        Some(picture.pixels().get(at(x, picture.width()), at(y, picture.height())))
    }

    /// How the artwork is prepared.
    pub fn preparation(&self) -> Option<&strikeoff_core::prep::PrepSettings> {
        self.doc.as_ref().map(|doc| &doc.job.prep)
    }

    /// A number for the picture on the table that changes with its pixels.
    pub fn pixels_shown(&self) -> u64 {
        self.panes[0].fingerprint()
    }
}
