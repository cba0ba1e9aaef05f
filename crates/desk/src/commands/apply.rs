//! What each command does to the bench. The only place where the job changes.

use std::time::{Duration, Instant};

use egui::Theme;
use strikeoff_core::ink::Garment;
use strikeoff_core::press::Stop;
use strikeoff_core::tune::Edit;
use strikeoff_files::profile::ShopProfile;

use super::job::push;
use super::tuning;
use crate::render::View;
use crate::session::{Ask, Preferences, Shop, ThemeChoice};
use crate::state::NO_BACKGROUND;
use crate::view_state::{Note, Sheet, Zoom};
use crate::{Command, Workbench};

/// A step of the zoom: a fifth.
const ZOOM_STEP: f32 = 1.2;

impl Workbench {
    /// Applies a command.
    pub(crate) fn apply(&mut self, command: Command) {
        let what = command.label();
        if let Some(log) = &mut self.telemetry.log {
            log.command(&what);
        }
        if command.needs_job() && self.state.doc().is_none() {
            return self.tell("there is no job on the table yet; open a picture, a job or the demo first");
        }
        match command {
            Command::Undo => self.step(true),
            Command::Redo => self.step(false),
            Command::Look(View::Sure) | Command::Compare(Some(View::Sure)) if !self.has_bands() => self.tell(
                "how sure the colours are is not known: the job has no fingerprint of its inks; take one under \"What will \
                 happen on press\"",
            ),
            Command::Look(view) => self.scratch.view = view,
            Command::Compare(None) if self.scratch.against.is_none() => self.say("nothing is being compared"),
            Command::Compare(view) => self.scratch.against = view,
            Command::ToggleShown(name) => self.toggle_shown(name),
            Command::ToggleChosen => {
                if let Some(name) = self.scratch.selected.clone() {
                    self.toggle_shown(name);
                }
            }
            Command::OnlyChosen => {
                if let Some(name) = self.scratch.selected.clone() {
                    self.only_this(&name);
                }
            }
            Command::OnlyThis(name) => self.only_this(&name),
            Command::ShowAll if self.scratch.hidden.is_empty() => self.say("every screen is shown already"),
            Command::ShowAll => self.scratch.hidden.clear(),
            Command::Select(name) => self.scratch.selected = name,
            Command::SelectStep(by) => self.select_step(by),
            Command::Move { screen, to } => self.move_screen(&screen, to, &what),
            Command::MoveStep(by) => self.move_step(by),
            Command::CycleStop(name) => self.edit_job(&what, |job| {
                match job.press.stops.get(&name) {
                    None => job.press.stops.insert(name, Stop::Flash),
                    Some(Stop::Flash) => job.press.stops.insert(name, Stop::FlashAndCoolDown),
                    Some(Stop::FlashAndCoolDown) => job.press.stops.remove(&name),
                };
            }),
            Command::TrimBackground(name)
                if self.state.has_background() == Some(false)
                    && self.state.job().is_some_and(|job| !tuning::trim(job, &name).1) =>
            {
                self.tell(NO_BACKGROUND);
            }
            Command::TrimBackground(name) => self.edit_job(&what, |job| {
                let (below, background) = tuning::trim(job, &name);
                tuning::set_trim(job, &name, below, !background);
            }),
            Command::Drop(screen) => self.edit_job(&what, |job| push(job, Edit::drop(screen))),
            Command::ReInk { screen, ink } => self.edit_job(&what, |job| push(job, Edit::re_ink(screen, ink))),
            Command::Merge { from, into } => {
                self.scratch.selected = Some(into.clone());
                self.edit_job(&what, |job| push(job, Edit::merge(from, into)));
            }
            Command::SuggestInks => self.suggest_inks(),
            Command::Do(act) => self.do_act(&act),
            Command::LookOn(at) => self.scratch.garment = at,
            Command::AddGarment(garment) => self.add_garment(garment),
            Command::AddGarmentColor(color) => self.add_garment(Garment::of_color(color)),
            Command::RemoveGarment(at) => self.remove_garment(at),
            Command::PrintOnToo(at) => self.print_on_too(at),
            Command::MakeFirst(at) => self.make_first(at),
            Command::PrintNoMoreOn(at) => self.print_no_more_on(at),
            Command::SeparateForThis => self.separate_for_this(),
            Command::Change { job, what, drag } => self.change(*job, &what, drag),
            Command::SetAngles(set) => self.find_angles(set),
            Command::Crop(on) => self.scratch.art.cropping = on,
            Command::ZoomIn => self.zoom(ZOOM_STEP),
            Command::ZoomOut => self.zoom(1.0 / ZOOM_STEP),
            Command::ZoomFit => self.scratch.camera.fit = true,
            Command::ZoomPrint => self.scratch.goal = Some(Zoom::Print),
            Command::ActualSize => self.scratch.goal = Some(Zoom::ActualSize),
            Command::ToggleFabric => self.scratch.fabric = !self.scratch.fabric,
            Command::ToggleLoupe => self.scratch.loupe = !self.scratch.loupe,
            Command::ToggleTimes => self.scratch.times = !self.scratch.times,
            Command::ToggleFindings => self.scratch.ahead.open = !self.scratch.ahead.open,
            Command::ShowFinding(at) => self.show_finding(at),
            Command::ToggleTheme => {
                let dark = self.ctx.theme() == Theme::Dark;
                let theme = if dark { ThemeChoice::Light } else { ThemeChoice::Dark };
                self.prefer(Preferences { theme, ..self.preferences() });
            }
            Command::Prefer(preferences) => self.prefer(*preferences),
            Command::ChangeShop(profile) => self.change_shop(*profile),
            Command::MeasureInk { at, path } => self.measure_ink(at, &path),
            Command::ReadPress { print, name } => self.read_press(print, name),
            Command::ExportShop(path) => match self.state.session.machine.profile.export(&path) {
                Ok(()) => self.say(format!("The shop profile is in {}", path.display())),
                Err(error) => self.tell(error.to_string()),
            },
            Command::ImportShop(path) => match ShopProfile::import(&path) {
                Ok(profile) => {
                    self.change_shop(profile);
                    self.say("The shop profile was taken over; new jobs begin with it");
                }
                Err(error) => self.tell(error.to_string()),
            },
            Command::Tour(at) => {
                self.scratch.tour = at;
                self.scratch.sheet = None;
                if at.is_none() {
                    self.prefer(Preferences { tour_seen: true, ..self.preferences() });
                }
            }
            Command::Cancel => self.cancel(),
            Command::Panel(side) => self.scratch.side = side,
            Command::Sheet(sheet) => {
                if sheet == Some(Sheet::Inks) && self.state.offers(&self.scratch).is_none() {
                    self.suggest_inks();
                }
                // What was typed for another search is not looked for again.
                self.scratch.palette = Default::default();
                self.scratch.fault = None;
                self.scratch.sheet = sheet;
            }
            Command::OpenDemo => match self.state.session.demo.clone() {
                Some(demo) => self.put(*demo),
                None => self.tell("the demo job is not there; open a picture instead"),
            },
            Command::Save => match self.state.doc().map(|d| d.path.clone()) {
                Some(Some(path)) => self.save_to(path),
                Some(None) => self.scratch.sheet = Some(Sheet::Save),
                None => {}
            },
            Command::SaveTo(path) => self.save_to(path),
            Command::KeepVersion { name, note } => self.keep_version(name, note),
            Command::KeepRun(run) => {
                self.scratch.fault = None;
                self.keep_run(run);
            }
            Command::PrintAgain(what) => self.print_again(what),
            Command::GoToVersion(name) => self.go_to_version(&name, &what),
            Command::DropVersion(name) => self.drop_version(&name),
            Command::OpenRecovered(at) => self.open_recovered(at),
            Command::DiscardRecovered(at) => self.discard_recovered(at),
            Command::ImportGrey(path) => self.read_grey(path),
            Command::ChooseGrey => self.ask_user(Ask::Grey),
            Command::MakeFilms(folder) => {
                self.scratch.fault = None;
                self.make_films(folder);
            }
            Command::MakeSheet(kind, path) => {
                self.scratch.fault = None;
                self.make_sheet(kind, path);
            }
            Command::ChooseSheet(kind) => self.ask_user(Ask::Sheet(kind)),
            Command::ChooseFolder => self.ask_user(Ask::Folder),
            Command::ChooseSave => self.ask_user(Ask::Save),
            Command::Open => self.ask_user(Ask::File),
            Command::OpenPath(path) => self.open_file(path),
        }
    }

