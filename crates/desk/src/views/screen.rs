//! The chosen screen: its ink, coverage and histogram, what it does to the print, and what can be
//! done with it.

use egui::{Align2, CornerRadius, FontId, Rect, RichText, Role, ScrollArea, Sense, Shape, Ui, WidgetInfo, pos2, vec2};
use strikeoff_core::ink::InkRole;

use crate::format::percent;
use crate::theme::{GROUP, palette};
use crate::widgets::{card, color32, disc, plain_button, quiet, row, strong};
use crate::{Command, Workbench};

/// Draws the panel.
pub fn screen_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    let found = bench.proxy.as_ref().and_then(|proxy| {
        let level = proxy.pyramid.levels.last()?;
        let at = level.screens.position(bench.looking.selected.as_deref()?)?;
        Some((level.screens.clone(), at))
    });
    let Some((screens, at)) = found else {
        ui.label(quiet("Choose a screen below.", p));
        return;
    };
    let screen = &screens.list[at];
    ui.add_space(4.0);
    ui.horizontal(|ui| {
        let (rect, _) = ui.allocate_exact_size(vec2(34.0, 34.0), Sense::hover());
        disc(ui.painter(), rect.center(), 15.0, color32(screen.ink.over_white), p.weak);
        ui.vertical(|ui| {
            ui.label(strong(&screen.name, p));
            let covers = percent(screen.coverage.mean_coverage());
            ui.label(quiet(format!("screen {} of {}, covers {covers}", at + 1, screens.list.len()), p));
        });
    });
    ui.add_space(6.0);
    ScrollArea::vertical().auto_shrink([false, true]).show(ui, |ui| {
        histogram_ui(ui, screen);
        ui.add_space(GROUP);
        card(ui, "Ink", |ui| {
            row(ui, "Ink", |ui| ink_ui(ui, bench, &screen.name, &screen.ink.name));
            row(ui, "Over white", |ui| ui.label(screen.ink.over_white.to_string()));
            row(ui, "Opacity", |ui| ui.label(percent(screen.ink.opacity.get())));
            row(ui, "Kind", |ui| {
                ui.label(match screen.ink.role {
                    InkRole::Color => "colour",
                    InkRole::Process => "process",
                    InkRole::Black => "black",
                    InkRole::White => "white",
                    InkRole::BaseWhite => "base white",
                })
            });
            row(ui, "Figures", |ui| ui.label(if screen.ink.measured { "measured" } else { "assumed" }));
        });
        ui.add_space(GROUP);
        let film = bench.doc.as_ref().map(|d| d.job.film.clone());
        if let Some(film) = film {
            card(ui, "Film", |ui| {
                row(ui, "Ruling", |ui| ui.label(format!("{} lpi", film.ruling)));
                row(ui, "Angle", |ui| ui.label(format!("{} degrees", film.angle)));
            });
        }
        ui.add_space(GROUP);
        ui.horizontal(|ui| {
            merge_ui(ui, bench, &screen.name);
            let last = screens.list.len() < 2;
            let button = ui.add_enabled_ui(!last, |ui| plain_button(ui, "Drop")).inner;
            if button.on_hover_text("Take this screen out; undo brings it back").clicked() {
                bench.commands.push(Command::Drop(screen.name.clone()));
            }
        });
    });
}

/// How much of the print this screen covers how strongly.
fn histogram_ui(ui: &mut Ui, screen: &strikeoff_core::job::Screen) {
    let p = palette(ui.ctx());
    const BINS: usize = 48;
    let mut bins = [0u32; BINS];
    for &v in screen.coverage.data() {
        bins[usize::from(v) * BINS / 65_536] += 1;
    }
    // Clear and solid areas would dwarf the tones between; those set the height.
    let most = bins[1..BINS - 1].iter().max().copied().unwrap_or(1).max(1) as f32;
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 128.0), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Figure, true, format!("Coverage of {}", screen.name)));
    ui.painter().rect_filled(rect, CornerRadius::same(6), p.well);
    let inner = rect.shrink2(vec2(6.0, 6.0));
    let step = inner.width() / BINS as f32;
    let bars = bins.iter().enumerate().map(|(i, &n)| {
        let height = (n as f32 / most).sqrt().min(1.0) * (inner.height() - 6.0);
        let x = inner.left() + i as f32 * step;
        let bar = Rect::from_min_max(pos2(x, inner.bottom() - height), pos2(x + step - 0.8, inner.bottom()));
        Shape::rect_filled(bar, CornerRadius::ZERO, p.line)
    });
    ui.painter().extend(bars.collect::<Vec<_>>());
    let (axis, _) = ui.allocate_exact_size(vec2(ui.available_width(), 14.0), Sense::hover());
    let font = FontId::proportional(11.0);
    ui.painter().text(axis.left_center(), Align2::LEFT_CENTER, "no ink", font.clone(), p.weak);
    ui.painter().text(axis.right_center(), Align2::RIGHT_CENTER, "solid", font, p.weak);
}

fn ink_ui(ui: &mut Ui, bench: &mut Workbench, screen: &str, now: &str) {
    let p = palette(ui.ctx());
    let button = ui.add(egui::Button::new(RichText::new(now)).fill(p.well).truncate());
    let button = button.on_hover_text("Print this screen with another ink of the shelf");
    button.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("Ink of {screen}: {now}, re-ink")));
    let mut send = None;
    egui::Popup::menu(&button).width(220.0).show(|ui| {
        ScrollArea::vertical().max_height(380.0).show(ui, |ui| {
            for ink in &bench.shop.shelf.inks {
                ui.horizontal(|ui| {
                    let (rect, _) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::hover());
                    disc(ui.painter(), rect.center(), 8.0, color32(ink.over_white), p.weak);
                    if ui.selectable_label(ink.name == now, &ink.name).clicked() {
                        send = Some(Command::ReInk { screen: screen.to_owned(), ink: ink.clone() });
                        ui.close();
                    }
                });
            }
        });
    });
    bench.commands.extend(send);
}

fn merge_ui(ui: &mut Ui, bench: &mut Workbench, screen: &str) {
    let others: Vec<String> = bench.screen_names().into_iter().filter(|n| n != screen).collect();
    let button = ui.add_enabled_ui(!others.is_empty(), |ui| plain_button(ui, "Merge into")).inner;
    let button = button.on_hover_text("Multiply this film into another screen's and drop this one");
    egui::Popup::menu(&button).show(|ui| {
        for into in others {
            if ui.button(&into).clicked() {
                bench.commands.push(Command::Merge { from: screen.to_owned(), into });
                ui.close();
            }
        }
    });
}
