//! A new screen for any ink of the shelf: the rest are separated again with it, or stay.

use egui::{RichText, Role, ScrollArea, Sense, Ui, WidgetInfo, vec2};
use strikeoff_core::ink::InkRole;
use strikeoff_core::job::Job;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::tune::{Edit, EditEntry, Place, edits};

use super::choice;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{card, color32, disc, quiet};
use crate::view_state::Scratch;

/// Draws the card.
pub fn add_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, job: &mut Job) {
    let p = palette(ui.ctx());
    card(ui, "Add a screen", |ui| {
        let add = &mut scratch.adding;
        choice(
            ui,
            &mut add.resolve,
            &[
                (true, "Separate again", "All screens are separated again with the new ink"),
                (false, "Leave the rest", "The other screens stay; the new one does what it can"),
            ],
        );
        choice(
            ui,
            &mut add.place,
            &[
                (Place::Usual, "usual place", "Light before dark, black after colours, white last"),
                (Place::First, "printed first", "Before the colours, after an underbase"),
                (Place::Last, "printed last", "After every other screen"),
            ],
        );
        let add = *add;
        let taken: Vec<ScreenName> = state.screen_names();
        let has_black = job.separation.screens.iter().any(|s| s.ink.role == InkRole::Black);
        if !add.resolve && !has_black {
            ui.label(quiet("A black is then made from the artwork's shadows and edges.", p));
        }
        let button = ui.add(egui::Button::new("Choose its ink").fill(p.well));
        button.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Choose the new screen's ink"));
        egui::Popup::menu(&button).width(220.0).show(|ui| {
            ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
                for ink in &state.session.shop.shelf.inks {
                    let there = taken.iter().any(|name| *name == ink.name);
                    ui.horizontal(|ui| {
                        let (rect, _) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::hover());
                        disc(ui.painter(), rect.center(), 8.0, color32(ink.over_white), p.weak);
                        let label = ui.add_enabled(!there, egui::Button::new(RichText::new(&ink.name)).frame(false));
                        label.widget_info(|| WidgetInfo::labeled(Role::Button, !there, format!("Add {}", ink.name)));
                        if label.clicked() {
                            let edit = Edit::Add(edits::Add {
                                name: ink.name.as_str().into(),
                                ink: ink.clone(),
                                place: add.place,
                                keep_others: !add.resolve,
                            });
                            job.edits.push(EditEntry::on(edit));
                            scratch.selected = Some(ink.name.as_str().into());
                            ui.close();
                        }
                    });
                }
            });
        });
    });
}
