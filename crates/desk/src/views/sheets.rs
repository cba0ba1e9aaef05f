//! Sheets that lie over the window: start, keys, about, films.

use egui::{Context, Frame, Grid, Id, Modal, RichText, Ui};

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{main_button, plain_button, quiet, strong};
use crate::view_state::Scratch;
use crate::view_state::Sheet;

/// Draws the open sheet, if there is one.
pub fn sheets_ui(ctx: &Context, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let Some(sheet) = scratch.sheet else { return };
    let frame = Frame::popup(&ctx.global_style()).inner_margin(20);
    let response = Modal::new(Id::unique("sheet")).frame(frame).show(ctx, |ui| match sheet {
        Sheet::Start => start_ui(ui, state, scratch, commands),
        Sheet::Keys => keys_ui(ui),
        Sheet::About => about_ui(ui),
        Sheet::Ticket => super::ticket::ticket_ui(ui, state, commands),
        Sheet::Dropped => super::dropped::dropped_ui(ui, scratch, commands),
        Sheet::Quote => super::quote::quote_sheet_ui(ui, state, scratch, commands),
        Sheet::Jobs => super::jobs::jobs_ui(ui, state, scratch, commands),
        Sheet::Run => super::run::run_ui(ui, state, scratch, commands),
        Sheet::Reorder => super::reorder::reorder_ui(ui, state, scratch, commands),
        Sheet::Paper(kind) => super::paper::paper_ui(ui, state, scratch, commands, kind),
        Sheet::Export => super::export::export_ui(ui, state, scratch, commands),
        Sheet::Save => save_ui(ui, scratch, commands),
        Sheet::Preferences => super::preferences::preferences_ui(ui, state, scratch, commands),
        Sheet::Find => super::find::find_ui(ui, state, scratch, commands),
        Sheet::InkRoom => super::ink_room::ink_room_ui(ui, state, scratch, commands),
        Sheet::Inks => super::inks::inks_ui(ui, state, scratch, commands),
        Sheet::Recovered => super::kept_sheets::recovered_ui(ui, state, commands),
        Sheet::Lost => super::kept_sheets::lost_ui(ui, state, commands),
        Sheet::Grey => super::kept_sheets::grey_ui(ui, scratch, commands),
    });
    let pinned = sheet == Sheet::Start && state.doc().is_none();
    if response.should_close() && !pinned {
        commands.push(Command::Sheet(None));
    }
}

fn start_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(420.0);
    ui.label(RichText::new("Strikeoff").heading());
    ui.label(quiet("From a client's picture to the screens that print it.", p));
    ui.add_space(10.0);
    ui.horizontal(|ui| {
        if main_button(ui, "Open a picture or a job", true).clicked() {
            commands.extend([Command::Sheet(None), Command::Open]);
        }
        if state.session.demo.is_some() && plain_button(ui, "Demo job").clicked() {
            commands.extend([Command::Sheet(None), Command::OpenDemo]);
        }
    });
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let field = egui::TextEdit::singleline(&mut scratch.typed).hint_text("or type its path").desired_width(310.0);
        let field = ui.add(field);
        let enter = field.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Enter));
        let ready = !scratch.typed.trim().is_empty();
        if (ui.add_enabled(ready, egui::Button::new("Open")).clicked() || enter) && ready {
            let path = std::path::PathBuf::from(scratch.typed.trim());
            commands.extend([Command::Sheet(None), Command::OpenPath(path)]);
        }
    });
    ui.add_space(6.0);
    ui.label(quiet("A picture can also be dropped on the window: PNG, JPEG, TIFF, WebP, SVG, PDF.", p));
    ui.add_space(6.0);
    recent_ui(ui, state, commands);
    if !state.session.found.is_empty() && ui.link(format!("Recovered jobs: {}", state.session.found.len())).clicked() {
        commands.push(Command::Sheet(Some(Sheet::Recovered)));
    }
    ui.horizontal(|ui| {
        for (command, text) in [
            (Command::Sheet(Some(Sheet::Jobs)), "Jobs"),
            (Command::Sheet(Some(Sheet::Preferences)), "Preferences"),
            (Command::Sheet(Some(Sheet::Keys)), "Keys"),
            (Command::Tour(Some(0)), "Hints"),
            (Command::Sheet(Some(Sheet::About)), "About"),
        ] {
            if ui.link(text).clicked() {
                commands.push(command);
            }
        }
    });
}

