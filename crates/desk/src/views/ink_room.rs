//! The ink room: the shop's inks and garments, their colours picked, typed or measured, what there is of them, and the
//! recipe of an ink from the others.

use egui::{DragValue, RichText, Role, ScrollArea, Sense, TextEdit, Ui, WidgetInfo, vec2};
use strikeoff_core::bounds::table;
use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::names::same;
use strikeoff_core::units::Opacity;
use strikeoff_files::profile::{ShopProfile, Stock};

use super::typed::typed_row;
use crate::Command;
use crate::commands::Commands;
use crate::derived::Mixed;
use crate::state::State;
use crate::ui::format::trim;
use crate::ui::theme::{GROUP, palette};
use crate::ui::widgets::{check, color32, disc, plain_button, plain_button_if, quiet, row, strong};
use crate::view_state::Scratch;

/// Draws the sheet.
pub fn ink_room_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(760.0_f32.min(ui.ctx().content_rect().width() - 100.0));
    ui.label(RichText::new("Ink room").heading());
    ui.label(quiet("The shop's inks and garments. Jobs keep the inks that they were made with.", p));
    ui.horizontal(|ui| {
        for (garments, word) in [(false, "Inks"), (true, "Garments")] {
            if ui.selectable_label(scratch.room.garments == garments, word).clicked()
                && scratch.room.garments != garments
            {
                (scratch.room.garments, scratch.room.at) = (garments, 0);
            }
        }
    });
    ui.add_space(4.0);
    let before = &state.session.machine.profile;
    let mut now = before.clone();
    let height = 430.0_f32.min(ui.ctx().content_rect().height() - 220.0);
    ui.horizontal_top(|ui| {
        ui.vertical(|ui| {
            ui.set_width(250.0);
            if scratch.room.garments {
                garments_list_ui(ui, scratch, &mut now, height)
            } else {
                inks_list_ui(ui, scratch, &mut now, height)
            }
        });
        ui.add_space(GROUP);
        ui.vertical(|ui| {
            ui.set_width(ui.available_width());
            ScrollArea::vertical().id_salt("chosen").max_height(height).auto_shrink([false, true]).show(ui, |ui| {
                if scratch.room.garments {
                    garment_ui(ui, scratch, &mut now);
                } else {
                    ink_ui(ui, scratch, commands, &mut now);
                    recipe_ui(ui, state, scratch, before);
                }
            });
        });
    });
    ui.add_space(6.0);
    if plain_button(ui, "Close").clicked() {
        commands.push(Command::Sheet(None));
    }
    if now != *before {
        commands.push(Command::ChangeShop(Box::new(now)));
    }
}

/// A name that no other has.
fn free_name(taken: &[&str], begins: &str) -> String {
    let numbered = (2..).map(|n| format!("{begins} {n}"));
    let mut names = std::iter::once(begins.to_owned()).chain(numbered);
    names.find(|name| taken.iter().all(|other| !same(other, name))).unwrap_or_default()
}

fn line_ui(ui: &mut Ui, color: Rgb8, name: &str, more: &str, on: bool) -> bool {
    let p = palette(ui.ctx());
    ui.horizontal(|ui| {
        let (rect, _) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::hover());
        disc(ui.painter(), rect.center(), 8.0, color32(color), p.weak);
        let response = ui.selectable_label(on, name);
        response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, on, name));
        ui.label(quiet(more, p));
        response.clicked()
    })
    .inner
}

fn inks_list_ui(ui: &mut Ui, scratch: &mut Scratch, now: &mut ShopProfile, height: f32) {
    ScrollArea::vertical().id_salt("inks").max_height(height - 34.0).show(ui, |ui| {
        for (at, ink) in now.shelf.inks.iter().enumerate() {
            let grams = now.stock_of(&ink.name).and_then(|stock| stock.grams);
            let more = grams.map_or_else(String::new, |grams| format!("{grams:.0} g"));
            if line_ui(ui, ink.over_white, &ink.name, &more, scratch.room.at == at) {
                scratch.room.at = at;
            }
        }
    });
    if plain_button(ui, "Add an ink").clicked() {
        let taken: Vec<&str> = now.shelf.inks.iter().map(|ink| ink.name.as_str()).collect();
        let ink = Ink {
            name: free_name(&taken, "New ink"),
            over_white: Rgb8([128; 3]),
            opacity: Opacity::new(0.8).unwrap_or_else(|_| unreachable!()),
            role: InkRole::Color,
            measured: false,
            spectra: None,
        };
        scratch.room.at = now.shelf.inks.len();
        now.shelf.inks.push(ink);
    }
}

