//! A list of the shelf's inks to choose from: found by typing a few letters, the nearest to a colour first.

use egui::{
    Id, Popup, PopupCloseBehavior, Response, RichText, Role, ScrollArea, Sense, TextEdit, Ui, WidgetInfo, vec2,
};
use strikeoff_core::color::{Rgb8, ciede2000, lab_from_linear};
use strikeoff_core::ink::Ink;

use crate::ui::theme::palette;
use crate::ui::widgets::{color32, disc, quiet};

/// The menu that the list stands in: a press on the field or between the lines leaves it open.
pub fn ink_menu(button: &Response) -> Popup<'_> {
    Popup::menu(button).width(220.0).close_behavior(PopupCloseBehavior::CloseOnClickOutside)
}

/// What a list of inks is for.
pub struct InkList<'a> {
    /// Inks of the shelf.
    pub inks: &'a [Ink],
    /// The colour that the nearest are wanted to, with what it is.
    pub near: Option<(Rgb8, &'a str)>,
    /// What choosing an ink is called: "Add", "Print with".
    pub verb: &'a str,
    /// Whether an ink cannot be chosen as it is there already.
    pub taken: &'a dyn Fn(&Ink) -> bool,
}

impl InkList<'_> {
    /// Draws it in an open menu; gives the ink that was chosen.
    pub fn ui(&self, ui: &mut Ui) -> Option<Ink> {
        let p = palette(ui.ctx());
        let id = Id::unique("ink list").with(self.verb);
        let mut typed = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_default();
        let field = TextEdit::singleline(&mut typed).hint_text("name of an ink").desired_width(200.0);
        let field = ui.add(field).accessible_name("Find an ink");
        if ui.memory(|memory| memory.focused().is_none()) {
            field.request_focus();
        }
        if let Some((color, what)) = self.near {
            ui.horizontal(|ui| {
                let (rect, _) = ui.allocate_exact_size(vec2(14.0, 14.0), Sense::hover());
                disc(ui.painter(), rect.center(), 5.5, color32(color), p.weak);
                ui.label(quiet(format!("nearest to {what} first"), p));
            });
        }
        let mut chosen = None;
        let list = sorted(self.inks, &typed, self.near.map(|(color, _)| color));
        ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
            for ink in &list {
                let free = !(self.taken)(ink);
                ui.horizontal(|ui| {
                    let (rect, _) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::hover());
                    disc(ui.painter(), rect.center(), 8.0, color32(ink.over_white), p.weak);
                    let button = ui.add_enabled(free, egui::Button::new(RichText::new(&ink.name)).frame(false));
                    let name = format!("{} {}", self.verb, ink.name);
                    button.widget_info(|| WidgetInfo::labeled(Role::Button, free, &name));
                    if button.clicked() {
                        chosen = Some((*ink).clone());
                    }
                });
            }
            if list.is_empty() {
                ui.label(quiet("No ink of that name is on the shelf.", p));
            }
        });
        if chosen.is_some() {
            typed.clear();
            ui.close();
        }
        ui.data_mut(|data| {
            data.insert_temp(id, typed);
        });
        chosen
    }
}

/// Inks that have every typed word in their names, the nearest to a colour first (CIEDE2000 of the solids over
/// white).
fn sorted<'a>(inks: &'a [Ink], typed: &str, near: Option<Rgb8>) -> Vec<&'a Ink> {
    let wanted = typed.to_lowercase();
    let has = |ink: &&Ink| {
        let name = ink.name.to_lowercase();
        wanted.split_whitespace().all(|part| name.contains(part))
    };
    let mut list: Vec<&Ink> = inks.iter().filter(has).collect();
    if let Some(near) = near {
        let near = lab_from_linear(near.linear());
        let off = |ink: &&Ink| ciede2000(lab_from_linear(ink.over_white.linear()), near);
        list.sort_by(|a, b| off(a).total_cmp(&off(b)));
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inks_are_found_by_letters_and_the_nearest_come_first() {
        let shelf = strikeoff_files::shelf::house_shelf();
        let red = shelf.find("Brick red").unwrap().over_white;
        let list = sorted(&shelf.inks, "", Some(red));
        assert_eq!((list.len(), list[0].name.as_str()), (shelf.inks.len(), "Brick red"));
        let white: Rgb8 = "#FFFFFF".parse().unwrap();
        assert!(sorted(&shelf.inks, "", Some(white))[0].name.to_lowercase().contains("white"));
        let found: Vec<&str> = sorted(&shelf.inks, "RED bri", None).iter().map(|ink| ink.name.as_str()).collect();
        assert_eq!(found, ["Brick red"]);
        assert!(sorted(&shelf.inks, "no such ink", None).is_empty());
    }
}
