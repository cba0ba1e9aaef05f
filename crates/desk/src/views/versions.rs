//! Named versions of the job: what the client saw, what was printed. The job goes back to one as
//! a single undo step.

use egui::{CornerRadius, Frame, Margin, TextEdit, Ui};

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::{CORNER, palette};
use crate::ui::widgets::{main_button, plain_button, quiet, row, scrolled, strong, text_button};
use crate::view_state::Scratch;

/// Draws the panel.
pub fn versions_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.label(quiet("Settings, edits and full-size screens, kept in the job's file under a name.", p));
    ui.add_space(4.0);
    let [name, note] = &mut scratch.version;
    row(ui, "Name", |ui| {
        ui.add(TextEdit::singleline(name).hint_text("client proof 1, as printed").desired_width(150.0))
    });
    row(ui, "Note", |ui| ui.add(TextEdit::singleline(note).desired_width(150.0)));
    let ready = !name.trim().is_empty() && state.doc().is_some() && state.problem().is_none();
    if main_button(ui, "Keep this state", ready).clicked() {
        let (name, note) = (name.trim().to_owned(), note.trim().to_owned());
        commands.push(Command::KeepVersion { name, note });
    }
    ui.add_space(8.0);
    let list: Vec<_> = state
        .doc()
        .into_iter()
        .flat_map(|d| d.versions.iter())
        .map(|v| (v.name.clone(), v.note.clone(), v.date.clone(), v.screens.is_some()))
        .collect();
    if list.is_empty() {
        ui.label(quiet("No versions yet.", p));
    }
    scrolled(ui, |ui| {
        for (name, note, date, screens) in list.iter().rev() {
            let frame = Frame::NONE.fill(p.card).corner_radius(CornerRadius::same(CORNER));
            frame.inner_margin(Margin::symmetric(10, 8)).show(ui, |ui| {
                ui.set_width(ui.available_width());
                ui.label(strong(name, p));
                let with = if *screens { "with its screens" } else { "settings only" };
                ui.label(quiet(format!("{date}, {with}"), p));
                if !note.is_empty() {
                    ui.label(note);
                }
                let shown = scratch.version_shown.as_ref() == Some(name);
                ui.horizontal(|ui| {
                    let back = plain_button(ui, "Go back to it");
                    let label = format!("Go back to {name}");
                    back.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &label));
                    if back.on_hover_text("Undo brings the present job back").clicked() {
                        commands.push(Command::GoToVersion(name.clone()));
                    }
                    if text_button(ui, "what differs", &format!("What differs from {name}"), shown).clicked() {
                        scratch.version_shown = (!shown).then(|| name.clone());
                    }
                    if text_button(ui, "delete", &format!("Delete the version {name}"), false).clicked() {
                        commands.push(Command::DropVersion(name.clone()));
                    }
                });
                if shown && let Some(lines) = state.differences(name) {
                    if lines.is_empty() {
                        ui.label(quiet("The job is as this version.", p));
                    }
                    for line in lines.iter().take(12) {
                        ui.label(quiet(line, p));
                    }
                    if lines.len() > 12 {
                        ui.label(quiet(format!("and {} more", lines.len() - 12), p));
                    }
                }
            });
            ui.add_space(6.0);
        }
    });
}
