//! The artwork: the client's picture, what it is worth at print size, and the cards that prepare
//! it. A card that is folded says in a word how it stands. Everything here changes the job's
//! settings only; a drag is one step of undo.

mod background;
mod clean;
mod crop;
mod crop_table;
mod enlarge;
mod facts;
mod fields;
mod overlays;
mod size;

pub use crop_table::crop_table_ui;
pub use overlays::{overlays_ui, split_labels};

use egui::{CornerRadius, Key, Rect, Role, Sense, TextureHandle, TextureOptions, Ui, WidgetInfo, pos2, vec2};
use strikeoff_core::job::Job;

use crate::theme::palette;
use crate::widgets::{quiet, scrolled, strong, text_button};
use crate::{Command, View, Workbench};

/// Draws the panel.
pub fn art_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    ui.horizontal(|ui| {
        ui.add_space(2.0);
        ui.label(strong("Artwork", p));
        if let Some(doc) = &bench.doc {
            ui.add(egui::Label::new(quiet(&doc.art_name, p)).truncate());
        }
    });
    if bench.doc.is_none() {
        ui.label(quiet("No artwork yet.", p));
        return;
    }
    scrolled(ui, |ui| {
        thumbnail_ui(ui, bench);
        ui.add_space(2.0);
        compare_ui(ui, bench);
        ui.add_space(6.0);
        let Some(mut job) = bench.doc.as_ref().map(|doc| doc.job.clone()) else { return };
        let mut what = None;
        let mut card = |ui: &mut Ui, bench: &mut Workbench, name, draw: fn(&mut Ui, &mut Workbench, &mut Job)| {
            let before = job.prep.clone();
            // What a card shows must not shift the identity of the fields below it.
            ui.push_id(name, |ui| draw(ui, bench, &mut job));
            if job.prep != before {
                what = Some(name);
            }
            ui.add_space(6.0);
        };
        card(ui, bench, "Page of the artwork", facts::facts_ui);
        card(ui, bench, "Print size", size::size_ui);
        card(ui, bench, "Turn and crop", crop::crop_ui);
        card(ui, bench, "Clean-up", clean::clean_ui);
        card(ui, bench, "Background", background::background_ui);
        card(ui, bench, "Enlarging", enlarge::enlarge_ui);
        card(ui, bench, "Sharpening", enlarge::sharpen_ui);
        if let Some(what) = what {
            let gesture = ui.input(|i| i.pointer.any_down()).then(|| what.to_owned());
            bench.commands.push(Command::Change { job: Box::new(job), what: what.to_owned(), gesture });
        }
    });
}

fn thumbnail_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    let Some(texture) = thumbnail(ui, bench) else { return };
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 128.0), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Look at the artwork"));
    ui.painter().rect_filled(rect, CornerRadius::same(6), p.well);
    let size = texture.size_vec2();
    let fit = size * ((rect.size() - vec2(16.0, 16.0)) / size).min_elem();
    let place = Rect::from_center_size(rect.center(), fit);
    let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    ui.painter().image(texture.id(), place, uv, egui::Color32::WHITE);
    crate::widgets::focus_ring(ui.painter(), rect, &response, p);
    let response = response.on_hover_text("Hold to see the artwork on the table");
    // Held down: before and after, on the spot.
    if response.is_pointer_button_down_on() {
        bench.looking.peek = true;
    }
    if response.clicked_by(egui::PointerButton::Primary) && ui.input(|i| i.key_pressed(Key::Enter)) {
        bench.commands.push(Command::Look(View::Art));
    }
}

/// Before and after the preparation: held, or side by side at the divider.
fn compare_ui(ui: &mut Ui, bench: &mut Workbench) {
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        let hold = text_button(ui, "hold: as received", "Hold to see the artwork as it was received", false);
        let typing = ui.ctx().text_edit_focused();
        let key = !typing && ui.input(|i| i.key_down(Key::B) && i.modifiers.is_none());
        if hold.is_pointer_button_down_on() || (hold.has_focus() && ui.input(|i| i.key_down(Key::Space))) || key {
            bench.art_desk.hold = true;
            bench.looking.peek = true;
        }
        hold.on_hover_text("The artwork as it was received, at print size, as long as this or B is held");
        let on = bench.art_desk.split;
        let split = text_button(ui, "before | after", "Before and after the preparation, side by side", on);
        if split.on_hover_text("As received left of the divider, prepared right of it").clicked() {
            bench.art_desk.split = !on;
            if !on {
                bench.commands.extend([Command::Look(View::Art), Command::Compare(None)]);
            }
        }
    });
}

/// The prepared picture, small, made anew when the proxy is.
fn thumbnail(ui: &Ui, bench: &mut Workbench) -> Option<TextureHandle> {
    let proxy = bench.proxy.as_ref()?;
    let stamp = proxy.stamp;
    if bench.thumbnail.as_ref().is_none_or(|(old, _)| *old != stamp) {
        let picture = &proxy.pyramid.levels.last()?.prepared.picture;
        let rgba = picture.to_rgba8();
        let image = egui::ColorImage::from_rgba_unmultiplied([picture.width(), picture.height()], &rgba);
        let texture = ui.ctx().load_texture("artwork", image, TextureOptions::LINEAR);
        bench.thumbnail = Some((stamp, texture));
    }
    bench.thumbnail.as_ref().map(|(_, texture)| texture.clone())
}
