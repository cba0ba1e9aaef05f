//! The preferences sheet: this window's look, the display's true size, and the shop: what new jobs
//! begin with.

use egui::{DragValue, Rect, RichText, ScrollArea, Sense, Slider, Stroke, StrokeKind, Ui, vec2};
use strikeoff_core::units::{Dpi, LengthUnit, Mm};
use strikeoff_files::profile::{Platen, ShopProfile};

use super::typed::typed_row;
use crate::Command;
use crate::commands::Commands;
use crate::session::{NOMINAL_POINTS_PER_MM, ThemeChoice};
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{plain_button, quiet, row, strong};
use crate::view_state::{Scratch, Sheet};

/// A bank or identity card, ISO/IEC 7810 ID-1: something of known size that is at hand.
const CARD_MM: [f32; 2] = [85.6, 53.98];

/// Draws the sheet.
pub fn preferences_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    ui.set_width(460.0);
    ui.label(RichText::new("Preferences").heading());
    ui.add_space(6.0);
    let height = ui.ctx().content_rect().height() - 180.0;
    ScrollArea::vertical().max_height(height).min_scrolled_height(height.min(640.0)).show(ui, |ui| {
        window_ui(ui, state, commands);
        ui.add_space(10.0);
        shop_ui(ui, state, scratch, commands);
    });
    ui.add_space(8.0);
    if plain_button(ui, "Close").clicked() {
        commands.push(Command::Sheet(None));
    }
}

fn window_ui(ui: &mut Ui, state: &State, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let before = state.session.machine.preferences().clone();
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
    let scale = ui.ctx().zoom_factor();
    if scale < before.scale {
        ui.label(quiet(
            format!("{:.0} % is what leaves room for all panels in a window of this size.", scale * 100.0),
            p,
        ));
    }
    ui.add_space(8.0);
    ui.label(strong("Actual size on this display", p));
    ui.label(quiet("Hold a bank card against the frame and set the slider until both are the same size.", p));
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
    let said = if now.points_per_mm.is_some() { "measured" } else { "not measured: the system's 96 points per inch" };
    ui.label(quiet(said, p));
    ui.add_space(8.0);
    ui.label(strong("Colour on this display", p));
    ui.label(quiet(
        "The proof is sRGB. The display's own profile is not known here: unless it is calibrated to sRGB, judge colour on a printed swatch.",
        p,
    ));
    if now != before {
        commands.push(Command::Prefer(Box::new(now)));
    }
}

/// A number in a row; shown as it is, even out of range, until the user changes it.
fn number(ui: &mut Ui, name: &str, value: &mut f64, range: std::ops::RangeInclusive<f64>, unit: &str) {
    row(ui, name, |ui| {
        let field =
            DragValue::new(value).clamp_existing_to_range(false).range(range).suffix(unit).update_while_editing(false);
        ui.add(field).accessible_name(name);
    });
}

/// A length in the unit that the job on the table is measured in.
fn length(ui: &mut Ui, name: &str, value: &mut Mm, unit: LengthUnit) {
    row(ui, name, |ui| super::art::fields::length(ui, name, value, unit, 25.4..=2032.0));
}

/// What new jobs begin with. A job that is open keeps what it has.
fn shop_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let unit = state.job().map(|job| job.info.unit).unwrap_or_default();
    let before = state.session.machine.profile.clone();
    let mut now = before.clone();
    ui.label(strong("This shop", p));
    ui.label(quiet("New jobs begin with these; a job that is open keeps its own.", p));
    row(ui, "Name", |ui| {
        let field = egui::TextEdit::singleline(&mut now.shop).desired_width(220.0);
        ui.name_inputs("Name of the shop", |ui| ui.add(field));
    });
    let mut heads = f64::from(now.heads);
    number(ui, "Heads on the press", &mut heads, 1.0..=24.0, "");
    now.heads = heads.round() as u8;
    if now.platens.is_empty() && plain_button(ui, "Add a platen").clicked() {
        now.platens = ShopProfile::default().platens;
    }
    if let Some(Platen { width_mm, height_mm, .. }) = now.platens.first_mut() {
        length(ui, "Largest print width", width_mm, unit);
        length(ui, "Largest print height", height_mm, unit);
    }
    number(ui, "Mesh for halftones", &mut now.mesh.halftone_tpi, 30.0..=500.0, " per inch");
    number(ui, "Mesh for an underbase", &mut now.mesh.underbase_tpi, 30.0..=500.0, " per inch");
    number(ui, "Mesh for solids", &mut now.mesh.solid_tpi, 30.0..=500.0, " per inch");
    let (meshes, angles) = (now.meshes_typed(), now.angles_typed());
    typed_row(ui, "Meshes of the shop", "110/80, 230/48; empty: all usual ones", &meshes, 220.0, |text| {
        now.set_meshes(text)
    });
    typed_row(ui, "Film angles", "22.5, 52.5, 82.5; empty: any", &angles, 220.0, |text| now.set_angles(text));
    length(ui, "Film printer's width", &mut now.film_printer.width_mm, unit);
    let mut dpi = now.film_printer.dpi.get();
    number(ui, "Film printer's resolution", &mut dpi, 72.0..=5080.0, " dpi");
    now.film_printer.dpi = Dpi::new(dpi).unwrap_or(now.film_printer.dpi);
    ui.horizontal(|ui| {
        ui.label(quiet(format!("{} inks on the shelf", now.shelf.inks.len()), p));
        if plain_button(ui, "Ink room").clicked() {
            commands.push(Command::Sheet(Some(Sheet::InkRoom)));
        }
    });
    ui.add_space(8.0);
    super::rates::rates_ui(ui, &mut now.rates);
    ui.label(strong("Made at once by the verb make", p));
    ui.horizontal_wrapped(|ui| {
        for (what, on) in now.makes.switches() {
            super::super::ui::widgets::check(ui, on, what);
        }
    });
    if now != before {
        commands.push(Command::ChangeShop(Box::new(now)));
    }
    ui.horizontal(|ui| {
        let field = egui::TextEdit::singleline(&mut scratch.shop_file).desired_width(240.0);
        ui.name_inputs("Path of a shop profile", |ui| ui.add(field));
        let path = std::path::PathBuf::from(scratch.shop_file.trim());
        let typed = !path.as_os_str().is_empty();
        if ui.add_enabled(typed, egui::Button::new("Export")).clicked() {
            commands.push(Command::ExportShop(path.clone()));
        }
        if ui.add_enabled(typed, egui::Button::new("Import")).clicked() {
            commands.push(Command::ImportShop(path));
        }
    });
}