    /// Tells the user that something did not work.
    pub fn tell(&mut self, text: impl Into<String>) {
        self.write_note(text.into(), true);
    }

    /// Whether the job's fingerprint says how sure its colours are.
    fn has_bands(&self) -> bool {
        self.state.job().is_some_and(|job| job.run.fingerprint.is_some())
            && self.state.sure().is_none_or(|sure| sure.map.is_some())
    }

    /// Takes away what was said last.
    pub fn dismiss(&mut self) {
        self.scratch.note = None;
    }

    /// Tells the user that something is done.
    pub(crate) fn say(&mut self, text: impl Into<String>) {
        self.write_note(text.into(), false);
    }

    fn write_note(&mut self, text: String, failed: bool) {
        let text = strikeoff_core::names::one_line(&text);
        if let Some(log) = &mut self.telemetry.log {
            log.said(&text, failed);
        }
        let until = (!failed).then(|| Instant::now() + reading_time(&text));
        if let Some(until) = until {
            self.ctx.request_repaint_after(until.saturating_duration_since(Instant::now()));
        }
        self.scratch.note = Some(Note { text, failed, until });
    }

    fn preferences(&self) -> Preferences {
        self.state.session.machine.preferences().clone()
    }

    /// Takes on preferences and has them kept.
    fn prefer(&mut self, preferences: Preferences) {
        preferences.apply(&self.ctx);
        if let Err(text) = self.state.session.machine.prefer(preferences) {
            self.tell(text);
        }
    }

    /// Takes on a shop profile and has it kept.
    pub(super) fn change_shop(&mut self, profile: ShopProfile) {
        let before = &self.state.session.machine.profile;
        if (&before.shelf, &before.garments) != (&profile.shelf, &profile.garments) {
            let garments = profile.garments_at_hand().to_vec();
            self.state.session.shop = std::sync::Arc::new(Shop { shelf: profile.shelf.clone(), garments });
        }
        if let Err(text) = self.state.session.machine.change_shop(profile) {
            self.tell(text);
        }
    }
}

/// How long what was done is said: time to look there and to read it. What failed stays until it is dismissed.
fn reading_time(text: &str) -> Duration {
    Duration::from_millis(4000 + 60 * text.chars().count() as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_longer_line_stays_longer() {
        assert!(reading_time("Saved") < Duration::from_secs(5));
        assert!(reading_time(&"a line of some length ".repeat(5)) > Duration::from_secs(10));
    }
}