/// Files opened or saved last, newest first.
fn recent_ui(ui: &mut Ui, state: &State, commands: &mut Commands) {
    let p = palette(ui.ctx());
    if state.session.machine.preferences().recent.is_empty() {
        return;
    }
    ui.label(strong("Recent", p));
    for path in state.session.machine.preferences().recent.iter().take(8) {
        let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
        if ui.link(name).on_hover_text(path.display().to_string()).clicked() {
            commands.extend([Command::Sheet(None), Command::OpenPath(path.clone())]);
        }
    }
    ui.add_space(8.0);
}

fn save_ui(ui: &mut Ui, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(460.0);
    ui.label(RichText::new("Save the job").heading());
    ui.label(quiet("Artwork, settings, edits, versions and screens in one file. A job that is there already stays beside it as the previous one.", p));
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let field =
            egui::TextEdit::singleline(&mut scratch.typed).hint_text("path of the job file").desired_width(340.0);
        ui.add(field);
        if plain_button(ui, "Choose").clicked() {
            commands.push(Command::ChooseSave);
        }
    });
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let typed = scratch.typed.trim().to_owned();
        if main_button(ui, "Save", !typed.is_empty()).clicked() {
            let mut path = std::path::PathBuf::from(typed);
            if path.extension().is_none() {
                path.set_extension(strikeoff_files::job::JOB_EXTENSION);
            }
            commands.extend([Command::Sheet(None), Command::SaveTo(path)]);
        }
        if plain_button(ui, "Cancel").clicked() {
            commands.push(Command::Sheet(None));
        }
    });
}

fn keys_ui(ui: &mut Ui) {
    let p = palette(ui.ctx());
    ui.set_width(460.0);
    ui.label(RichText::new("Keys").heading());
    ui.add_space(6.0);
    // A sheet keeps the height that it opened with: ask for room.
    let height = 560.0_f32.min(ui.ctx().content_rect().height() - 170.0);
    egui::ScrollArea::vertical().max_height(height).min_scrolled_height(height).show(ui, |ui| {
        Grid::new("keys").num_columns(2).striped(true).spacing([24.0, 6.0]).show(ui, |ui| {
            for command in Command::with_keys() {
                let Some(keys) = command.keys() else { continue };
                ui.label(RichText::new(ui.ctx().format_shortcut(&keys)).strong());
                ui.label(command.label());
                ui.end_row();
            }
            for (keys, what) in [
                ("Space", "On a screen's card: show or hide it"),
                ("Left, Right", "On a screen's card: print it earlier or later"),
                ("Arrows", "On the table: move it; on the divider: move the divider"),
                ("Tab", "Go to the next control"),
            ] {
                ui.label(RichText::new(keys).strong());
                ui.label(what);
                ui.end_row();
            }
        });
    });
    ui.add_space(6.0);
    ui.label(quiet("Scroll to zoom at the pointer, drag to move, double-click for the whole garment.", p));
}

fn about_ui(ui: &mut Ui) {
    let p = palette(ui.ctx());
    ui.set_width(420.0);
    ui.label(RichText::new("Strikeoff").heading());
    ui.label(format!("Version {}", env!("CARGO_PKG_VERSION")));
    ui.add_space(6.0);
    ui.label("The proof is computed from the inks' colours and opacities. Figures marked assumed were not measured in your shop: print a test before a run.");
    ui.add_space(6.0);
    ui.label(quiet("The proof is sRGB. Unless your display is calibrated, judge colour on a printed swatch.", p));
    ui.label(quiet(
        "Inks, cleaners and ultraviolet lamps: follow the data sheets, local codes and licensed practice.",
        p,
    ));
}
