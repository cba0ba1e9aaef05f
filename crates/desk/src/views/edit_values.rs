//! The values of one edit, to be changed where it stands in the list.

use std::ops::RangeInclusive;

use egui::{ComboBox, TextEdit, Ui};
use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::Ink;
use strikeoff_core::screens::{NewName, ScreenName};
use strikeoff_core::tune::edits::{Field, Value};
use strikeoff_core::tune::{Curve, Edit, Place, Region, Source};
use strikeoff_core::units::{Coverage, Mm};

use super::screen::{knob, open_knob};
use crate::ui::theme::palette;
use crate::ui::widgets::{check, quiet, row};

/// What there is to choose from.
pub struct Choices<'a> {
    /// Screens that are there before the edit.
    pub screens: &'a [ScreenName],
    /// Inks of the shelf.
    pub inks: &'a [Ink],
    /// Width and height of the print, once they are known.
    pub print_mm: Option<[f64; 2]>,
}

/// Draws the values; they are changed in place. A change after which they do not go together is not taken.
pub fn values_ui(ui: &mut Ui, edit: &mut Edit, choices: &Choices) {
    let before = edit.clone();
    let fields = &edit.info().fields;
    for (field, value) in fields.iter().zip(edit.values()) {
        value_ui(ui, field, value, choices);
    }
    if *edit != before && edit.check().is_err() && before.check().is_ok() {
        *edit = before;
    }
}

fn value_ui(ui: &mut Ui, field: &Field, value: Value<'_>, choices: &Choices) {
    let Field { label, hint, .. } = field;
    match value {
        Value::Screen(name) => screen(ui, label, name, choices.screens),
        Value::NewScreen(name) => text(ui, label, name),
        Value::Screens(_) => {
            let p = palette(ui.ctx());
            ui.label(quiet("Drag the cards of the press order to change it.", p));
        }
        Value::Ink(of) => ink(ui, label, of, choices.inks),
        Value::OtherInk(of) => other_ink(ui, label, hint, of, choices.inks),
        Value::Coverage(part) => {
            let percent = field.with_ends_times(100.0);
            let mut shown = part.get() * 100.0;
            if limited_knob(ui, &percent, &mut shown, 0, " %")
                && let Ok(new) = Coverage::new((shown / 100.0).clamp(0.0, 1.0))
            {
                *part = new;
            }
        }
        Value::Length(length) => {
            let mut mm = length.get();
            if limited_knob(ui, field, &mut mm, 2, " mm")
                && let Ok(new) = Mm::new(mm)
            {
                *length = new;
            }
        }
        Value::Number(number) => {
            let unit = if field.unit.is_empty() { String::new() } else { format!(" {}", field.unit) };
            limited_knob(ui, field, number, 2, &unit);
        }
        Value::Count(count) => {
            let mut shown = f64::from(*count);
            if limited_knob(ui, field, &mut shown, 0, "") {
                *count = shown.round() as u8;
            }
        }
        Value::Switch(on) => tick(ui, on, &label.to_lowercase(), hint),
        Value::Place(place) => {
            row(ui, label, |ui| {
                ComboBox::from_id_salt(field.key).selected_text(place_word(*place)).show_ui(ui, |ui| {
                    for other in [Place::Usual, Place::First, Place::Last] {
                        ui.selectable_value(place, other, place_word(other));
                    }
                })
            });
        }
        Value::Curve(curve) => points_ui(ui, curve),
        Value::Region(region) => region_ui(ui, region, choices.print_mm),
        Value::Source(source) => source_ui(ui, source),
        Value::Picture(picture) => {
            row(ui, label, |ui| ui.label(&picture.file));
        }
    }
}

/// A slider over the usual range of a value; what is typed may go to the ends of the whole range.
fn limited_knob(ui: &mut Ui, field: &Field, value: &mut f64, decimals: usize, unit: &str) -> bool {
    let [min, max] = field.range.unwrap_or([0.0, 1.0]);
    let [from, to] = field.usual.unwrap_or([min, max]);
    let changed = open_knob(ui, &field.label, value, from..=to, decimals, unit, &field.hint);
    *value = value.clamp(min, max);
    changed
}

fn source_ui(ui: &mut Ui, source: &mut Source) {
    match source {
        Source::Lightness { light } => tick(ui, light, "print the light tones", "Otherwise the dark tones print"),
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

fn screen(ui: &mut Ui, name: &str, value: &mut ScreenName, names: &[ScreenName]) {
    row(ui, name, |ui| {
        ComboBox::from_id_salt(name).selected_text(value.as_str()).width(140.0).show_ui(ui, |ui| {
            for other in names {
                ui.selectable_value(value, other.clone(), other.as_str());
            }
        })
    });
}

fn ink(ui: &mut Ui, name: &str, value: &mut Ink, inks: &[Ink]) {
    row(ui, name, |ui| {
        ComboBox::from_id_salt("ink").selected_text(&value.name).width(140.0).show_ui(ui, |ui| {
            for other in inks {
                if ui.selectable_label(other.name == value.name, &other.name).clicked() {
                    *value = other.clone();
                }
            }
        })
    });
}

/// Another ink, or that of the screen.
fn other_ink(ui: &mut Ui, name: &str, hint: &str, value: &mut Option<Ink>, inks: &[Ink]) {
    let mut own = value.is_some();
    tick(ui, &mut own, "another ink", hint);
    match (own, value.is_some()) {
        (true, false) => *value = inks.first().cloned(),
        (false, true) => *value = None,
        (true, true) | (false, false) => {}
    }
    if let Some(of) = value {
        ink(ui, name, of, inks);
    }
}

/// A name that counts once it is typed to its end.
fn text(ui: &mut Ui, name: &str, value: &mut NewName) {
    row(ui, name, |ui| {
        let id = ui.scope_id().with(name);
        let mut typed = ui.data(|d| d.get_temp::<String>(id)).unwrap_or_else(|| value.to_string());
        let field = ui.add(TextEdit::singleline(&mut typed).desired_width(140.0));
        if field.lost_focus() {
            ui.data_mut(|d| d.remove::<String>(id));
            if !typed.trim().is_empty() {
                *value = typed.trim().into();
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
