//! The shop's times and prices in the preferences: what is not stated shows the assumed figure and says so.

use egui::{ComboBox, DragValue, TextEdit, Ui};
use strikeoff_core::bounds::table;
use strikeoff_core::quote::{ASSUMED_PACES, Pace, Pricing, RATES, Rate, Rates};

use crate::ui::theme::palette;
use crate::ui::widgets::{plain_button, quiet, row, strong, text_button};

/// Draws them.
pub fn rates_ui(ui: &mut Ui, rates: &mut Rates) {
    let p = palette(ui.ctx());
    ui.label(strong("Times and prices", p));
    ui.label(quiet("For quotes. What you do not set is assumed, and every quote names it.", p));
    for rate in RATES {
        rate_ui(ui, rates, rate);
    }
    paces_ui(ui, rates);
    pricing_ui(ui, rates);
    row(ui, "Currency", |ui| {
        let field = TextEdit::singleline(&mut rates.money.currency).char_limit(table::CURRENCY.most);
        ui.add(field.desired_width(60.0).hint_text("USD")).accessible_name("Currency");
    });
    row(ui, "Prices in steps of", |ui| {
        let field = DragValue::new(&mut rates.money.price_step).range(table::PRICE_STEP.range()).speed(0.01);
        ui.add(field.update_while_editing(false));
    });
}

fn rate_ui(ui: &mut Ui, rates: &mut Rates, rate: &Rate) {
    let p = palette(ui.ctx());
    let stated = (rate.stated)(rates);
    let share = rate.unit.is_empty();
    let times = if share { 100.0 } else { 1.0 };
    let mut value = stated.unwrap_or(rate.assumed) * times;
    let name = rate.name[..1].to_uppercase() + &rate.name[1..];
    row(ui, &name, |ui| {
        let unit = if share { " %".to_owned() } else { format!(" {}", rate.unit) };
        let range = rate.bound.min * times..=rate.bound.max * times;
        let field = DragValue::new(&mut value).range(range).speed(0.1).max_decimals(2).suffix(unit);
        if ui.add(field.update_while_editing(false)).accessible_name(&name).changed() {
            (rate.state)(rates, Some(value / times));
        }
        if stated.is_none() {
            ui.label(quiet("assumed", p));
        } else if text_button(ui, "take back", &format!("{name}: not stated"), false).clicked() {
            (rate.state)(rates, None);
        }
    });
}

fn paces_ui(ui: &mut Ui, rates: &mut Rates) {
    let p = palette(ui.ctx());
    if rates.paces.is_empty() {
        let words = |pace: &Pace| format!("{} to {} heads, {} flashes", pace.shirts_an_hour, pace.heads, pace.flashes);
        let assumed: Vec<String> = ASSUMED_PACES[..4].iter().map(words).collect();
        ui.label(quiet(format!("Shirts an hour, assumed: {}", assumed.join("; ")), p));
        if plain_button(ui, "State own paces").clicked() {
            rates.paces = ASSUMED_PACES.into();
        }
        return;
    }
    let mut gone = None;
    for (at, pace) in rates.paces.iter_mut().enumerate() {
        ui.horizontal(|ui| {
            let field = |ui: &mut Ui, value: &mut u8, before: &str, most: u8| {
                let field = DragValue::new(value).range(0..=most).prefix(before).update_while_editing(false);
                ui.add(field).accessible_name(format!("{before}pace {}", at + 1));
            };
            field(ui, &mut pace.heads, "to heads ", table::HEADS.max as u8);
            field(ui, &mut pace.flashes, "flashes ", table::FLASHES.max as u8);
            pace.heads = pace.heads.max(1);
            let shirts = DragValue::new(&mut pace.shirts_an_hour).range(table::SHIRTS_AN_HOUR.range());
            ui.add(shirts.suffix(" shirts an hour").update_while_editing(false));
            if text_button(ui, "delete", &format!("Delete pace {}", at + 1), false).clicked() {
                gone = Some(at);
            }
        });
    }
    if let Some(at) = gone {
        rates.paces.remove(at);
    }
    if rates.paces.len() < table::PACES.most && plain_button(ui, "Add a pace").clicked() {
        let last = rates.paces.last().copied().unwrap_or(ASSUMED_PACES[4]);
        rates.paces.push(last);
    }
}

fn pricing_ui(ui: &mut Ui, rates: &mut Rates) {
    let p = palette(ui.ctx());
    let (now, own) = rates.pricing();
    let (mut by_margin, share) = match now {
        Pricing::Margin(share) => (true, share),
        Pricing::MarkUp(share) => (false, share),
    };
    let (mut percent, mut changed) = (share * 100.0, false);
    row(ui, "Put on the cost", |ui| {
        let words = |margin| if margin { "margin, of the price" } else { "mark-up, of the cost" };
        ComboBox::from_id_salt("pricing").selected_text(words(by_margin)).show_ui(ui, |ui| {
            for margin in [true, false] {
                changed |= ui.selectable_value(&mut by_margin, margin, words(margin)).changed();
            }
        });
        let most = if by_margin { table::MARGIN_SHARE.max } else { table::MARK_UP.max } * 100.0;
        percent = percent.min(most);
        let field = DragValue::new(&mut percent).range(0.0..=most).suffix(" %").max_decimals(1);
        changed |= ui.add(field.update_while_editing(false)).changed();
        if !own {
            ui.label(quiet("assumed", p));
        }
    });
    if changed {
        let share = percent / 100.0;
        rates.pricing = Some(if by_margin { Pricing::Margin(share) } else { Pricing::MarkUp(share) });
    }
}
