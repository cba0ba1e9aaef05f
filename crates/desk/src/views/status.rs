//! The line at the bottom: what was said last, what runs and how far it is.

use egui::{Align, Layout, ProgressBar, RichText, Ui};

use crate::format::seconds;
use crate::theme::palette;
use crate::widgets::{quiet, text_button};
use crate::{Command, Workbench};

/// Draws the line.
pub fn status_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    ui.horizontal_centered(|ui| {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            right_ui(ui, bench);
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                super::findings::chip_ui(ui, bench);
                if let Some(problem) = bench.problem.clone() {
                    ui.label(RichText::new("Stopped").strong().color(p.stop));
                    ui.add(egui::Label::new(RichText::new(problem).color(p.text)).truncate());
                } else if let Some(note) = bench.note.clone() {
                    let color = if note.failed { p.stop } else { p.weak };
                    if text_button(ui, "x", "Dismiss", false).clicked() {
                        bench.dismiss();
                    }
                    ui.add(egui::Label::new(RichText::new(note.text).color(color)).truncate());
                }
            });
        });
    });
}

fn right_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    if let Some(doing) = bench.doing() {
        if text_button(ui, "stop", "Stop the work that runs", false).clicked() {
            bench.commands.push(Command::Cancel);
        }
        ui.add(ProgressBar::new(doing.done).desired_width(120.0).desired_height(6.0).fill(p.fill));
        let left = doing.left.map(|left| format!(", {} left", seconds(left))).unwrap_or_default();
        ui.label(quiet(format!("{}{left}", doing.what), p));
        return;
    }
    if bench.looking.times {
        let [half, most] = [0.5, 0.95].map(|part| seconds(bench.times.percentile(part)));
        let text = format!("frame {half}, 95 % under {most}, picture {}", seconds(bench.panes[0].took));
        ui.label(quiet(text, p));
    }
    let Some(proxy) = &bench.proxy else { return };
    let size = if bench.current_full().is_some() { ", full size ready" } else { "" };
    let took = seconds(proxy.took + bench.panes[0].took);
    let took = if bench.tells_durations { format!(", {took}") } else { String::new() };
    ui.label(quiet(format!("proof ready{took}{size}"), p));
}
