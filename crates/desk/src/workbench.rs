//! The bench as a whole: takes in what the lanes have ready, lets the views draw, applies their
//! commands and asks the lanes for what is missing. All of it within a few milliseconds a frame.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use egui::{Context, Ui};
use strikeoff_files::profile::ShopProfile;

use crate::background::drop_in_background;
use crate::commands::{Commands, Workbench};
use crate::derived::{Asked, Derived, Pane};
use crate::letters::Letters;
use crate::session::{Errands, Keeper, OnTable, Session};
use crate::state::State;
use crate::telemetry::{Shown, Telemetry, Times};
use crate::ui::theme;
use crate::view_state::{Scratch, Sheet};
use crate::{Command, Document, Keep, KeepShop, Log, Preferences, Shop, views};

/// What the bench opens on.
pub enum Opening {
    /// A job that is at hand.
    Document(Box<Document>),
    /// A picture or a job file.
    File(PathBuf),
    /// The start sheet.
    Start,
}

impl Workbench {
    /// A bench on `ctx`. `demo` is the job behind the command "Demo job".
    pub fn new(ctx: &Context, shop: Shop, demo: Option<Document>, opening: Opening) -> Self {
        theme::install(ctx);
        let session = Session::new(shop, demo);
        let errands = Errands::new(ctx, &session.shop);
        let mut bench = Self {
            ctx: ctx.clone(),
            state: State { session, derived: Derived::new(ctx), errands, times: Times::default() },
            scratch: Scratch::default(),
            commands: Commands::default(),
            letters: Letters::new(ctx),
            telemetry: Telemetry::default(),
        };
        match opening {
            Opening::Document(doc) => bench.put(*doc),
            Opening::File(path) => bench.commands.push(Command::OpenPath(path)),
            Opening::Start => bench.scratch.sheet = Some(Sheet::Start),
        }
        bench
    }

    /// Takes on what this computer remembers; `keep` is called with every change of it. On the first
    /// run the hints are shown.
    pub fn with_preferences(mut self, preferences: Preferences, keep: Keep) -> Self {
        preferences.apply(&self.ctx);
        self.scratch.tour = (!preferences.tour_seen).then_some(0);
        self.state.session.machine.begin(preferences, keep);
        self
    }

    /// Has every change of the shop profile kept.
    pub fn keep_shop_with(&mut self, keep: KeepShop) {
        self.state.session.machine.keep_shop_with(keep);
    }

    /// Keeps recovery copies of unsaved changes in a folder, and offers what a killed window left
    /// there. Without this call nothing is kept and other windows are not seen.
    pub fn keep_in(&mut self, folder: PathBuf) {
        self.state.session.keeper = Some(Keeper::new(folder, &self.ctx));
    }

    /// The shop's defaults for jobs that are begun from now on.
    pub fn use_profile(&mut self, profile: ShopProfile) {
        self.state.session.machine.profile = profile;
    }

    /// Tells the user something that went wrong before the window was there.
    pub fn warn(&mut self, text: String) {
        self.tell(text);
    }

    /// Writes down from now on what the bench does.
    pub fn log_to(&mut self, log: Log) {
        self.telemetry.log = Some(log);
    }

    /// Leaves out how long things took, so that pictures of the window repeat.
    pub fn leave_out_durations(&mut self) {
        self.state.times.shown = false;
    }

    /// Puts a document on the table. An unsaved one that lies there stays in the recovery folder.
    pub fn put(&mut self, doc: Document) {
        let unsaved = self.state.session.is_unsaved() && self.state.session.keeper.is_some();
        let left = self.state.doc().filter(|_| unsaved).map(|doc| doc.title().to_owned());
        drop_in_background(self.state.session.leave());
        if let Some(title) = left {
            self.say(format!("Unsaved changes to \"{title}\" are kept under Recovered jobs"));
        }
        let garment = doc.garments.iter().position(|g| *g == doc.job.garment).unwrap_or(0);
        self.scratch = self.scratch.for_document(garment);
        self.state.session.lost.clear();
        self.state.session.table = Some(OnTable::new(doc));
        self.state.derived.clear();
    }

    /// Sends a command as a view would.
    pub fn send(&mut self, command: Command) {
        self.commands.push(command);
    }

    /// Draws a frame and does what follows from it.
    pub fn ui(&mut self, ui: &mut Ui) {
        self.telemetry.watch.start();
        if theme::ready_letters(ui.ctx(), self.state.times.count) {
            self.lap("letters");
            ui.ctx().request_repaint();
        }
        self.state.session.machine.preferences().fit(ui.ctx());
        self.remember_window();
        (self.scratch.peek, self.scratch.art.hold) = (false, false);
        self.letters.take(ui.ctx());
        self.take_answers();
        self.lap("answers");
        views::keys(ui, &mut self.scratch, &mut self.commands);
        self.lap("keys");
        views::window_ui(ui, &self.state, &mut self.scratch, &mut self.commands, &mut self.telemetry.watch);
        self.want_pictures();
        let commands = self.commands.take();
        let acted = !commands.is_empty();
        for command in commands {
            self.apply(command);
        }
        // What is released in this frame still belongs to its drag.
        if !ui.input(|i| i.pointer.any_down())
            && let Some(table) = &mut self.state.session.table
        {
            table.settle();
        }
        if acted {
            // What they changed is drawn in the next frame.
            ui.ctx().request_repaint();
        }
        self.lap("commands");
        if acted {
            self.want_pictures();
        }
        self.ask();
        self.letters.ask();
        self.keep();
        self.lap("asking");
        self.end_frame(ui, acted);
    }

