//! What is requested of the lanes each frame: whatever is in sight and not known for the state as it is.

use std::sync::Arc;
use std::time::Duration;

use strikeoff_core::findings::Outlook;
use strikeoff_core::ink::Garment;
use strikeoff_core::job::{Job, Level};
use strikeoff_core::prep::Prepared;
use strikeoff_core::screens::Screens;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::sheet::SheetKind;

use super::evaluate::{full, proxy};
use super::page::read_page;
use super::study::{study, study_key};
use super::{
    CostsKey, Derived, JobsKey, PageKey, PaperKey, QuotesKey, ReorderKey, SureKey, advice, ahead, costs, jobs,
    measured, methods, paper, plans, quotes, recipes, reorder, sure,
};
use crate::render::{Pyramid, View};
use crate::session::{Machine, OnTable, ScreensKey, Shop};
use crate::session::{Same, Value};
use crate::view_state::{Scratch, Sheet, Side};

/// The full size is evaluated once the job has been left alone for this long.
const QUIET: Duration = Duration::from_millis(350);

/// What a request sees: the state besides what is derived from it.
pub struct Asked<'a> {
    /// The job on the table.
    pub table: &'a OnTable,
    /// What is in sight.
    pub scratch: &'a Scratch,
    /// The shop.
    pub shop: &'a Arc<Shop>,
    /// Its profile: times and prices, what else new jobs begin with.
    pub profile: &'a ShopProfile,
}

impl Derived {
    /// Asks for what is missing.
    pub fn ask(&mut self, on: &Asked<'_>) {
        self.ask_recipe(on);
        let doc = on.table.doc();
        if doc.page != doc.job.prep.page {
            // The screens follow once the page is there.
            return self.page.want(PageKey::of(doc), || read_page(doc));
        }
        let key: &ScreensKey = on.table.screens_key();
        if self.outlook_key(on.table).is_none() {
            // What is checked is about a job that has moved on.
            self.outlook.drop_wanted();
            self.plans.drop_wanted();
        }
        if !self.full.is_wanted(key) && !self.proxy.is_wanted(key) {
            // Its memory goes first.
            super::Derive::clear(&mut self.full);
        }
        let ctx = self.ctx.clone();
        self.proxy.want(key.clone(), || proxy(doc, &ctx));
        let Some(pyramid) = self.proxy.current(key).map(|proxy| proxy.pyramid.clone()) else { return };
        self.ask_of_proxy(on, &pyramid);
        if !self.full.is_wanted(key) {
            let quiet = on.table.changed_at().elapsed();
            if quiet < QUIET {
                self.ctx.request_repaint_after(QUIET - quiet);
                return;
            }
            self.full.want(key.clone(), || full(doc));
        }
        self.ask_ahead(on);
        self.ask_costs(on);
        self.ask_measured(on);
    }

    /// The recipe of the ink that is looked at in the ink room.
    fn ask_recipe(&mut self, on: &Asked<'_>) {
        let look = &on.scratch.room;
        let open = on.scratch.sheet == Some(Sheet::InkRoom) && look.mix && !look.garments;
        let Some(ink) = on.profile.shelf.inks.get(look.at).filter(|_| open) else { return self.mix.drop_wanted() };
        let key = recipes::mix_key(on.profile, ink, look.grams);
        self.mix.want(key.clone(), || recipes::mix(&key));
    }

    /// What the dots under the loupe measure, once they are those of the full size.
    fn ask_measured(&mut self, on: &Asked<'_>) {
        let Some(at) = on.scratch.measured_at else { return };
        let Some(look) = self.table.look().filter(|look| look.view == View::Dots).cloned() else { return };
        let Some(level) = self.full.current(on.table.screens_key()).and_then(|full| full.pyramid.levels.first()) else {
            return;
        };
        let key = (Same(level.clone()), look, at);
        self.measured.want(key.clone(), || measured::measure(&key));
    }

    /// What acts on the screens cost, where it is in sight.
    fn ask_costs(&mut self, on: &Asked<'_>) {
        let (doc, scratch) = (on.table.doc(), on.scratch);
        let Some(key) = self.costs_key(on.table) else {
            self.costs.drop_wanted();
            return self.swaps.drop_wanted();
        };
        let chosen = scratch.selected.as_ref().filter(|_| scratch.side == Side::Screen);
        if chosen.is_some() || scratch.costs.table {
            self.costs.want(key.clone(), || costs::weigh(doc, &key));
        }
        if let Some(screen) = chosen.filter(|_| scratch.costs.inks && self.costs.is_current()) {
            let key = (key, screen.clone(), Same(on.shop.clone()));
            self.swaps.want(key.clone(), || costs::look_for_inks(doc, &key));
        }
    }

