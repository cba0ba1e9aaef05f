//! The values of one edit, to be changed where it stands in the list.

use std::ops::RangeInclusive;

use egui::{ComboBox, TextEdit, Ui};
use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::Ink;
use strikeoff_core::tune::{Curve, Edit, Place, Region, Source};
use strikeoff_core::units::{Coverage, Mm};

use super::screen::knob;
use crate::ui::theme::palette;
use crate::ui::widgets::{check, quiet, row};

/// What there is to choose from.
pub struct Choices<'a> {
    /// Screens that are there before the edit.
    pub screens: &'a [String],
    /// Inks of the shelf.
    pub inks: &'a [Ink],
    /// Width and height of the print, once they are known.
    pub print_mm: Option<[f64; 2]>,
}

/// Draws the values; they are changed in place.
pub fn values_ui(ui: &mut Ui, edit: &mut Edit, choices: &Choices) {
    let p = palette(ui.ctx());
    let names = choices.screens;
    match edit {
        Edit::Merge { from, into, balance } => {
            screen(ui, "Goes", from, names);
            screen(ui, "Stays", into, names);
            part(ui, "Balance", balance, 0.0..=100.0, "50 % is plain multiply; less favours the one that stays");
        }
        Edit::ReInk { screen: name, ink: of, resolve } => {
            screen(ui, "Screen", name, names);
            ink(ui, of, choices.inks);
            tick(ui, resolve, "separate again for it", "All screens are made anew for the new ink");
        }
        Edit::Drop { screen: name, resolve } => {
            screen(ui, "Screen", name, names);
            tick(ui, resolve, "separate again without it", "The other screens are made anew to make up for it");
        }
        Edit::Order { .. } => {
            ui.label(quiet("Drag the cards of the press order to change it.", p));
        }
        Edit::Trim { screen: name, below, above, soft, background } => {
            screen(ui, "Screen", name, names);
            part(ui, "None below", below, 0.0..=above.get() * 100.0, "Lighter tones are taken out");
            part(ui, "Solid from", above, below.get() * 100.0..=100.0, "Darker tones become solid");
            part(ui, "Soft over", soft, 0.0..=50.0, "Width of tone over which each end fades in; 0 is hard");
            tick(ui, background, "out of the background", "Clears the screen where the artwork has only background");
        }
        Edit::Curve { screen: name, curve } => {
            screen(ui, "Screen", name, names);
            points_ui(ui, curve);
        }
        Edit::Levels { screen: name, none, solid, middle } => {
            screen(ui, "Screen", name, names);
            part(ui, "None at", none, 0.0..=solid.get() * 100.0 - 1.0, "This coverage and less becomes none");
            part(ui, "Solid at", solid, none.get() * 100.0 + 1.0..=100.0, "This coverage and more becomes solid");
            part(ui, "Middle to", middle, 5.0..=95.0, "What the middle between them becomes; 50 % is straight");
        }
        Edit::Gain { screen: name, points } => {
            screen(ui, "Screen", name, names);
            knob(ui, "At 50 %", points, -25.0..=25.0, 1, " points", "Added to the middle tones, none at the ends");
        }
        Edit::Density { screen: name, factor } => {
            screen(ui, "Screen", name, names);
            knob(ui, "Times", factor, 0.0..=3.0, 2, "", "Coverage is multiplied; solid is the most");
        }
        Edit::Invert { screen: name } => screen(ui, "Screen", name, names),
        Edit::Choke { screen: name, by_mm } | Edit::Spread { screen: name, by_mm } => {
            screen(ui, "Screen", name, names);
            length(ui, "By", by_mm, 0.0..=2.0, "How far edges move on the print");
        }
        Edit::Specks { screen: name, under_mm2, at } => {
            screen(ui, "Screen", name, names);
            knob(ui, "Under", under_mm2, 0.0..=5.0, 2, " mm2", "Smaller islands of ink go");
            part(ui, "Counts from", at, 1.0..=100.0, "Least coverage that counts as ink");
        }
        Edit::Pinholes { screen: name, under_mm2, at } => {
            screen(ui, "Screen", name, names);
            knob(ui, "Under", under_mm2, 0.0..=5.0, 2, " mm2", "Smaller holes are filled to what is around them");
            part(ui, "Open below", at, 1.0..=100.0, "Coverage below which a spot counts as a hole");
        }
        Edit::Blur { screen: name, radius_mm } => {
            screen(ui, "Screen", name, names);
            length(ui, "By", radius_mm, 0.0..=5.0, "Standard deviation on the print");
        }
        Edit::Sharpen { screen: name, radius_mm, amount } => {
            screen(ui, "Screen", name, names);
            length(ui, "Reach", radius_mm, 0.0..=5.0, "Standard deviation of the mask on the print");
            knob(ui, "Strength", amount, 0.0..=5.0, 1, "", "0 changes nothing");
        }
        Edit::MaskRegion { screen: name, region, outside, feather_mm } => {
            screen(ui, "Screen", name, names);
            region_ui(ui, region, choices.print_mm);
            tick(ui, outside, "keep the outside", "Ink stays outside the region instead");
            length(ui, "Soft edge", feather_mm, 0.0..=20.0, "Width of the region's edge on the print");
        }
        Edit::MaskByScreen { screen: name, by } => {
            screen(ui, "Screen", name, names);
            screen(ui, "Only under", by, names);
        }
        Edit::KnockOut { screen: name, by, overlap_mm } => {
            screen(ui, "Screen", name, names);
            screen(ui, "Out goes", by, names);
            length(ui, "Overlap", overlap_mm, 0.0..=2.0, "How far the two still overlap");
        }
        Edit::Subtract { screen: name, by, amount } => {
            screen(ui, "Screen", name, names);
            screen(ui, "Less", by, names);
            part(ui, "Share", amount, 0.0..=100.0, "Share of the other screen's coverage that is taken off");
        }
        Edit::Swap { a, b } => {
            screen(ui, "This", a, names);
            screen(ui, "and that", b, names);
        }
        Edit::Copy { screen: name, name: copy, ink: of } => {
            screen(ui, "Of", name, names);
            text(ui, "Name", copy);
            let mut own = of.is_some();
            tick(ui, &mut own, "another ink", "Else the copy prints with the same ink");
            match (own, of.is_some()) {
                (true, false) => *of = choices.inks.first().cloned(),
                (false, true) => *of = None,
                _ => {}
            }
            if let Some(of) = of {
                ink(ui, of, choices.inks);
            }
        }
        Edit::Hits { screen: name, hits } => {
            screen(ui, "Screen", name, names);
            let mut count = f64::from(*hits);
            knob(ui, "Hits", &mut count, 1.0..=4.0, 0, "", "Prints of the screen, one on the other");
            *hits = count.round() as u8;
        }
        Edit::Split { screen: name, name: new, ink: of, from, to, soft } => {
            screen(ui, "Of", name, names);
            text(ui, "New screen", new);
            ink(ui, of, choices.inks);
            part(ui, "From", from, 0.0..=to.get() * 100.0 - 1.0, "Lightest tone that moves");
            part(ui, "To", to, from.get() * 100.0 + 1.0..=100.0, "Darkest tone that moves");
            part(ui, "Soft over", soft, 0.0..=50.0, "Width of tone over which both screens share the ink");
        }
        Edit::Add { name, ink: of, place, resolve } => {
            text(ui, "Name", name);
            ink(ui, of, choices.inks);
            row(ui, "Prints", |ui| {
                ComboBox::from_id_salt("place of the new screen").selected_text(place_word(*place)).show_ui(ui, |ui| {
                    for other in [Place::Usual, Place::First, Place::Last] {
                        ui.selectable_value(place, other, place_word(other));
                    }
                })
            });
            tick(
                ui,
                resolve,
                "separate again with it",
                "All screens are made anew with the new ink; else the rest stay",
            );
        }
        Edit::ClearBackground { screen: name, tolerance, feather_mm } => {
            screen(ui, "Screen", name, names);
            let mut hundredths = *tolerance * 100.0;
            let hint = "How far a colour may be from the edge's, in hundredths of OKLab";
            if knob(ui, "Tolerance", &mut hundredths, 0.0..=30.0, 1, "", hint) {
                *tolerance = hundredths / 100.0;
            }
            length(ui, "Soft edge", feather_mm, 0.0..=20.0, "Width over which ink comes back inside the border");
        }
        Edit::FromArt { name, ink: of, source } => {
            text(ui, "Name", name);
            ink(ui, of, choices.inks);
            source_ui(ui, source);
        }
        Edit::Import { name, ink: of, picture, light } => {
            text(ui, "Name", name);
            ink(ui, of, choices.inks);
            row(ui, "Picture", |ui| ui.label(&picture.file));
            tick(ui, light, "light makes ink", "Else black is solid, as on a film");
        }
        // Edits that are drawn elsewhere have nothing to change here.
        #[allow(unreachable_patterns, reason = "edits of other panels may join the list")]
        _ => {}
    }
}

