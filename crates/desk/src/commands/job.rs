//! Changes of the job: every one of them is a step that undo takes back.

use strikeoff_core::ink::Garment;
use strikeoff_core::job::{Act, Job};
use strikeoff_core::moire::AngleSet;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::tune::{Edit, EditEntry, GreyPicture, edits};

use crate::Workbench;
use crate::derived::Asked;
use crate::session::FindAngles;
use crate::view_state::Side;

impl Workbench {
    /// Changes the job as one undo step.
    pub(super) fn edit_job(&mut self, what: &str, edit: impl FnOnce(&mut Job)) {
        let Some(mut job) = self.state.job().cloned() else { return };
        edit(&mut job);
        self.change(job, what, false);
    }

    /// Does an act whose cost was shown, and says which edits it switches off.
    pub(super) fn do_act(&mut self, act: &Act) {
        let Some(job) = self.state.job().cloned() else { return };
        let off = act.switches_off(&job);
        match act {
            Act::Merge { into, .. } | Act::Mix { into, .. } => self.scratch.selected = Some(into.clone()),
            Act::Inks { .. } => self.scratch.hidden.clear(),
            Act::Drop { .. } | Act::ReInk { .. } => {}
        }
        self.change(act.done(&job), &act.words(), false);
        match off.as_slice() {
            [] => {}
            [one] => self.say(format!("{}; this edit has no screen now and is switched off: {one}", act.words())),
            many => {
                let edits = many.join("; ");
                self.say(format!("{}; {} edits are switched off: {edits}", act.words(), many.len()));
            }
        }
    }

    pub(super) fn change(&mut self, job: Job, what: &str, drag: bool) {
        if let Some(table) = &mut self.state.session.table {
            table.change(job, what, drag);
        }
    }

    pub(super) fn step(&mut self, back: bool) {
        let Some(table) = &mut self.state.session.table else { return };
        let Some(what) = table.step(back) else {
            return self.say(if back { "there is nothing to undo" } else { "there is nothing to do again" });
        };
        let verb = if back { "Undone" } else { "Redone" };
        self.scratch.garment = table.add_garment(table.doc().job.garment.clone());
        self.say(format!("{verb}: {what}"));
    }

    pub(super) fn separate_for_this(&mut self) {
        let Some(doc) = self.state.doc() else { return };
        let Some(garment) = doc.garments.get(self.scratch.garment).cloned() else { return };
        if doc.job.garments().any(|own| *own == garment) {
            return self.say(format!("the screens are those for {} already", garment.name));
        }
        self.edit_job(&format!("Separate for {}", garment.name), |job| job.garment = garment);
    }

    /// Lets the job's films print on a garment of the row too: its screens are then solved for all of them together.
    pub(super) fn print_on_too(&mut self, at: usize) {
        let Some(doc) = self.state.doc() else { return };
        let Some(garment) = doc.garments.get(at).cloned() else { return };
        let (mut job, name) = (doc.job.clone(), garment.name.clone());
        if job.also_on.is_empty() && job.leaves_out.is_empty() {
            job.leaves_out = job.usually_left_out(&job.garment);
        }
        match job.add_garment(garment) {
            Ok(()) => self.change(job, &format!("Print on {name} too"), false),
            Err(why) => self.tell(why),
        }
    }

    /// Makes a garment that the job prints on its first.
    pub(super) fn make_first(&mut self, at: usize) {
        let Some(doc) = self.state.doc() else { return };
        let Some(garment) = doc.garments.get(at).cloned() else { return };
        let place = doc.job.garments().position(|own| *own == garment);
        match place {
            None => self.say(format!("the job does not print on {}", garment.name)),
            Some(0) => self.say(format!("findings and sheets are those for {} already", garment.name)),
            Some(place) => {
                self.edit_job(&format!("Findings and sheets for {}", garment.name), |job| job.make_first(place));
            }
        }
    }

    /// Takes a garment of the row out of those that the job's films print on.
    pub(super) fn print_no_more_on(&mut self, at: usize) {
        let Some(doc) = self.state.doc() else { return };
        let Some(garment) = doc.garments.get(at).cloned() else { return };
        let mut job = doc.job.clone();
        let Some(place) = job.garments().position(|own| *own == garment) else {
            return self.say(format!("the job does not print on {}", garment.name));
        };
        match job.remove_garment(place) {
            Ok(()) => self.change(job, &format!("Print no more on {}", garment.name), false),
            Err(why) => self.tell(why),
        }
    }

