//! What else can be done to the chosen screen: menus whose entries put an edit at the end of the
//! list, with values that do little until they are changed, and open it.

use egui::{Popup, Ui};
use strikeoff_core::screens::{NewName, ScreenName};
use strikeoff_core::tune::EditEntry;
use strikeoff_core::tune::edits::{Menu, Start, offers};

use crate::Command;
use crate::commands::Commands;
use crate::commands::free_name;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{plain_button_if, quiet};
use crate::view_state::Scratch;
use crate::view_state::Sheet;

/// Draws the menus.
pub fn add_edit_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands, screen: &ScreenName) {
    let p = palette(ui.ctx());
    let Some(ink) = state.chosen_ink(scratch) else { return };
    let names = state.screen_names();
    let free = |wish: &str| NewName::from(free_name(wish, &names));
    let other = names.iter().find(|name| *name != screen);
    let offers = offers(&Start { screen, other, ink: &ink, free: &free });
    let mut add = None;
    ui.horizontal_wrapped(|ui| {
        for (menu, title, hint) in [
            (Menu::Change, "Change", "More edits of this screen"),
            (Menu::WithAnother, "With another", "Edits of this screen by another one"),
            (Menu::NewScreen, "New screen", "A screen from this one, from the artwork or from a picture"),
        ] {
            let of_menu: Vec<_> = offers.iter().filter(|offer| offer.menu == menu).collect();
            let button = plain_button_if(ui, !of_menu.is_empty(), title).on_hover_text(hint);
            Popup::menu(&button).width(190.0).show(|ui| {
                for offer in of_menu {
                    if ui.button(offer.label).clicked() {
                        add = Some(offer.edit.clone());
                        ui.close();
                    }
                }
                if menu == Menu::NewScreen && ui.button("From a grey picture").clicked() {
                    scratch.typed.clear();
                    commands.push(Command::Sheet(Some(Sheet::Grey)));
                    ui.close();
                }
            });
        }
    });
    ui.label(quiet("Adds an edit, which you can change under Edits.", p));
    let Some(edit) = add else { return };
    let Some(doc) = state.doc() else { return };
    let mut job = doc.job.clone();
    scratch.open_edit = Some(job.edits.len());
    let what = format!("{} {}", edit.label(), edit.in_words());
    job.edits.push(EditEntry::on(edit));
    commands.push(Command::change(job, what));
}
