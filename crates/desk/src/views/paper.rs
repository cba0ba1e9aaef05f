//! A sheet of the job before it is written: its pages as they will be, its paper, where it goes.

use egui::{Color32, RichText, ScrollArea, Ui, vec2};
use strikeoff_files::film::safe_name;
use strikeoff_files::sheet::{Paper, SheetKind};

use super::make::{fault_ui, kinds_ui, title, writing_ui};
use crate::Command;
use crate::commands::Commands;
use crate::session::Document;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{main_button, one_of, plain_button, quiet};
use crate::view_state::Scratch;

/// Draws the sheet.
pub fn paper_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands, kind: SheetKind) {
    ui.set_width(660.0);
    ui.label(RichText::new(format!("Make the {}", kind.title())).heading());
    kinds_ui(ui, commands, Some(kind));
    let Some(doc) = state.doc() else { return };
    let height = (ui.ctx().content_rect().height() - 260.0).max(160.0);
    page_ui(ui, state, scratch, kind, height);
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let start = suggested(doc, kind);
        let path = scratch.paper.paths.entry(kind).or_insert(start);
        let field = egui::TextEdit::singleline(path).hint_text(format!("file of the {}", kind.title()));
        ui.add(field.desired_width(500.0)).accessible_name("Where it goes");
        if plain_button(ui, "Choose place").clicked() {
            commands.push(Command::ChooseSheet(kind));
        }
    });
    ui.add_space(4.0);
    fault_ui(ui, scratch);
    let writing = writing_ui(ui, state);
    ui.horizontal(|ui| {
        let path = scratch.paper.paths.get(&kind).map(|path| path.trim().to_owned()).unwrap_or_default();
        let ready = !path.is_empty() && !writing && state.outlook().is_some();
        if main_button(ui, &format!("Write {}", kind.title()), ready).clicked() {
            commands.push(Command::MakeSheet(kind, path.into()));
        }
        if plain_button(ui, "Cancel").clicked() {
            commands.push(Command::Sheet(None));
        }
        let endings: Vec<String> = kind.endings().iter().map(|ending| format!(".{ending}")).collect();
        let said = format!("{}; a file of that name is replaced.", endings.join(", "));
        ui.label(quiet(said, palette(ui.ctx())));
    });
}

/// Beside the job, named like it.
fn suggested(doc: &Document, kind: SheetKind) -> String {
    let folder = doc.path.as_deref().and_then(std::path::Path::parent);
    let name = format!("{} {}.{}", safe_name(doc.title()), kind.title(), kind.endings()[0]);
    folder.map(|folder| folder.join(name).display().to_string()).unwrap_or_default()
}

/// The page in sight, with paper and pages to choose.
fn page_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, kind: SheetKind, height: f32) {
    let p = palette(ui.ctx());
    let shown = state.page_of(scratch, kind);
    let pages = shown.map_or(1, |(page, _)| page.pages);
    ui.horizontal(|ui| {
        if !kind.is_picture() {
            let paper = &mut scratch.paper.paper;
            for (of, words) in [(Paper::A4, "A4"), (Paper::Letter, "Letter")] {
                if one_of(ui, *paper == of, words).clicked() {
                    *paper = of;
                }
            }
        }
        for page in (1..=pages).filter(|_| pages > 1) {
            let now = scratch.paper.page.max(1) == page;
            if ui.selectable_label(now, format!("Page {page}")).clicked() {
                scratch.paper.page = page;
            }
        }
        match shown {
            Some((_, true)) => {}
            Some((_, false)) => {
                ui.label(quiet("before the last change", p));
            }
            None => {
                ui.label(quiet(state.page_fault().unwrap_or("the page is being made"), p));
            }
        }
    });
    ScrollArea::vertical().max_height(height).min_scrolled_height(height).auto_shrink([false, false]).show(ui, |ui| {
        let Some((page, current)) = shown else { return };
        let size = page.texture.size_vec2();
        let wide = ui.available_width().min(size.x);
        let tint = if current { Color32::WHITE } else { Color32::from_white_alpha(110) };
        let picture = egui::Image::new(&page.texture).tint(tint).fit_to_exact_size(vec2(wide, wide * size.y / size.x));
        ui.vertical_centered(|ui| ui.add(picture.alt_text(format!("{}, as it will be written", title(kind)))));
    });
}
