//! The runs of the job: what was written down of each, and the fields for the next.

use egui::{DragValue, Grid, RichText, ScrollArea, TextEdit, Ui, vec2};
use strikeoff_core::bounds::table;
use strikeoff_core::job::{RunRecord, ScreenRun, refills_of};

use super::make::{fault_ui, writing_ui};
use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{main_button, plain_button, quiet, row, strong, text_button};
use crate::view_state::{RunDraft, Scratch, Sheet};

/// Draws the sheet.
pub fn run_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(640.0);
    ui.label(RichText::new("Runs").heading());
    ui.label(quiet("After the run: what was printed, and what was changed. The job is kept as it was printed.", p));
    let Some(doc) = state.doc() else { return };
    let height = (ui.ctx().content_rect().height() - 210.0).max(160.0);
    ScrollArea::vertical().max_height(height).min_scrolled_height(height.min(520.0)).show(ui, |ui| {
        for (at, run) in doc.job.info.runs.iter().enumerate().rev() {
            ui.horizontal_wrapped(|ui| {
                ui.label(run.line());
                if text_button(ui, "delete", &format!("Delete the run of {}", run.date.words()), false).clicked() {
                    let mut job = doc.job.clone();
                    job.info.runs.remove(at);
                    commands.push(Command::change(job, format!("Delete the run of {}", run.date.words())));
                }
            });
        }
        ui.add_space(8.0);
        ui.label(strong("A run", p));
        draft_ui(ui, state, &mut scratch.run);
    });
    ui.add_space(6.0);
    let read = scratch.run.read();
    if let Some(why) = read.as_ref().err().filter(|_| !scratch.run.is_empty()) {
        ui.label(RichText::new(why).color(p.stop));
    }
    fault_ui(ui, scratch);
    let writing = writing_ui(ui, state);
    ui.horizontal(|ui| {
        let ready = read.is_ok() && !writing && state.problem().is_none();
        if main_button(ui, "Write the run down", ready).clicked()
            && let Ok(run) = read
        {
            commands.push(Command::KeepRun(Box::new(run)));
        }
        if plain_button(ui, "Reorder").on_hover_text("What has changed since it was printed").clicked() {
            commands.push(Command::Sheet(Some(Sheet::Reorder)));
        }
        if plain_button(ui, "Close").clicked() {
            commands.push(Command::Sheet(None));
        }
    });
}

fn draft_ui(ui: &mut Ui, state: &State, draft: &mut RunDraft) {
    let p = palette(ui.ctx());
    if draft.date.is_empty() {
        draft.date = strikeoff_files::today();
    }
    text(ui, "Day", "such as 2026-12-04", &mut draft.date, 120.0);
    for (name, value) in [
        ("Good shirts", &mut draft.shirts),
        ("Test shirts", &mut draft.test_shirts),
        ("Misprints", &mut draft.misprints),
    ] {
        row(ui, name, |ui| {
            let field = DragValue::new(value).range(0..=table::QUANTITY.max as u32);
            ui.name_inputs(name, |ui| ui.add(field.update_while_editing(false)))
        });
    }
    let names = state.screen_names();
    draft.screens.retain(|screen| names.contains(&screen.screen));
    for name in &names {
        if !draft.screens.iter().any(|screen| screen.screen == *name) {
            draft.screens.push(crate::view_state::InkDraft::of(name));
        }
    }
    Grid::new("ink of the run").num_columns(4).spacing([12.0, 4.0]).show(ui, |ui| {
        for head in ["Ink, weighed", "g in", "g out", "Refilled after shirts"] {
            ui.label(quiet(head, p));
        }
        ui.end_row();
        for screen in &mut draft.screens {
            ui.label(screen.screen.as_str());
            for (what, value, hint, wide) in [
                ("in", &mut screen.in_g, "", 60.0),
                ("out", &mut screen.out_g, "", 60.0),
                ("refills", &mut screen.refills, "such as 140 280", 140.0),
            ] {
                let name = format!("{} {what}", screen.screen);
                // A column is as wide as its cells, so a cell must not ask how wide the column is.
                let field = TextEdit::singleline(value).hint_text(hint);
                ui.add_sized(vec2(wide, 22.0), field).accessible_name(name);
            }
            ui.end_row();
        }
    });
    ui.add_space(4.0);
    ui.label(strong("Changed on press", p));
    let changed = &mut draft.changed;
    for (name, hint, value) in [
        ("Order", "such as: white after red", &mut changed.order),
        ("Mesh", "such as: red on 156", &mut changed.mesh),
        ("Gain", "such as: shadows closed up", &mut changed.gain),
        ("Ink", "such as: 5 % reducer in the white", &mut changed.ink),
        ("Squeegee", "such as: softer edge, two strokes", &mut changed.squeegee),
        ("For the next run", "whatever else should be known", &mut draft.note),
    ] {
        text(ui, name, hint, value, 380.0);
    }
}

fn text(ui: &mut Ui, name: &str, hint: &str, value: &mut String, wide: f32) {
    row(ui, name, |ui| ui.add(TextEdit::singleline(value).hint_text(hint).desired_width(wide)).accessible_name(name));
}

impl RunDraft {
    /// The run as typed; an error is one sentence.
    pub fn read(&self) -> Result<RunRecord, String> {
        let said = |error: &dyn std::fmt::Display| error.to_string();
        let date = self.date.parse().map_err(|e| said(&e))?;
        let mut run = RunRecord::new(date, self.shirts);
        (run.test_shirts, run.misprints) = (self.test_shirts, self.misprints);
        (run.changed, run.note) = (self.changed.clone(), self.note.trim().to_owned());
        for typed in &self.screens {
            let grams = |text: &str, what: &str| match text.trim() {
                "" => Ok(None),
                text => ScreenRun::read(&format!("{}: {text} {what}", typed.screen)).map(Some).map_err(|e| said(&e)),
            };
            let screen = ScreenRun {
                screen: typed.screen.clone(),
                in_g: grams(&typed.in_g, "in")?.and_then(|run| run.in_g),
                out_g: grams(&typed.out_g, "out")?.and_then(|run| run.out_g),
                refills: refills_of(&typed.refills).map_err(|e| said(&e))?,
            };
            if !screen.is_empty() {
                run.screens.push(screen);
            }
        }
        let changed = &run.changed;
        let texts = [&changed.order, &changed.mesh, &changed.gain, &changed.ink, &changed.squeegee];
        let fault = texts.into_iter().find_map(|text| table::ON_PRESS.fault(text));
        if let Some(fault) = fault.or_else(|| table::NOTE.fault(&run.note)) {
            return Err(fault);
        }
        run.agrees()?;
        Ok(run)
    }

    fn is_empty(&self) -> bool {
        self.shirts == 0 && self.test_shirts == 0 && self.misprints == 0
    }
}