    /// What the costs of the job as it stands follow from, once the full size is there.
    pub fn costs_key(&self, table: &OnTable) -> Option<CostsKey> {
        let key = table.screens_key();
        let level = self.full.current(key)?.pyramid.levels.first()?;
        let art = Same(table.doc().art.clone());
        Some(CostsKey { art, level: Same(level.clone()), inputs: key.inputs.clone() })
    }

    /// What follows from the art and screens at proxy size.
    fn ask_of_proxy(&mut self, on: &Asked<'_>, pyramid: &Pyramid) {
        let (doc, scratch) = (on.table.doc(), on.scratch);
        let finest = &pyramid.levels[0];
        let prepared: &Arc<Prepared> = &finest.prepared;
        let key = study_key(doc, prepared);
        let ctx = self.ctx.clone();
        self.study.want(key.clone(), || study(doc, key, &ctx));
        self.ask_sure(on, pyramid);
        if scratch.side == Side::Separation {
            let key = (Same(prepared.clone()), on.table.screens_key().inputs.clone());
            self.methods.want(key, || methods::look_at_methods(&doc.job, prepared));
        }
        if scratch.sheet == Some(Sheet::Export) {
            let screens: &Arc<Screens> = &finest.screens;
            let key = (Same(screens.clone()), on.table.job_key().clone(), scratch.films.clone());
            self.films.want(key.clone(), || plans::plan(&key));
            if scratch.film_sets {
                let key = (Same(screens.clone()), on.table.job_key().clone());
                self.film_sets.want(key.clone(), || plans::try_film_sets(&key, &ctx));
            }
        }
        if let Some(screen) = scratch.selected.as_ref().filter(|_| scratch.side == Side::Screen) {
            self.risk.want(plans::risk_key(&doc.job, screen), || plans::beat_risk(&doc.job, screen));
        }
        if scratch.sheet == Some(Sheet::Reorder) && !doc.job.info.runs.is_empty() {
            let (key, ctx) = (reorder_key(on), self.ctx.clone());
            self.reorder.want(key.clone(), || reorder::look(doc, &key, &ctx));
        }
        let version = scratch.version_shown.as_ref();
        if let Some(version) = version.and_then(|name| doc.versions.iter().find(|v| v.name == *name)) {
            let key = (Value::new(version.job.clone()), on.table.job_key().clone());
            self.differences.want(key.clone(), || plans::differences(&key));
        }
    }

    /// How sure the colours are, and what the fingerprint that is looked at would change.
    fn ask_sure(&mut self, on: &Asked<'_>, pyramid: &Pyramid) {
        let (doc, scratch) = (on.table.doc(), on.scratch);
        let seen = scratch.ahead.open || scratch.views().contains(&Some(View::Sure));
        if !seen {
            return;
        }
        let key = sure_key(on.table, pyramid);
        if doc.job.run.fingerprint.is_some() {
            self.sure.want(key.clone(), || sure::how_sure(&key));
        }
        let Some(print) = scratch.press.print.clone().filter(|_| scratch.ahead.open) else {
            return self.uptake.drop_wanted();
        };
        let key = (key.0, key.1, Same(print));
        self.uptake.want(key.clone(), || sure::uptake(doc, &key));
    }

    /// What will happen on press.
    fn ask_ahead(&mut self, on: &Asked<'_>) {
        let scratch = on.scratch;
        let Some(key) = self.outlook_key(on.table) else { return };
        self.outlook.want(key.clone(), || ahead::look_ahead(&key));
        let ctx = self.ctx.clone();
        let look = self.outlook.current(&key).cloned();
        if let (Some(look), Some(at)) = (&look, scratch.ahead.shown) {
            let key = (Same(look.clone()), at);
            self.place.want(key.clone(), || ahead::draw_place(&key, &ctx));
        }
        if let Some(key) = self.quotes_key(on) {
            self.quotes.want(key.clone(), || quotes::work_out(&key));
        }
        if let (Some(look), Some(Sheet::Paper(kind))) = (&look, scratch.sheet) {
            let key = paper_key(Same(look.clone()), key.clone(), kind, scratch);
            self.paper.want(key.clone(), || paper::draw_paper(&key, &ctx));
        }
        if !scratch.ahead.open {
            return;
        }
        let job: &Job = &on.table.doc().job;
        if let Some(screen) = scratch.selected.as_ref() {
            let key = ahead::tint_key(job, screen);
            self.close_up.want(key.clone(), || ahead::draw_close_up(&key, &ctx));
        }
        if look.is_some() {
            let key = plans_key(&key, on.table);
            self.plans.want(key.clone(), || ahead::compare_plans(&key));
        }
    }