fn source_ui(ui: &mut Ui, source: &mut Source) {
    match source {
        Source::Lightness { light } => tick(ui, light, "light makes ink", "Else dark makes ink"),
        Source::ColorRange { color, reach, soft } => {
            let mut rgb = color.0;
            row(ui, "Colour", |ui| ui.color_edit_button_srgb(&mut rgb));
            *color = Rgb8(rgb);
            knob(ui, "Reach", reach, 0.0..=0.5, 2, "", "Solid up to this distance in OKLab");
            knob(ui, "Fades over", soft, 0.0..=0.5, 2, "", "Further distance over which it fades out");
        }
        Source::Edges { width_mm, strength } => {
            length(ui, "Width", width_mm, 0.0..=5.0, "Width of the lines on the print");
            knob(ui, "Strength", strength, 0.0..=10.0, 1, "", "At 1 a step from black to white makes solid ink");
        }
        Source::Shadows { starts_at_l, solid_at_l, edges, edge_mm } => {
            knob(
                ui,
                "Begin under",
                starts_at_l,
                *solid_at_l + 1.0..=100.0,
                0,
                " L*",
                "Lightness under which shadows print",
            );
            knob(
                ui,
                "Solid under",
                solid_at_l,
                0.0..=*starts_at_l - 1.0,
                0,
                " L*",
                "Lightness under which they are solid",
            );
            knob(ui, "Edges", edges, 0.0..=10.0, 1, "", "Strength of the dark side of edges; 0 is none");
            length(ui, "Edge width", edge_mm, 0.0..=5.0, "Width of the dark side of an edge on the print");
        }
    }
}

