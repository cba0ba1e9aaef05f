//! Small things drawn by us that several views share: ink discs, bars, quiet buttons, cards.
//! Each gives assistive technology its name and state, and shows focus.

use egui::{
    Align2, Color32, CornerRadius, FontId, Frame, IntoAtoms, Margin, Painter, Pos2, Rect, Response, RichText, Role,
    ScrollArea, Sense, Stroke, StrokeKind, TextStyle, Ui, Vec2, WidgetInfo, vec2,
};
use strikeoff_core::color::Rgb8;

use super::theme::{CORNER, Palette, palette, strong_style};

/// An 8-bit colour for the screen.
pub fn color32(color: Rgb8) -> Color32 {
    let [r, g, b] = color.0;
    Color32::from_rgb(r, g, b)
}

/// Whether what changes in this frame belongs to a drag of the pointer, its end included: such
/// changes are one undo step.
pub fn dragging(ui: &Ui) -> bool {
    ui.input(|i| i.pointer.any_down() || i.pointer.any_released())
}

/// An ink as a disc, with a rim that keeps it apart from any ground.
pub fn disc(painter: &Painter, centre: Pos2, radius: f32, color: Color32, rim: Color32) {
    painter.circle(centre, radius, color, Stroke::new(1.0, rim));
}

/// A bar that is filled to a fraction.
pub fn bar(painter: &Painter, rect: Rect, fraction: f32, p: &Palette) {
    let round = CornerRadius::same((rect.height() / 2.0) as u8);
    painter.rect_filled(rect, round, p.well);
    let width = (rect.width() * fraction.clamp(0.0, 1.0)).max(if fraction > 0.0 { rect.height() } else { 0.0 });
    painter.rect_filled(Rect::from_min_size(rect.min, vec2(width, rect.height())), round, p.fill);
}

/// Body text, a size up.
pub fn strong(text: impl Into<String>, p: &Palette) -> RichText {
    RichText::new(text).text_style(strong_style()).strong().color(p.text)
}

/// Small quiet text.
pub fn quiet(text: impl Into<String>, p: &Palette) -> RichText {
    RichText::new(text).text_style(TextStyle::Small).color(p.weak)
}

/// Room at the right of a panel's column for its scroll bar, in points. The panel leaves as much out of its
/// own margin, so columns that scroll and others end alike.
pub const GUTTER: i8 = 10;

/// The column of a panel; it scrolls if it is higher than the panel.
pub fn scrolled<R>(ui: &mut Ui, add: impl FnOnce(&mut Ui) -> R) -> R {
    let gutter = Frame::NONE.inner_margin(Margin { right: GUTTER, ..Margin::ZERO });
    ScrollArea::vertical().auto_shrink([false, true]).show(ui, |ui| gutter.show(ui, add).inner).inner
}

/// A card on a panel with a title.
pub fn card<R>(ui: &mut Ui, title: &str, add: impl FnOnce(&mut Ui) -> R) -> R {
    let p = palette(ui.ctx());
    Frame::NONE
        .fill(p.card)
        .corner_radius(CornerRadius::same(CORNER))
        .inner_margin(Margin::symmetric(12, 10))
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.label(strong(title, p));
            ui.add_space(2.0);
            add(ui)
        })
        .inner
}

/// A line of a card: a quiet name at the left, what it names at the right.
pub fn row<R>(ui: &mut Ui, name: &str, add: impl FnOnce(&mut Ui) -> R) -> R {
    let p = palette(ui.ctx());
    ui.horizontal(|ui| {
        // On a wide sheet names may be longer; fields still stand in one line.
        let most = if ui.available_width() > 400.0 { 190.0 } else { 110.0 };
        let width = (ui.available_width() * 0.40).clamp(70.0, most);
        ui.allocate_ui_with_layout(vec2(width, 22.0), egui::Layout::left_to_right(egui::Align::Center), |ui| {
            ui.set_min_width(width);
            ui.label(RichText::new(name).color(p.weak));
        });
        // The name is painted apart from the field, so the field is given it too.
        let named = |ui: &mut Ui| ui.name_inputs(name, add);
        ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), named).inner
    })
    .inner
}

