//! What the artwork's cards are built from: a card that folds, and fields that touch a setting only
//! when the user does, so that showing a value never rounds it.

use egui::{
    Align, Align2, CornerRadius, DragValue, Frame, Layout, Margin, Response, Role, Sense, Shape, Stroke, TextStyle, Ui,
    WidgetInfo, pos2, vec2,
};
use strikeoff_core::units::{LengthUnit, MM_PER_INCH, Mm};

use crate::ui::format::trim;
use crate::ui::theme::{CORNER, palette, strong_style};
use crate::ui::widgets::{check, focus_ring, one_of, row};

/// A card with a title that folds it; `state` says how it stands while it is folded.
pub fn fold(ui: &mut Ui, title: &str, state: &str, open: bool, add: impl FnOnce(&mut Ui)) {
    let p = palette(ui.ctx());
    let frame =
        Frame::NONE.fill(p.card).corner_radius(CornerRadius::same(CORNER)).inner_margin(Margin::symmetric(12, 8));
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        let id = egui::Id::unique(("artwork card", title));
        let mut is_open = ui.data(|d| d.get_temp::<bool>(id)).unwrap_or(open);
        let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 20.0), Sense::click());
        response.widget_info(|| {
            let name = if is_open { title.to_owned() } else { format!("{title}: {state}") };
            WidgetInfo::selected(Role::DisclosureTriangle, true, is_open, name)
        });
        if response.clicked() {
            is_open = !is_open;
            ui.data_mut(|d| d.insert_temp(id, is_open));
        }
        let painter = ui.painter();
        let font = strong_style().resolve(ui.style());
        painter.text(rect.left_center(), Align2::LEFT_CENTER, title, font, p.text);
        let tip = rect.right_center() - vec2(5.0, 0.0);
        let points = if is_open {
            [vec2(-4.0, -2.0), vec2(4.0, -2.0), vec2(0.0, 3.0)]
        } else {
            [vec2(-2.0, -4.0), vec2(3.0, 0.0), vec2(-2.0, 4.0)]
        };
        let color = if response.hovered() { p.text } else { p.weak };
        painter.add(Shape::convex_polygon(points.map(|v| tip + v).to_vec(), color, Stroke::NONE));
        if !is_open {
            let font = TextStyle::Small.resolve(ui.style());
            let at = pos2(rect.right() - 16.0, rect.center().y);
            painter.text(at, Align2::RIGHT_CENTER, state, font, p.weak);
        }
        focus_ring(painter, rect, &response, p);
        if is_open {
            ui.add_space(4.0);
            add(ui);
        }
    });
}

/// A number with its unit, named before it takes a hint: a hint becomes the name of a field that has
/// none. Gives a new value only when the user set one.
pub fn number(
    ui: &mut Ui,
    name: &str,
    value: f64,
    range: std::ops::RangeInclusive<f64>,
    speed: f64,
    decimals: usize,
    unit: &str,
) -> (Response, Option<f64>) {
    let mut now = value;
    let shown = unit.to_owned();
    // The unit is written with the number: as a suffix it would become the field's name.
    let field = DragValue::new(&mut now)
        .clamp_existing_to_range(false)
        .range(range)
        .speed(speed)
        .update_while_editing(false)
        .custom_formatter(move |v, _| format!("{}{shown}", trim(v, decimals)))
        .custom_parser(|text| {
            let end = text.trim_end_matches(|c: char| !c.is_ascii_digit() && c != '.');
            end.trim().replace(',', ".").parse().ok()
        });
    let response = ui.add(field).accessible_name(name);
    let set = (response.changed() && now != value).then_some(now);
    (response, set)
}

/// A row with a fraction as percent.
pub fn percent(ui: &mut Ui, name: &str, value: &mut f64, most: f64, hint: &str) {
    row(ui, name, |ui| {
        let (response, set) = number(ui, name, *value * 100.0, 0.0..=most * 100.0, 0.5, 1, " %");
        response.on_hover_text(hint);
        if let Some(set) = set {
            *value = set / 100.0;
        }
    });
}

/// A row with a small length on the print, always in millimetres.
pub fn small_mm(ui: &mut Ui, name: &str, value: &mut Mm, most: f64, hint: &str) {
    row(ui, name, |ui| {
        let (response, set) = number(ui, name, value.get(), 0.0..=most, 0.01, 2, " mm");
        response.on_hover_text(hint);
        if let Some(set) = set.and_then(|v| Mm::new(v).ok()) {
            *value = set;
        }
    });
}

/// A length in the unit that the job is measured in.
pub fn length(
    ui: &mut Ui,
    name: &str,
    value: &mut Mm,
    unit: LengthUnit,
    range_mm: std::ops::RangeInclusive<f64>,
) -> Response {
    let (scale, speed, decimals, suffix) = match unit {
        LengthUnit::Inch => (MM_PER_INCH, 0.05, 3, " in"),
        LengthUnit::Mm => (1.0, 0.5, 1, " mm"),
    };
    let range = range_mm.start() / scale..=range_mm.end() / scale;
    let (response, set) = number(ui, name, value.get() / scale, range, speed, decimals, suffix);
    if let Some(set) = set.and_then(|v| Mm::new(v * scale).ok()) {
        *value = set;
    }
    response
}

/// A tick with a name for assistive technology that may be longer than what is written.
pub fn tick(ui: &mut Ui, on: &mut bool, text: &str, name: &str, hint: &str) -> Response {
    let response = check(ui, on, text).on_hover_text(hint);
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, *on, name));
    response
}

/// One of several, as a row of choices; gives the chosen one if it is another.
pub fn choices<T: PartialEq + Copy>(ui: &mut Ui, now: T, list: &[(T, &str, &str)]) -> Option<T> {
    let mut set = None;
    ui.with_layout(Layout::top_down(Align::Min), |ui| {
        for &(value, name, hint) in list {
            if one_of(ui, now == value, name).on_hover_text(hint).clicked() && now != value {
                set = Some(value);
            }
        }
    });
    set
}
