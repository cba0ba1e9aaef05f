//! The suggestion sheet: ink sets from the shelf, each with a small proof and how far it is off, what
//! one more screen would bring, and which inks must be in or stay out.

use egui::{Align2, CornerRadius, FontId, RichText, Role, ScrollArea, Sense, Shape, Stroke, StrokeKind};
use egui::{Ui, WidgetInfo, pos2, vec2};
use strikeoff_core::ink::{Ink, InkRole};
use strikeoff_core::separate::{InkRequest, LEAST_GAIN, LEAST_P95_GAIN, Reason};

use crate::Command;
use crate::commands::Commands;
use crate::derived::{Offer, Offers};
use crate::state::State;
use crate::ui::format::percent;
use crate::ui::theme::{CORNER, palette};
use crate::ui::widgets::{check, color32, disc, focus_ring, main_button, plain_button, quiet, strong};
use crate::view_state::Scratch;

/// Room for a set with its margins and the gap to the next.
const CARD_WIDTH: f32 = 210.0;

/// Draws the sheet.
pub fn inks_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(880.0_f32.min(ui.ctx().content_rect().width() - 100.0));
    ui.label(RichText::new("Choose inks").heading());
    ui.label(quiet("The best sets found on the shelf for this artwork and garment. dE is CIEDE2000 of print against art: the mean, and what 95 % of the print stays under.", p));
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        ui.label("Number of screens");
        let screens = &mut scratch.request.screens;
        let count = egui::DragValue::new(screens).clamp_existing_to_range(false).range(1..=10);
        ui.name_inputs("Number of screens", |ui| ui.add(count));
        check(ui, &mut scratch.request.process_with_opaque, "process inks with opaque ones")
            .on_hover_text("Sets may mix transparent process inks and opaque colours, which want different meshes");
        if plain_button(ui, "Suggest").clicked() {
            commands.push(Command::SuggestInks);
        }
        if let Some(doing) = state.suggesting() {
            ui.spinner();
            ui.label(quiet(doing.what, p));
        }
    });
    ui.add_space(4.0);
    shelf_ui(ui, state, scratch);
    ui.add_space(6.0);
    let found = state.offers(scratch);
    let offers: &[Offer] = found.map_or(&[], |(offers, _)| &offers.sets);
    let current = found.is_some_and(|(_, current)| current);
    if let Some((offers, current)) = found {
        ui.label(quiet(what_was_found(offers, current), p));
    }
    let mut take = None;
    // A sheet keeps the height that it opened with, when there was no set yet: ask for room.
    let height = 470.0_f32.min(ui.ctx().content_rect().height() - 390.0);
    ScrollArea::vertical().max_height(height).min_scrolled_height(height).show(ui, |ui| {
        let columns = ((ui.available_width() / CARD_WIDTH) as usize).max(1);
        // What each further screen brings lies first, then the sets themselves.
        let plotted = offers.len() > 1;
        let chosen = found.map(|(offers, _)| offers.chosen);
        let sets = offers.iter().enumerate().map(Some);
        let cards: Vec<Option<(usize, &Offer)>> = plotted.then_some(None).into_iter().chain(sets).collect();
        for row in cards.chunks(columns) {
            ui.horizontal_top(|ui| {
                for card in row {
                    match card {
                        None => trade_off_ui(ui, offers),
                        Some((at, offer)) => {
                            if offer_ui(ui, offer, current, chosen == Some(*at)) {
                                take = Some(offer.set.act());
                            }
                        }
                    }
                }
            });
        }
    });
    if offers.is_empty() && state.suggesting().is_none() {
        ui.label(quiet("No sets yet.", p));
    }
    ui.add_space(6.0);
    if plain_button(ui, "Close").clicked() {
        commands.push(Command::Sheet(None));
    }
    if let Some(act) = take {
        commands.extend([Command::Sheet(None), Command::Do(Box::new(act))]);
    }
}

/// Whether the sets are of the job as it stands, and why there are no more of them.
fn what_was_found(offers: &Offers, current: bool) -> String {
    if !current {
        return "These sets are of the job or the request before the last change: press Suggest for new ones.".into();
    }
    let most = offers.sets.iter().map(|offer| offer.set.choice.inks.len()).max().unwrap_or(0);
    if most < offers.tried {
        return format!(
            "Up to {} screens were tried: more than {most} take less than {LEAST_GAIN} off the mean dE and less than \
             {LEAST_P95_GAIN:.0} off what 95 % stay under.",
            offers.tried
        );
    }
    format!(
        "Each set takes at least {LEAST_GAIN} off the mean dE of the one before, or {LEAST_P95_GAIN:.0} off what 95 % stay \
         under."
    )
}

fn offer_ui(ui: &mut Ui, offer: &Offer, current: bool, chosen: bool) -> bool {
    let p = palette(ui.ctx());
    let mut taken = false;
    let choice = &offer.set.choice;
    let edge = if chosen { Stroke::new(1.5, p.accent) } else { Stroke::NONE };
    egui::Frame::NONE.fill(p.card).stroke(edge).corner_radius(CORNER).inner_margin(10).show(ui, |ui| {
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
            let count = choice.inks.len();
            ui.label(strong(format!("{count} {}", if count == 1 { "screen" } else { "screens" }), p));
            let q = offer.set.quality;
            ui.label(quiet(format!("dE {:.2}, 95 % under {:.1}", q.mean, q.p95), p));
            ui.spacing_mut().item_spacing.y = 3.0;
            for (ink, reason) in choice.inks.iter().zip(&choice.reasons) {
                let line = ui.horizontal(|ui| {
                    ui.spacing_mut().item_spacing.x = 5.0;
                    let (rect, _) = ui.allocate_exact_size(vec2(15.0, 15.0), Sense::hover());
                    disc(ui.painter(), rect.center(), 6.5, color32(ink.over_white), p.weak);
                    ui.add(egui::Label::new(RichText::new(&ink.name).small()).truncate());
                });
                line.response.on_hover_text(why(ink, reason));
            }
            let button = main_button(ui, "Use these", current);
            button.widget_info(|| {
                let names: Vec<_> = choice.inks.iter().map(|ink| ink.name.as_str()).collect();
                WidgetInfo::labeled(Role::Button, current, format!("Use these {count} inks: {}", names.join(", ")))
            });
            taken = button.clicked();
        });
    });
    taken
}

