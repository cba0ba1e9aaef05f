//! How large it prints: by height or width, within the platen and the smallest garment of the
//! run, aspect kept; in inches or millimetres, as the job remembers.

use egui::{Role, Ui, WidgetInfo};
use strikeoff_core::job::Job;
use strikeoff_core::prep::{PrepSettings, PrintArea};
use strikeoff_core::units::{LengthUnit, Mm};

use super::fields::{fold, length, tick};
use crate::state::State;
use crate::ui::format::size;
use crate::ui::theme::palette;
use crate::ui::widgets::{one_of, quiet, row, text_button};

/// Usual largest prints by the smallest garment of a run, width and height in inches. Common
/// practice, no source: shops differ, and the garment in hand decides.
const GARMENT_AREAS: [(&str, [f64; 2]); 5] = [
    ("Toddler", [6.0, 7.0]),
    ("Youth", [9.0, 11.0]),
    ("Adult S", [12.0, 15.0]),
    ("Adult M", [13.0, 17.0]),
    ("Adult L and up", [14.0, 18.0]),
];
/// Usual largest prints of platens, in inches: a 15 x 18 in and a 16 x 22 in one with an inch left
/// clear all round (common practice, no source).
const PLATEN_AREAS: [(&str, [f64; 2]); 3] =
    [("15 x 18 in platen", [13.0, 16.0]), ("16 x 20 in platen", [14.0, 18.0]), ("16 x 22 in platen", [14.0, 20.0])];

/// Draws the card.
pub fn size_ui(ui: &mut Ui, state: &State, job: &mut Job) {
    let p = palette(ui.ctx());
    let unit = job.info.unit;
    let print_mm = state.print_size_mm();
    let how = print_mm.map_or(String::new(), |mm| size(mm, unit));
    fold(ui, "Size", &how, true, |ui| {
        row(ui, "Measured in", |ui| {
            for (value, text, name) in [(LengthUnit::Inch, "in", "Inches"), (LengthUnit::Mm, "mm", "Millimetres")] {
                let response = one_of(ui, unit == value, text).on_hover_text(name);
                response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, unit == value, name));
                if response.clicked() {
                    job.info.unit = value;
                }
            }
        });
        let own = print_mm.map(|mm| mm.map(|v| Mm::new(v).ok()));
        let [own_width, own_height] = own.unwrap_or([None; 2]);
        limit_ui(ui, "Height up to", &mut job.prep.max_height_mm, own_height, unit);
        limit_ui(ui, "Width up to", &mut job.prep.max_width_mm, own_width, unit);
        area_ui(ui, "Platen", &mut job.prep.platen, &PLATEN_AREAS, unit);
        area_ui(ui, "Smallest garment", &mut job.prep.smallest_garment, &GARMENT_AREAS, unit);
        if let Some(mm) = print_mm {
            ui.label(quiet(format!("Prints {}; {}", size(mm, unit), governs(&job.prep, mm)), p));
        }
    });
}

/// A limit that may be absent; it starts from the size that the print has.
fn limit_ui(ui: &mut Ui, name: &str, limit: &mut Option<Mm>, own: Option<Mm>, unit: LengthUnit) {
    row(ui, name, |ui| {
        let mut on = limit.is_some();
        tick(ui, &mut on, "", &format!("Limit {}", name.to_lowercase()), "Limit it or not");
        let mut mm = limit.or(own).or(Mm::from_inches(18.0).ok());
        if let Some(mm) = &mut mm {
            let field = ui.add_enabled_ui(on, |ui| length(ui, name, mm, unit, 10.0..=1000.0)).inner;
            field.on_hover_text(format!("{name}; the other side follows"));
        }
        if on != limit.is_some() || (on && *limit != mm) {
            *limit = mm.filter(|_| on);
        }
    });
}

/// The largest print of something, with the usual ones to choose from.
fn area_ui(ui: &mut Ui, name: &str, area: &mut Option<PrintArea>, usual: &[(&str, [f64; 2])], unit: LengthUnit) {
    let of_inches =
        |[w, h]: [f64; 2]| Some(PrintArea { width_mm: Mm::from_inches(w).ok()?, height_mm: Mm::from_inches(h).ok()? });
    ui.horizontal(|ui| {
        let mut on = area.is_some();
        let hint = "The print stays within the largest that it takes";
        if tick(ui, &mut on, name, &format!("Limit to {}", name.to_lowercase()), hint).changed() {
            *area = if on { usual.last().and_then(|(_, inches)| of_inches(*inches)) } else { None };
        }
        let button = text_button(ui, "usual", &format!("Usual sizes: {}", name.to_lowercase()), false);
        egui::Popup::menu(&button).show(|ui| {
            for (label, inches) in usual {
                let made = of_inches(*inches);
                let text = made.map_or(String::new(), |a| size([a.width_mm.get(), a.height_mm.get()], unit));
                if ui.button(format!("{label}: {text}")).clicked() {
                    *area = made;
                    ui.close();
                }
            }
        });
    });
    if let Some(area) = area {
        ui.horizontal(|ui| {
            ui.add_space(22.0);
            let side = |ui: &mut Ui, what: &str, mm: &mut Mm| {
                let label = format!("{name} {what}");
                length(ui, &label, mm, unit, 10.0..=1000.0).on_hover_text(&label);
            };
            side(ui, "width", &mut area.width_mm);
            ui.label("x");
            side(ui, "height", &mut area.height_mm);
        });
    }
}

/// Which limit holds the print at its size.
fn governs(prep: &PrepSettings, print_mm: [f64; 2]) -> String {
    let area = |area: Option<PrintArea>, name: &str| {
        [
            (area.map(|a| a.height_mm), 1, format!("the {name}'s height")),
            (area.map(|a| a.width_mm), 0, format!("the {name}'s width")),
        ]
    };
    let own = [
        (prep.max_height_mm, 1, "the maximum height".to_owned()),
        (prep.max_width_mm, 0, "the maximum width".to_owned()),
    ];
    let all = own.into_iter().chain(area(prep.platen, "platen")).chain(area(prep.smallest_garment, "smallest garment"));
    let reached = |limit: Option<Mm>, axis: usize| limit.is_some_and(|mm| (mm.get() - print_mm[axis]).abs() < 0.05);
    match all.into_iter().find(|(limit, axis, _)| reached(*limit, *axis)) {
        Some((.., name)) => format!("{name} governs"),
        None if prep.width_limit_mm().is_none() && prep.height_limit_mm().is_none() => {
            "the artwork's own size".to_owned()
        }
        None => "its margins take the rest".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_that_governs_is_named() {
        let mm = |v| Mm::new(v).unwrap();
        let mut prep = PrepSettings::default();
        assert_eq!(governs(&prep, [100.0, 200.0]), "the artwork's own size");
        prep.max_height_mm = Some(mm(300.0));
        prep.platen = Some(PrintArea { width_mm: mm(120.0), height_mm: mm(300.0) });
        assert_eq!(governs(&prep, [110.0, 300.0]), "the maximum height governs");
        assert_eq!(governs(&prep, [120.0, 240.0]), "the platen's width governs");
    }
}
