//! Clean-up: blocks and noise of compression, and stray specks, shown on the table and taken away.

use egui::Ui;
use strikeoff_core::job::Job;
use strikeoff_core::prep::{Speck, SpeckSettings};

use super::fields::{fold, percent, small_mm, tick};
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{check, quiet, text_button};
use crate::view_state::Scratch;
use crate::{Command, View};

/// Draws the card.
pub fn clean_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands, job: &mut Job) {
    let p = palette(ui.ctx());
    let specks = state.study().map_or(0, |s| s.specks.len());
    let removed = job.prep.specks.is_some();
    let mut words = Vec::new();
    if job.prep.deblock > 0.0 {
        words.push("blocks".to_owned());
    }
    if job.prep.denoise > 0.0 {
        words.push("noise".to_owned());
    }
    if specks > 0 || removed {
        words.push(if removed { format!("{specks} specks off") } else { format!("{specks} specks") });
    }
    let how = if words.is_empty() { "none".to_owned() } else { words.join(", ") };
    let mut next = false;
    fold(ui, "Clean-up", &how, false, |ui| {
        let prep = &mut job.prep;
        let hint = "Eases the steps between a JPEG's 8 x 8 blocks, before enlarging";
        percent(ui, "Smooth JPEG blocks", &mut prep.deblock, 1.0, hint);
        let hint = "Evens out noise without crossing edges, before enlarging";
        percent(ui, "Reduce noise", &mut prep.denoise, 1.0, hint);
        ui.label(quiet(in_words(specks, removed), p));
        ui.horizontal(|ui| {
            check(ui, &mut scratch.art.specks, "Show specks").on_hover_text("Rings every stray speck on the table");
            if specks > 0 && text_button(ui, "next", "Go to the next speck", false).clicked() {
                next = true;
            }
        });
        let mut on = removed;
        let hint = "Removes isolated bits too small or too faint to print clean";
        if tick(ui, &mut on, "Remove specks", "Remove specks", hint).changed() {
            prep.specks = on.then(SpeckSettings::default);
        }
        if let Some(settings) = &mut prep.specks {
            small_mm(ui, "Up to", &mut settings.widest_mm, 5.0, "Widest speck that goes, on the print");
            let hint = "Fainter ones go up to six times that width";
            percent(ui, "Fainter than", &mut settings.faint, 1.0, hint);
        }
    });
    if next {
        go_to_next(state, scratch, commands);
    }
}

fn in_words(specks: usize, removed: bool) -> String {
    match (specks, removed) {
        (0, false) => "No stray specks found".to_owned(),
        (0, true) => "No specks of this size to remove".to_owned(),
        (n, false) => format!("{n} stray specks would print as smudges"),
        (n, true) => format!("{n} specks are taken away"),
    }
}

/// Brings the next speck to the middle of the table, close enough to be judged.
fn go_to_next(state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let Some(study) = state.study() else { return };
    let Some(&Speck { x_mm, y_mm, size_mm, .. }) = study.specks.get(scratch.art.speck_at % study.specks.len().max(1))
    else {
        return;
    };
    let Some(print) = state.print_rect_mm() else { return };
    let camera = &mut scratch.camera;
    camera.centre_mm = print.min + egui::vec2(x_mm as f32, y_mm as f32);
    camera.points_per_mm = (40.0 / size_mm as f32).clamp(4.0, 40.0);
    camera.fit = false;
    scratch.art.speck_at += 1;
    scratch.art.specks = true;
    commands.push(Command::Look(View::Art));
}
