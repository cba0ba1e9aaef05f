//! The panel at the right: the chosen screen, the separation, the list of edits, or the named versions.

use egui::{RichText, Ui};
use strikeoff_core::tune::conflicts;

use super::{edits, screen, separation, versions};
use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::view_state::Scratch;
use crate::view_state::Side;

/// Draws the panel.
pub fn side_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let Some(doc) = state.doc() else {
        screen::screen_ui(ui, state, scratch, commands);
        return;
    };
    let stuck = conflicts(&doc.job.separation, &doc.job.edits).len();
    let tabs = [
        (Side::Screen, "Screen".to_owned()),
        (Side::Separation, "Separation".to_owned()),
        (Side::Edits, counted("Edits", doc.job.edits.len())),
        (Side::Versions, counted("Versions", doc.versions.len())),
    ];
    ui.horizontal_wrapped(|ui| {
        // Narrow, so that all four stay on one line.
        ui.spacing_mut().item_spacing.x = 2.0;
        ui.spacing_mut().button_padding.x = 6.0;
        for (side, text) in tabs {
            let text = RichText::new(text);
            let text = if side == Side::Edits && stuck > 0 { text.color(p.stop) } else { text };
            if ui.selectable_label(scratch.side == side, text).clicked() {
                commands.push(Command::Panel(side));
            }
        }
    });
    if stuck > 0 && scratch.side != Side::Edits {
        let count = if stuck == 1 { "1 edit cannot".to_owned() } else { format!("{stuck} edits cannot") };
        let button = ui.add(egui::Button::new(RichText::new(format!("{count} be applied: show")).color(p.stop)));
        if button.clicked() {
            commands.push(Command::Panel(Side::Edits));
        }
    }
    ui.add_space(4.0);
    match scratch.side {
        Side::Screen => screen::screen_ui(ui, state, scratch, commands),
        Side::Separation => separation::separation_ui(ui, state, scratch, commands),
        Side::Edits => edits::edits_ui(ui, state, scratch, commands),
        Side::Versions => versions::versions_ui(ui, state, scratch, commands),
    }
}

/// A name with how many there are, if there are any.
fn counted(name: &str, count: usize) -> String {
    if count == 0 { name.to_owned() } else { format!("{name} {count}") }
}
