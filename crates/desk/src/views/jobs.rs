//! The shelf of jobs: pictures of the jobs in a folder, found as one types.

use egui::{Image, RichText, ScrollArea, Sense, TextEdit, Ui, vec2};

use super::typed::typed_row;
use crate::Command;
use crate::commands::Commands;
use crate::session::Preferences;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{plain_button, quiet, strong, text_button};
use crate::view_state::Scratch;

/// Draws the sheet.
pub fn jobs_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(680.0);
    ui.label(RichText::new("Jobs").heading());
    let preferences = state.session.machine.preferences();
    let folder = state.session.machine.jobs_folder();
    let now = folder.as_ref().map(|folder| folder.display().to_string()).unwrap_or_default();
    typed_row(ui, "Folder", "folder of the jobs, on this computer or a share", &now, 420.0, |typed| {
        let jobs = Some(typed.trim()).filter(|typed| !typed.is_empty()).map(Into::into);
        commands.push(Command::Prefer(Box::new(Preferences { jobs, ..preferences.clone() })));
        Ok(())
    });
    ui.horizontal(|ui| {
        let field = TextEdit::singleline(&mut scratch.jobs.words)
            .hint_text("client, title, order number, date, ink, garment, colour")
            .desired_width(420.0);
        ui.add(field).accessible_name("Find jobs").request_focus();
        if plain_button(ui, "Look again").on_hover_text("Look through the folder again").clicked() {
            scratch.jobs.looks += 1;
        }
    });
    let found = state.jobs(scratch);
    ui.horizontal(|ui| match (found, &folder) {
        (Some(found), _) => {
            ui.label(quiet(format!("{} of {} jobs", found.count, found.looked.jobs), p));
            if let Some(why) = found.looked.unread.first() {
                let more = found.looked.unread.len() - 1;
                let more = if more > 0 { format!(", and {more} more") } else { String::new() };
                ui.label(quiet(format!("not read: {why}{more}"), p)).on_hover_text(found.looked.unread.join("\n"));
            }
        }
        (None, None) => {
            ui.label(quiet("Say which folder the jobs lie in.", p));
        }
        (None, Some(_)) => {
            ui.label(quiet(state.jobs_fault().unwrap_or("looking through the folder"), p));
        }
    });
    ui.add_space(4.0);
    let height = (ui.ctx().content_rect().height() - 260.0).max(160.0);
    ScrollArea::vertical().max_height(height).min_scrolled_height(height.min(560.0)).show(ui, |ui| {
        let Some(found) = found else { return };
        for (card, picture, taken) in &found.cards {
            ui.horizontal(|ui| {
                let (rect, _) = ui.allocate_exact_size(vec2(84.0, 64.0), Sense::hover());
                if let Some(picture) = picture {
                    let size = picture.size_vec2();
                    let scale = (rect.width() / size.x).min(rect.height() / size.y);
                    let place = egui::Rect::from_center_size(rect.center(), size * scale);
                    Image::new(picture).alt_text(format!("The print of {}", card.title)).paint_at(ui, place);
                }
                ui.vertical(|ui| {
                    if text_button(ui, &card.title, &format!("Open {}", card.title), false).clicked() {
                        commands.extend([Command::Sheet(None), Command::OpenPath(card.path.clone())]);
                    }
                    ui.label(quiet(card.facts().join("  \u{b7}  "), p));
                    if *taken {
                        ui.label(strong("open at a bench", p));
                    }
                });
            });
            ui.add_space(4.0);
        }
        if found.count > found.cards.len() {
            ui.label(quiet(format!("and {} more", found.count - found.cards.len()), p));
        }
    });
}