    /// Moves the chosen screen so many places.
    pub(super) fn move_step(&mut self, by: i32) {
        let names = self.state.screen_names();
        let Some(name) = self.scratch.selected.clone() else { return };
        let Some(at) = names.iter().position(|n| *n == name) else { return };
        let to = (at as i32 + by).clamp(0, names.len() as i32 - 1) as usize;
        if to == at {
            let end = if by < 0 { "first" } else { "last" };
            return self.say(format!("{name} prints {end} already"));
        }
        self.move_screen(&name, to, &format!("Move {name}"));
    }

    /// Moves a screen. A job ends in at most one order: a second move replaces the first.
    pub(super) fn move_screen(&mut self, screen: &ScreenName, to: usize, what: &str) {
        let mut names = self.state.screen_names();
        let Some(from) = names.iter().position(|n| n == screen) else { return };
        let name = names.remove(from);
        names.insert(to.min(names.len()), name);
        if from == to.min(names.len() - 1) {
            return;
        }
        self.edit_job(what, |job| {
            if matches!(job.edits.last(), Some(EditEntry { on: true, edit: Edit::Order(_) })) {
                job.edits.pop();
            }
            push(job, Edit::Order(edits::Order { screens: names }));
        });
    }

    pub(super) fn add_garment(&mut self, garment: Garment) {
        if let Some(table) = &mut self.state.session.table {
            self.scratch.garment = table.add_garment(garment);
        }
    }

    pub(super) fn remove_garment(&mut self, at: usize) {
        let Some(table) = &mut self.state.session.table else { return };
        let doc = table.doc();
        if doc.garments.get(at).is_some_and(|garment| doc.job.garments().any(|own| own == garment)) {
            return self
                .tell("the job is separated for this garment; separate for another one first, or print no more on it");
        }
        if at < doc.garments.len() {
            table.look_on(|garments| garments.remove(at));
            let last = table.doc().garments.len() - 1;
            let now = self.scratch.garment;
            self.scratch.garment = if now > at { now - 1 } else { now }.min(last);
        }
    }

    /// A screen from a grey picture, in the chosen screen's ink until it is given its own.
    pub(super) fn add_grey(&mut self, picture: GreyPicture) {
        let taken = self.state.screen_names();
        let stem = picture.file.rsplit_once('.').map_or(picture.file.as_str(), |(stem, _)| stem).to_owned();
        let name = free_name(&stem, &taken);
        let Some(ink) = self.state.chosen_ink(&self.scratch) else {
            return self.tell("choose a screen first; the grey picture takes its ink until it is given another");
        };
        let light = self.scratch.grey_light;
        let what = format!("Screen {name} from {}", picture.file);
        self.scratch.selected = Some(name.clone());
        self.scratch.side = Side::Edits;
        self.scratch.open_edit = self.state.job().map(|job| job.edits.len());
        self.edit_job(&what, |job| {
            push(job, Edit::Import(edits::Import { name: name.into(), ink, picture, print_light_tones: light }))
        });
    }

    /// Has angles for all screens worked out.
    pub(super) fn find_angles(&mut self, set: AngleSet) {
        let (Some(job), Some(pyramid)) = (self.state.job(), self.state.pyramid()) else {
            return self.tell("the screens are being made; choose angles again in a moment");
        };
        let screens = pyramid.levels[0].screens.clone();
        self.state.errands.angles.request(FindAngles { set, job: Box::new(job.clone()), screens });
    }

    /// Asks for ink sets.
    pub(super) fn suggest_inks(&mut self) {
        let Some(table) = &self.state.session.table else { return };
        let session = &self.state.session;
        let on = Asked { table, scratch: &self.scratch, shop: &session.shop, profile: &session.machine.profile };
        self.state.derived.suggest_inks(&on);
    }
}

/// Adds an edit at the end of the list.
pub(super) fn push(job: &mut Job, edit: Edit) {
    job.edits.push(EditEntry::on(edit));
}

/// A name that no screen has yet.
pub fn free_name(wish: &str, taken: &[ScreenName]) -> ScreenName {
    let wish = if wish.trim().is_empty() { "Screen" } else { wish.trim() };
    let more = (2..).map(|i| ScreenName::from(format!("{wish} {i}")));
    std::iter::once(wish.into()).chain(more).find(|name| !taken.contains(name)).unwrap_or_default()
}