/// Name, colour, opacity, stock, price and mesh of the chosen ink.
fn ink_ui(ui: &mut Ui, scratch: &mut Scratch, commands: &mut Commands, now: &mut ShopProfile) {
    let p = palette(ui.ctx());
    let at = scratch.room.at;
    let taken: Vec<String> = now.shelf.inks.iter().map(|ink| ink.name.clone()).collect();
    let Some(ink) = now.shelf.inks.get_mut(at) else { return };
    let old = ink.name.clone();
    let free = |name: &str| taken.iter().enumerate().all(|(other, taken)| other == at || !same(taken, name));
    typed_row(ui, "Name", "as the shop calls it", &old, 220.0, |text| named(text, &free, &mut ink.name));
    color_ui(ui, &mut ink.over_white, "Colour over white").then(|| (ink.measured, ink.spectra) = (false, None));
    row(ui, "Opacity", |ui| {
        let mut opacity = ink.opacity.get();
        let field = ui.add(DragValue::new(&mut opacity).range(0.01..=1.0).speed(0.01).max_decimals(2));
        if field.accessible_name("Opacity").changed()
            && let Ok(opacity) = Opacity::new(opacity)
        {
            (ink.opacity, ink.measured, ink.spectra) = (opacity, false, None);
        }
    });
    ui.label(quiet(if ink.measured { "measured" } else { "assumed: typed or picked" }, p));
    ui.horizontal(|ui| {
        let field = TextEdit::singleline(&mut scratch.room.measured)
            .hint_text("path of a CGATS or CxF file")
            .desired_width(190.0);
        ui.add(field).accessible_name("Measurement of the ink");
        let path = scratch.room.measured.trim().to_owned();
        if plain_button_if(ui, !path.is_empty(), "Use the measurement").clicked() {
            commands.push(Command::MeasureInk { at, path: path.into() });
        }
    });
    let name = ink.name.clone();
    if name != old {
        now.stock.iter_mut().filter(|stock| same(&stock.ink, &old)).for_each(|stock| stock.ink.clone_from(&name));
    }
    stock_ui(ui, now, &name);
    if now.shelf.inks.len() > 1 && plain_button(ui, "Delete this ink").clicked() {
        now.shelf.inks.remove(at);
        now.stock.retain(|stock| !same(&stock.ink, &name));
        scratch.room.at = at.saturating_sub(1);
    }
}

fn named(text: &str, free: &dyn Fn(&str) -> bool, name: &mut String) -> Result<(), String> {
    let text = text.trim();
    if text.is_empty() || text.chars().count() > table::INK_NAME.most {
        return Err(format!("a name has 1 to {} letters", table::INK_NAME.most));
    }
    if !free(text) {
        return Err(format!("there is a {text} already; give each its own name"));
    }
    text.clone_into(name);
    Ok(())
}

/// A colour, picked or typed; whether it was changed.
fn color_ui(ui: &mut Ui, color: &mut Rgb8, name: &str) -> bool {
    let mut rgb = color.0;
    row(ui, "Pick a colour", |ui| ui.color_edit_button_srgb(&mut rgb));
    let mut typed = Rgb8(rgb);
    typed_row(ui, name, "#RRGGBB", &typed.to_string(), 90.0, |text| {
        typed = text.trim().parse().map_err(|_| format!("{text} is no colour; write #RRGGBB"))?;
        Ok(())
    });
    let changed = typed != *color;
    *color = typed;
    changed
}

/// What there is of an ink; a figure of nothing is not known.
fn stock_ui(ui: &mut Ui, now: &mut ShopProfile, ink: &str) {
    let before = now.stock_of(ink).cloned().unwrap_or_else(|| Stock { ink: ink.to_owned(), ..Stock::default() });
    let mut stock = before.clone();
    let fields = [
        ("In stock", " g", &mut stock.grams, table::STOCK.range()),
        ("Price per kg", "", &mut stock.price_per_kg, table::PRICE.range()),
        ("Mesh", " per inch", &mut stock.mesh_tpi, table::THREADS.range()),
    ];
    for (name, unit, value, range) in fields {
        row(ui, name, |ui| {
            let least = *range.start();
            let mut shown = value.unwrap_or(0.0);
            // 0 stands for what is not known.
            let field = DragValue::new(&mut shown).range(0.0..=*range.end()).update_while_editing(false);
            let said = |v: f64| if v == 0.0 { "not known".to_owned() } else { format!("{}{unit}", trim(v, 2)) };
            let field = field.custom_formatter(move |v, _| said(v)).custom_parser(move |typed| number(typed, unit));
            if ui.add(field).accessible_name(name).changed() {
                *value = (shown > 0.0).then(|| shown.max(least));
            }
        });
    }
    if stock != before {
        now.stock.retain(|other| !same(&other.ink, ink));
        if (stock.grams, stock.price_per_kg, stock.mesh_tpi) != (None, None, None) {
            now.stock.push(stock);
        }
    }
}

/// A figure as typed, with its unit or without.
fn number(typed: &str, unit: &str) -> Option<f64> {
    let typed = typed.trim();
    typed.strip_suffix(unit.trim()).unwrap_or(typed).trim().parse().ok()
}