/// A text button without a frame until the pointer or the focus is on it.
pub fn text_button(ui: &mut Ui, text: &str, name: &str, on: bool) -> Response {
    let p = palette(ui.ctx());
    let font = TextStyle::Small.resolve(ui.style());
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font, p.text);
    let (rect, response) = ui.allocate_exact_size(galley.size() + vec2(10.0, 6.0), Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::Button, ui.is_enabled(), on, name));
    paint_button(ui, rect, &response, text, on, p);
    response
}

/// Paints a quiet button at a place that was laid out by hand.
pub fn paint_button(ui: &Ui, rect: Rect, response: &Response, text: &str, on: bool, p: &Palette) {
    let hot = response.hovered() || response.has_focus();
    if hot {
        ui.painter().rect_filled(rect, CornerRadius::same(4), p.well);
    }
    focus_ring(ui.painter(), rect, response, p);
    let color = if hot || on { p.text } else { p.weak };
    let font = TextStyle::Small.resolve(ui.style());
    ui.painter().text(rect.center(), Align2::CENTER_CENTER, text, font, color);
}

/// A ring around what has the keyboard's focus.
pub fn focus_ring(painter: &Painter, rect: Rect, response: &Response, p: &Palette) {
    if response.has_focus() {
        painter.rect_stroke(
            rect.expand(2.0),
            CornerRadius::same(CORNER + 2),
            Stroke::new(2.0, p.accent),
            StrokeKind::Outside,
        );
    }
}

/// The main action of an area.
pub fn main_button(ui: &mut Ui, text: &str, enabled: bool) -> Response {
    let p = palette(ui.ctx());
    let text = RichText::new(text).strong().color(if enabled { p.on_accent } else { p.weak });
    let button = egui::Button::new(text).fill(if enabled { p.accent } else { p.well }).min_size(vec2(112.0, 30.0));
    ui.add_enabled(enabled, button)
}

/// An ordinary button.
pub fn plain_button(ui: &mut Ui, text: &str) -> Response {
    plain_button_if(ui, true, text)
}

/// An ordinary button that may be out of use. Laid out by itself, it goes to the next line of a row
/// that wraps.
pub fn plain_button_if(ui: &mut Ui, enabled: bool, text: &str) -> Response {
    let p = palette(ui.ctx());
    ui.add_enabled(enabled, egui::Button::new(text).fill(p.card).min_size(vec2(0.0, 28.0)))
}

/// A tick that is seen on a card and on a panel: its box has an edge.
pub fn check<'a>(ui: &mut Ui, on: &'a mut bool, text: impl IntoAtoms<'a>) -> Response {
    with_edge(ui, |ui| ui.checkbox(on, text))
}

/// One of several choices, with an edge as a tick has.
pub fn one_of<'a>(ui: &mut Ui, on: bool, text: impl IntoAtoms<'a>) -> Response {
    with_edge(ui, |ui| ui.radio(on, text))
}

fn with_edge<R>(ui: &mut Ui, add: impl FnOnce(&mut Ui) -> R) -> R {
    let edge = Stroke::new(1.0, palette(ui.ctx()).weak);
    let before = std::mem::replace(&mut ui.visuals_mut().widgets.inactive.bg_stroke, edge);
    let made = add(ui);
    ui.visuals_mut().widgets.inactive.bg_stroke = before;
    made
}

/// Text cut with an ellipsis where it does not fit.
pub fn text_in(ui: &Ui, at: Pos2, width: f32, text: &str, font: FontId, color: Color32) -> Rect {
    let mut job = egui::text::LayoutJob::simple_singleline(text.to_owned(), font, color);
    job.wrap = egui::text::TextWrapping::truncate_at_width(width);
    let galley = ui.painter().layout_job(job);
    let rect = Rect::from_min_size(at, galley.size());
    ui.painter().galley(at, galley, color);
    rect
}

/// A disc that can be pressed; the ring says that it is chosen.
pub fn disc_button(ui: &mut Ui, color: Color32, radius: f32, name: &str, on: bool) -> Response {
    let p = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(Vec2::splat(radius * 2.0 + 8.0), Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::Button, ui.is_enabled(), on, name));
    let rim = if response.hovered() { p.text } else { p.weak };
    disc(ui.painter(), rect.center(), radius, color, rim);
    if on {
        ui.painter().circle_stroke(rect.center(), radius + 2.5, Stroke::new(2.0, p.accent));
    }
    if response.has_focus() {
        ui.painter().circle_stroke(rect.center(), radius + 4.5, Stroke::new(1.5, p.text));
    }
    response.on_hover_text(name)
}
