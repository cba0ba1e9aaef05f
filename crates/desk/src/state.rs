//! What views draw: the session, what is derived from it, the errands under way, how long frames took.
//! Views have it read-only; [`crate::commands`] alone changes it.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;
use strikeoff_core::screens::ScreenName;

use egui::{Rect, TextureHandle};
use strikeoff_core::findings::Outlook;
use strikeoff_core::fingerprint::Fingerprint;
use strikeoff_core::ink::Ink;
use strikeoff_core::job::{Costs, Job};
use strikeoff_core::prep::Prepared;
use strikeoff_core::preview::{Drift, bad_day};
use strikeoff_files::sheet::SheetKind;

use crate::background::Doing;
use crate::derived::{
    Asked, Derive, Derived, JobsFound, Mixed, Offers, PaperPage, Plans, Quotes, ReorderLook, Study, Sure, Swaps,
    Uptake, jobs_key, mix_key, paper_key, reorder_key, sure_key,
};
use crate::render::{Look, Pyramid, View, shirt};
use crate::session::{Document, Errands, Same, ScreensKey, Session, Value};
use crate::telemetry::Times;
use crate::view_state::Scratch;

/// The state of the bench, besides how it is looked at.
pub struct State {
    /// What is saved or must not be lost.
    pub session: Session,
    /// What follows from it.
    pub derived: Derived,
    /// What is done once at the user's word.
    pub errands: Errands,
    /// How long frames took.
    pub times: Times,
}

/// Why a screen cannot be taken out of the background.
pub const NO_BACKGROUND: &str =
    "the artwork has no background: nothing in it is clear and its edge has no even colour; trim light tones instead";

impl State {
    /// The document on the table.
    pub fn doc(&self) -> Option<&Document> {
        self.session.doc()
    }

    /// Its job.
    pub fn job(&self) -> Option<&Job> {
        self.doc().map(|doc| &doc.job)
    }

    fn screens_key(&self) -> Option<&ScreensKey> {
        self.session.table.as_ref().map(|table| &**table.screens_key())
    }

    /// Art and screens at proxy size, the last there are.
    pub fn pyramid(&self) -> Option<&Arc<Pyramid>> {
        self.derived.proxy.latest().map(|proxy| &proxy.pyramid)
    }

    /// The prepared art at proxy size, the last there is.
    pub fn prepared(&self) -> Option<&Arc<Prepared>> {
        self.pyramid().map(|pyramid| &pyramid.levels[0].prepared)
    }

    /// The proxy, if it is that of the job as it stands.
    pub fn current_proxy(&self) -> Option<&Arc<Pyramid>> {
        self.derived.proxy.current(self.screens_key()?).map(|proxy| &proxy.pyramid)
    }

    /// The full size, if it is that of the job as it stands.
    pub fn current_full(&self) -> Option<&Arc<Pyramid>> {
        self.derived.full.current(self.screens_key()?).map(|full| &full.pyramid)
    }

    /// Why there is no proof of the job as it stands, if there cannot be one.
    pub fn problem(&self) -> Option<&str> {
        self.derived.proxy.failure(self.screens_key()?)
    }

    /// The screens' names in print order, as far as they are known.
    pub fn screen_names(&self) -> Vec<ScreenName> {
        let names = |pyramid: &Arc<Pyramid>| pyramid.levels[0].screens.list.iter().map(|s| s.name.clone()).collect();
        self.pyramid().map(names).unwrap_or_default()
    }

    /// The print's size, width and height in mm.
    pub fn print_size_mm(&self) -> Option<[f64; 2]> {
        self.prepared().map(|prepared| prepared.print_size_mm)
    }

    /// Ink of the chosen screen.
    pub fn chosen_ink(&self, scratch: &Scratch) -> Option<Ink> {
        let screens = &self.pyramid()?.levels[0].screens;
        let at = screens.position(scratch.selected.as_ref()?).unwrap_or(0);
        screens.list.get(at).map(|s| s.ink.clone())
    }

    /// What is known of the artwork; of an older state of the job while a newer one is studied.
    pub fn study(&self) -> Option<&Study> {
        self.derived.study.latest()
    }

    /// Whether the artwork has a background that screens can be taken out of, once that is known.
    pub fn has_background(&self) -> Option<bool> {
        self.study().map(|study| study.trims)
    }