/// Corners of an outline that are listed one by one; a hand that drags makes many more.
const LISTED_CORNERS: usize = 12;

/// A region's numbers on the print, in mm; in percent as long as the print's size is not known.
fn region_ui(ui: &mut Ui, region: &mut Region, print_mm: Option<[f64; 2]>) {
    let (unit, sides) = print_mm.map_or((" %", [100.0; 2]), |mm| (" mm", mm));
    match region {
        Region::Rectangle { left, top, width, height } | Region::Ellipse { left, top, width, height } => {
            let hints = ["From the print's left edge", "From its top", "On the print", "On the print"];
            let values = [("Left", left), ("Top", top), ("Width", width), ("Height", height)];
            for (at, ((name, value), hint)) in values.into_iter().zip(hints).enumerate() {
                let side = sides[at % 2];
                let mut shown = *value * side;
                if knob(ui, name, &mut shown, 0.0..=side, 1, unit, hint) {
                    *value = shown / side;
                }
            }
        }
        Region::Outline { points } if points.len() > LISTED_CORNERS => {
            row(ui, "Region", |ui| ui.label(format!("drawn by hand, {} corners", points.len())));
        }
        Region::Outline { points } => {
            for (at, [x, y]) in points.iter_mut().enumerate() {
                let name = format!("Corner {}", at + 1);
                row(ui, &name, |ui| {
                    for (value, side, word) in [(x, sides[0], "across"), (y, sides[1], "down")] {
                        let mut shown = *value * side;
                        let field =
                            egui::DragValue::new(&mut shown).range(-side..=2.0 * side).max_decimals(1).suffix(unit);
                        if ui.add(field).accessible_name(format!("{name} {word}")).changed() {
                            *value = shown / side;
                        }
                    }
                });
            }
        }
    }
}

