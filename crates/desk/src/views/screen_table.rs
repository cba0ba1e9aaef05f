//! All screens in one table: what each covers, what it costs to drop or merge it, how much the look moves
//! with its gain, how much ink it takes.

use egui::{Grid, RichText, Role, ScrollArea, Sense, Ui, WidgetInfo, vec2};
use strikeoff_core::job::Act;
use strikeoff_core::screens::ScreenName;

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::format::{percent, signed};
use crate::ui::theme::{Palette, palette};
use crate::ui::widgets::{color32, disc, quiet};
use crate::view_state::Scratch;

/// Height of a row with the gap to the next.
pub const ROW: f32 = 30.0;

const HEADS: [(&str, &str); 10] = [
    ("", ""),
    ("Screen", ""),
    ("Covers", "Mean coverage on the shirt"),
    ("Drop", "dE after dropping it, the others as they stand, less that of now; press to do it"),
    ("Drop, separate again", "The same with the others separated again to make up for it"),
    ("Cheapest merge", "Into which screen it merges at least cost, and that cost; press to do it"),
    ("Gain", "How far the look moves (dE, mean) when this screen alone prints ten points heavier or lighter"),
    ("Ink", "Grams to mix for the run"),
    ("Time", "What the job takes less without it and the flash behind it"),
    ("Money", "What the job costs less without it, by the times and prices of the shop profile"),
];

/// Draws the table.
pub fn screen_table_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let Some(screens) = state.pyramid().and_then(|p| Some((p.levels.last()?.screens.clone(), p.tones.clone()))) else {
        return;
    };
    let (screens, tones) = screens;
    ScrollArea::both().auto_shrink([false, true]).show(ui, |ui| {
        Grid::new("table of screens").num_columns(HEADS.len()).spacing(vec2(18.0, 4.0)).striped(true).show(ui, |ui| {
            for (head, hint) in HEADS {
                let label = ui.label(quiet(head, p));
                if !hint.is_empty() {
                    label.on_hover_text(hint);
                }
            }
            ui.end_row();
            for (at, (screen, tones)) in screens.list.iter().zip(&tones).enumerate() {
                let chosen = scratch.selected.as_ref() == Some(&screen.name);
                ui.horizontal(|ui| {
                    ui.label(quiet((at + 1).to_string(), p));
                    let (rect, _) = ui.allocate_exact_size(vec2(16.0, 16.0), Sense::hover());
                    disc(ui.painter(), rect.center(), 7.0, color32(screen.ink.over_white), p.weak);
                });
                let name = match screen.ink.name == *screen.name {
                    true => screen.name.to_string(),
                    false => format!("{}, {}", screen.name, screen.ink.name),
                };
                if ui.selectable_label(chosen, name).clicked() {
                    commands.push(Command::Select(Some(screen.name.clone())));
                }
                ui.label(percent(tones.mean));
                costs_cells(ui, state, commands, &screen.name, p);
                facts_cells(ui, state, &screen.name, p);
                money_cells(ui, state, scratch, &screen.name, p);
                ui.end_row();
            }
        });
    });
}

/// Dropping as it stands, dropping with separating again, the cheapest merge.
fn costs_cells(ui: &mut Ui, state: &State, commands: &mut Commands, screen: &ScreenName, p: &Palette) {
    let found = state.costs().and_then(|(costs, current)| Some((costs, current, costs.of(screen)?)));
    let Some((costs, current, cost)) = found else {
        for _ in 0..3 {
            ui.label(quiet("..", p));
        }
        return;
    };
    let mut cell = |ui: &mut Ui, before: &str, after: Option<f64>, act: Act| {
        let Some(after) = after else {
            ui.label(quiet("-", p));
            return;
        };
        let text = format!("{before}{}", signed(after - costs.now));
        let button = ui.add_enabled(current, egui::Button::new(text).fill(p.well));
        let name = format!("{}: {}", act.words(), signed(after - costs.now));
        button.widget_info(|| WidgetInfo::labeled(Role::Button, current, &name));
        if button.on_hover_text(act.words()).clicked() {
            commands.push(Command::Do(Box::new(act)));
        }
    };
    let drop = |again| Act::Drop { screen: screen.clone(), again };
    cell(ui, "", cost.drop.map(|drop| drop.as_is), drop(false));
    cell(ui, "", cost.drop.and_then(|drop| drop.again), drop(true));
    match costs.merges_of(screen).first() {
        Some(merge) => {
            let act = Act::Merge { from: merge.from.clone(), into: merge.into.clone() };
            cell(ui, &format!("into {} ", merge.into), Some(merge.cost.as_is), act);
        }
        None => {
            ui.label(quiet("-", p));
        }
    }
}

/// Sensitivity to gain and grams, from the facts of the press.
fn facts_cells(ui: &mut Ui, state: &State, screen: &ScreenName, p: &Palette) {
    let facts = state.outlook().map(|look| &look.facts);
    let gain = facts.and_then(|f| f.gain.iter().find(|gain| gain.screen == *screen));
    let ink = facts.and_then(|f| f.ink.iter().find(|ink| ink.screen == *screen));
    match gain {
        Some(gain) => ui.label(format!("{:.1}", gain.mean)),
        None => ui.label(quiet("..", p)),
    };
    match ink {
        Some(ink) => ui.label(RichText::new(format!("{:.0} g", ink.mix_g))),
        None => ui.label(quiet("..", p)),
    };
}

/// Minutes and money that the screen takes, for the first quantity of the quote.
fn money_cells(ui: &mut Ui, state: &State, scratch: &Scratch, screen: &ScreenName, p: &Palette) {
    let quotes = state.quotes(scratch);
    let found = quotes.and_then(|quotes| Some((quotes.of(screen)?, quotes)));
    let Some((price, quotes)) = found else {
        for _ in 0..2 {
            ui.label(quiet("..", p));
        }
        return;
    };
    let shirts = quotes.list.first().map_or(0, |quote| quote.quantity);
    let hint = format!("For {shirts} shirts; the quote says what is assumed");
    ui.label(super::quote::minutes(price.minutes)).on_hover_text(&hint);
    ui.label(quotes.rates.money.words(price.cost)).on_hover_text(hint);
}
