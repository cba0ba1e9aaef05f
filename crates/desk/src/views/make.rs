//! What the sheets that make something share: the row of what can be made, why it failed, that it is under way.

use egui::{RichText, Ui};
use strikeoff_files::sheet::SheetKind;

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::quiet;
use crate::view_state::{Scratch, Sheet};

/// Everything that can be made of the job; `of` is what is open, none for films.
pub fn kinds_ui(ui: &mut Ui, commands: &mut Commands, of: Option<SheetKind>) {
    ui.horizontal_wrapped(|ui| {
        (ui.spacing_mut().item_spacing.x, ui.spacing_mut().button_padding.x) = (0.0, 7.0);
        for kind in std::iter::once(None).chain(SheetKind::ALL.map(Some)) {
            let words = kind.map_or_else(|| "Films".to_owned(), title);
            if ui.selectable_label(kind == of, words).clicked() && kind != of {
                commands.push(Command::Sheet(Some(kind.map_or(Sheet::Export, Sheet::Paper))));
            }
        }
        if ui.selectable_label(false, "Quote").clicked() {
            commands.push(Command::Sheet(Some(Sheet::Quote)));
        }
        for (sheet, words) in [(Sheet::Run, "Runs"), (Sheet::Reorder, "Reorder")] {
            if ui.selectable_label(false, words).clicked() {
                commands.push(Command::Sheet(Some(sheet)));
            }
        }
    });
    ui.add_space(2.0);
}

/// A kind's title as a line begins.
pub fn title(kind: SheetKind) -> String {
    let title = kind.title();
    title[..1].to_uppercase() + &title[1..]
}

/// Why what was to be written is not there.
pub fn fault_ui(ui: &mut Ui, scratch: &Scratch) {
    if let Some(fault) = &scratch.fault {
        ui.add(egui::Label::new(RichText::new(fault).color(palette(ui.ctx()).stop)).wrap());
        ui.add_space(4.0);
    }
}

/// Whether something is being written, with how far it is.
pub fn writing_ui(ui: &mut Ui, state: &State) -> bool {
    let Some(doing) = state.errands.write.doing() else { return false };
    ui.horizontal(|ui| {
        ui.spinner();
        let what = if doing.what.is_empty() { "writing".to_owned() } else { doing.what };
        ui.label(quiet(format!("{what}, {:.0} %", doing.done * 100.0), palette(ui.ctx())));
    });
    true
}