    /// Where the print lies on the shirt, in mm from the middle of the collar.
    pub fn print_rect_mm(&self) -> Option<Rect> {
        let below_collar = self.job()?.run.below_collar_mm;
        self.print_size_mm().map(|size| shirt::print_rect_mm(size, below_collar))
    }

    /// What dropping and merging the screens costs, and whether that is of the job as it stands. Costs of an
    /// earlier state are given while newer ones are worked out, but none of another artwork or garment.
    pub fn costs(&self) -> Option<(&Costs, bool)> {
        let table = self.session.table.as_ref()?;
        let costs = self.derived.costs.latest()?;
        let of = self.derived.costs.latest_key()?;
        let doc = table.doc();
        let current = self.derived.costs_key(table).is_some_and(|key| key == *of);
        of.is_of(&doc.art, &doc.job).then_some((costs, current))
    }

    /// Ink sets that were found, and whether they are for the job and the request as they stand. None of another
    /// artwork, garment or shelf.
    pub fn offers(&self, scratch: &Scratch) -> Option<(&Offers, bool)> {
        let (offers, of) = (self.derived.inks.latest()?, self.derived.inks.latest_key()?);
        let table = self.session.table.as_ref()?;
        let now = self.derived.inks_key(&self.asked(table, scratch));
        let same = of.art == now.art && of.shop == now.shop && of.inputs.ground.fabric == now.inputs.ground.fabric;
        same.then_some((offers, *of == now))
    }

