//! Film sets to choose from: each tried with its real dots, with what it does to the print.

use egui::load::SizedTexture;
use egui::{Grid, Image, Ui};
use strikeoff_core::job::Job;
use strikeoff_core::moire::AngleSet;

use super::change;
use crate::Command;
use crate::commands::Commands;
use crate::derived::FilmSetShown;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{check, quiet, row, strong};
use crate::view_state::Scratch;

/// Draws the choice of angles and, where it is asked for, the sets.
pub fn film_sets_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, job: &Job, commands: &mut Commands) {
    row(ui, "All angles", |ui| {
        for (set, text, hint) in [
            (AngleSet::Suggested, "Best", "Tried with real dots on this art: true, steady, without pattern"),
            (AngleSet::Spread, "Spread", "Three deep inks 30 degrees apart, the palest between"),
        ] {
            if ui.small_button(text).on_hover_text(hint).clicked() {
                commands.push(Command::SetAngles(set));
            }
        }
    });
    check(ui, &mut scratch.film_sets, "Compare film sets")
        .on_hover_text("Lays the real dots of each set over each other");
    if scratch.film_sets {
        table_ui(ui, state, job, commands);
    }
}

fn table_ui(ui: &mut Ui, state: &State, job: &Job, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let slot = &state.derived.film_sets;
    let Some(sets) = slot.latest() else {
        ui.label(quiet("Dots are being laid over each other.", p));
        return;
    };
    let current = slot.is_current();
    Grid::new("film sets").num_columns(6).spacing([10.0, 4.0]).show(ui, |ui| {
        for (title, hint) in [
            ("Film set", ""),
            ("miss", "Mean dE 2000 between the proof and what the dots print"),
            ("moves", "Mean dE 2000 from one set-up to the next, as register wanders"),
            ("texture", "Lightness of the dots' pattern through a blur of 0.5 mm"),
            ("beats", "Risk of a visible beat with a mesh or between two screens"),
        ] {
            let label = ui.label(strong(title, p));
            if !hint.is_empty() {
                label.on_hover_text(hint);
            }
        }
        ui.end_row();
        for shown in sets.iter() {
            set_ui(ui, shown, job, current, commands);
        }
    });
    if !current {
        ui.label(quiet("before the last change", p));
    }
}

fn set_ui(ui: &mut Ui, shown: &FilmSetShown, job: &Job, current: bool, commands: &mut Commands) {
    let (p, set) = (palette(ui.ctx()), &shown.set);
    let dots = |side: f32| Image::new(SizedTexture::new(shown.close_up.id(), [side, side]));
    ui.horizontal(|ui| {
        // Eight dots of 45 lpi, and as large as they are seen with a loupe while the pointer is on them.
        ui.add(dots(48.0).alt_text(format!("Dots of film set: {}", set.name))).on_hover_ui(|ui| {
            ui.add(dots(384.0));
            ui.label(quiet("4.5 mm where most dots meet, in a usual set-up", p));
        });
        ui.label(set.name);
    });
    for figure in [set.trial.miss, set.trial.moves, set.trial.texture] {
        ui.label(quiet(format!("{figure:.2}"), p));
    }
    ui.label(quiet(format!("{:.0} %", set.beats * 100.0), p));
    let used = set.film == job.film;
    if used {
        ui.label(quiet("in use", p));
    } else {
        let button = ui.add_enabled(current, egui::Button::new("Use").small());
        if button.on_hover_text(format!("Use film set: {}", set.name)).clicked() {
            let changed = Job { film: set.film.clone(), ..job.clone() };
            commands.push(change(ui, changed, "Film set"));
        }
    }
    ui.end_row();
}
