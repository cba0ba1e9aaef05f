//! The reorder: what was changed since the job was printed, what that does to the print, which films and screens serve,
//! and the two ways to print it again.

use egui::{Image, RichText, ScrollArea, Ui, vec2};
use strikeoff_core::job::SettingDifference;
use strikeoff_files::reorder::{Again, State as Printed};

use crate::Command;
use crate::commands::Commands;
use crate::derived::ReorderLook;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{main_button, one_of, plain_button, plain_button_if, quiet, strong};
use crate::view_state::{Scratch, Sheet};

/// Draws the sheet.
pub fn reorder_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(680.0);
    ui.label(RichText::new("Reorder").heading());
    let Some(doc) = state.doc() else { return };
    let runs = &doc.job.info.runs;
    if runs.is_empty() {
        ui.label(quiet("No run of this job was written down yet.", p));
        ui.horizontal(|ui| {
            if main_button(ui, "Write a run down", true).clicked() {
                commands.push(Command::Sheet(Some(Sheet::Run)));
            }
            if plain_button(ui, "Close").clicked() {
                commands.push(Command::Sheet(None));
            }
        });
        return;
    }
    ui.horizontal_wrapped(|ui| {
        let chosen = scratch.reordered.unwrap_or(runs.len());
        for (at, run) in runs.iter().enumerate() {
            let words = format!("{}, {} shirts", run.date.words(), run.shirts);
            if one_of(ui, chosen == at + 1, words).clicked() {
                scratch.reordered = Some(at + 1);
            }
        }
    });
    let look = state.reorder(scratch);
    let height = (ui.ctx().content_rect().height() - 210.0).max(160.0);
    ScrollArea::vertical().max_height(height).min_scrolled_height(height.min(560.0)).show(ui, |ui| match look {
        Some(look) => look_ui(ui, look),
        None => {
            ui.label(quiet(state.reorder_fault().unwrap_or("the prints are being compared"), p));
        }
    });
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let hint = "Undo brings the present job back";
        if plain_button_if(ui, look.is_some(), "Print the same").on_hover_text(hint).clicked() {
            commands.push(Command::PrintAgain(Again::Same));
        }
        let news = look.is_some_and(|look| !look.found.in_shop.is_empty());
        if plain_button_if(ui, news, "Print it updated")
            .on_hover_text(hint)
            .on_disabled_hover_text("The shop has changed nothing that this job prints with")
            .clicked()
        {
            commands.push(Command::PrintAgain(Again::Updated));
        }
        if plain_button(ui, "Close").clicked() {
            commands.push(Command::Sheet(None));
        }
    });
}

fn look_ui(ui: &mut Ui, look: &ReorderLook) {
    let p = palette(ui.ctx());
    let found = &look.found;
    ui.label(found.run.line());
    ui.add_space(4.0);
    let settings: Vec<String> = found.in_job.iter().map(SettingDifference::words).collect();
    for (what, lines) in [("in the job", &settings), ("in the shop", &found.in_shop)] {
        if lines.is_empty() {
            ui.label(quiet(format!("Nothing was changed {what} since."), p));
            continue;
        }
        ui.label(strong(format!("Changed {what} since"), p));
        for line in lines.iter().take(12) {
            ui.label(line);
        }
        if lines.len() > 12 {
            ui.label(quiet(format!("and {} more", lines.len() - 12), p));
        }
    }
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let names = ["Printed then", "As the job stands", "The same today", "Updated"];
        let wide = (ui.available_width() - 24.0) / 4.0;
        for (name, texture) in names.into_iter().zip(&look.pictures) {
            ui.vertical(|ui| {
                let size = texture.size_vec2();
                let wide = wide.min(200.0 * size.x / size.y.max(1.0));
                ui.add(
                    Image::new(texture).fit_to_exact_size(vec2(wide, wide * size.y / size.x.max(1.0))).alt_text(name),
                );
                ui.label(quiet(name, p));
            });
        }
    });
    ui.label(quiet(format!("Then {:.2} from the artwork on average (CIEDE2000)", found.artwork.mean), p));
    for (name, state) in
        [("As the job stands", &found.now), ("The same today", &found.same), ("Updated", &found.updated)]
    {
        state_ui(ui, name, state);
    }
}

fn state_ui(ui: &mut Ui, name: &str, state: &Printed) {
    let p = palette(ui.ctx());
    ui.add_space(4.0);
    ui.label(strong(name, p));
    let effect = state.effect.as_ref().map_or_else(|| "the print has another size".to_owned(), |effect| effect.words());
    ui.label(format!("{effect}; {:.2} from the artwork", state.artwork.mean));
    for screen in &state.screens {
        ui.label(quiet(screen.words(), p));
    }
    for name in &state.unused {
        ui.label(quiet(format!("{name}: not used any more"), p));
    }
}
