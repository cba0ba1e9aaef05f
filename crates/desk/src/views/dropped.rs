//! Several files dropped at once: each is offered, as the table takes one job.

use egui::{RichText, Ui};

use crate::Command;
use crate::commands::Commands;
use crate::ui::theme::palette;
use crate::ui::widgets::{plain_button, quiet};
use crate::view_state::Scratch;

/// Draws the sheet.
pub fn dropped_ui(ui: &mut Ui, scratch: &Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(420.0);
    ui.label(RichText::new("Files that were dropped").heading());
    ui.label(quiet("One job is on the table at a time. Which of them?", p));
    ui.add_space(6.0);
    for path in &scratch.dropped {
        let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
        if plain_button(ui, &format!("Open {name}")).on_hover_text(path.display().to_string()).clicked() {
            commands.extend([Command::Sheet(None), Command::OpenPath(path.clone())]);
        }
    }
    ui.add_space(6.0);
    if plain_button(ui, "None").clicked() {
        commands.push(Command::Sheet(None));
    }
}
