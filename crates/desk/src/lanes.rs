//! The lanes that serve the whole bench: what is asked of them, what their answers change, and whether
//! they are at rest. Everything that takes longer than a few milliseconds goes through here.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use egui::Context;
use strikeoff_core::job::Job;
use strikeoff_core::prep::Prepared;
use strikeoff_core::raster::{Art, Detail};
use strikeoff_core::separate::Worth;
use strikeoff_core::tune::GreyPicture;

use crate::advice::{InkSet, Question, suggest_lane, worth_lane};
use crate::chain::Chain;
use crate::intake::{Ask, Chosen, Open, Opened, Write, Written, dialog_lane, grey_lane, open_lane, write_lane};
use crate::log::Shown;
use crate::looking::{Sheet, Side};
use crate::render::Pyramid;
use crate::views::{Finding, Offer};
use crate::work::{Doing, Lane, Manner, let_go};
use crate::{Command, Document, Shop, Workbench};

/// Longest side of the proxy in pixels: sharp on the table at first sight, evaluated in a moment.
const PROXY_PX: usize = 1400;
/// The full size is evaluated once the job has been left alone for this long.
const QUIET: Duration = Duration::from_millis(350);

/// A job to evaluate.
pub struct Evaluate {
    job: Job,
    art: Arc<Art>,
    stamp: u64,
    /// The document, if it has screens of another algorithm version that may stand for this job.
    stored: Option<Box<Document>>,
}

/// An evaluated job: the pyramid, or one sentence why not.
pub struct Outcome {
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
pub struct Lanes {
    proxy: Lane<Evaluate, Outcome>,
    full: Lane<Evaluate, Outcome>,
    dialog: Lane<Ask, (Ask, Chosen)>,
    open: Lane<Open, Result<Opened, String>>,
    grey: Lane<PathBuf, Result<GreyPicture, String>>,
    write: Lane<Write, Written>,
    suggest: Lane<Question, Result<Vec<InkSet>, String>>,
    worth: Lane<Question, (u64, Worth)>,
}

impl Lanes {
    /// Starts them.
    pub fn new(ctx: &Context, shop: &Arc<Shop>) -> Self {
        Self {
            proxy: evaluate_lane("evaluate", ctx, Manner::FinishFirst, Detail::Proxy { longest_px: PROXY_PX }),
            full: evaluate_lane("evaluate full size", ctx, Manner::StopAtOnce, Detail::Full),
            dialog: dialog_lane(ctx),
            open: open_lane(ctx, shop.clone()),
            grey: grey_lane(ctx),
            write: write_lane(ctx),
            suggest: suggest_lane(ctx),
            worth: worth_lane(ctx),
        }
    }

    /// Whether none of them has something to do or an answer that was not taken. A dialog waits for the
    /// user, not for work.
    fn are_idle(&self) -> bool {
        let evaluated = self.proxy.is_idle() && self.full.is_idle() && self.suggest.is_idle() && self.worth.is_idle();
        evaluated && self.open.is_idle() && self.grey.is_idle() && self.write.is_idle()
    }
}

impl Workbench {
    /// Whether everything asked for is on the screen at full size and nothing is under way: what is not
    /// so yet would still change the picture of the window.
    pub fn is_at_rest(&self) -> bool {
        let whole = self.doc.is_none() || self.problem.is_some() || self.asked_full == self.stamp;
        // What is not in sight takes no answers, and changes no picture.
        let methods = self.looking.side != Side::Separation || self.method_desk.is_idle();
        let panes = match (self.art_desk.cropping || self.proxy.is_none(), self.looking.against) {
            (true, _) => 0,
            (false, None) => 1,
            (false, Some(_)) => 2,
        };
        let drawn = self.panes[..panes].iter().all(|pane| pane.is_idle() && pane.is_current());
        whole
            && self.is_settled()
            && self.lanes.are_idle()
            && self.art_desk.is_idle()
            && self.foresight.is_idle()
            && methods
            && drawn
    }

    /// Whether the table shows the job as it stands, at the proxy's size at least.
    /// Gives what the lanes worked for it.
    pub(crate) fn shows_the_job(&self) -> Option<Shown> {
        let proxy = self.proxy.as_ref().filter(|e| e.stamp == self.stamp && self.asked == self.stamp)?;
        let picture = self.panes[0].is_current().then_some(self.panes[0].took)?;
        Some(Shown { stamp: proxy.stamp, proxy: proxy.took, picture })
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
        match self.question() {
            Some(question) => self.lanes.suggest.request(question),
            None => self.tell("the proof is not ready yet; ask for inks again in a moment"),
        }
    }

    /// The choosing of inks, while it runs.
    pub(crate) fn suggesting(&self) -> Option<Doing> {
        self.lanes.suggest.doing()
    }

    fn question(&self) -> Option<Question> {
        let doc = self.doc.as_ref()?;
        let level = self.proxy.as_ref()?.pyramid.levels.last()?.clone();
        let shelf = Arc::new(self.shop.shelf.clone());
        let wanted = self.looking.wanted.clone();
        Some(Question { level, job: doc.job.clone(), shelf, wanted, stamp: self.stamp })
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

    /// Takes in what the lanes have ready.
    pub(crate) fn take_answers(&mut self) {
        if let Some(answer) = self.lanes.dialog.poll() {
            match answer.value {
                (Ask::File, Chosen::Path(path)) => self.send(Command::OpenPath(path)),
                (Ask::Folder, Chosen::Path(path)) => self.looking.folder = path.display().to_string(),
                (Ask::Save | Ask::Grey, Chosen::Path(path)) => self.looking.typed = path.display().to_string(),
                (_, Chosen::Nothing) => {}
                (ask, Chosen::NoDialog) => {
                    if ask == Ask::File {
                        self.looking.finding = Finding { words: "open ".to_owned(), at: 0 };
                        self.looking.sheet = Some(Sheet::Find);
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
                        self.looking.sheet = Some(Sheet::Start);
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
                    let proxy = Evaluated { stamp: outcome.stamp, pyramid: Arc::new(pyramid), took };
                    let_go(self.proxy.replace(proxy));
                    self.choose_a_screen();
                }
                Err(text) if outcome.stamp == self.stamp => self.problem = Some(text),
                Err(_) => {}
            }
        }
        if let Some(answer) = self.lanes.full.poll() {
            let (outcome, took) = (answer.value, answer.took);
            if let Ok(pyramid) = outcome.pyramid {
                let full = Evaluated { stamp: outcome.stamp, pyramid: Arc::new(pyramid), took };
                let_go(self.full.replace(full));
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

    /// Asks the lanes for what is missing.
    pub(crate) fn ask(&mut self) {
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
            let_go(self.full.take());
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
                    && let Some(question) = self.question()
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
    let mut halved: Vec<Arc<Prepared>> = Vec::new();
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
            Ok(level) => {
                let pyramid = Pyramid::build(level, stop_px, &halved, progress).ok()?;
                halved = pyramid.levels.iter().map(|level| level.prepared.clone()).collect();
                Ok(pyramid)
            }
            Err(error) => Err(error.to_string()),
        };
        Some(Outcome { stamp: request.stamp, pyramid })
    })
}