    /// Remembers how large the window is, unless the system has stretched it over the screen.
    fn remember_window(&mut self) {
        let size = self.ctx.input(|i| {
            let window = i.viewport();
            let own = ![window.maximized, window.fullscreen, window.minimized].contains(&Some(true));
            window.inner_rect.filter(|_| own).map(|rect| rect.size())
        });
        let Some(size) = size.map(|size| size * self.ctx.zoom_factor()) else { return };
        match self.state.session.machine.saw_window(size.into(), Instant::now()) {
            Ok(Some(wait)) => self.ctx.request_repaint_after(wait),
            Ok(None) => {}
            Err(text) => self.tell(text),
        }
    }

    fn lap(&mut self, part: &'static str) {
        self.telemetry.watch.lap(part);
    }

    fn end_frame(&mut self, ui: &Ui, acted: bool) {
        self.state.times.add(self.telemetry.watch.frame().wall);
        let at_rest = self.telemetry.log.is_some() && !acted && self.is_at_rest();
        let shown = self.shows_the_job().filter(|_| !acted);
        if let Some(log) = &mut self.telemetry.log {
            log.frame(&self.telemetry.watch);
            log.shown(shown);
            if log.rest(at_rest) {
                ui.ctx().request_repaint();
            }
        }
    }

    /// Asks for the pictures that the table shows. Done where it has been drawn, and again after commands,
    /// so that a lane is at work while the display still shows this frame.
    fn want_pictures(&mut self) {
        let seen = &mut self.scratch.seen;
        let canvas_px = seen.canvas_px;
        let missing = std::mem::take(&mut seen.missing);
        if canvas_px <= 0.0 || self.scratch.art.cropping {
            return;
        }
        let (Some(proxy), full) = (self.state.pyramid().cloned(), self.state.current_full().cloned()) else { return };
        let views = self.scratch.views();
        let looks = views.map(|view| self.state.look(&self.scratch, view?));
        let panes: [&mut Pane; 2] = [&mut self.state.derived.table, &mut self.state.derived.against];
        for ((pane, look), missing) in panes.into_iter().zip(looks).zip(missing) {
            let Some(look) = look else { continue };
            pane.want(&proxy, look, canvas_px);
            if let Some(full) = &full {
                pane.want_tiles(full, missing);
            }
        }
    }

    /// Asks the lanes for what is missing.
    fn ask(&mut self) {
        let Some(table) = &self.state.session.table else { return };
        let (shop, profile) = (&self.state.session.shop, &self.state.session.machine.profile);
        self.state.derived.ask(&Asked { table, scratch: &self.scratch, shop, profile, rates: &profile.rates });
    }

    /// Whether everything asked for is on the screen: for tests and the smoke run.
    pub fn is_settled(&self) -> bool {
        let there = || self.state.current_proxy().is_some() && self.state.derived.table.is_current();
        let (errands, derived) = (&self.state.errands, &self.state.derived);
        let settled = self.commands.is_empty() && errands.are_read() && derived.figures_are_idle();
        settled && (self.state.doc().is_none() || self.state.problem().is_some() || there())
    }

    /// Whether everything asked for is on the screen at full size and nothing is under way: what is not
    /// so yet would still change the picture of the window.
    pub fn is_at_rest(&self) -> bool {
        let state = &self.state;
        let full = |table: &OnTable| state.derived.full.is_wanted(table.screens_key());
        let whole = state.problem().is_some() || state.session.table.as_ref().is_none_or(full);
        let panes = match (self.scratch.art.cropping || state.pyramid().is_none(), self.scratch.against) {
            (true, _) => 0,
            (false, None) => 1,
            (false, Some(_)) => 2,
        };
        let drawn = state.derived.panes()[..panes].iter().all(|pane| pane.is_current());
        whole
            && self.is_settled()
            && state.errands.are_idle()
            && state.derived.is_idle()
            && self.letters.are_idle()
            && drawn
    }

    /// Whether the table shows the job as it stands, at the proxy's size at least.
    /// Gives what the lanes worked for it.
    fn shows_the_job(&self) -> Option<Shown> {
        let level = self.state.current_proxy()?.levels.first()?;
        let derived = &self.state.derived;
        let picture = derived.table.is_current().then(|| derived.table.took())?;
        Some(Shown { screens: Arc::downgrade(&level.screens), proxy: derived.proxy.took(), picture })
    }
}
