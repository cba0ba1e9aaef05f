//! The bench as a whole: holds the state, takes in what the lanes have ready, lets the views
//! draw, applies their commands and asks the lanes for what is missing. All of it within a few
//! milliseconds a frame.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use egui::{Context, Ui};
use strikeoff_core::job::Job;
use strikeoff_core::separate::Worth;
use strikeoff_core::tune::History;
use strikeoff_files::job::{JobFile, Recoverable};
use strikeoff_files::profile::ShopProfile;

use crate::art_desk::ArtDesk;
use crate::foresight::Foresight;
use crate::keeping::{Keeper, Seat};
use crate::lanes::{Evaluated, Lanes};
use crate::looking::{Looking, Sheet};
use crate::method_desk::MethodDesk;
use crate::render::{Look, Pyramid};
use crate::tiles::Pane;
use crate::times::{Stopwatch, Times};
use crate::views::Offer;
use crate::work::let_go;
use crate::{Command, Document, Keep, KeepShop, Log, Preferences, Shop, theme, views};

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
    /// Pixels of the screen that the print was wide when the table was drawn last.
    pub(crate) canvas_px: f32,
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
    pub(crate) asked_worth: u64,
    pub(crate) foresight: Foresight,
    pub(crate) note: Option<Note>,
    pub(crate) problem: Option<String>,
    pub(crate) times: Times,
    pub(crate) watch: Stopwatch,
    /// Whether the window says how long things took.
    pub(crate) tells_durations: bool,
    pub(crate) log: Option<Log>,
    pub(crate) preferences: Preferences,
    pub(crate) keep_preferences: Option<Keep>,
    pub(crate) keep_shop: Option<KeepShop>,
    /// The file being opened, for the list of recent ones.
    pub(crate) opening: Option<PathBuf>,
    pub(crate) lanes: Lanes,
    /// Counts the states of the job; a picture is current if it carries this number.
    pub(crate) stamp: u64,
    /// The state whose proxy, and the state whose full size was asked for last.
    pub(crate) asked: u64,
    pub(crate) asked_full: u64,
    pub(crate) changed_at: Instant,
}

impl Workbench {
    /// A bench on `ctx`. `demo` is the job behind the command "Demo job".
    pub fn new(ctx: &Context, shop: Shop, demo: Option<Document>, opening: Opening) -> Self {
        theme::install(ctx);
        let shop = Arc::new(shop);
        let lanes = Lanes::new(ctx, &shop);
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
            canvas_px: 0.0,
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
            watch: Stopwatch::default(),
            tells_durations: true,
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
            Opening::Start => bench.looking.sheet = Some(Sheet::Start),
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

    /// Leaves out how long things took, so that pictures of the window repeat.
    pub fn leave_out_durations(&mut self) {
        self.tells_durations = false;
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
        let_go((self.doc.replace(doc), self.proxy.take(), self.full.take()));
        self.method_desk.clear();
        self.art_desk.clear();
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
        self.watch.start();
        if crate::theme::ready_letters(ui.ctx(), self.times.count) {
            self.watch.lap("letters");
            ui.ctx().request_repaint();
        }
        self.preferences.fit(ui.ctx());
        self.looking.peek = false;
        self.art_desk.hold = false;
        self.take_answers();
        self.watch.lap("answers");
        views::keys(ui, self);
        self.watch.lap("keys");
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
            // What they changed is drawn in the next frame.
            ui.ctx().request_repaint();
        }
        self.watch.lap("commands");
        if acted {
            self.update_panes();
        }
        self.ask();
        self.ask_foresight();
        self.keep();
        self.watch.lap("asking");
        self.times.add(self.watch.frame().wall);
        let at_rest = self.log.is_some() && !acted && self.is_at_rest();
        let shown = self.shows_the_job().filter(|_| !acted);
        if let Some(log) = &mut self.log {
            log.frame(&self.watch);
            log.shown(shown);
            if log.rest(at_rest) {
                ui.ctx().request_repaint();
            }
        }
    }

    /// Asks for the pictures that the table shows, and takes in those that are ready. Done where they are
    /// drawn, and again after commands, so that a lane is at work while the display still shows this frame.
    pub(crate) fn update_panes(&mut self) {
        let drawn = self.canvas_px > 0.0 && !self.art_desk.cropping;
        let Some(proxy) = self.proxy.as_ref().filter(|_| drawn).map(|e| e.pyramid.clone()) else { return };
        for (at, view) in self.looking.views().into_iter().enumerate() {
            if let Some(look) = view.and_then(|view| self.look(view)) {
                self.panes[at].update(&self.ctx, &proxy, &look, self.canvas_px);
            }
        }
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
}
