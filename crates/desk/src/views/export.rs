//! The export sheet: how films are screened, what will be written and where.

use egui::{DragValue, Grid, RichText, ScrollArea, Ui};
use strikeoff_core::job::Job;
use strikeoff_core::units::{Degrees, Dpi, Lpi, MM_PER_INCH};
use strikeoff_files::film::safe_name;

use crate::format::{size_in, trim};
use crate::theme::palette;
use crate::widgets::{main_button, plain_button, quiet, row, strong};
use crate::{Command, Workbench};

/// Draws the sheet.
pub fn export_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    ui.set_width(560.0);
    ui.label(RichText::new("Make films").heading());
    let Some(doc) = &bench.doc else { return };
    let before = doc.job.clone();
    let mut job = before.clone();
    ui.add_space(6.0);
    ui.columns(2, |columns| {
        film_ui(&mut columns[0], &mut job);
        options_ui(&mut columns[1], bench, &mut job);
    });
    if job != before {
        let gesture = ui.input(|i| i.pointer.any_down()).then(|| "film".to_owned());
        bench.commands.push(Command::Change { job: Box::new(job), what: "Film settings".into(), gesture });
    }
    ui.add_space(8.0);
    list_ui(ui, bench, &before);
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let field = egui::TextEdit::singleline(&mut bench.looking.folder)
            .hint_text("folder for the films")
            .desired_width(420.0);
        ui.add(field);
        if plain_button(ui, "Choose folder").clicked() {
            bench.commands.push(Command::ChooseFolder);
        }
    });
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let folder = bench.looking.folder.trim().to_owned();
        let films = bench.looking.films.tiff || bench.looking.films.pdf;
        if main_button(ui, "Write films", !folder.is_empty() && films).clicked() {
            bench.commands.extend([Command::Sheet(None), Command::MakeFilms(folder.into())]);
        }
        if plain_button(ui, "Cancel").clicked() {
            bench.commands.push(Command::Sheet(None));
        }
        ui.label(quiet("Files of the same names are replaced; a set is written whole or not at all.", p));
    });
}

fn film_ui(ui: &mut Ui, job: &mut Job) {
    row(ui, "Resolution", |ui| {
        let mut dpi = job.film.dpi.get();
        ui.add(
            DragValue::new(&mut dpi)
                .clamp_existing_to_range(false)
                .range(72.0..=5080.0)
                .suffix(" dpi")
                .update_while_editing(false),
        );
        job.film.dpi = Dpi::new(dpi).unwrap_or(job.film.dpi);
    });
    row(ui, "Ruling", |ui| {
        let mut lpi = job.film.ruling.get();
        ui.add(
            DragValue::new(&mut lpi)
                .clamp_existing_to_range(false)
                .range(10.0..=150.0)
                .speed(0.25)
                .suffix(" lpi")
                .update_while_editing(false),
        );
        job.film.ruling = Lpi::new(lpi).unwrap_or(job.film.ruling);
    });
    row(ui, "Angle", |ui| {
        let mut angle = job.film.angle.get();
        ui.add(
            DragValue::new(&mut angle)
                .clamp_existing_to_range(false)
                .range(-90.0..=90.0)
                .speed(0.25)
                .suffix(" degrees")
                .update_while_editing(false),
        );
        job.film.angle = Degrees::new(angle).unwrap_or(job.film.angle);
    });
}

fn options_ui(ui: &mut Ui, bench: &mut Workbench, job: &mut Job) {
    let p = palette(ui.ctx());
    ui.checkbox(&mut bench.looking.films.tiff, "A 1-bit TIFF a screen");
    ui.checkbox(&mut bench.looking.films.pdf, "One PDF, a page a screen");
    ui.checkbox(&mut job.press.compensate, "Make up for dot gain");
    ui.label(quiet(format!("gain {}", job.press.gain.describe()), p));
}

/// What will be there afterwards.
fn list_ui(ui: &mut Ui, bench: &Workbench, job: &Job) {
    let p = palette(ui.ctx());
    let Some(proxy) = &bench.proxy else { return };
    let level = &proxy.pyramid.levels[0];
    let print_mm = level.prepared.print_size_mm;
    let options = &bench.looking.films;
    let film_mm = print_mm.map(|mm| mm + 2.0 * job.film.margin.get());
    let px = film_mm.map(|mm| (mm / MM_PER_INCH * job.film.dpi.get()).round() as u64);
    ui.label(strong("Will be written", p));
    ui.label(quiet(
        format!(
            "Print {}, film {} with {} mm around it, {} x {} dots at {} dpi",
            size_in(print_mm),
            size_in(film_mm),
            trim(job.film.margin.get(), 1),
            px[0],
            px[1],
            job.film.dpi
        ),
        p,
    ));
    ScrollArea::vertical().max_height(220.0).show(ui, |ui| {
        Grid::new("films").num_columns(2).spacing([18.0, 4.0]).show(ui, |ui| {
            if options.tiff {
                for (at, screen) in level.screens.list.iter().enumerate() {
                    ui.label(format!("{:02}-{}.tif", at + 1, safe_name(&screen.name)));
                    ui.label(quiet(
                        format!("{}, {} lpi at {} degrees", screen.ink.name, job.film.ruling, job.film.angle),
                        p,
                    ));
                    ui.end_row();
                }
            }
            if options.pdf {
                ui.label("films.pdf");
                ui.label(quiet(format!("{} pages at true size", level.screens.list.len()), p));
                ui.end_row();
            }
        });
    });
}
