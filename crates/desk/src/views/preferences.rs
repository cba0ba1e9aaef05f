//! The preferences sheet: this window's look, and the display's true size.

use egui::{Rect, RichText, Sense, Slider, Stroke, StrokeKind, Ui, vec2};

use crate::preferences::{NOMINAL_POINTS_PER_MM, ThemeChoice};
use crate::theme::palette;
use crate::widgets::{plain_button, quiet, row, strong};
use crate::{Command, Workbench};

/// A bank or identity card, ISO/IEC 7810 ID-1: something of known size that is at hand.
const CARD_MM: [f32; 2] = [85.6, 53.98];

/// Draws the sheet.
pub fn preferences_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    ui.set_width(460.0);
    ui.label(RichText::new("Preferences").heading());
    ui.add_space(6.0);
    let before = bench.preferences.clone();
    let mut now = before.clone();
    ui.label(strong("This window", p));
    row(ui, "Theme", |ui| {
        for choice in ThemeChoice::ALL {
            ui.selectable_value(&mut now.theme, choice, choice.label());
        }
    });
    row(ui, "Scale", |ui| {
        for (percent, scale) in [(100, 1.0), (125, 1.25), (150, 1.5), (175, 1.75), (200, 2.0)] {
            ui.selectable_value(&mut now.scale, scale, format!("{percent} %"));
        }
    });
    ui.add_space(8.0);
    ui.label(strong("Actual size on this display", p));
    ui.label(quiet("Hold a bank card against the frame and set the slider until both are the same size.", p));
    let scale = now.scale.clamp(1.0, 2.0);
    let mut points = now.points_per_mm.unwrap_or(NOMINAL_POINTS_PER_MM);
    ui.horizontal(|ui| {
        let slider = Slider::new(&mut points, 2.0..=8.0).show_value(false);
        if ui.name_inputs("Size of the card", |ui| ui.add(slider)).changed() {
            now.points_per_mm = Some(points);
        }
        if now.points_per_mm.is_some() && plain_button(ui, "Not measured").clicked() {
            now.points_per_mm = None;
        }
    });
    let size = vec2(CARD_MM[0], CARD_MM[1]) * points / scale;
    let (space, _) = ui.allocate_exact_size(vec2(ui.available_width(), size.y.min(240.0) + 8.0), Sense::hover());
    let card = Rect::from_min_size(space.min + vec2(1.0, 4.0), size);
    ui.painter().with_clip_rect(space).rect(
        card,
        3.5 * points / scale,
        p.well,
        Stroke::new(1.5, p.accent),
        StrokeKind::Inside,
    );
    let said = if now.points_per_mm.is_some() { "measured" } else { "not measured: the system's 96 points an inch" };
    ui.label(quiet(said, p));
    ui.add_space(8.0);
    if plain_button(ui, "Close").clicked() {
        bench.commands.push(Command::Sheet(None));
    }
    if now != before {
        bench.commands.push(Command::Prefer(Box::new(now)));
    }
}
