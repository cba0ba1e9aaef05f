//! The rail: the job, its size, its garments, the press's heads, undo, redo, films.

use egui::{Align, Color32, Layout, RichText, TextStyle, Ui};
use strikeoff_core::press::Stop;

use crate::Command;
use crate::commands::Commands;
use crate::session::Document;
use crate::state::State;
use crate::ui::format::size;
use crate::ui::theme::palette;
use crate::ui::widgets::{color32, disc_button, main_button, quiet};
use crate::view_state::Scratch;
use crate::view_state::Sheet;
use crate::views::change;

/// Draws the rail.
pub fn rail_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.horizontal_centered(|ui| {
        let Some(doc) = state.doc() else {
            ui.label(RichText::new("Strikeoff").heading());
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if main_button(ui, "Open", true).clicked() {
                    commands.push(Command::Open);
                }
            });
            return;
        };
        // On a small window the words that explain themselves give way.
        let wide = ui.available_width() >= 1080.0;
        let title = RichText::new(doc.title()).heading().strong();
        if ui.add(egui::Button::new(title).fill(Color32::TRANSPARENT)).on_hover_text("Open, new, demo").clicked() {
            commands.push(Command::Sheet(Some(Sheet::Start)));
        }
        if state.session.is_unsaved() || doc.path.is_none() {
            let what = if doc.path.is_some() { "save" } else { "not saved" };
            let button = ui.add(egui::Button::new(quiet(what, p)).fill(Color32::TRANSPARENT));
            if button.on_hover_text(hint(ui, &Command::Save)).clicked() {
                commands.push(Command::Save);
            }
        }
        ticket_ui(ui, doc, wide, commands);
        if let Some(print_mm) = state.print_size_mm() {
            ui.add_space(if wide { 10.0 } else { 0.0 });
            ui.label(RichText::new(size(print_mm, doc.job.info.unit)).color(p.text))
                .on_hover_text("Print size, width x height");
        }
        ui.add_space(if wide { 14.0 } else { 0.0 });
        if wide {
            ui.label(quiet("Garments", p));
        }
        garments_ui(ui, state, scratch, commands);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let ready = state.current_proxy().is_some();
            let make = main_button(ui, "Make", ready);
            let what = "films, press sheet, client proof, proof picture, ink list, screen-room list";
            if make.on_hover_text(format!("{}: {what}", hint(ui, &Command::Sheet(Some(Sheet::Export))))).clicked() {
                commands.push(Command::Sheet(Some(Sheet::Export)));
            }
            ui.add_space(8.0);
            history_ui(ui, state, commands);
            ui.add_space(8.0);
            heads_ui(ui, state, commands);
        });
    });
}

/// The way to the ticket; the day due stands on it, and under the pointer all that is stated.
fn ticket_ui(ui: &mut Ui, doc: &Document, wide: bool, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let info = &doc.job.info;
    let text = match info.due.filter(|_| wide) {
        Some(due) => format!("Ticket, due {}", due.words()),
        None => "Ticket".to_owned(),
    };
    let open = Command::Sheet(Some(Sheet::Ticket));
    let stated: String = info.stated().iter().map(|(what, said)| format!("\n{what}: {said}")).collect();
    let button = ui.add(egui::Button::new(quiet(text, p)).fill(Color32::TRANSPARENT));
    if button.on_hover_text(format!("{}{stated}", hint(ui, &open))).clicked() {
        commands.push(open);
    }
}

/// A command's words with its keys.
pub fn hint(ui: &Ui, command: &Command) -> String {
    match command.keys() {
        Some(keys) => format!("{}  ({})", command.label(), ui.ctx().format_shortcut(&keys)),
        None => command.label(),
    }
}