/// Why an ink is in a set.
fn why(ink: &Ink, reason: &Reason) -> String {
    let covers = percent(reason.coverage);
    let brings = match reason.brings {
        b if b < 0.005 => String::new(),
        b => format!("; without it dE rises by {b:.2}"),
    };
    let prints = if ink.role == InkRole::BaseWhite { "lies under" } else { "prints" };
    format!("{}: {prints} {}, covers {covers}{brings}", ink.name, reason.prints)
}

/// The shelf, a disc an ink; a press makes it a must, then bars it, then frees it again.
fn shelf_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch) {
    let p = palette(ui.ctx());
    ui.label(quiet("Shelf: press an ink once if it must be in, twice if it must stay out.", p));
    let request = &mut scratch.request;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(1.0, 1.0);
        for ink in &state.session.shop.shelf.inks {
            let (rect, response) = ui.allocate_exact_size(vec2(22.0, 22.0), Sense::click());
            let (pinned, banned) = (request.pinned.contains(&ink.name), request.banned.contains(&ink.name));
            let state = match (pinned, banned) {
                (true, _) => "must be in",
                (_, true) => "stays out",
                _ => "may be used",
            };
            let name = format!("{}: {state}", ink.name);
            response.widget_info(|| WidgetInfo::selected(Role::Button, true, pinned, &name));
            disc(ui.painter(), rect.center(), 7.5, color32(ink.over_white), p.weak);
            if pinned {
                ui.painter().circle_stroke(rect.center(), 9.5, Stroke::new(2.0, p.accent));
            }
            if banned {
                let [a, b] = [rect.shrink(2.0).left_top(), rect.shrink(2.0).right_bottom()];
                ui.painter().line_segment([a, b], Stroke::new(2.0, p.text));
            }
            focus_ring(ui.painter(), rect, &response, p);
            if response.clicked() {
                next_state(request, ink);
            }
            response.on_hover_text(name);
        }
    });
}

/// May, must, out, may.
fn next_state(request: &mut InkRequest, ink: &Ink) {
    let (pinned, banned) = (request.pinned.contains(&ink.name), request.banned.contains(&ink.name));
    request.pinned.retain(|name| *name != ink.name);
    request.banned.retain(|name| *name != ink.name);
    match (pinned, banned) {
        (false, false) => request.pinned.push(ink.name.clone()),
        (true, _) => request.banned.push(ink.name.clone()),
        _ => {}
    }
}

/// Colour difference against the number of screens: the mean, and what 95 % of the print stays under.
fn trade_off_ui(ui: &mut Ui, offers: &[Offer]) {
    let p = palette(ui.ctx());
    egui::Frame::NONE.fill(p.card).corner_radius(CORNER).inner_margin(10).show(ui, |ui| {
        ui.set_width(180.0);
        ui.vertical(|ui| {
            ui.label(strong("What a screen brings", p));
            ui.label(quiet("Lower line: mean dE; upper line: 95 % of the print is under it", p));
            let (rect, response) = ui.allocate_exact_size(vec2(180.0, 218.0), Sense::hover());
            let figures: Vec<(usize, f64, f64)> =
                offers.iter().map(|o| (o.set.choice.inks.len(), o.set.quality.mean, o.set.quality.p95)).collect();
            response.widget_info(|| {
                let each = figures.iter().map(|(n, mean, p95)| format!("{n}: {mean:.1}, {p95:.1}"));
                let text = format!(
                    "Colour difference by number of screens, mean and 95 %: {}",
                    each.collect::<Vec<_>>().join("; ")
                );
                WidgetInfo::labeled(Role::Image, true, text)
            });
            let plot = rect.shrink2(vec2(16.0, 18.0));
            let top = figures.iter().map(|f| f.2).fold(1.0, f64::max);
            let (first, last) = (figures[0].0 as f32, figures[figures.len() - 1].0 as f32);
            let at = |n: usize, off: f64| {
                let x = plot.left() + (n as f32 - first) / (last - first).max(1.0) * plot.width();
                pos2(x, plot.bottom() - (off / top) as f32 * plot.height())
            };
            let painter = ui.painter();
            painter.hline(plot.x_range(), plot.bottom(), Stroke::new(1.0, p.line));
            for (values, color) in [(1, p.accent), (2, p.weak)] {
                let line = figures.iter().map(|f| at(f.0, if values == 1 { f.1 } else { f.2 })).collect::<Vec<_>>();
                for spot in &line {
                    painter.circle_filled(*spot, 2.5, color);
                }
                painter.add(Shape::line(line, Stroke::new(1.5, color)));
            }
            let small = FontId::proportional(11.0);
            for (n, mean, _) in &figures {
                let x = at(*n, 0.0).x;
                painter.text(pos2(x, plot.bottom() + 3.0), Align2::CENTER_TOP, n, small.clone(), p.weak);
                let over = at(*n, *mean) - vec2(0.0, 4.0);
                painter.text(over, Align2::CENTER_BOTTOM, format!("{mean:.1}"), small.clone(), p.text);
            }
        });
    });
}
