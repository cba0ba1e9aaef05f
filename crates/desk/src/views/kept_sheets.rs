//! Sheets about what is kept: jobs that a killed window left, what was lost of a damaged job, and
//! the grey picture that becomes a screen.

use egui::{RichText, ScrollArea, TextEdit, Ui};
use strikeoff_files::job::Recoverable;

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{check, main_button, plain_button, quiet, strong};
use crate::view_state::Scratch;

/// Jobs that were not saved when their window went.
pub fn recovered_ui(ui: &mut Ui, state: &State, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(460.0);
    ui.label(RichText::new("Recovered jobs").heading());
    ui.label(quiet(
        "They were not saved when their window was closed or stopped. They stay until you open or discard them.",
        p,
    ));
    ui.add_space(8.0);
    let list: Vec<_> = state
        .session
        .found
        .iter()
        .map(|job| {
            let title = title_of(job);
            let from = match &job.origin {
                Some(path) => format!("of {}", path.display()),
                None => "never saved".to_owned(),
            };
            let ago = job
                .written
                .and_then(|w| w.elapsed().ok())
                .map_or_else(String::new, |t| format!(", {}", ago(t.as_secs())));
            (title, format!("{from}{ago}"))
        })
        .collect();
    ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
        for (at, (title, from)) in list.iter().enumerate() {
            ui.label(strong(title, p));
            ui.label(quiet(from, p));
            ui.horizontal(|ui| {
                for (word, label, command) in [
                    ("Open", format!("Open {title}"), Command::OpenRecovered(at)),
                    ("Discard", format!("Discard {title}"), Command::DiscardRecovered(at)),
                ] {
                    // Opening the latest is what most people want.
                    let first = at == 0 && matches!(command, Command::OpenRecovered(_));
                    let button = if first { main_button(ui, word, true) } else { plain_button(ui, word) };
                    button.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &label));
                    if button.clicked() {
                        commands.push(command);
                    }
                }
            });
            ui.add_space(8.0);
        }
    });
    if plain_button(ui, "Later").clicked() {
        commands.push(Command::Sheet(None));
    }
}

/// What a recovered job is called: its title, or its art if it has none.
pub fn title_of(job: &Recoverable) -> String {
    if job.title.is_empty() { job.file.art_name.clone() } else { job.title.clone() }
}

fn ago(seconds: u64) -> String {
    match seconds {
        0..120 => "a moment ago".to_owned(),
        120..7200 => format!("{} minutes ago", seconds / 60),
        7200..172_800 => format!("{} hours ago", seconds / 3600),
        _ => format!("{} days ago", seconds / 86_400),
    }
}

/// What was lost of a damaged job.
pub fn lost_ui(ui: &mut Ui, state: &State, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(460.0);
    ui.label(RichText::new("What was lost").heading());
    ui.label(quiet("The rest of the job is there. The file itself was not changed.", p));
    ui.add_space(6.0);
    ScrollArea::vertical().max_height(360.0).show(ui, |ui| {
        for line in &state.session.lost {
            ui.label(line);
        }
    });
    ui.add_space(8.0);
    if main_button(ui, "Go on", true).clicked() {
        commands.push(Command::Sheet(None));
    }
}

/// Which grey picture becomes a screen.
pub fn grey_ui(ui: &mut Ui, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(460.0);
    ui.label(RichText::new("Screen from a grey picture").heading());
    ui.label(quiet("It is stretched over the whole print and kept in the job. Its ink is the chosen screen's until you give it another.", p));
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let field = TextEdit::singleline(&mut scratch.typed).hint_text("path of the picture").desired_width(340.0);
        ui.add(field);
        if plain_button(ui, "Choose").clicked() {
            commands.push(Command::ChooseGrey);
        }
    });
    check(ui, &mut scratch.grey_light, "print the light tones").on_hover_text("Otherwise black is solid, as on a film");
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let typed = scratch.typed.trim().to_owned();
        if main_button(ui, "Add the screen", !typed.is_empty()).clicked() {
            commands.extend([Command::Sheet(None), Command::ImportGrey(typed.into())]);
        }
        if plain_button(ui, "Cancel").clicked() {
            commands.push(Command::Sheet(None));
        }
    });
}