/// The recipe of the chosen ink from the others.
fn recipe_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, profile: &ShopProfile) {
    let p = palette(ui.ctx());
    let Some(ink) = profile.shelf.inks.get(scratch.room.at) else { return };
    ui.add_space(6.0);
    check(ui, &mut scratch.room.mix, "Mix it from the other inks")
        .on_hover_text("From those in stock, if stock is kept; the colour over white and the opacity are wanted");
    if !scratch.room.mix {
        return;
    }
    row(ui, "Grams", |ui| {
        let field = DragValue::new(&mut scratch.room.grams).range(1.0..=100_000.0).suffix(" g");
        ui.add(field.update_while_editing(false)).accessible_name("Grams to mix");
    });
    match state.mix(ink, scratch.room.grams) {
        None => {
            ui.spinner();
        }
        Some(Err(why)) => {
            ui.label(RichText::new(why).color(p.stop));
        }
        Some(Ok(mixed)) => mixed_ui(ui, ink, mixed),
    }
}

/// Wanted, predicted and band side by side, and what is weighed.
fn mixed_ui(ui: &mut Ui, ink: &Ink, mixed: &Mixed) {
    let p = palette(ui.ctx());
    ui.horizontal(|ui| {
        for (name, color) in [("wanted", ink.over_white), ("predicted", mixed.color)] {
            let (rect, response) = ui.allocate_exact_size(vec2(54.0, 34.0), Sense::hover());
            ui.painter().rect_filled(rect, 0.0, color32(color));
            response.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{name} {color}")));
            ui.spacing_mut().item_spacing.x = 0.0;
        }
        ui.add_space(8.0);
        ui.label(quiet(format!("wanted {}, predicted {}", ink.over_white, mixed.color), p));
    });
    ui.label(format!(
        "{:.1} apart (CIEDE2000); 19 of 20 mixes stay within {:.1} of the prediction when weighings are 2 % off",
        mixed.miss, mixed.recipe.spread
    ));
    if !mixed.recipe.mixed {
        let text = "It cannot be mixed from these as it is wanted; this is the nearest.";
        ui.label(RichText::new(text).color(p.stop));
    }
    for (name, grams) in &mixed.amounts {
        ui.label(strong(format!("{grams:.0} g {name}"), p));
    }
    ui.label(quiet(format!("opacity {:.2}, wanted {:.2}", mixed.opacity, ink.opacity.get()), p));
    match &mixed.cost {
        Ok(cost) => ui.label(quiet(format!("costs {cost:.2}"), p)),
        Err(without) => ui.label(quiet(format!("no cost: {} has no price", without.join(", ")), p)),
    };
    let text =
        "Computed from colours in three bands, an assumption. Follow the data sheets, and cure a test before the run.";
    ui.label(quiet(text, p));
}

fn garments_list_ui(ui: &mut Ui, scratch: &mut Scratch, now: &mut ShopProfile, height: f32) {
    let mut all = now.garments_at_hand().to_vec();
    let before = all.len();
    ScrollArea::vertical().id_salt("garments").max_height(height - 34.0).show(ui, |ui| {
        for (at, garment) in all.iter().enumerate() {
            if line_ui(ui, garment.color, &garment.name, "", scratch.room.at == at) {
                scratch.room.at = at;
            }
        }
    });
    if plain_button(ui, "Add a garment").clicked() {
        let taken: Vec<&str> = all.iter().map(|garment| garment.name.as_str()).collect();
        let name = free_name(&taken, "New garment");
        scratch.room.at = all.len();
        all.push(Garment { name, ..Garment::of_color(Rgb8([200; 3])) });
    }
    if all.len() != before {
        now.garments = all;
    }
}

fn garment_ui(ui: &mut Ui, scratch: &mut Scratch, now: &mut ShopProfile) {
    let mut all = now.garments_at_hand().to_vec();
    let at = scratch.room.at;
    let taken: Vec<String> = all.iter().map(|garment| garment.name.clone()).collect();
    let Some(garment) = all.get_mut(at) else { return };
    let before = garment.clone();
    let free = |name: &str| taken.iter().enumerate().all(|(other, taken)| other == at || !same(taken, name));
    typed_row(ui, "Name", "as the shop calls it", &before.name, 220.0, |text| named(text, &free, &mut garment.name));
    color_ui(ui, &mut garment.color, "Colour of the fabric");
    let mut fabric = garment.fabric.clone().unwrap_or_default();
    row(ui, "Fabric", |ui| {
        let field = TextEdit::singleline(&mut fabric).hint_text("cotton, polyester").char_limit(table::FABRIC.most);
        ui.add(field.desired_width(160.0)).accessible_name("Fabric");
    });
    garment.fabric = (!fabric.trim().is_empty()).then_some(fabric);
    let mut changed = *garment != before;
    if all.len() > 1 && plain_button(ui, "Delete this garment").clicked() {
        all.remove(at);
        scratch.room.at = at.saturating_sub(1);
        changed = true;
    }
    if changed {
        now.garments = all;
    }
}
