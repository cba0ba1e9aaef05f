//! Keys, and files dropped on the window.

use egui::{Key, Modifiers, Ui};

use crate::{Command, Workbench};

/// Turns key presses into commands, unless something is being typed.
pub fn keys(ui: &Ui, bench: &mut Workbench) {
    let typing = ui.ctx().text_edit_focused();
    for command in Command::with_keys() {
        let Some(keys) = command.keys() else { continue };
        // Plain keys belong to the text field while one is in use.
        if typing && keys.modifiers == Modifiers::NONE && keys.logical_key != Key::Escape {
            continue;
        }
        if ui.input_mut(|i| i.consume_shortcut(&keys)) {
            match command {
                Command::Cancel if bench.looking.sheet.is_none() && bench.art_desk.cropping => {
                    bench.send(Command::Crop(false));
                }
                Command::Cancel if bench.looking.sheet.is_some() => bench.send(Command::Sheet(None)),
                Command::Cancel if bench.looking.tour.is_some() => bench.send(Command::Tour(None)),
                Command::Cancel if bench.looking.lasso.is_some() => bench.looking.lasso = None,
                command => bench.send(command),
            }
        }
    }
    let dropped = ui.input(|i| i.raw.dropped_files.iter().map(|f| f.path().to_owned()).next());
    if let Some(path) = dropped {
        bench.send(Command::OpenPath(path));
    }
}