    fn asked<'a>(&'a self, table: &'a crate::session::OnTable, scratch: &'a Scratch) -> Asked<'a> {
        Asked { table, scratch, shop: &self.session.shop, profile: &self.session.machine.profile }
    }

    /// Minutes and money of the job as it stands, once they are known.
    pub fn quotes(&self, scratch: &Scratch) -> Option<&Quotes> {
        let key = self.derived.quotes_key(&self.asked(self.session.table.as_ref()?, scratch))?;
        self.derived.quotes.current(&key)
    }

    /// Jobs of the folder: those last found while newer words are looked for.
    pub fn jobs(&self, scratch: &Scratch) -> Option<&JobsFound> {
        let key = jobs_key(scratch, &self.session.machine)?;
        let of = self.derived.jobs.latest_key()?;
        (of.folder == key.folder).then(|| self.derived.jobs.latest())?
    }

    /// Why there are none.
    pub fn jobs_fault(&self) -> Option<&str> {
        self.derived.jobs.failed()
    }

    /// The reorder of the chosen run, once the prints are compared.
    pub fn reorder(&self, scratch: &Scratch) -> Option<&ReorderLook> {
        let key = reorder_key(&self.asked(self.session.table.as_ref()?, scratch));
        self.derived.reorder.current(&key)
    }

    /// Why there is none.
    pub fn reorder_fault(&self) -> Option<&str> {
        self.derived.reorder.failed()
    }

    /// Other inks for a screen of the job as it stands, once they are known.
    pub fn swaps(&self, screen: &ScreenName) -> Option<&Swaps> {
        let key = self.derived.costs_key(self.session.table.as_ref()?)?;
        self.derived.swaps.current(&(key, screen.clone(), Same(self.session.shop.clone())))
    }

    /// What differs from a version, a line each, once it is known.
    pub fn differences(&self, version: &str) -> Option<&[String]> {
        let table = self.session.table.as_ref()?;
        let version = table.doc().versions.iter().find(|v| v.name == version)?;
        let key = (Value::new(version.job.clone()), table.job_key().clone());
        self.derived.differences.current(&key).map(|lines| lines.as_slice())
    }

    /// The map of a finding on the table.
    pub fn place_of(&self, finding: usize) -> Option<&TextureHandle> {
        self.derived.place.current(&(Same(self.outlook()?.clone()), finding))?.as_ref()
    }

    /// The recipe of an ink of the shelf, once it is found; or why there is none.
    pub fn mix(&self, ink: &Ink, grams: f64) -> Option<Result<&Mixed, &str>> {
        let key = mix_key(&self.session.machine.profile, ink, grams);
        let there = self.derived.mix.current(&key).map(Ok);
        there.or_else(|| self.derived.mix.failure(&key).map(Err))
    }

    /// How sure the colours of the job as it stands are, once that is known.
    pub fn sure(&self) -> Option<&Sure> {
        let table = self.session.table.as_ref()?;
        self.derived.sure.current(&sure_key(table, self.current_proxy()?))
    }

    /// What using all that a fingerprint measured would change of the job as it stands; or why it cannot be.
    pub fn uptake(&self, print: &Arc<Fingerprint>) -> Option<Result<&Uptake, &str>> {
        let table = self.session.table.as_ref()?;
        let (screens, job) = sure_key(table, self.current_proxy()?);
        let key = (screens, job, Same(print.clone()));
        let there = self.derived.uptake.current(&key).map(Ok);
        there.or_else(|| self.derived.uptake.failure(&key).map(Err))
    }

    /// Findings and facts of the job as it stands.
    pub fn outlook(&self) -> Option<&Arc<Outlook>> {
        let key = self.derived.outlook_key(self.session.table.as_ref()?)?;
        self.derived.outlook.current(&key)
    }

    /// The page in sight of a sheet of this kind, and whether it is of the job as it stands.
    pub fn page_of(&self, scratch: &Scratch, kind: SheetKind) -> Option<(&PaperPage, bool)> {
        let (page, of) = (self.derived.paper.latest()?, self.derived.paper.latest_key()?);
        let table = self.session.table.as_ref()?;
        let now = self.outlook().zip(self.derived.outlook_key(table));
        let now = now.map(|(look, key)| paper_key(Same(look.clone()), key, kind, scratch));
        (of.kind == kind).then(|| (page, now.as_ref() == Some(of)))
    }

    /// Why no page can be shown.
    pub fn page_fault(&self) -> Option<&str> {
        self.derived.paper.failed()
    }

    /// Other orders and garments for the job as it stands.
    pub fn plans(&self) -> Option<&Plans> {
        let key = self.derived.plans_key(self.session.table.as_ref()?)?;
        self.derived.plans.current(&key)
    }

    /// The look of a view as the user has set things.
    pub fn look(&self, scratch: &Scratch, view: View) -> Option<Look> {
        let doc = self.doc()?;
        let garment = doc.garments.get(scratch.garment).unwrap_or(&doc.job.garment).clone();
        // On a garment that the job does not print on, the screens are those of its first.
        let place = doc.job.garments().position(|own| *own == garment).unwrap_or(0);
        Some(Look {
            view,
            garment,
            left_out: doc.job.left_out_on(place).clone(),
            press: doc.job.press.clone(),
            film: doc.job.film.clone(),
            run: doc.job.run.clone(),
            hidden: scratch.hidden.clone(),
            screen: scratch.selected.clone(),
            drifts: self.drifts_of(scratch, view),
            bands: self.derived.sure.latest().filter(|_| view == View::Sure).and_then(|sure| sure.map.clone()),
        })
    }

    /// How the screens stand in a view: moved by hand in the print, each way on the bad day.
    fn drifts_of(&self, scratch: &Scratch, view: View) -> BTreeMap<ScreenName, Drift> {
        match view {
            View::Print => {
                let moved = scratch.ahead.moved.iter().filter(|m| m.mm != [0.0, 0.0]);
                moved.map(|m| (m.screen.clone(), Drift { shift_mm: m.mm, points: 0.0 })).collect()
            }
            View::BadDay => {
                let drift = bad_day(scratch.ahead.bad_mm, scratch.ahead.bad_points);
                self.screen_names().into_iter().enumerate().map(|(at, name)| (name, drift(at))).collect()
            }
            _ => BTreeMap::new(),
        }
    }

    /// Long work that runs now, in the words of its steps.
    pub fn doing(&self) -> Option<Doing> {
        let long = |d: Doing| (d.since > Duration::from_millis(200)).then_some(d);
        let (errands, derived) = (&self.errands, &self.derived);
        let opening = errands.open.doing().and_then(long).map(|d| Doing { what: "read the file".into(), ..d });
        let writing = errands.write.doing().map(|d| match d.what.is_empty() {
            true => Doing { what: "write".into(), ..d },
            false => d,
        });
        let angles = || errands.angles.doing().and_then(long).map(|d| Doing { what: "look for angles".into(), ..d });
        let full = || derived.full.doing().and_then(long);
        opening
            .or(writing)
            .or_else(angles)
            .or_else(|| derived.proxy.doing().and_then(long))
            .or_else(|| full().map(|d| Doing { what: format!("{}, full size", d.what), ..d }))
    }

    /// The choosing of inks, while it runs.
    pub fn suggesting(&self) -> Option<Doing> {
        self.derived.inks.doing()
    }
}
