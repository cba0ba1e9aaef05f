//! The line at the bottom: what was said last, what runs and how far it is.

use std::time::Instant;

use egui::{Align, Layout, ProgressBar, RichText, Ui};

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::format::seconds;
use crate::ui::theme::palette;
use crate::ui::widgets::{quiet, text_button};
use crate::view_state::Scratch;

/// Draws the line.
pub fn status_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    if scratch.note.as_ref().and_then(|note| note.until).is_some_and(|until| until <= Instant::now()) {
        scratch.note = None;
    }
    ui.horizontal_centered(|ui| {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            right_ui(ui, state, scratch, commands);
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                super::findings::chip_ui(ui, state, scratch, commands);
                if let Some(problem) = state.problem() {
                    ui.label(RichText::new("Stopped").strong().color(p.stop));
                    ui.add(egui::Label::new(RichText::new(problem).color(p.text)).truncate());
                } else if let Some(note) = scratch.note.clone() {
                    let color = if note.failed { p.stop } else { p.weak };
                    if text_button(ui, "x", "Dismiss", false).clicked() {
                        scratch.note = None;
                    }
                    ui.add(egui::Label::new(RichText::new(note.text).color(color)).truncate());
                }
            });
        });
    });
}

fn right_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    if let Some(doing) = state.doing() {
        if text_button(ui, "stop", "Stop the running work", false).clicked() {
            commands.push(Command::Cancel);
        }
        ui.add(ProgressBar::new(doing.done).desired_width(120.0).desired_height(6.0).fill(p.fill));
        let left = doing.left.map(|left| format!(", {} left", seconds(left))).unwrap_or_default();
        ui.label(quiet(format!("{}{left}", doing.what), p));
        return;
    }
    if scratch.times {
        let [half, most] = [0.5, 0.95].map(|part| seconds(state.times.percentile(part)));
        let text = format!("frame {half}, 95 % under {most}, picture {}", seconds(state.derived.table.took()));
        ui.label(quiet(text, p));
    }
    if state.pyramid().is_none() {
        return;
    }
    let size = if state.current_full().is_some() { ", full size ready" } else { "" };
    let took = seconds(state.derived.proxy.took() + state.derived.table.took());
    let took = if state.times.shown { format!(", {took}") } else { String::new() };
    ui.label(quiet(format!("proof ready{took}{size}"), p));
}
