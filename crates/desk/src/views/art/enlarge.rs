//! Enlarging and sharpening.

use egui::Ui;
use strikeoff_core::job::Job;
use strikeoff_core::prep::Enlarging;
use strikeoff_core::units::Ppi;

use super::fields::{choices, fold, number, percent, small_mm};
use crate::state::State;
use crate::ui::format::trim;
use crate::ui::theme::palette;
use crate::ui::widgets::{check, quiet, row};

/// How art is brought to the working resolution.
pub fn enlarge_ui(ui: &mut Ui, state: &State, job: &mut Job) {
    let p = palette(ui.ctx());
    let true_ppi = state.prepared().map(|prepared| prepared.true_ppi);
    let factor = true_ppi.map(|ppi| job.prep.ppi.get() / ppi);
    let way = match job.prep.enlarging {
        Enlarging::Edges => "along edges",
        Enlarging::Plain => "plain",
        Enlarging::Repair => "repaired",
        Enlarging::Redraw => "redrawn",
    };
    let how = match factor {
        Some(factor) if factor >= 1.01 => format!("{}x, {way}", trim(factor, 1)),
        _ => "not enlarged".to_owned(),
    };
    fold(ui, "Enlarge", &how, false, |ui| {
        let list = [
            (Enlarging::Edges, "Along edges", "Keeps edges crisp and makes no halo; from 1.2x on"),
            (Enlarging::Plain, "Plain", "By Lanczos's kernel alone"),
            (
                Enlarging::Repair,
                "Repair",
                "A trained net redraws edges and removes compression damage; lettering under about 6 pixels can come out unreadable; from 1.2x on",
            ),
            (Enlarging::Redraw, "Redraw", "For flat art: logos, badges, type. Redrawn as outlines, sharp at any size"),
        ];
        if let Some(set) = choices(ui, job.prep.enlarging, &list) {
            job.prep.enlarging = set;
        }
        if job.prep.enlarging == Enlarging::Repair {
            let hint = "How much of the damage found is removed; less keeps more grain, as of skin and cloth";
            percent(ui, "Strength", &mut job.prep.repair, 1.0, hint);
        }
        if job.prep.enlarging == Enlarging::Redraw {
            redraw_ui(ui, job);
        }
        row(ui, "Working", |ui| {
            let (response, set) = number(ui, "Working", job.prep.ppi.get(), 72.0..=600.0, 1.0, 0, " ppi");
            response.on_hover_text("Resolution that screens are computed at, at print size");
            if let Some(set) = set.and_then(|v| Ppi::new(v).ok()) {
                job.prep.ppi = set;
            }
        });
        let text = match (true_ppi, factor) {
            (Some(ppi), Some(factor)) if factor >= 1.01 => {
                let added = match job.prep.enlarging {
                    Enlarging::Repair => "The net redraws edges: check small lettering.",
                    Enlarging::Redraw => "Redrawn as outlines: compare with the artwork.",
                    Enlarging::Edges | Enlarging::Plain => "No detail is added.",
                };
                format!("{ppi:.0} ppi that are there become {}: {}x. {added}", job.prep.ppi, trim(factor, 1))
            }
            (Some(ppi), _) => format!("{ppi:.0} ppi are there: more than the screens are computed at."),
            _ => return,
        };
        ui.label(quiet(text, p));
    });
}

/// How flat art is redrawn.
fn redraw_ui(ui: &mut Ui, job: &mut Job) {
    let prep = &mut job.prep;
    row(ui, "Colours", |ui| {
        let mut own = prep.redraw_colours.is_none();
        if check(ui, &mut own, "as it has").changed() {
            prep.redraw_colours = if own { None } else { Some(6) };
        }
        if let Some(count) = prep.redraw_colours {
            let (response, set) = number(ui, "Colours", f64::from(count), 2.0..=64.0, 1.0, 0, "");
            response.on_hover_text("Colours of the redraw, clear among them");
            prep.redraw_colours = Some(set.map_or(count, |v| v.round() as u32));
        }
    });
    let hint = "0 keeps every turn of an outline, 1 draws the calmest that the art allows";
    percent(ui, "Smoothness", &mut prep.redraw_smoothness, 1.0, hint);
}

/// Unsharp masking on the print.
pub fn sharpen_ui(ui: &mut Ui, job: &mut Job) {
    let prep = &mut job.prep;
    let state = if prep.sharpen_amount > 0.0 {
        format!("{}, {} mm", trim(prep.sharpen_amount, 2), trim(prep.sharpen_radius_mm.get(), 2))
    } else {
        "off".to_owned()
    };
    fold(ui, "Sharpen", &state, false, |ui| {
        small_mm(ui, "Radius", &mut prep.sharpen_radius_mm, 2.0, "Radius on the print");
        row(ui, "Amount", |ui| {
            let (response, set) = number(ui, "Amount", prep.sharpen_amount, 0.0..=3.0, 0.01, 2, "");
            response.on_hover_text("0 sharpens nothing");
            prep.sharpen_amount = set.unwrap_or(prep.sharpen_amount);
        });
        let hint = "Differences smaller than this stay as they are, so that noise and blocks are not raised";
        percent(ui, "Threshold", &mut prep.sharpen_threshold, 0.25, hint);
        let hint = "How far an edge may rise above its surroundings; at 0 there is no halo";
        percent(ui, "Halo limit", &mut prep.halo_limit, 1.0, hint);
    });
}
