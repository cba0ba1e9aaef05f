//! Facts of the artwork: what came in, what it is worth at print size against the ruling, what
//! compression did to it, and where its edges are soft.

use egui::Ui;
use strikeoff_core::job::Job;
use strikeoff_core::prep::{ENLARGED_FROM, Enlarging, Fineness, PrintFacts, Wear};
use strikeoff_files::art::FileFacts;

use super::fields::{fold, number};
use crate::commands::Commands;
use crate::state::State;
use crate::ui::format::{percent, trim};
use crate::ui::theme::palette;
use crate::ui::widgets::{check, quiet, row, strong};
use crate::view_state::Scratch;
use crate::{Command, View};

/// Draws the facts.
pub fn facts_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands, job: &mut Job) {
    let p = palette(ui.ctx());
    resolution_ui(ui, state);
    ui.add_space(4.0);
    let pages = state.study().and_then(|s| s.file.as_ref().ok()).map_or(1, |f| f.pages);
    if pages > 1 {
        row(ui, "Page", |ui| {
            let (response, set) = number(ui, "Page", job.prep.page as f64, 1.0..=pages as f64, 0.05, 0, "");
            response.on_hover_text("Page of the file that is printed");
            ui.label(quiet(format!("of {pages}"), p));
            if let Some(page) = set {
                job.prep.page = page.round() as usize;
            }
        });
    }
    let Some(study) = state.study() else {
        ui.label(quiet("Reading the artwork", p));
        return;
    };
    let how = study.file.as_ref().map_or("cannot be read".to_owned(), |f| format!("{} {}", f.format, f.samples));
    let (file, print) = (study.file.clone(), study.print.clone());
    let mut soft = scratch.art.soft;
    let grows = print.true_ppi * ENLARGED_FROM <= job.prep.ppi.get();
    let repairs = grows && job.prep.enlarging == Enlarging::Repair && job.prep.repair > 0.0;
    fold(ui, "What came in", &how, true, |ui| {
        match &file {
            Ok(file) => file_ui(ui, file, &print, repairs),
            Err(text) => {
                ui.label(quiet(text, p));
            }
        }
        ui.label(quiet(edges(&print), p));
        check(ui, &mut soft, "Show soft edges")
            .on_hover_text("Marks every edge of the artwork by its width on the print");
    });
    if soft != scratch.art.soft {
        scratch.art.soft = soft;
        if soft {
            commands.push(Command::Look(View::Art));
        }
    }
}

/// True resolution at print size, and what that means at the ruling.
fn resolution_ui(ui: &mut Ui, state: &State) {
    let p = palette(ui.ctx());
    let (Some(doc), Some(prepared)) = (state.doc(), state.prepared()) else { return };
    let true_ppi = prepared.true_ppi;
    let ratio = true_ppi / doc.job.film.ruling.get();
    ui.label(strong(format!("True {true_ppi:.0} ppi at print size"), p));
    let meaning = match Fineness::of_ratio(ratio) {
        Fineness::Ample => "all that the dots can show is there.",
        Fineness::Enough => "tones hold, fine edges will be soft.",
        Fineness::Soft => "tones hold, edges will be soft.",
        Fineness::Coarse => "soft all over; ask for larger artwork or print smaller.",
    };
    let text = format!("{ratio:.1}x the {} lpi ruling: {meaning}", doc.job.film.ruling);
    let label = ui.label(quiet(text, p));
    if let Some(study) = state.study() {
        label.on_hover_text(&study.print.meaning);
    }
}

fn file_ui(ui: &mut Ui, file: &FileFacts, print: &PrintFacts, repairs: bool) {
    let p = palette(ui.ctx());
    let clear = if file.transparent { ", with transparency" } else { "" };
    let mut lines = vec![
        format!("{} x {} pixels, {} bits per sample{clear}", file.width_px, file.height_px, file.bits_per_sample),
        format!("Colour profile: {}", file.color_profile),
        match file.stated_ppi {
            Some(ppi) => format!("States {} ppi", trim(ppi, 1)),
            None => "States no resolution; 96 ppi taken".to_owned(),
        },
    ];
    // A clean drawing may have steps on a grid of eight of its own: blocks are reported only where damage is found.
    if file.jpeg_quality.is_some() || print.wear.is_none_or(|wear| wear.damage > 0.0) {
        lines.push(compression(file.jpeg_quality, print.blocking_ratio));
    }
    lines.extend(print.wear.iter().flat_map(Wear::words));
    if print.wear.is_some_and(|wear| wear.damage > 0.0) && repairs {
        lines.push("Repair removes it as the artwork is enlarged".to_owned());
    }
    lines.extend(file.clipped_colors());
    lines.extend(file.notes.iter().cloned());
    for line in lines {
        ui.label(quiet(line, p));
    }
}

/// What compression did, in words. A ratio of 1.3 is where blocks begin to be seen.
fn compression(quality: Option<u8>, blocking: f64) -> String {
    let blocks = match blocking {
        b if b >= 1.3 => format!("8 x 8 blocks show ({}x other steps): smooth them in Clean-up", trim(b, 2)),
        b if b >= 1.12 => format!("8 x 8 blocks are faint ({}x other steps)", trim(b, 2)),
        _ => "no blocks of compression".to_owned(),
    };
    match quality {
        Some(quality) => format!("JPEG quality about {quality}; {blocks}"),
        None => blocks,
    }
}

fn edges(print: &PrintFacts) -> String {
    match print.edge_width_mm {
        Some(mm) => format!(
            "Half of its edges are over {} mm wide; {} are wider than a dot and a half",
            trim(mm, 2),
            percent(print.soft_edge_share)
        ),
        None => "No edges to judge".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn compression_is_told_by_quality_and_blocks() {
        assert_eq!(compression(None, 1.0), "no blocks of compression");
        assert!(compression(Some(40), 1.42).starts_with("JPEG quality about 40; 8 x 8 blocks show (1.42x"));
    }
}
