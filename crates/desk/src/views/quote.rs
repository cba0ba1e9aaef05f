//! Minutes and money: the quote for some quantities, line by line, with all that is assumed.

use egui::{Grid, RichText, ScrollArea, TextEdit, Ui, vec2};
use strikeoff_core::quote::{Line, Money, Quote};

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{plain_button, quiet, row, strong};
use crate::view_state::{Scratch, Sheet};

/// Draws the sheet.
pub fn quote_sheet_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    ui.set_width(660.0);
    ui.label(RichText::new("Quote").heading());
    ui.add_space(4.0);
    row(ui, "Quantities", |ui| {
        let field = TextEdit::singleline(&mut scratch.quantities).hint_text("50, 150, 300").desired_width(260.0);
        ui.add(field)
            .accessible_name("Quantities")
            .on_hover_text("Shirts, with commas between; empty: the ticket's and usual ones");
    });
    ui.add_space(6.0);
    let height = (ui.ctx().content_rect().height() - 220.0).max(160.0);
    ScrollArea::vertical().max_height(height).min_scrolled_height(height.min(420.0)).show(ui, |ui| {
        quotes_ui(ui, state, scratch, usize::MAX);
    });
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        if plain_button(ui, "Times and prices").on_hover_text("Of the shop profile, in the preferences").clicked() {
            commands.push(Command::Sheet(Some(Sheet::Preferences)));
        }
        if plain_button(ui, "Close").clicked() {
            commands.push(Command::Sheet(None));
        }
    });
}

/// Quotes side by side, at most so many, what each screen costs, and what is assumed.
pub fn quotes_ui(ui: &mut Ui, state: &State, scratch: &Scratch, most: usize) {
    let p = palette(ui.ctx());
    let Some(quotes) = state.quotes(scratch) else {
        ui.label(quiet("the screens are being made", p));
        return;
    };
    let Some(first) = quotes.list.first() else { return };
    let shown = &quotes.list[..quotes.list.len().min(most)];
    breakdown_ui(ui, shown, &quotes.rates.money);
    ui.add_space(6.0);
    ui.label(strong(format!("Each screen, {} shirts", first.quantity), p));
    ui.label(quiet("What the job takes less without it and the flash behind it", p));
    let money = &quotes.rates.money;
    Grid::new("price of screens").num_columns(3).spacing(vec2(18.0, 3.0)).show(ui, |ui| {
        for screen in &quotes.screens {
            ui.label(screen.screen.as_str());
            ui.label(quiet(minutes(screen.minutes), p));
            ui.label(money.words(screen.cost));
            ui.end_row();
        }
    });
    if !first.assumed.is_empty() {
        ui.add_space(6.0);
        ui.label(strong("Assumed, as the shop profile does not say", p));
        for line in &first.assumed {
            ui.label(quiet(line, p));
        }
    }
}

/// A column a quantity, a row a part of the work.
fn breakdown_ui(ui: &mut Ui, quotes: &[Quote], money: &Money) {
    let p = palette(ui.ctx());
    Grid::new("quotes").num_columns(1 + quotes.len()).spacing(vec2(22.0, 4.0)).striped(true).show(ui, |ui| {
        let line = |ui: &mut Ui, what: &str, of: &dyn Fn(&Quote) -> RichText| {
            ui.label(quiet(what, p));
            for quote in quotes {
                ui.label(of(quote));
            }
            ui.end_row();
        };
        line(ui, "Shirts", &|q| strong(q.quantity.to_string(), p));
        line(ui, "Price of a shirt", &|q| strong(money.words(q.price_each), p));
        line(ui, "Price", &|q| RichText::new(money.words(q.price)));
        line(ui, "Margin, of the price", &|q| RichText::new(format!("{:.1} %", q.margin * 100.0)));
        line(ui, "Time", &|q| RichText::new(minutes(q.minutes)));
        line(ui, "Cost of a shirt", &|q| RichText::new(money.words(q.cost_each)));
        line(ui, "Cost", &|q| RichText::new(money.words(q.cost)));
        let first = quotes.first().map(|quote| quote.lines.as_slice()).unwrap_or_default();
        for (at, part) in first.iter().enumerate() {
            // Lines of one job are the same for every quantity.
            let said = |line: &Line| match line.minutes > 0.0 {
                true => format!("{}, {}", money.words(line.cost), minutes(line.minutes)),
                false => money.words(line.cost),
            };
            let cell = |q: &Quote| RichText::new(q.lines.get(at).map(said).unwrap_or_default());
            line(ui, &part.what, &cell);
        }
        line(ui, "Shirts printed, misprints included", &|q| RichText::new(q.printed.to_string()));
    });
}

/// Hours and minutes: `35 min`, `2 h 05 min`.
pub fn minutes(minutes: f64) -> String {
    let whole = minutes.round().max(0.0) as u64;
    if whole < 60 { format!("{whole} min") } else { format!("{} h {:02} min", whole / 60, whole % 60) }
}

#[cfg(test)]
mod tests {
    #[test]
    fn minutes_read_as_a_shop_says_them() {
        assert_eq!([0.4, 35.0, 60.0, 125.2].map(super::minutes), ["0 min", "35 min", "1 h 00 min", "2 h 05 min"]);
    }
}