/// The points of a curve as numbers.
fn points_ui(ui: &mut Ui, curve: &mut Curve) {
    let mut points = curve.points().to_vec();
    for (at, [before, after]) in points.iter_mut().enumerate() {
        let name = format!("Point {}", at + 1);
        row(ui, &name, |ui| {
            for (value, side) in [(before, "before"), (after, "after")] {
                let field = egui::DragValue::new(value).range(0.0..=100.0).max_decimals(1).suffix(" %");
                ui.add(field).accessible_name(format!("{name} {side}"));
            }
        });
    }
    if let Ok(new) = Curve::new(points) {
        *curve = new;
    }
}

fn part(ui: &mut Ui, name: &str, value: &mut Coverage, range: RangeInclusive<f64>, hint: &str) {
    let mut percent = value.get() * 100.0;
    if knob(ui, name, &mut percent, range, 0, " %", hint)
        && let Ok(new) = Coverage::new((percent / 100.0).clamp(0.0, 1.0))
    {
        *value = new;
    }
}

fn length(ui: &mut Ui, name: &str, value: &mut Mm, range: RangeInclusive<f64>, hint: &str) {
    let mut mm = value.get();
    if knob(ui, name, &mut mm, range, 2, " mm", hint)
        && let Ok(new) = Mm::new(mm.max(0.0))
    {
        *value = new;
    }
}

fn tick(ui: &mut Ui, value: &mut bool, name: &str, hint: &str) {
    row(ui, "", |ui| check(ui, value, name).on_hover_text(hint));
}

fn screen(ui: &mut Ui, name: &str, value: &mut String, names: &[String]) {
    row(ui, name, |ui| {
        ComboBox::from_id_salt(name).selected_text(value.as_str()).width(140.0).show_ui(ui, |ui| {
            for other in names {
                ui.selectable_value(value, other.clone(), other);
            }
        })
    });
}

fn ink(ui: &mut Ui, value: &mut Ink, inks: &[Ink]) {
    row(ui, "Ink", |ui| {
        ComboBox::from_id_salt("ink").selected_text(&value.name).width(140.0).show_ui(ui, |ui| {
            for other in inks {
                if ui.selectable_label(other.name == value.name, &other.name).clicked() {
                    *value = other.clone();
                }
            }
        })
    });
}

/// A name that counts once it is typed to its end.
fn text(ui: &mut Ui, name: &str, value: &mut String) {
    row(ui, name, |ui| {
        let id = ui.scope_id().with(name);
        let mut typed = ui.data(|d| d.get_temp::<String>(id)).unwrap_or_else(|| value.clone());
        let field = ui.add(TextEdit::singleline(&mut typed).desired_width(140.0));
        if field.lost_focus() {
            ui.data_mut(|d| d.remove::<String>(id));
            if !typed.trim().is_empty() {
                *value = typed.trim().to_owned();
            }
        } else if field.has_focus() {
            ui.data_mut(|d| d.insert_temp(id, typed));
        }
    });
}

fn place_word(place: Place) -> &'static str {
    match place {
        Place::Usual => "in the usual place",
        Place::First => "first",
        Place::Last => "last",
    }
}
