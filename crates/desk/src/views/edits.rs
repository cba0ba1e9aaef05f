//! The list of edits: each can be switched off, changed, moved and deleted; one that cannot be
//! applied says why and offers fixes. The same rows stand in the chosen screen's panel, for that
//! screen only.

use egui::{Align, CornerRadius, Frame, Layout, Margin, RichText, Ui};
use strikeoff_core::job::Job;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::tune::{Conflict, Edit, EditEntry, conflicts, fix_conflict};

use super::edit_values::{Choices, values_ui};
use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::{CORNER, palette};
use crate::ui::widgets::{check, dragging, plain_button, quiet, scrolled, strong, text_button};
use crate::view_state::Scratch;

/// Draws the panel with all edits.
pub fn edits_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let count = state.doc().map_or(0, |d| d.job.edits.len());
    ui.label(quiet("Applied from the top down to the separated screens.", p));
    ui.add_space(4.0);
    if count == 0 {
        ui.label("No edits yet.");
        ui.label(quiet("Curves, trims, merges and everything else done to a screen are listed here.", p));
        return;
    }
    scrolled(ui, |ui| rows_ui(ui, state, scratch, commands, |_| true));
}

/// Draws the rows of one screen's edits in its panel, if it has any.
pub fn edits_of_screen_ui(
    ui: &mut Ui,
    state: &State,
    scratch: &mut Scratch,
    commands: &mut Commands,
    screen: &ScreenName,
) {
    let p = palette(ui.ctx());
    let names = |edit: &Edit| {
        let same = |name: &ScreenName| name == screen;
        edit.needs().into_iter().chain(edit.adds()).any(same) && !matches!(edit, Edit::Order(_))
    };
    if state.doc().is_some_and(|d| d.job.edits.iter().any(|e| names(&e.edit))) {
        ui.label(strong("Edits", p));
        rows_ui(ui, state, scratch, commands, names);
    }
}

/// What a click on a row asks for.
enum Ask {
    Move(usize, usize),
    Delete(usize),
    Fix(usize, strikeoff_core::tune::ConflictFix),
}

fn rows_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands, shown: impl Fn(&Edit) -> bool) {
    let Some(before) = state.doc().map(|d| d.job.clone()) else { return };
    let mut job = before.clone();
    let found = conflicts(&job.separation, &job.edits);
    let shop = state.session.shop.clone();
    let print_mm = state.print_size_mm();
    let mut ask = None;
    let mut changed = None;
    let last = job.edits.len().saturating_sub(1);
    for at in 0..before.edits.len() {
        if !shown(&before.edits[at].edit) {
            continue;
        }
        let conflict = found.iter().find(|c| c.at == at);
        let open = scratch.open_edit == Some(at);
        let names = screens_before(&before, at);
        let choices = Choices { screens: &names, inks: &shop.shelf.inks, print_mm };
        let toggled = ui
            .push_id(("edit", at), |ui| row_ui(ui, &mut job.edits[at], at, last, open, conflict, &choices, &mut ask))
            .inner;
        if toggled {
            scratch.open_edit = (!open).then_some(at);
        }
        if job.edits[at] != before.edits[at] {
            changed = Some(at);
        }
        ui.add_space(4.0);
    }
    let what = match (&ask, changed) {
        (Some(Ask::Move(from, to)), _) => {
            let entry = job.edits.remove(*from);
            job.edits.insert(*to, entry);
            scratch.open_edit = None;
            format!("Move edit {}", from + 1)
        }
        (Some(Ask::Delete(at)), _) => {
            let gone = job.edits.remove(*at);
            scratch.open_edit = None;
            format!("Delete {}", gone.edit.label().to_lowercase())
        }
        (Some(Ask::Fix(at, by)), _) => {
            fix_conflict(&mut job.edits, *at, by);
            scratch.open_edit = None;
            format!("Fix edit {}", at + 1)
        }
        (None, Some(at)) if job.edits[at].on != before.edits[at].on => {
            let switch = if job.edits[at].on { "on" } else { "off" };
            format!("Switch edit {} {switch}", at + 1)
        }
        (None, Some(at)) => format!("Change {}", job.edits[at].edit.label().to_lowercase()),
        (None, None) => return,
    };
    let drag = ask.is_none() && dragging(ui);
    commands.push(Command::Change { job: Box::new(job), what, drag });
}

/// Draws a row; true if its values are to be opened or closed.
#[expect(clippy::too_many_arguments, reason = "a row and all that is known of its place")]
fn row_ui(
    ui: &mut Ui,
    entry: &mut EditEntry,
    at: usize,
    last: usize,
    open: bool,
    conflict: Option<&Conflict>,
    choices: &Choices,
    ask: &mut Option<Ask>,
) -> bool {
    let p = palette(ui.ctx());
    let number = at + 1;
    let mut toggled = false;
    let frame = Frame::NONE.fill(p.card).corner_radius(CornerRadius::same(CORNER));
    frame.inner_margin(Margin::symmetric(8, 6)).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.horizontal(|ui| {
            // What is off recedes.
            let color = if entry.on { p.text } else { p.weak };
            check(ui, &mut entry.on, RichText::new(format!("{number} {}", entry.edit.label())).color(color))
                .on_hover_text("Off: it stays in the list and is not applied");
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                ui.spacing_mut().item_spacing.x = 0.0;
                if text_button(ui, "delete", &format!("Delete edit {number}"), false).clicked() {
                    *ask = Some(Ask::Delete(at));
                }
                if at < last && text_button(ui, "later", &format!("Apply edit {number} later"), false).clicked() {
                    *ask = Some(Ask::Move(at, at + 1));
                }
                if at > 0 && text_button(ui, "earlier", &format!("Apply edit {number} earlier"), false).clicked() {
                    *ask = Some(Ask::Move(at, at - 1));
                }
            });
        });
        ui.horizontal(|ui| {
            let word = if open { "close" } else { "change" };
            toggled = text_button(ui, word, &format!("Change edit {number}"), open).clicked();
            ui.add(egui::Label::new(quiet(entry.edit.in_words(), p)).truncate());
        });
        if let Some(conflict) = conflict {
            ui.label(RichText::new(format!("Cannot be applied: {}.", conflict.what)).color(p.stop));
            ui.horizontal_wrapped(|ui| {
                for by in &conflict.fixes {
                    if plain_button(ui, &by.label()).clicked() {
                        *ask = Some(Ask::Fix(at, by.clone()));
                    }
                }
            });
        }
        if open {
            ui.add_space(2.0);
            values_ui(ui, &mut entry.edit, choices);
        }
    });
    toggled
}

/// Names of the screens that are there before an edit.
pub fn screens_before(job: &Job, at: usize) -> Vec<ScreenName> {
    let mut names: Vec<ScreenName> = job.separation.screens.iter().map(|s| s.name.clone()).collect();
    for entry in job.edits[..at.min(job.edits.len())].iter().filter(|e| e.on) {
        if let Some(gone) = entry.edit.removes() {
            names.retain(|name| name != gone);
        }
        if let Some(new) = entry.edit.adds() {
            names.push(new.clone());
        }
    }
    names
}
