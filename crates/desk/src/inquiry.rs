//! What tests and the smoke run ask the bench about: what is on it and on the screen, in plain values.

use std::collections::BTreeMap;
use strikeoff_core::screens::{ScreenName, joined};

use strikeoff_core::job::{Job, Level};
use strikeoff_core::prep::{PrepSettings, PrintFacts};

use crate::render::View;
use crate::{Command, Workbench, views};

/// What tests and the smoke run ask the bench about.
impl Workbench {
    /// How the job stands and is looked at, a word each: what a command changes shows in one of them.
    pub fn standing(&self) -> BTreeMap<&'static str, String> {
        let (state, looking) = (&self.state, &self.scratch);
        let on = |on: bool| if on { "on" } else { "off" }.to_owned();
        let (doc, job) = (state.doc(), state.job());
        let garments = doc.into_iter().flat_map(|doc| &doc.garments).map(|g| g.name.clone()).collect::<Vec<_>>();
        let hidden = looking.hidden.iter().cloned().collect::<Vec<_>>();
        let stops = job.map(|job| format!("{:?}", job.press.stops));
        let edits = job.map(|job| job.edits.iter().map(|e| e.edit.in_words()).collect::<Vec<_>>().join("; "));
        let angle = |name: &ScreenName| job.map(|job| job.film.of_screen(name).1.to_string()).unwrap_or_default();
        let angles = state.screen_names().iter().map(angle).collect::<Vec<_>>().join(", ");
        let camera = looking.camera;
        BTreeMap::from([
            ("job", job.map(|job| job.info.title.clone()).unwrap_or_default()),
            ("view", looking.view.label().to_owned()),
            ("against", looking.against.map_or("nothing", View::label).to_owned()),
            ("chosen", looking.selected.clone().unwrap_or_default().to_string()),
            ("hidden", joined(&hidden)),
            ("order", joined(&state.screen_names())),
            ("stops", stops.unwrap_or_default()),
            ("edits", edits.unwrap_or_default()),
            ("separated for", job.map(|job| job.garment.name.clone()).unwrap_or_default()),
            ("looked at on", garments.get(looking.garment).cloned().unwrap_or_default()),
            ("garments", garments.join(", ")),
            ("zoom", format!("{:.2} points a mm", camera.points_per_mm)),
            ("folds", on(looking.fabric)),
            ("loupe", on(looking.loupe)),
            ("times", on(looking.times)),
            ("findings", on(looking.ahead.open)),
            ("finding shown", format!("{:?}", looking.ahead.shown)),
            ("theme", format!("{:?}", self.ctx.theme())),
            ("cropping", on(looking.art.cropping)),
            ("panel", format!("{:?}", looking.side)),
            ("tour", format!("{:?}", looking.tour)),
            ("sheet", looking.sheet.map_or("none".to_owned(), |sheet| format!("{sheet:?}"))),
            ("angles", angles),
            ("ink sets", format!("{}", state.derived.inks.latest().map_or(0, |offers| offers.sets.len()))),
            ("versions", doc.into_iter().flat_map(|d| d.versions.iter()).map(|v| v.name.clone()).collect()),
            ("said", looking.note.as_ref().map(|note| note.text.clone()).unwrap_or_default()),
        ])
    }

    /// Everything that can be done now by its words.
    pub fn commands_by_name(&self) -> Vec<(String, Command)> {
        views::everything(&self.state, &self.scratch)
    }

    /// Names and mean coverage of the screens, in print order.
    pub fn screens(&self) -> Vec<(ScreenName, f64)> {
        let Some(pyramid) = self.state.pyramid() else { return Vec::new() };
        let list = pyramid.levels[0].screens.list.iter();
        list.zip(&pyramid.tones).map(|(s, tones)| (s.name.clone(), tones.mean)).collect()
    }

    /// Art and screens that the table is drawn from, at proxy size.
    pub fn level(&self) -> Option<&Level> {
        self.state.current_proxy().map(|pyramid| &*pyramid.levels[0])
    }

    /// Mean and 95th percentile of how far the print lies from the one that was made, once they are known: the job as it
    /// stands, the same, updated.
    pub fn reorder_figures(&self) -> Option<[[f64; 2]; 3]> {
        let found = &self.state.reorder(&self.scratch)?.found;
        let figures = |state: &strikeoff_files::reorder::State| state.effect.as_ref().map(|e| [e.mean, e.p95]);
        Some([figures(&found.now)?, figures(&found.same)?, figures(&found.updated)?])
    }

    /// The print's size, width and height in mm.
    pub fn print_size_mm(&self) -> Option<[f64; 2]> {
        self.state.print_size_mm()
    }

    /// The job on the bench.
    pub fn job(&self) -> Option<&Job> {
        self.state.job()
    }

    /// Steps that can be undone, and redone.
    pub fn undo_depth(&self) -> (usize, usize) {
        self.state.session.table.as_ref().map_or((0, 0), |table| table.depth())
    }

    /// Whether a screen is left out of the proof.
    pub fn is_hidden(&self, name: &ScreenName) -> bool {
        self.scratch.hidden.contains(name)
    }

    /// The view on the table.
    pub fn view(&self) -> View {
        self.scratch.view
    }

    /// The second view right of the divider.
    pub fn against(&self) -> Option<View> {
        self.scratch.against
    }

    /// What was said last.
    pub fn note(&self) -> Option<&str> {
        self.scratch.note.as_ref().map(|n| n.text.as_str())
    }

    /// Why there is no proof, if there is none.
    pub fn problem(&self) -> Option<&str> {
        self.state.problem()
    }

    /// How often art was evaluated to screens so far.
    pub fn evaluations(&self) -> u64 {
        self.state.derived.proxy.requests()
    }

    /// What was found, in words.
    pub fn findings(&self) -> Vec<String> {
        self.state.outlook().iter().flat_map(|look| look.findings.iter().map(|f| f.what.clone())).collect()
    }

    /// Whether the job as it stands has been checked.
    pub fn findings_ready(&self) -> bool {
        self.state.outlook().is_some()
    }

    /// Whether orders and garments of the job as it stands have been compared.
    pub fn plans_ready(&self) -> bool {
        self.state.plans().is_some()
    }

    /// Whether the recovery folder has the job as it stands.
    pub fn is_kept(&self) -> bool {
        self.state.session.table.as_ref().is_none_or(|table| table.is_kept())
    }

    /// How many jobs a killed window left.
    pub fn recovered_jobs(&self) -> usize {
        self.state.session.found.len()
    }

    /// What is known of the artwork, once it is: its specks and its facts at print size.
    pub fn artwork_facts(&self) -> Option<(&PrintFacts, usize)> {
        let study = &self.state.derived.study;
        let study = study.latest().filter(|_| study.is_current())?;
        Some((&study.print, study.specks.len()))
    }

    /// A pixel of the prepared artwork, at fractions of the print.
    pub fn artwork_at(&self, x: f64, y: f64) -> Option<[u16; 4]> {
        let picture = &self.state.prepared()?.picture;
        let at = |part: f64, length: usize| ((part * length as f64) as usize).min(length - 1);
        Some(picture.pixels().get(at(x, picture.width()), at(y, picture.height())))
    }

    /// How the artwork is prepared.
    pub fn preparation(&self) -> Option<&PrepSettings> {
        self.state.job().map(|job| &job.prep)
    }

    /// A number for the picture on the table that changes with its pixels.
    pub fn pixels_shown(&self) -> u64 {
        self.state.derived.table.fingerprint()
    }
}
