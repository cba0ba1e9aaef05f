//! What each command does to the bench. The only place where the job changes.

use egui::{Theme, Vec2};
use strikeoff_core::ink::Garment;
use strikeoff_core::job::Job;
use strikeoff_core::press::Stop;
use strikeoff_core::tune::{Edit, EditEntry};

use strikeoff_files::profile::ShopProfile;

use crate::intake::Ask;
use crate::looking::Sheet;
use crate::workbench::Note;
use crate::{Command, Preferences, ThemeChoice, Workbench, tuning};

impl Workbench {
    /// Applies a command.
    pub(crate) fn apply(&mut self, command: Command) {
        let what = command.label();
        if let Some(log) = &mut self.log {
            log.command(&what);
        }
        if command.needs_job() && self.doc.is_none() {
            return self.tell("there is no job on the table yet; open a picture, a job or the demo first");
        }
        match command {
            Command::Undo => self.step(true),
            Command::Redo => self.step(false),
            Command::Look(view) => self.looking.view = view,
            Command::Compare(None) if self.looking.against.is_none() => self.say("nothing is being compared"),
            Command::Compare(view) => self.looking.against = view,
            Command::ToggleShown(name) => self.toggle_shown(name),
            Command::ToggleChosen => {
                if let Some(name) = self.looking.selected.clone() {
                    self.toggle_shown(name);
                }
            }
            Command::OnlyChosen => {
                if let Some(name) = self.looking.selected.clone() {
                    self.only_this(&name);
                }
            }
            Command::OnlyThis(name) => self.only_this(&name),
            Command::ShowAll if self.looking.hidden.is_empty() => self.say("every screen is shown already"),
            Command::ShowAll => self.looking.hidden.clear(),
            Command::Select(name) => self.looking.selected = name,
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
            Command::TrimBackground(name) => self.edit_job(&what, |job| {
                let (below, background) = tuning::trim(job, &name);
                tuning::set_trim(job, &name, below, !background);
            }),
            Command::Drop(screen) => self.edit_job(&what, |job| push(job, Edit::drop(screen))),
            Command::ReInk { screen, ink } => self.edit_job(&what, |job| push(job, Edit::re_ink(screen, ink))),
            Command::Merge { from, into } => {
                self.looking.selected = Some(into.clone());
                self.edit_job(&what, |job| push(job, Edit::merge(from, into)));
            }
            Command::SuggestInks => self.suggest_inks(),
            Command::UseInks(choice) => {
                self.edit_job(&what, |job| {
                    job.separation.screens = choice.screens();
                    job.edits.clear();
                    job.press.stops.retain(|name, _| choice.inks.iter().any(|ink| ink.name == *name));
                });
                self.looking.hidden.clear();
            }
            Command::LookOn(at) => self.looking.garment = at,
            Command::AddGarment(garment) => self.add_garment(garment),
            Command::AddGarmentColor(color) => self.add_garment(Garment::of_color(color)),
            Command::RemoveGarment(at) => self.remove_garment(at),
            Command::SeparateForThis => self.separate_for_this(),
            Command::Change { job, what, gesture } => self.change(*job, &what, gesture.as_deref()),
            Command::Crop(on) => self.art_desk.cropping = on,
            Command::ZoomIn => self.zoom(1.25),
            Command::ZoomOut => self.zoom(0.8),
            Command::ZoomFit => self.looking.camera.fit = true,
            Command::ZoomPrint | Command::ActualSize => self.looking.goal = Some(command),
            Command::ToggleFabric => self.looking.fabric = !self.looking.fabric,
            Command::ToggleLoupe => self.looking.loupe = !self.looking.loupe,
            Command::ToggleTimes => self.looking.times = !self.looking.times,
            Command::ToggleFindings => self.foresight.open = !self.foresight.open,
            Command::ShowFinding(at) => self.show_finding(at),
            Command::ToggleTheme => {
                let dark = self.ctx.theme() == Theme::Dark;
                let theme = if dark { ThemeChoice::Light } else { ThemeChoice::Dark };
                self.prefer(Preferences { theme, ..self.preferences.clone() });
            }
            Command::Prefer(preferences) => self.prefer(*preferences),
            Command::ChangeShop(profile) => self.change_shop(*profile),
            Command::ExportShop(path) => match self.profile.export(&path) {
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
                self.looking.tour = at;
                self.looking.sheet = None;
                if at.is_none() {
                    self.prefer(Preferences { tour_seen: true, ..self.preferences.clone() });
                }
            }
            Command::Cancel => self.cancel(),
            Command::Panel(side) => self.looking.side = side,
            Command::Sheet(sheet) => {
                if sheet == Some(Sheet::Inks) && self.offers.is_empty() {
                    self.suggest_inks();
                }
                // What was typed for another search is not looked for again.
                self.looking.finding = Default::default();
                self.looking.sheet = sheet;
            }
            Command::OpenDemo => match self.demo.clone() {
                Some(demo) => self.put(*demo),
                None => self.tell("the demo job is not there; open a picture instead"),
            },
            Command::Save => match self.doc.as_ref().map(|d| d.path.clone()) {
                Some(Some(path)) => self.save_to(path),
                Some(None) => self.looking.sheet = Some(Sheet::Save),
                None => {}
            },
            Command::SaveTo(path) => self.save_to(path),
            Command::KeepVersion { name, note } => self.keep_version(name, note),
            Command::GoToVersion(name) => self.go_to_version(&name, &what),
            Command::DropVersion(name) => self.drop_version(&name),
            Command::OpenRecovered(at) => self.open_recovered(at),
            Command::DiscardRecovered(at) => self.discard_recovered(at),
            Command::ImportGrey(path) => self.read_grey(path),
            Command::ChooseGrey => self.ask_user(Ask::Grey),
            Command::MakeFilms(folder) => self.make_films(folder),
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

    /// Takes away what was said last.
    pub fn dismiss(&mut self) {
        self.note = None;
    }

    /// Tells the user that something is done.
    pub(crate) fn say(&mut self, text: impl Into<String>) {
        self.write_note(text.into(), false);
    }

    fn write_note(&mut self, text: String, failed: bool) {
        let text = strikeoff_core::names::one_line(&text);
        if let Some(log) = &mut self.log {
            log.said(&text, failed);
        }
        self.note = Some(Note { text, failed });
    }

    /// Takes on preferences and has them kept.
    pub(crate) fn prefer(&mut self, preferences: Preferences) {
        preferences.apply(&self.ctx);
        self.preferences = preferences;
        let kept = self.keep_preferences.as_mut().map(|keep| keep(&self.preferences));
        if let Some(Err(text)) = kept {
            self.tell(text);
        }
    }

    /// Takes on a shop profile and has it kept.
    fn change_shop(&mut self, profile: ShopProfile) {
        let kept = self.keep_shop.as_mut().map(|keep| keep(&profile));
        self.use_profile(profile);
        if let Some(Err(text)) = kept {
            self.tell(text);
        }
    }

    /// Puts a file first among the recent ones.
    pub(crate) fn remember_file(&mut self, path: &std::path::Path) {
        let mut preferences = self.preferences.clone();
        preferences.remember(path);
        if preferences != self.preferences {
            self.prefer(preferences);
        }
    }

    /// The screens' names in print order, as far as they are known.
    pub(crate) fn screen_names(&self) -> Vec<String> {
        match &self.proxy {
            Some(proxy) => proxy.pyramid.levels[0].screens.list.iter().map(|s| s.name.clone()).collect(),
            None => Vec::new(),
        }
    }

    /// Changes the job as one undo step.
    pub(crate) fn edit_job(&mut self, what: &str, edit: impl FnOnce(&mut Job)) {
        let Some(doc) = &self.doc else { return };
        let mut job = doc.job.clone();
        edit(&mut job);
        self.change(job, what, None);
    }

    pub(crate) fn change(&mut self, job: Job, what: &str, gesture: Option<&str>) {
        let (Some(doc), Some(history)) = (&mut self.doc, &mut self.history) else { return };
        match gesture {
            Some(_) => history.drag(what, job),
            None => history.apply(what, job),
        }
        if doc.job != *history.present() {
            doc.job.clone_from(history.present());
            self.changed();
        }
    }

    fn step(&mut self, back: bool) {
        let (Some(doc), Some(history)) = (&mut self.doc, &mut self.history) else { return };
        let done = if back { history.undo() } else { history.redo() };
        let Some(what) = done else {
            return self.say(if back { "there is nothing to undo" } else { "there is nothing to do again" });
        };
        doc.job.clone_from(history.present());
        let verb = if back { "Undone" } else { "Done again" };
        let at = doc.add_garment(doc.job.garment.clone());
        self.looking.garment = at;
        self.say(format!("{verb}: {what}"));
        self.changed();
    }

    fn separate_for_this(&mut self) {
        let Some(doc) = &self.doc else { return };
        let Some(garment) = doc.garments.get(self.looking.garment).cloned() else { return };
        if garment == doc.job.garment {
            return self.say(format!("the screens are those for {} already", garment.name));
        }
        self.edit_job(&format!("Separate for {}", garment.name), |job| job.garment = garment);
    }

    fn toggle_shown(&mut self, name: String) {
        if !self.looking.hidden.remove(&name) {
            self.looking.hidden.insert(name);
        }
    }

    fn only_this(&mut self, name: &str) {
        let others: std::collections::BTreeSet<_> = self.screen_names().into_iter().filter(|n| n != name).collect();
        if self.looking.hidden == others { self.looking.hidden.clear() } else { self.looking.hidden = others }
    }

    fn select_step(&mut self, by: i32) {
        let names = self.screen_names();
        if names.is_empty() {
            return;
        }
        let at = self.looking.selected.as_ref().and_then(|n| names.iter().position(|m| m == n));
        let next = at.map_or(0, |at| (at as i32 + by).rem_euclid(names.len() as i32) as usize);
        self.looking.selected = Some(names[next].clone());
    }

    /// Moves the chosen screen so many places.
    fn move_step(&mut self, by: i32) {
        let names = self.screen_names();
        let Some(name) = self.looking.selected.clone() else { return };
        let Some(at) = names.iter().position(|n| *n == name) else { return };
        let to = (at as i32 + by).clamp(0, names.len() as i32 - 1) as usize;
        if to == at {
            let end = if by < 0 { "first" } else { "last" };
            return self.say(format!("{name} prints {end} already"));
        }
        self.move_screen(&name, to, &format!("Move {name}"));
    }

    /// Moves a screen. A job ends in at most one order: a second move replaces the first.
    fn move_screen(&mut self, screen: &str, to: usize, what: &str) {
        let mut names = self.screen_names();
        let Some(from) = names.iter().position(|n| n == screen) else { return };
        let name = names.remove(from);
        names.insert(to.min(names.len()), name);
        if from == to.min(names.len() - 1) {
            return;
        }
        self.edit_job(what, |job| {
            if matches!(job.edits.last(), Some(EditEntry { on: true, edit: Edit::Order { .. } })) {
                job.edits.pop();
            }
            push(job, Edit::Order { screens: names });
        });
    }

    fn add_garment(&mut self, garment: Garment) {
        if let Some(doc) = &mut self.doc {
            self.looking.garment = doc.add_garment(garment);
        }
    }

    fn remove_garment(&mut self, at: usize) {
        let Some(doc) = &mut self.doc else { return };
        if doc.garments.get(at) == Some(&doc.job.garment) {
            return self.tell("the job is separated for this garment; separate for another one first");
        }
        if at < doc.garments.len() {
            doc.garments.remove(at);
            let last = doc.garments.len() - 1;
            let now = self.looking.garment;
            self.looking.garment = if now > at { now - 1 } else { now }.min(last);
        }
    }

    fn zoom(&mut self, factor: f32) {
        let camera = &mut self.looking.camera;
        let canvas = egui::Rect::from_center_size(egui::Pos2::ZERO, Vec2::splat(100.0));
        camera.zoom_at(canvas, egui::Pos2::ZERO, factor);
    }
}

pub(crate) fn push(job: &mut Job, edit: Edit) {
    job.edits.push(EditEntry::on(edit));
}
