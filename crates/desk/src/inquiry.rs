//! What tests and the smoke run ask the bench about: what is on it and on the screen, in plain values.

use std::collections::BTreeMap;

use strikeoff_core::job::Job;

use crate::Workbench;
use crate::lanes::Evaluated;

/// What tests and the smoke run ask the bench about.
impl Workbench {
    /// Whether everything asked for is on the screen: for tests and the smoke run.
    pub fn is_settled(&self) -> bool {
        let current = |e: &Option<Evaluated>| e.as_ref().is_some_and(|e| e.stamp == self.stamp);
        self.commands.is_empty()
            && (self.doc.is_none() || self.problem.is_some() || (current(&self.proxy) && self.panes[0].is_current()))
    }

    /// How the job stands and is looked at, a word each: what a command changes shows in one of them.
    pub fn standing(&self) -> BTreeMap<&'static str, String> {
        let looking = &self.looking;
        let on = |on: bool| if on { "on" } else { "off" }.to_owned();
        let job = self.doc.as_ref().map(|doc| &doc.job);
        let garments = self.doc.iter().flat_map(|doc| &doc.garments).map(|g| g.name.clone()).collect::<Vec<_>>();
        let hidden = looking.hidden.iter().cloned().collect::<Vec<_>>();
        let stops = job.map(|job| format!("{:?}", job.press.stops));
        let edits = job.map(|job| job.edits.iter().map(|e| e.edit.in_words()).collect::<Vec<_>>().join("; "));
        let camera = looking.camera;
        BTreeMap::from([
            ("job", self.doc.as_ref().map(|doc| doc.job.info.title.clone()).unwrap_or_default()),
            ("view", looking.view.label().to_owned()),
            ("against", looking.against.map_or("nothing", crate::View::label).to_owned()),
            ("chosen", looking.selected.clone().unwrap_or_default()),
            ("hidden", hidden.join(", ")),
            ("order", self.screen_names().join(", ")),
            ("stops", stops.unwrap_or_default()),
            ("edits", edits.unwrap_or_default()),
            ("separated for", job.map(|job| job.garment.name.clone()).unwrap_or_default()),
            ("looked at on", garments.get(looking.garment).cloned().unwrap_or_default()),
            ("garments", garments.join(", ")),
            ("zoom", format!("{:.2} points a mm", camera.points_per_mm)),
            ("folds", on(looking.fabric)),
            ("loupe", on(looking.loupe)),
            ("times", on(looking.times)),
            ("findings", on(self.foresight.open)),
            ("finding shown", format!("{:?}", self.foresight.shown.as_ref().map(|(at, _)| at))),
            ("theme", format!("{:?}", self.ctx.theme())),
            ("cropping", on(self.art_desk.cropping)),
            ("panel", format!("{:?}", looking.side)),
            ("tour", format!("{:?}", looking.tour)),
            ("sheet", looking.sheet.map_or("none".to_owned(), |sheet| format!("{sheet:?}"))),
            ("ink sets", format!("{}", self.offers.len())),
            ("versions", self.doc.iter().flat_map(|d| &d.versions).map(|v| v.name.clone()).collect()),
            ("said", self.note.as_ref().map(|note| note.text.clone()).unwrap_or_default()),
        ])
    }

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
