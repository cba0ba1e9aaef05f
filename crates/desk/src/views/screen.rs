//! The chosen screen: its ink, coverage and histogram, what it does to the print, and what can be
//! done with it.

use egui::{RichText, Role, Sense, Ui, WidgetInfo, vec2};
use strikeoff_core::ink::Ink;
use strikeoff_core::job::Job;
use strikeoff_core::screens::Screen;
use strikeoff_core::screens::ScreenName;

use super::ink_list::{InkList, ink_menu};
use crate::Command;
use crate::commands as tuning;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::format::percent;
use crate::ui::theme::{GROUP, palette};
use crate::ui::widgets::{card, check, color32, disc, plain_button, plain_button_if, quiet, row, scrolled, strong};
use crate::view_state::Scratch;
use crate::view_state::Sheet;
use crate::views::change;

/// Draws the panel.
pub fn screen_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let found = state.pyramid().and_then(|pyramid| {
        let level = pyramid.levels.last()?;
        let at = level.screens.position(scratch.selected.as_ref()?)?;
        Some((&level.screens, at, pyramid))
    });
    let Some((screens, at, pyramid)) = found else {
        ui.label(quiet("Choose a screen below.", p));
        return;
    };
    let screen = &screens.list[at];
    let tones = &pyramid.tones[at];
    ui.add_space(4.0);
    ui.horizontal(|ui| {
        let (rect, _) = ui.allocate_exact_size(vec2(34.0, 34.0), Sense::hover());
        disc(ui.painter(), rect.center(), 15.0, color32(screen.ink.over_white), p.weak);
        ui.vertical(|ui| {
            ui.label(strong(screen.name.as_str(), p));
            let covers = percent(tones.mean);
            ui.label(quiet(format!("screen {} of {}, covers {covers}", at + 1, screens.list.len()), p));
        });
    });
    ui.add_space(6.0);
    scrolled(ui, |ui| {
        let Some(before) = state.doc().map(|d| d.job.clone()) else { return };
        let mut job = before.clone();
        if let Some(curve) = super::curve::curve_ui(ui, &screen.name, tones, &tuning::curve(&job, &screen.name)) {
            tuning::set_curve(&mut job, &screen.name, curve);
        }
        ui.add_space(4.0);
        knobs_ui(ui, state, &mut job, screen);
        ui.add_space(8.0);
        super::film_card::film_card_ui(ui, state, &mut job, &screen.name);
        if job != before {
            commands.push(change(ui, job, format!("Tune {}", screen.name)));
        }
        ui.add_space(6.0);
        super::add_edit::add_edit_ui(ui, state, scratch, commands, &screen.name);
        super::edits::edits_of_screen_ui(ui, state, scratch, commands, &screen.name);
        ui.add_space(GROUP - 4.0);
        card(ui, "Ink", |ui| {
            row(ui, "Ink", |ui| ink_ui(ui, state, commands, &screen.name, &screen.ink));
            let measured = if screen.ink.measured { "measured" } else { "assumed" };
            let opacity = percent(screen.ink.opacity.get());
            row(ui, "Over white", |ui| ui.label(format!("{}, opacity {opacity}", screen.ink.over_white)));
            row(ui, "Figures", |ui| ui.label(measured));
            garments_ui(ui, commands, &before, &screen.name);
        });
        ui.add_space(8.0);
        super::costs::costs_ui(ui, state, scratch, commands, &screen.name);
        ui.add_space(8.0);
        ui.horizontal_wrapped(|ui| {
            let lasso = plain_button(ui, "Trim a region");
            if lasso.on_hover_text("Draw round a region on the table and take this screen's ink out of it").clicked() {
                scratch.lasso = Some(crate::view_state::Lasso::of(&screen.name));
            }
            merge_ui(ui, state, commands, &screen.name);
            let last = screens.list.len() < 2;
            let button = plain_button_if(ui, !last, "Drop");
            if button.on_hover_text("Take this screen out; undo brings it back").clicked() {
                commands.push(Command::Drop(screen.name.clone()));
            }
            if plain_button(ui, "Choose inks").on_hover_text("Ink sets from the shelf for this artwork").clicked() {
                commands.push(Command::Sheet(Some(Sheet::Inks)));
            }
        });
    });
}

/// On which of the job's garments the screen prints, where there are several.
fn garments_ui(ui: &mut Ui, commands: &mut Commands, job: &Job, screen: &ScreenName) {
    if job.also_on.is_empty() {
        return;
    }
    let mut now = job.clone();
    for (at, garment) in job.garments().enumerate() {
        row(ui, if at == 0 { "Prints on" } else { "" }, |ui| {
            let mut prints = !job.left_out_on(at).contains(screen);
            if check(ui, &mut prints, garment.name.as_str()).changed() {
                let left_out = now.left_out_on_mut(at);
                if prints {
                    left_out.remove(screen)
                } else {
                    left_out.insert(screen.clone())
                };
            }
        });
    }
    if now != *job {
        commands.push(change(ui, now, format!("Print {screen} on other garments")));
    }
}

