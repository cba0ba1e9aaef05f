//! The artwork: the client's picture, what it is worth at print size, and the cards that prepare
//! it. A card that is folded says in a word how it stands. Everything here changes the job's
//! settings only; a drag is one step of undo.

mod background;
mod clean;
mod crop;
mod crop_table;
mod enlarge;
mod facts;
pub(super) mod fields;
mod overlays;
mod size;

pub use crop_table::crop_table_ui;
pub use overlays::{overlays_ui, split_labels};

use egui::{CornerRadius, Key, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use strikeoff_core::job::Job;

use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{quiet, scrolled, strong, text_button};
use crate::view_state::Scratch;
use crate::views::change;
use crate::{Command, View};

/// Draws the panel.
pub fn art_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.horizontal(|ui| {
        ui.add_space(2.0);
        ui.label(strong("Artwork", p));
        if let Some(doc) = state.doc() {
            ui.add(egui::Label::new(quiet(&doc.art_name, p)).truncate());
        }
    });
    if state.doc().is_none() {
        ui.label(quiet("No artwork yet.", p));
        return;
    }
    scrolled(ui, |ui| {
        thumbnail_ui(ui, state, scratch, commands);
        ui.add_space(2.0);
        compare_ui(ui, scratch, commands);
        ui.add_space(6.0);
        let Some(mut job) = state.doc().map(|doc| doc.job.clone()) else { return };
        let mut what = None;
        let mut card = |ui: &mut Ui, name, draw: &mut dyn FnMut(&mut Ui, &mut Job)| {
            let before = job.clone();
            // What a card shows must not shift the identity of the fields below it.
            ui.push_id(name, |ui| draw(ui, &mut job));
            if job != before {
                what = Some(name);
            }
            ui.add_space(6.0);
        };
        card(ui, "Page of the artwork", &mut |ui, job| facts::facts_ui(ui, state, scratch, commands, job));
        card(ui, "Print size", &mut |ui, job| size::size_ui(ui, state, job));
        card(ui, "Turn and crop", &mut |ui, job| crop::crop_ui(ui, scratch, commands, job));
        card(ui, "Clean-up", &mut |ui, job| clean::clean_ui(ui, state, scratch, commands, job));
        card(ui, "Background", &mut |ui, job| background::background_ui(ui, state, job));
        card(ui, "Enlarging", &mut |ui, job| enlarge::enlarge_ui(ui, state, job));
        card(ui, "Sharpening", &mut |ui, job| enlarge::sharpen_ui(ui, job));
        if let Some(what) = what {
            commands.push(change(ui, job, what));
        }
    });
}

fn thumbnail_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let Some(texture) = state.derived.proxy.latest().and_then(|proxy| proxy.thumbnail.as_ref()) else { return };
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 128.0), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Look at the artwork"));
    ui.painter().rect_filled(rect, CornerRadius::same(6), p.well);
    let size = texture.size_vec2();
    let fit = size * ((rect.size() - vec2(16.0, 16.0)) / size).min_elem();
    let place = Rect::from_center_size(rect.center(), fit);
    let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    ui.painter().image(texture.id(), place, uv, egui::Color32::WHITE);
    crate::ui::widgets::focus_ring(ui.painter(), rect, &response, p);
    let response = response.on_hover_text("Hold to see the artwork on the table");
    // Held down: before and after, on the spot.
    if response.is_pointer_button_down_on() {
        scratch.peek = true;
    }
    if response.clicked_by(egui::PointerButton::Primary) && ui.input(|i| i.key_pressed(Key::Enter)) {
        commands.push(Command::Look(View::Art));
    }
}

/// Before and after the preparation: held, or side by side at the divider.
fn compare_ui(ui: &mut Ui, scratch: &mut Scratch, commands: &mut Commands) {
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        let hold = text_button(ui, "hold: as received", "Hold to see the artwork as it was received", false);
        let typing = ui.ctx().text_edit_focused();
        let key = !typing && ui.input(|i| i.key_down(Key::B) && i.modifiers.is_none());
        if hold.is_pointer_button_down_on() || (hold.has_focus() && ui.input(|i| i.key_down(Key::Space))) || key {
            scratch.art.hold = true;
            scratch.peek = true;
        }
        hold.on_hover_text("The artwork as it was received, at print size, as long as this or B is held");
        let on = scratch.art.split;
        let split = text_button(ui, "before | after", "Before and after the preparation, side by side", on);
        if split.on_hover_text("As received left of the divider, prepared right of it").clicked() {
            scratch.art.split = !on;
            if !on {
                commands.extend([Command::Look(View::Art), Command::Compare(None)]);
            }
        }
    });
}
