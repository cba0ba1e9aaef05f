//! A new screen for any ink of the shelf: the rest are separated again with it, or stay.

use egui::{Role, Ui, WidgetInfo};
use strikeoff_core::ink::{Ink, InkRole};
use strikeoff_core::job::Job;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::tune::{Edit, EditEntry, Place, edits};

use super::choice;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{card, quiet};
use crate::view_state::Scratch;
use crate::views::ink_list::{InkList, ink_menu};

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
        ink_menu(&button).show(|ui| {
            let unmet = state.derived.methods.latest().and_then(|study| study.unmet);
            let list = InkList {
                inks: &state.session.shop.shelf.inks,
                near: unmet.map(|color| (color, "the artwork's colour that no ink has")),
                verb: "Add",
                taken: &|ink: &Ink| taken.iter().any(|name| *name == ink.name),
            };
            let Some(ink) = list.ui(ui) else { return };
            scratch.selected = Some(ink.name.as_str().into());
            let (name, keep_others) = (ink.name.as_str().into(), !add.resolve);
            job.edits.push(EditEntry::on(Edit::Add(edits::Add { name, ink, place: add.place, keep_others })));
        });
    });
}