/// Strength, trim, edges and hits.
fn knobs_ui(ui: &mut Ui, state: &State, job: &mut Job, screen: &Screen) {
    let name = &screen.name;
    let mut strength = tuning::strength(job, name) * 100.0;
    if knob(ui, "Strength", &mut strength, 0.0..=200.0, 0, " %", "Multiplies the coverage of the whole screen") {
        tuning::set_strength(job, name, strength / 100.0);
    }
    let (below, mut background) = tuning::trim(job, name);
    let mut below = below * 100.0;
    let moved = knob(ui, "Trim below", &mut below, 0.0..=40.0, 0, " %", "Tones lighter than this are taken out");
    // What is switched on can be switched off; switched on it is only where there is a background.
    let can = background || state.has_background() != Some(false);
    let ticked = row(ui, "", |ui| {
        ui.add_enabled_ui(can, |ui| check(ui, &mut background, "out of the background"))
            .inner
            .on_hover_text("Takes this screen out where the artwork has only background")
            .on_disabled_hover_text(crate::state::NO_BACKGROUND)
    });
    if moved || ticked.changed() {
        tuning::set_trim(job, name, below / 100.0, background);
    }
    let mut edge = tuning::edge_mm(job, name);
    if knob(ui, "Choke / spread", &mut edge, -1.0..=1.0, 2, " mm", "Less than 0 pulls edges back, more pushes them out")
    {
        tuning::set_edge_mm(job, name, edge);
    }
    let mut hits = f64::from(screen.hits);
    if knob(ui, "Hits", &mut hits, 1.0..=4.0, 0, "", "How often the screen prints, one hit on the other")
        && hits as u8 != screen.hits
    {
        tuning::set_hits(job, name, hits as u8);
    }
}

/// A slider; what is typed is kept to its range.
pub(super) fn knob(
    ui: &mut Ui,
    name: &str,
    value: &mut f64,
    range: std::ops::RangeInclusive<f64>,
    decimals: usize,
    unit: &str,
    hint: &str,
) -> bool {
    let (from, to) = (*range.start(), *range.end());
    let changed = open_knob(ui, name, value, range, decimals, unit, hint);
    if changed {
        *value = value.clamp(from, to);
    }
    changed
}

/// A slider; what is typed may lie beyond its range.
pub(super) fn open_knob(
    ui: &mut Ui,
    name: &str,
    value: &mut f64,
    range: std::ops::RangeInclusive<f64>,
    decimals: usize,
    unit: &str,
    hint: &str,
) -> bool {
    row(ui, name, |ui| {
        ui.spacing_mut().slider_width = (ui.available_width() - 84.0).max(60.0);
        let slider =
            egui::Slider::new(value, range).clamping(egui::SliderClamping::Never).fixed_decimals(decimals).suffix(unit);
        let slider = if decimals == 0 { slider.step_by(1.0) } else { slider.step_by(0.01) };
        let response = ui.add(slider).on_hover_text(hint);
        let now = *value;
        response.widget_info(|| WidgetInfo::slider(true, now, name));
        response.changed()
    })
}

fn ink_ui(ui: &mut Ui, state: &State, commands: &mut Commands, screen: &ScreenName, ink: &Ink) {
    let p = palette(ui.ctx());
    let now = ink.name.as_str();
    let button = ui.add(egui::Button::new(RichText::new(now)).fill(p.well).truncate());
    let button = button.on_hover_text("Print this screen with another ink of the shelf");
    button.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("Ink of {screen}: {now}, re-ink")));
    let mut send = None;
    ink_menu(&button).show(|ui| {
        let list = InkList {
            inks: &state.session.shop.shelf.inks,
            near: Some((ink.over_white, now)),
            verb: "Print with",
            taken: &|other: &Ink| other.name == now,
        };
        send = list.ui(ui).map(|ink| Command::ReInk { screen: screen.to_owned(), ink });
    });
    commands.extend(send);
}

fn merge_ui(ui: &mut Ui, state: &State, commands: &mut Commands, screen: &ScreenName) {
    let others: Vec<ScreenName> = state.screen_names().into_iter().filter(|n| n != screen).collect();
    let button = plain_button_if(ui, !others.is_empty(), "Merge into");
    let button = button.on_hover_text("Multiply this film into another screen's and drop this one");
    egui::Popup::menu(&button).show(|ui| {
        for into in others {
            if ui.button(into.as_str()).clicked() {
                commands.push(Command::Merge { from: screen.to_owned(), into });
                ui.close();
            }
        }
    });
}