fn garments_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let Some(doc) = state.doc() else { return };
    ui.spacing_mut().item_spacing.x = 2.0;
    let mut send = Vec::new();
    for (at, garment) in doc.garments.iter().enumerate() {
        let on = at == scratch.garment;
        let printed = doc.job.garments().any(|own| own == garment);
        let own = if printed { ", separated for it" } else { "" };
        let name = format!("Garment {}{own}", garment.name);
        let chip = disc_button(ui, color32(garment.color), 10.0, &name, on);
        if chip.clicked() {
            send.push(Command::LookOn(at));
        }
        chip.context_menu(|ui| {
            if ui.button("Separate for this garment").clicked() {
                send.extend([Command::LookOn(at), Command::SeparateForThis]);
            }
            if !printed && ui.button("Print on this garment too").clicked() {
                send.extend([Command::LookOn(at), Command::PrintOnToo(at)]);
            }
            if printed && *garment != doc.job.garment && ui.button("Findings and sheets for this garment").clicked() {
                send.extend([Command::LookOn(at), Command::MakeFirst(at)]);
            }
            if printed && !doc.job.also_on.is_empty() && ui.button("Print no more on this garment").clicked() {
                send.push(Command::PrintNoMoreOn(at));
            }
            if ui.button("Remove this garment").clicked() {
                send.push(Command::RemoveGarment(at));
            }
        });
    }
    let add = ui.add(egui::Button::new(RichText::new("+").size(17.0)).fill(Color32::TRANSPARENT));
    let add = add.on_hover_text("Add a garment to look at");
    add.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, "Add garment"));
    egui::Popup::menu(&add).width(200.0).show(|ui| {
        egui::ScrollArea::vertical().max_height(360.0).show(ui, |ui| {
            for garment in &state.session.shop.garments {
                ui.horizontal(|ui| {
                    let disc = disc_button(ui, color32(garment.color), 8.0, &garment.name, false);
                    let word = ui.add(egui::Button::new(&garment.name).fill(Color32::TRANSPARENT));
                    if disc.clicked() || word.clicked() {
                        send.push(Command::AddGarment(garment.clone()));
                        ui.close();
                    }
                });
            }
        });
        ui.separator();
        let id = ui.scope_id().with("own garment color");
        let mut rgb = ui.data(|d| d.get_temp::<[u8; 3]>(id)).unwrap_or([90, 120, 110]);
        ui.horizontal(|ui| {
            ui.color_edit_button_srgb(&mut rgb);
            if ui.button("Add this colour").clicked() {
                send.push(Command::AddGarmentColor(strikeoff_core::color::Rgb8(rgb)));
                ui.close();
            }
        });
        ui.data_mut(|d| d.insert_temp(id, rgb));
    });
    let looked_at = doc.garments.get(scratch.garment);
    let elsewhere = looked_at.is_some_and(|looked_at| doc.job.garments().all(|own| own != looked_at));
    if elsewhere {
        ui.add_space(6.0);
        let text = RichText::new("Separate for this").text_style(TextStyle::Small);
        let button = ui.add(egui::Button::new(text).fill(p.card));
        if button.on_hover_text(format!("The screens are those for {}", doc.job.garment.name)).clicked() {
            send.push(Command::SeparateForThis);
        }
        let text = RichText::new("Print on this too").text_style(TextStyle::Small);
        let button = ui.add(egui::Button::new(text).fill(p.card));
        if button
            .on_hover_text("The same films on both: the colours are separated for both garments together")
            .clicked()
        {
            send.push(Command::PrintOnToo(scratch.garment));
        }
    }
    commands.extend(send);
}

/// Heads that the job takes: a screen each, a flash one more, a cool-down another.
pub fn heads_used(state: &State) -> usize {
    let Some(doc) = state.doc() else { return 0 };
    let names = state.screen_names();
    let last = names.last().cloned();
    let stops = names.iter().filter(|n| Some(*n) != last.as_ref()).map(|name| match doc.job.press.stops.get(name) {
        None => 0,
        Some(Stop::Flash) => 1,
        Some(Stop::FlashAndCoolDown) => 2,
    });
    names.len() + stops.sum::<usize>()
}

fn heads_ui(ui: &mut Ui, state: &State, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let Some(doc) = state.doc() else { return };
    let (used, heads) = (heads_used(state), usize::from(doc.job.run.heads));
    let over = used > heads;
    let mut text = RichText::new(format!("{used} of {heads} heads"));
    if over {
        text = RichText::new(format!("{used} heads, the press has {heads}")).color(p.stop).strong();
    }
    let button = ui
        .add(egui::Button::new(text).fill(p.card))
        .on_hover_text("Heads in use: one per screen, flash and cool-down. Click to set how many the press has.");
    let mut job = doc.job.clone();
    egui::Popup::menu(&button).close_behavior(egui::PopupCloseBehavior::CloseOnClickOutside).show(|ui| {
        ui.horizontal(|ui| {
            ui.label("Heads on the press");
            let heads = egui::DragValue::new(&mut job.run.heads).clamp_existing_to_range(false).range(1..=24);
            ui.name_inputs("Heads on the press", |ui| ui.add(heads));
        });
    });
    if job != doc.job {
        commands.push(change(ui, job, "Heads on the press"));
    }
}

fn history_ui(ui: &mut Ui, state: &State, commands: &mut Commands) {
    let [undo, redo] = state.session.table.as_ref().map_or([None; 2], |table| table.undo_and_redo());
    for (command, what) in [(Command::Redo, redo), (Command::Undo, undo)] {
        let text = RichText::new(command.label().to_lowercase());
        let button = ui.add_enabled(what.is_some(), egui::Button::new(text).fill(Color32::TRANSPARENT));
        let hint = format!("{}: {}", hint(ui, &command), what.unwrap_or_default());
        if button.on_hover_text(hint).clicked() {
            commands.push(command);
        }
    }
}