    /// What an outlook of the job as it stands follows from, once the full size is there.
    pub fn outlook_key(&self, table: &OnTable) -> Option<ahead::OutlookKey> {
        let full = self.full.current(table.screens_key())?;
        let level: &Arc<Level> = full.pyramid.levels.first()?;
        Some((Same(level.clone()), table.job_key().clone()))
    }

    /// What quotes for the job as it stands follow from, once it was checked.
    pub fn quotes_key(&self, on: &Asked<'_>) -> Option<QuotesKey> {
        let outlook = self.outlook.current(&self.outlook_key(on.table)?)?.clone();
        let quantities = quotes::quantities(&on.scratch.quantities, &on.table.doc().job);
        let job = on.table.job_key().clone();
        Some(QuotesKey { outlook: Same(outlook), job, rates: on.profile.rates.clone(), quantities })
    }

    /// What other plans for the job as it stands follow from.
    pub fn plans_key(&self, table: &OnTable) -> Option<ahead::PlansKey> {
        self.outlook_key(table).map(|key| plans_key(&key, table))
    }

    /// What ink sets for the job as it stands follow from.
    pub fn inks_key(&self, on: &Asked<'_>) -> advice::InksKey {
        advice::InksKey {
            art: Same(on.table.doc().art.clone()),
            inputs: on.table.screens_key().inputs.clone(),
            request: on.scratch.request.clone(),
            shop: Same(on.shop.clone()),
        }
    }

    /// Looks for ink sets for the job as it is now.
    pub fn suggest_inks(&mut self, on: &Asked<'_>) {
        let key = self.inks_key(on);
        let full = self.full.current(on.table.screens_key()).map(|full| full.pyramid.levels[0].clone());
        let ctx = self.ctx.clone();
        if !self.inks.is_current() {
            // Asked for again after it was stopped: it is begun again.
            self.inks.drop_wanted();
        }
        self.inks
            .want(key.clone(), || advice::suggest_inks(on.table.doc(), &key, full.map(|level| (*level).clone()), &ctx));
    }
}

impl Derived {
    /// Asks for the jobs that are looked for; it takes no job on the table.
    pub fn ask_jobs(&mut self, scratch: &Scratch, machine: &Machine) {
        if scratch.sheet != Some(Sheet::Jobs) {
            return;
        }
        if let Some(key) = jobs_key(scratch, machine) {
            let ctx = self.ctx.clone();
            self.jobs.want(key.clone(), || jobs::find(&key, &ctx));
        }
    }
}

/// What the jobs in sight follow from; none before a folder was chosen.
pub fn jobs_key(scratch: &Scratch, machine: &Machine) -> Option<JobsKey> {
    let (words, looks) = (scratch.jobs.words.trim().to_owned(), scratch.jobs.looks);
    Some(JobsKey { folder: machine.jobs_folder()?, cache: machine.cache.clone(), words, looks })
}

/// What the reorder in sight follows from.
pub fn reorder_key(on: &Asked<'_>) -> ReorderKey {
    ReorderKey {
        job: on.table.job_key().clone(),
        versions: Same(on.table.doc().versions.clone()),
        profile: on.profile.clone(),
        run: on.scratch.reordered,
    }
}

/// What the page in sight of a sheet follows from.
pub fn paper_key(outlook: Same<Outlook>, of: ahead::OutlookKey, kind: SheetKind, scratch: &Scratch) -> PaperKey {
    // Only the press sheet has a second page.
    let page = if kind == SheetKind::Press { scratch.paper.page.max(1) } else { 1 };
    PaperKey { outlook, of, kind, paper: scratch.paper.paper, page }
}

/// What sureness follows from.
pub fn sure_key(table: &OnTable, pyramid: &Pyramid) -> SureKey {
    (Same(pyramid.levels[0].screens.clone()), table.job_key().clone())
}

fn plans_key((level, job): &ahead::OutlookKey, table: &OnTable) -> ahead::PlansKey {
    let doc = table.doc();
    let others: Vec<Garment> = doc.garments.iter().filter(|g| **g != doc.job.garment).cloned().collect();
    (level.clone(), job.clone(), others)
}
