//! Taking a plain background away, or letting the garment show through it.

use egui::{Role, Ui, WidgetInfo};
use strikeoff_core::color::Rgb8;
use strikeoff_core::job::Job;
use strikeoff_core::prep::{BackgroundSettings, BackgroundWay};

use super::fields::{choices, fold, percent, small_mm, tick};
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{quiet, row, text_button};

/// Draws the card.
pub fn background_ui(ui: &mut Ui, state: &State, job: &mut Job) {
    let p = palette(ui.ctx());
    let how = match job.prep.background.as_ref().map(|b| b.way) {
        None => "kept",
        Some(BackgroundWay::Flood) => "taken away",
        Some(BackgroundWay::FloodAndIslands) => "taken away, islands too",
        Some(BackgroundWay::ShowThrough) => "garment shows through",
    };
    let found = state.study().and_then(|s| s.background);
    fold(ui, "Background", how, false, |ui| {
        match found {
            Some(found) => {
                ui.label(quiet(format!("Its edge is {} for {:.0} %", found.color, found.edge_share * 100.0), p))
            }
            None => ui.label(quiet("No plain background found along its edge", p)),
        };
        let mut on = job.prep.background.is_some();
        let hint = "Removes the plain background; edges become soft and lose its colour";
        if tick(ui, &mut on, "Remove it", "Remove the background", hint).changed() {
            job.prep.background = on.then(BackgroundSettings::default);
        }
        let Some(settings) = &mut job.prep.background else { return };
        let list = [
            (BackgroundWay::Flood, "Joined to the edge", "Islands of the same colour inside the art stay"),
            (BackgroundWay::FloodAndIslands, "Islands as well", "Also what the art encloses"),
            (BackgroundWay::ShowThrough, "Garment shows through", "As far as its colour is mixed in, soft tones too"),
        ];
        if let Some(way) = choices(ui, settings.way, &list) {
            settings.way = way;
        }
        row(ui, "Colour", |ui| color_ui(ui, settings, found.map(|f| f.color)));
        let hint = "How far a colour may be off and still be background; black to white is 100";
        percent(ui, "Tolerance", &mut settings.tolerance, 0.5, hint);
        small_mm(ui, "Feather", &mut settings.feather_mm, 5.0, "Softness of the new edge on the print, inwards");
    });
}

/// The background's colour: found along the edge until another is picked.
fn color_ui(ui: &mut Ui, settings: &mut BackgroundSettings, found: Option<Rgb8>) {
    let mut rgb = settings.color.or(found).map_or([255; 3], |c| c.0);
    let button = ui.color_edit_button_srgb(&mut rgb).on_hover_text("Pick the background's colour");
    button.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Background colour"));
    if button.changed() {
        settings.color = Some(Rgb8(rgb));
    }
    match settings.color {
        Some(_) => {
            if text_button(ui, "find it", "Find the background's colour along the edge", false).clicked() {
                settings.color = None;
            }
        }
        None => {
            ui.label(quiet("found", palette(ui.ctx())));
        }
    }
}
