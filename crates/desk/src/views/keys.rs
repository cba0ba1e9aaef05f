//! Keys, and files dropped on the window.

use egui::{Key, Modifiers, Ui};

use crate::Command;
use crate::commands::Commands;
use crate::view_state::{Scratch, Sheet};

/// Turns key presses into commands, unless something is being typed.
pub fn keys(ui: &Ui, scratch: &mut Scratch, commands: &mut Commands) {
    let typing = ui.ctx().text_edit_focused();
    for command in Command::with_keys() {
        let Some(keys) = command.keys() else { continue };
        // Plain keys belong to the text field while one is in use.
        if typing && keys.modifiers == Modifiers::NONE && keys.logical_key != Key::Escape {
            continue;
        }
        if ui.input_mut(|i| i.consume_shortcut(&keys)) {
            match command {
                Command::Cancel if scratch.sheet.is_none() && scratch.art.cropping => {
                    commands.push(Command::Crop(false));
                }
                Command::Cancel if scratch.sheet.is_some() => commands.push(Command::Sheet(None)),
                Command::Cancel if scratch.tour.is_some() => commands.push(Command::Tour(None)),
                Command::Cancel if scratch.lasso.is_some() => scratch.lasso = None,
                command => commands.push(command),
            }
        }
    }
    let dropped: Vec<_> = ui.input(|i| i.raw.dropped_files.iter().map(|f| f.path().to_owned()).collect());
    match dropped.as_slice() {
        [] => {}
        [path] => commands.push(Command::OpenPath(path.clone())),
        _ => {
            scratch.dropped = dropped;
            commands.push(Command::Sheet(Some(Sheet::Dropped)));
        }
    }
}
