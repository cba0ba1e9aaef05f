//! What acts on the chosen screen cost in colour, each with the button that does exactly that.

use egui::{Align, Label, Layout, Sense, Ui, vec2};
use strikeoff_core::ink::Ink;
use strikeoff_core::job::Act;
use strikeoff_core::screens::ScreenName;

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::format::signed;
use crate::ui::theme::{Palette, palette};
use crate::ui::widgets::{card, check, color32, disc, quiet};
use crate::view_state::Scratch;

/// Merges that are offered: the cheapest.
const MERGES: usize = 3;
/// Inks that are offered with the screens as they stand, and mixed inks.
const INKS: usize = 4;
const MIXES: usize = 3;

const HOW: &str = "Mean CIEDE2000 of print against art after it, less that of now";

const DAYS: &str = "Mean over two hundred days on which each screen prints about 6 points heavier or lighter and \
                    hides about 5 % more or less (assumed); 19 of 20 days are better than the bad one";

/// Draws the card.
pub fn costs_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands, screen: &ScreenName) {
    let p = palette(ui.ctx());
    card(ui, "Costs in colour", |ui| {
        let Some((costs, current)) = state.costs() else {
            ui.label(quiet("working out the costs", p));
            return;
        };
        let when = if current { "" } else { ", before the last change" };
        ui.label(quiet(format!("dE now {:.2}{when}", costs.now), p)).on_hover_text(HOW);
        let days = costs.over_days;
        ui.label(quiet(format!("over days {:.2}, on a bad one {:.2}", days.mean, days.bad_day), p)).on_hover_text(DAYS);
        let Some(cost) = costs.of(screen) else { return };
        let mut act = |ui: &mut Ui, ink: Option<&Ink>, words: &str, after: f64, act: Act| {
            act_ui(ui, commands, p, ink, words, after - costs.now, current, act);
        };
        let drop = |again| Act::Drop { screen: screen.clone(), again };
        if let Some(cost) = &cost.drop {
            act(ui, None, "Drop", cost.as_is, drop(false));
            if let Some(after) = cost.again {
                act(ui, None, "Drop, separate again", after, drop(true));
            }
        }
        for merge in costs.merges_of(screen).into_iter().take(MERGES) {
            let words = format!("Merge into {}", merge.into);
            let merged = Act::Merge { from: merge.from.clone(), into: merge.into.clone() };
            act(ui, None, &words, merge.cost.as_is, merged);
        }
        check(ui, &mut scratch.costs.inks, "try other inks").on_hover_text(
            "Tries every ink of the shelf on this screen, and inks mixed for this screen and another in one",
        );
        if !scratch.costs.inks || !current {
            return;
        }
        let Some(swaps) = state.swaps(screen) else {
            ui.horizontal(|ui| {
                ui.spinner();
                ui.label(quiet("trying inks", p));
            });
            return;
        };
        let re_ink = |ink: &Ink, again| Act::ReInk { screen: screen.clone(), ink: Box::new(ink.clone()), again };
        ui.label(quiet("In another ink, coverage as it stands", p));
        for swap in swaps.inks.iter().take(INKS) {
            act(ui, Some(&swap.ink), &swap.ink.name, swap.cost.as_is, re_ink(&swap.ink, false));
        }
        let again = || swaps.inks.iter().filter_map(|swap| Some((&swap.ink, swap.cost.again?)));
        if again().next().is_some() {
            ui.label(quiet("In another ink, all separated again", p));
        }
        for (ink, after) in again() {
            act(ui, Some(ink), &ink.name, after, re_ink(ink, true));
        }
        if !swaps.mixes.is_empty() {
            ui.label(quiet("With another screen in one mixed ink", p));
        }
        for mix in swaps.mixes.iter().take(MIXES) {
            let other = if mix.from == *screen { &mix.into } else { &mix.from };
            let ink = &mix.mixed.ink;
            let words = format!("{other}, {}", ink.over_white);
            let mixed = Act::Mix { from: mix.from.clone(), into: mix.into.clone(), ink: Box::new(ink.clone()) };
            act(ui, Some(ink), &words, mix.mixed.again, mixed);
        }
    });
}

/// One act: the ink it brings, its words, its cost, its button.
#[expect(clippy::too_many_arguments, reason = "the cells of one row")]
fn act_ui(
    ui: &mut Ui,
    commands: &mut Commands,
    p: &Palette,
    ink: Option<&Ink>,
    words: &str,
    cost: f64,
    current: bool,
    act: Act,
) {
    ui.horizontal(|ui| {
        if let Some(ink) = ink {
            let (rect, _) = ui.allocate_exact_size(vec2(16.0, 16.0), Sense::hover());
            disc(ui.painter(), rect.center(), 7.0, color32(ink.over_white), p.weak);
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            // What is true of a state that has passed is not offered as an act.
            let button = egui::Button::new(signed(cost)).min_size(vec2(54.0, 0.0)).fill(p.well);
            let response = ui.add_enabled(current, button).on_hover_text(format!("{}. {HOW}.", act.words()));
            let name = format!("{}: {}", act.words(), signed(cost));
            response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, current, &name));
            if response.clicked() {
                commands.push(Command::Do(Box::new(act)));
            }
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| ui.add(Label::new(quiet(words, p)).truncate()));
        });
    });
}
