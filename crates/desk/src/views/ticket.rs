//! The ticket: who the job is for, when it is due, how many shirts of which sizes. What is stated goes onto films
//! and sheets.

use egui::{DragValue, RichText, Ui};
use strikeoff_core::bounds::{TextBound, table};
use strikeoff_core::job::JobInfo;

use super::typed::typed_row;
use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{main_button, quiet, row};
use crate::views::change;

/// Width of the fields.
const WIDE: f32 = 300.0;

/// Draws the sheet.
pub fn ticket_ui(ui: &mut Ui, state: &State, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(520.0);
    ui.label(RichText::new("Ticket").heading());
    ui.label(quiet("What is stated goes onto films, press sheet and client proof; the rest is left out there.", p));
    ui.add_space(8.0);
    let Some(doc) = state.doc() else { return };
    let mut job = doc.job.clone();
    fields_ui(ui, &mut job.info);
    if job != doc.job {
        commands.push(change(ui, job, "Ticket"));
    }
    ui.add_space(8.0);
    if main_button(ui, "Done", true).clicked() {
        commands.push(Command::Sheet(None));
    }
}

fn fields_ui(ui: &mut Ui, info: &mut JobInfo) {
    text(ui, "Job", "name of the job", &mut info.title, table::TITLE);
    text(ui, "Client", "", &mut info.client, table::CLIENT);
    text(ui, "Order number", "", &mut info.order, table::ORDER_NUMBER);
    let due = info.due.map(|due| due.to_string()).unwrap_or_default();
    typed_row(ui, "Due", "year, month, day: 2026-12-04", &due, 150.0, |typed| {
        info.due = if typed.trim().is_empty() { None } else { Some(typed.parse().map_err(said)?) };
        Ok(())
    });
    text(ui, "Placement", "full front, left chest", &mut info.placement, table::PLACEMENT);
    let sizes = info.sizes_text();
    let hint = "S 20, M 60; another garment after a semicolon: Navy: M 12";
    typed_row(ui, "Sizes", hint, &sizes, WIDE, |typed| info.set_sizes(typed).map_err(said));
    let by_hand = info.sizes.is_empty();
    row(ui, "Shirts", |ui| {
        let field = DragValue::new(&mut info.quantity).range(0..=table::QUANTITY.max as u32);
        ui.add_enabled(by_hand, field.update_while_editing(false)).on_disabled_hover_text("The sum of the sizes");
    });
    text(ui, "Version", "proof 1", &mut info.version, table::VERSION);
    text(ui, "Date", "of this version", &mut info.date, table::DATE);
    text(ui, "Notes", "packing, delivery", &mut info.note, table::TICKET_NOTE);
}

fn said(error: impl std::fmt::Display) -> String {
    error.to_string()
}

fn text(ui: &mut Ui, name: &str, hint: &str, value: &mut String, bound: TextBound) {
    let now = value.clone();
    typed_row(ui, name, hint, &now, WIDE, |typed| match bound.fault(typed.trim()) {
        Some(fault) => Err(fault),
        None => {
            *value = typed.trim().to_owned();
            Ok(())
        }
    });
}
