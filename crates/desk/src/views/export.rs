//! The export sheet: how films are screened, what will be written, how large, and where.

use egui::{ComboBox, DragValue, Grid, RichText, ScrollArea, Ui};
use strikeoff_core::halftone::Emulsion;
use strikeoff_core::job::Job;
use strikeoff_core::units::{Dpi, Mm};
use strikeoff_files::film::{FilmOptions, FilmPlan, SpotDepth, TiffCompression};

use super::art::fields;
use super::film_card::job_dots_ui;
use super::film_sets::film_sets_ui;
use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::format::{length, size, trim};
use crate::ui::theme::palette;
use crate::ui::widgets::{check, main_button, plain_button, quiet, row, strong};
use crate::view_state::Scratch;
use crate::views::change;

/// Draws the sheet.
pub fn export_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(660.0);
    ui.label(RichText::new("Make films").heading());
    super::make::kinds_ui(ui, commands, None);
    let Some(doc) = state.doc() else { return };
    let before = doc.job.clone();
    let films = &state.derived.films;
    let mut job = before.clone();
    ui.add_space(6.0);
    // In a low window the settings scroll; where and whether to write stays in sight.
    let height = ui.ctx().content_rect().height() - 240.0;
    ScrollArea::vertical().max_height(height).min_scrolled_height(height).show(ui, |ui| {
        ui.columns(2, |columns| {
            film_ui(&mut columns[0], &mut job);
            if state.pyramid().is_some() {
                film_sets_ui(&mut columns[0], state, scratch, &before, commands);
            }
            options_ui(&mut columns[1], &mut scratch.films, &mut job);
        });
        ui.add_space(6.0);
        ui.label(strong("Will be written", p));
        match (films.failed(), films.latest()) {
            (Some(why), _) => {
                ui.label(RichText::new(why).color(p.stop));
            }
            (None, Some(plan)) => list_ui(ui, plan, &before, &scratch.films),
            (None, None) => {
                ui.label(quiet("The screens are being made.", p));
            }
        }
    });
    if job != before {
        commands.push(change(ui, job, "Film settings"));
    }
    let options = &scratch.films;
    let something = options.tiff || options.pdf || options.composite || options.spots.is_some();
    let ready = something && films.failed().is_none();
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let field =
            egui::TextEdit::singleline(&mut scratch.folder).hint_text("folder for the films").desired_width(500.0);
        ui.add(field);
        if plain_button(ui, "Choose folder").clicked() {
            commands.push(Command::ChooseFolder);
        }
    });
    ui.add_space(6.0);
    super::make::fault_ui(ui, scratch);
    let writing = super::make::writing_ui(ui, state);
    ui.horizontal(|ui| {
        let folder = scratch.folder.trim().to_owned();
        if main_button(ui, "Write films", !folder.is_empty() && ready && !writing).clicked() {
            commands.push(Command::MakeFilms(folder.into()));
        }
        if plain_button(ui, "Cancel").clicked() {
            commands.push(Command::Sheet(None));
        }
        ui.label(quiet("Files of the same names are replaced; a set is written whole or not at all.", p));
    });
}

/// How films are screened and cut.
fn film_ui(ui: &mut Ui, job: &mut Job) {
    let unit = job.info.unit;
    let film = &mut job.film;
    film.dpi = dpi_ui(ui, "Resolution", film.dpi);
    let down = dpi_ui(ui, "down the film", film.dpi_down.unwrap_or(film.dpi));
    film.dpi_down = (down != film.dpi).then_some(down);
    job_dots_ui(ui, film);
    row(ui, "Margin", |ui| {
        let field = fields::length(ui, "Margin", &mut film.margin, unit, 0.0..=100.0);
        field.on_hover_text("Film around the print on each side");
    });
    row(ui, "Printer width", |ui| {
        let mut known = film.printer_width.is_some();
        check(ui, &mut known, "at most").on_hover_text("Wider films are turned; those too wide either way are refused");
        let mut width = film.printer_width.or(Mm::new(609.6).ok()).unwrap_or(film.margin);
        ui.add_enabled_ui(known, |ui| fields::length(ui, "Printer width", &mut width, unit, 50.0..=3000.0));
        film.printer_width = known.then_some(width);
    });
}

