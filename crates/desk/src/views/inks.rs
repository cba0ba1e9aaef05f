//! The suggestion sheet: ink sets from the shelf, each with a small proof and what it misses.

use egui::{CornerRadius, RichText, ScrollArea, Sense, Stroke, StrokeKind, TextureHandle, Ui, vec2};
use strikeoff_core::separate::Choice;

use crate::theme::{CORNER, palette};
use crate::widgets::{color32, disc, main_button, plain_button, quiet, strong};
use crate::{Command, Workbench};

/// Room for a set with its margins and the gap to the next.
const CARD_WIDTH: f32 = 210.0;

/// What the sheet shows.
pub struct Offer {
    /// The inks and their figures.
    pub choice: Choice,
    /// The small proof.
    pub proof: TextureHandle,
}

/// Draws the sheet.
pub fn inks_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    ui.set_width(880.0_f32.min(ui.ctx().content_rect().width() - 100.0));
    ui.label(RichText::new("Choose inks").heading());
    ui.label(quiet("The best sets found on the shelf for this artwork and garment. Miss is CIEDE2000 of print against art: mean, and what 95 % of the print stays under.", p));
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        ui.label("Screens wanted");
        let wanted = egui::DragValue::new(&mut bench.looking.wanted).clamp_existing_to_range(false).range(1..=10);
        ui.name_inputs("Screens wanted", |ui| ui.add(wanted));
        if plain_button(ui, "Suggest").clicked() {
            bench.commands.push(Command::SuggestInks);
        }
        if let Some(doing) = bench.suggesting() {
            ui.spinner();
            ui.label(quiet(doing.what, p));
        }
    });
    ui.add_space(6.0);
    let mut take = None;
    // A sheet keeps the height that it opened with, when there was no set yet: ask for room.
    let height = 470.0_f32.min(ui.ctx().content_rect().height() - 290.0);
    ScrollArea::vertical().max_height(height).min_scrolled_height(height).show(ui, |ui| {
        let columns = ((ui.available_width() / CARD_WIDTH) as usize).max(1);
        for row in bench.offers.chunks(columns) {
            ui.horizontal_top(|ui| {
                for offer in row {
                    if offer_ui(ui, offer) {
                        take = Some(offer.choice.clone());
                    }
                }
            });
        }
    });
    if bench.offers.is_empty() && bench.suggesting().is_none() {
        ui.label(quiet("No sets yet.", p));
    }
    ui.add_space(6.0);
    if plain_button(ui, "Close").clicked() {
        bench.commands.push(Command::Sheet(None));
    }
    if let Some(choice) = take {
        bench.commands.extend([Command::Sheet(None), Command::UseInks(Box::new(choice))]);
    }
}

fn offer_ui(ui: &mut Ui, offer: &Offer) -> bool {
    let p = palette(ui.ctx());
    let mut taken = false;
    egui::Frame::NONE.fill(p.card).corner_radius(CORNER).inner_margin(10).show(ui, |ui| {
        ui.set_width(180.0);
        ui.vertical(|ui| {
            let (rect, _) = ui.allocate_exact_size(vec2(180.0, 180.0), Sense::hover());
            ui.painter().rect_filled(rect, CornerRadius::same(4), p.surround);
            let size = offer.proof.size_vec2();
            let fit = size * (rect.size() / size).min_elem();
            let place = egui::Rect::from_center_size(rect.center(), fit);
            let uv = egui::Rect::from_min_max(egui::pos2(0.0, 0.0), egui::pos2(1.0, 1.0));
            ui.painter().image(offer.proof.id(), place, uv, egui::Color32::WHITE);
            ui.painter().rect_stroke(rect, CornerRadius::same(4), Stroke::new(1.0, p.line), StrokeKind::Inside);
            let count = offer.choice.inks.len();
            ui.label(strong(format!("{count} {}", if count == 1 { "screen" } else { "screens" }), p));
            let q = offer.choice.quality;
            ui.label(quiet(format!("miss {:.1}, 95 % under {:.1}", q.mean, q.p95), p));
            ui.horizontal_wrapped(|ui| {
                ui.spacing_mut().item_spacing.x = 2.0;
                for ink in &offer.choice.inks {
                    let (rect, response) = ui.allocate_exact_size(vec2(17.0, 17.0), Sense::hover());
                    disc(ui.painter(), rect.center(), 7.5, color32(ink.over_white), p.weak);
                    response.on_hover_text(&ink.name);
                }
            });
            let button = main_button(ui, "Use these", true);
            button
                .widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, format!("Use these {count} inks")));
            taken = button.clicked();
        });
    });
    taken
}
