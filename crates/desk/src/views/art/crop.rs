//! Turning and cropping: quarter turns and mirroring as the art lies, small angles, a crop drawn
//! on the table, and the tight crop that follows the content.

use egui::Ui;
use strikeoff_core::job::Job;
use strikeoff_core::prep::{CropBox, PrepSettings};
use strikeoff_core::units::{Degrees, Mm};

use super::fields::{fold, length, number, tick};
use crate::Command;
use crate::commands::Commands;
use crate::ui::format::trim;
use crate::ui::theme::palette;
use crate::ui::widgets::{main_button, plain_button, quiet, row, text_button};
use crate::view_state::Scratch;

/// All of the art.
pub const WHOLE: CropBox = CropBox { left: 0.0, top: 0.0, width: 1.0, height: 1.0 };

/// Draws the card.
pub fn crop_ui(ui: &mut Ui, scratch: &Scratch, commands: &mut Commands, job: &mut Job) {
    let p = palette(ui.ctx());
    let (prep, unit) = (&mut job.prep, job.info.unit);
    let state = state(prep);
    fold(ui, "Turn and crop", &state, false, |ui| {
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 2.0;
            type Turn = fn(&mut PrepSettings);
            let turns: [(&str, &str, Turn); 4] = [
                ("turn left", "Turn left", PrepSettings::turn_left),
                ("turn right", "Turn right", PrepSettings::turn_right),
                ("flip", "Flip left to right", PrepSettings::flip_sideways),
                ("flip over", "Flip top to bottom", PrepSettings::flip_over),
            ];
            for (text, name, turn) in turns {
                if text_button(ui, text, name, false).on_hover_text(name).clicked() {
                    turn(prep);
                }
            }
        });
        row(ui, "Straighten", |ui| {
            let (response, set) = number(ui, "Straighten", prep.straighten.get(), -45.0..=45.0, 0.05, 2, "°");
            response.on_hover_text("Turn counter-clockwise; the corners that come in are clear");
            if let Some(set) = set.and_then(|v| Degrees::new(v).ok()) {
                prep.straighten = set;
            }
        });
        ui.horizontal(|ui| {
            let text = if scratch.art.cropping { "Done cropping" } else { "Crop on the table" };
            let clicked = if scratch.art.cropping {
                main_button(ui, text, true).clicked()
            } else {
                plain_button(ui, text).on_hover_text("Shows all of the artwork with handles on the crop").clicked()
            };
            if clicked {
                commands.push(Command::Crop(!scratch.art.cropping));
            }
            if prep.crop.is_some() && text_button(ui, "whole", "Keep the whole artwork", false).clicked() {
                prep.crop = None;
            }
        });
        if let Some(crop) = prep.crop {
            let text = format!("Keeps {} x {} % of it", trim(crop.width * 100.0, 1), trim(crop.height * 100.0, 1));
            ui.label(quiet(text, p));
        }
        let mut tight = prep.content_margin_mm.is_some();
        let hint = "Crops to what is neither clear nor background, with a margin on the print";
        if tick(ui, &mut tight, "Tight to the content", "Tight to the content", hint).changed() {
            prep.content_margin_mm = if tight { Mm::new(3.0).ok() } else { None };
        }
        if let Some(margin) = &mut prep.content_margin_mm {
            row(ui, "Margin", |ui| {
                let field = length(ui, "Margin", margin, unit, 0.0..=100.0);
                field.on_hover_text("Left clear round the content, on the print");
            });
        }
    });
}

fn state(prep: &PrepSettings) -> String {
    let mut words = Vec::new();
    if prep.turn != strikeoff_core::prep::Turn::default() || prep.straighten.get() != 0.0 {
        words.push("turned");
    }
    if prep.crop.is_some() {
        words.push("cropped");
    }
    if prep.content_margin_mm.is_some() {
        words.push("tight");
    }
    if words.is_empty() { "as it came".to_owned() } else { words.join(", ") }
}