fn dpi_ui(ui: &mut Ui, name: &str, now: Dpi) -> Dpi {
    row(ui, name, |ui| {
        let mut dpi = now.get();
        let field = DragValue::new(&mut dpi).clamp_existing_to_range(false).range(72.0..=5080.0);
        ui.add(field.suffix(" dpi").update_while_editing(false)).accessible_name(name);
        Dpi::new(dpi).unwrap_or(now)
    })
}

/// What is written.
fn options_ui(ui: &mut Ui, options: &mut FilmOptions, job: &mut Job) {
    let p = palette(ui.ctx());
    ui.horizontal(|ui| {
        check(ui, &mut options.tiff, "One 1-bit TIFF per screen");
        ui.name_inputs("Packing of TIFF films", |ui| {
            ComboBox::from_id_salt("packing").selected_text(packing(options.compression)).width(80.0).show_ui(
                ui,
                |ui| {
                    for kind in [TiffCompression::G4, TiffCompression::Deflate, TiffCompression::None] {
                        ui.selectable_value(&mut options.compression, kind, packing(kind));
                    }
                },
            )
        });
    });
    check(ui, &mut options.pdf, "One PDF, one page per screen");
    check(ui, &mut options.gang, "All films on one length of roll")
        .on_hover_text("As short as can be on the width that the printer takes, with cut marks");
    check(ui, &mut options.composite, "Composite PDF, one spot colour per screen")
        .on_hover_text("Before halftone and not compensated for gain: for a film printer's own software");
    ui.horizontal(|ui| {
        let mut on = options.spots.is_some();
        check(ui, &mut on, "One TIFF, one channel per screen");
        let mut depth = options.spots.unwrap_or_default();
        ui.add_enabled_ui(on, |ui| {
            ui.selectable_value(&mut depth, SpotDepth::Eight, "8 bits");
            ui.selectable_value(&mut depth, SpotDepth::Sixteen, "16 bits");
        });
        options.spots = on.then_some(depth);
    });
    if options.spots.is_some() {
        ui.label(quiet("Programs that know only CMYK refuse it or show wrong colours.", p));
    }
    check(ui, &mut job.press.compensate, "Compensate for dot gain");
    ui.label(quiet(format!("gain {}", job.press.gain.describe()), p));
    let film = &mut job.film;
    let mut down = film.emulsion == Emulsion::Down;
    check(ui, &mut down, "Emulsion down (mirrored)");
    film.emulsion = if down { Emulsion::Down } else { Emulsion::Up };
    check(ui, &mut film.reverse, "Negative: clear where ink prints").on_hover_text("For direct exposure");
    ui.horizontal(|ui| {
        check(ui, &mut film.marks, "Marks");
        check(ui, &mut film.label, "Label");
        check(ui, &mut film.wedge, "Step wedge");
    });
}

fn packing(kind: TiffCompression) -> &'static str {
    match kind {
        TiffCompression::G4 => "Group 4",
        TiffCompression::Deflate => "deflate",
        TiffCompression::None => "none",
    }
}

/// What will be there afterwards.
fn list_ui(ui: &mut Ui, plan: &FilmPlan, job: &Job, options: &FilmOptions) {
    let p = palette(ui.ctx());
    let turned = if plan.is_turned() { ", turned" } else { "" };
    let unit = job.info.unit;
    let margin = length(job.film.margin, unit);
    let mut line = format!("Each film {}{turned}, {margin} around the print", size(plan.film_mm, unit));
    if options.gang
        && let Some(page) = plan.pages.first()
    {
        line = format!("{line}; roll {}", size(page.size_mm, unit));
    }
    ui.label(quiet(line, p));
    let height = (ui.ctx().content_rect().height() - 590.0).clamp(70.0, 190.0);
    ScrollArea::vertical().max_height(height).min_scrolled_height(height).show(ui, |ui| {
        Grid::new("films").num_columns(3).spacing([18.0, 3.0]).show(ui, |ui| {
            for file in &plan.files {
                ui.label(&file.name);
                ui.label(quiet(bytes(file.about_bytes, file.sure), p));
                ui.add(egui::Label::new(quiet(&file.what, p)).truncate());
                ui.end_row();
            }
        });
    });
}

fn bytes(count: u64, sure: bool) -> String {
    let about = if sure { "" } else { "about " };
    match count {
        0..100_000 => format!("{about}{:.0} kB", (count as f64 / 1e3).max(1.0)),
        _ => format!("{about}{} MB", trim(count as f64 / 1e6, 1)),
    }
}
