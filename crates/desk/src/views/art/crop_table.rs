//! Cropping on the table: all of the turned art with a frame on it. Its sides and corners are
//! handles, to drag or, with the focus on one, to move with the arrow keys; the frame itself is
//! dragged by its middle. Each drag is one step of undo, and the proof follows meanwhile.

use egui::{
    Align2, Color32, CornerRadius, CursorIcon, FontId, Key, Pos2, Rect, Response, Role, Sense, Stroke, StrokeKind, Ui,
    WidgetInfo, pos2, vec2,
};
use strikeoff_core::prep::CropBox;

use super::crop::WHOLE;
use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::format::{size, trim};
use crate::ui::theme::{Palette, palette};

/// Smallest part that a crop may keep, each way.
const LEAST: f64 = 0.02;
/// What an arrow key moves; with Shift a tenth.
const STEP: f64 = 0.005;

/// A handle: which sides it moves (-1 the left or upper, 1 the right or lower, 0 neither).
const HANDLES: [(&str, [i8; 2]); 8] = [
    ("Crop left", [-1, 0]),
    ("Crop right", [1, 0]),
    ("Crop top", [0, -1]),
    ("Crop bottom", [0, 1]),
    ("Crop top left", [-1, -1]),
    ("Crop top right", [1, -1]),
    ("Crop bottom left", [-1, 1]),
    ("Crop bottom right", [1, 1]),
];

/// Draws the art and the frame; the table is not drawn meanwhile.
pub fn crop_table_ui(ui: &mut Ui, state: &State, commands: &mut Commands, canvas: Rect) {
    let p = palette(ui.ctx());
    let painter = ui.painter_at(canvas);
    let Some(doc) = state.doc() else { return };
    let Some(whole) = state.study().map(|s| s.whole.clone()) else {
        painter.text(
            canvas.center(),
            Align2::CENTER_CENTER,
            "Reading the artwork",
            FontId::proportional(16.0),
            p.on_surround,
        );
        return;
    };
    let room = Rect::from_min_max(canvas.min + vec2(28.0, 56.0), canvas.max - vec2(28.0, 64.0));
    let fit = whole.size_vec2() * (room.size() / whole.size_vec2()).min_elem();
    let place = Rect::from_center_size(room.center(), fit);
    // Clear art lies on the surround; a rim shows where it ends.
    painter.rect_filled(place, CornerRadius::ZERO, Color32::from_gray(0x8a));
    painter.image(whole.id(), place, Rect::from_min_max(Pos2::ZERO, pos2(1.0, 1.0)), Color32::WHITE);
    painter.rect_stroke(
        place,
        CornerRadius::ZERO,
        Stroke::new(1.0, Color32::from_black_alpha(120)),
        StrokeKind::Outside,
    );

    let before = doc.job.prep.crop.unwrap_or(WHOLE);
    let mut crop = before;
    let mut dragged_now = false;
    let inside = on_canvas(place, crop);
    let middle = ui.interact(inside, ui.scope_id().with("crop frame"), Sense::click_and_drag());
    middle.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, "Crop frame"));
    if middle.dragged() {
        let by = middle.drag_delta() / place.size();
        crop = moved(crop, [f64::from(by.x), f64::from(by.y)]);
        dragged_now = true;
    }
    let by = arrows(ui, &middle);
    crop = moved(crop, by);
    let middle = middle.on_hover_cursor(CursorIcon::Grab);
    let mut responses = Vec::new();
    for (name, sides) in HANDLES {
        let at = handle_at(inside, sides);
        let size = if sides[0] == 0 {
            vec2((inside.width() - 36.0).max(18.0), 18.0)
        } else if sides[1] == 0 {
            vec2(18.0, (inside.height() - 36.0).max(18.0))
        } else {
            vec2(26.0, 26.0)
        };
        let response = ui.interact(Rect::from_center_size(at, size), ui.scope_id().with(name), Sense::click_and_drag());
        let value = percent_of(crop, sides);
        response.widget_info(|| WidgetInfo::slider(true, value, name));
        if response.dragged()
            && let Some(pointer) = response.interact_pointer_pos()
        {
            let to = (pointer - place.min) / place.size();
            crop = dragged(crop, sides, [f64::from(to.x), f64::from(to.y)]);
            dragged_now = true;
        }
        let by = arrows(ui, &response);
        if by != [0.0; 2] {
            crop = nudged(crop, sides, by);
        }
        responses.push((response.on_hover_cursor(cursor(sides)), sides));
    }
    paint_frame(&painter, place, on_canvas(place, crop), &responses, &middle, p);
    readout(ui, state, commands, canvas, crop);
    if crop != before {
        let mut job = doc.job.clone();
        job.prep.crop = (crop != WHOLE).then_some(crop);
        commands.push(Command::Change { job: Box::new(job), what: "Crop".into(), drag: dragged_now });
    }
}

fn on_canvas(place: Rect, crop: CropBox) -> Rect {
    let at = |x: f64, y: f64| place.min + vec2(x as f32, y as f32) * place.size();
    Rect::from_min_max(at(crop.left, crop.top), at(crop.left + crop.width, crop.top + crop.height))
}

fn handle_at(frame: Rect, [x, y]: [i8; 2]) -> Pos2 {
    frame.center() + vec2(f32::from(x) * frame.width(), f32::from(y) * frame.height()) / 2.0
}

/// What assistive technology reads of a handle: where its side stands, in percent.
fn percent_of(crop: CropBox, [x, y]: [i8; 2]) -> f64 {
    let side = |sign: i8, from: f64, length: f64| if sign < 0 { from } else { from + length };
    100.0 * if x != 0 { side(x, crop.left, crop.width) } else { side(y, crop.top, crop.height) }
}

/// Moves the sides of a handle to a place in the art.
fn dragged(crop: CropBox, sides: [i8; 2], to: [f64; 2]) -> CropBox {
    let side = |sign: i8, from: f64, length: f64, to: f64| {
        let end = from + length;
        let to = to.clamp(0.0, 1.0);
        match sign {
            -1 => {
                let from = to.min(end - LEAST).max(0.0);
                (from, end - from)
            }
            1 => (from, to.max(from + LEAST).min(1.0) - from),
            _ => (from, length),
        }
    };
    let (left, width) = side(sides[0], crop.left, crop.width, to[0]);
    let (top, height) = side(sides[1], crop.top, crop.height, to[1]);
    CropBox { left, top, width, height }
}

/// Moves the sides of a handle by a little.
fn nudged(crop: CropBox, sides: [i8; 2], by: [f64; 2]) -> CropBox {
    let side = |sign: i8, from: f64, length: f64| if sign < 0 { from } else { from + length };
    let to = [side(sides[0], crop.left, crop.width) + by[0], side(sides[1], crop.top, crop.height) + by[1]];
    dragged(crop, sides, to)
}

/// Moves the whole frame, as far as the art goes.
fn moved(crop: CropBox, by: [f64; 2]) -> CropBox {
    let along = |from: f64, length: f64, by: f64| (from + by).clamp(0.0, (1.0 - length).max(0.0));
    CropBox { left: along(crop.left, crop.width, by[0]), top: along(crop.top, crop.height, by[1]), ..crop }
}

/// Arrow keys on what has the focus.
fn arrows(ui: &Ui, response: &Response) -> [f64; 2] {
    if !response.has_focus() {
        return [0.0; 2];
    }
    let filter = egui::EventFilter { horizontal_arrows: true, vertical_arrows: true, ..Default::default() };
    ui.memory_mut(|m| m.set_focus_lock_filter(response.id, filter));
    ui.input(|i| {
        let step = if i.modifiers.shift { STEP / 10.0 } else { STEP };
        let along = |less, more| (f64::from(i.num_presses(more) as u32) - f64::from(i.num_presses(less) as u32)) * step;
        [along(Key::ArrowLeft, Key::ArrowRight), along(Key::ArrowUp, Key::ArrowDown)]
    })
}

fn cursor(sides: [i8; 2]) -> CursorIcon {
    match sides {
        [0, _] => CursorIcon::ResizeVertical,
        [_, 0] => CursorIcon::ResizeHorizontal,
        [x, y] if x == y => CursorIcon::ResizeNwSe,
        _ => CursorIcon::ResizeNeSw,
    }
}

fn paint_frame(
    painter: &egui::Painter,
    place: Rect,
    frame: Rect,
    handles: &[(Response, [i8; 2])],
    middle: &Response,
    p: &Palette,
) {
    let dark = Color32::from_black_alpha(150);
    for rect in [
        Rect::from_min_max(place.min, pos2(place.right(), frame.top())),
        Rect::from_min_max(pos2(place.left(), frame.bottom()), place.max),
        Rect::from_min_max(pos2(place.left(), frame.top()), pos2(frame.left(), frame.bottom())),
        Rect::from_min_max(pos2(frame.right(), frame.top()), pos2(place.right(), frame.bottom())),
    ] {
        painter.rect_filled(rect, CornerRadius::ZERO, dark);
    }
    painter.rect_stroke(
        frame,
        CornerRadius::ZERO,
        Stroke::new(3.0, Color32::from_black_alpha(110)),
        StrokeKind::Middle,
    );
    painter.rect_stroke(frame, CornerRadius::ZERO, Stroke::new(1.5, Color32::WHITE), StrokeKind::Middle);
    if middle.has_focus() {
        painter.rect_stroke(frame.expand(4.0), CornerRadius::ZERO, Stroke::new(2.0, p.accent), StrokeKind::Middle);
    }
    for (response, sides) in handles {
        let at = handle_at(frame, *sides);
        let hot = response.hovered() || response.dragged() || response.has_focus();
        let fill = if hot { p.accent } else { Color32::WHITE };
        painter.circle(at, if hot { 7.0 } else { 5.5 }, fill, Stroke::new(1.0, Color32::from_black_alpha(140)));
        if response.has_focus() {
            painter.circle_stroke(at, 10.0, Stroke::new(2.0, p.accent));
        }
    }
}

/// What the crop keeps, and the way out.
fn readout(ui: &mut Ui, state: &State, commands: &mut Commands, canvas: Rect, crop: CropBox) {
    let p = palette(ui.ctx());
    let mut text = format!("keeps {} x {} %", trim(crop.width * 100.0, 1), trim(crop.height * 100.0, 1));
    if let (Some(doc), Some(proxy)) = (state.doc(), state.current_proxy()) {
        let prepared = &proxy.levels[0].prepared;
        text += &format!(
            ", prints {} at true {:.0} ppi",
            size(prepared.print_size_mm, doc.job.info.unit),
            prepared.true_ppi
        );
    }
    let bar = Rect::from_min_max(pos2(canvas.left() + 14.0, canvas.bottom() - 46.0), canvas.max - vec2(14.0, 10.0));
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    ui.scope_builder(egui::UiBuilder::new().max_rect(bar).layout(layout), |ui| {
        if crate::ui::widgets::main_button(ui, "Done", true).on_hover_text("Back to the print  (Esc)").clicked() {
            commands.push(Command::Crop(false));
        }
        ui.add_space(8.0);
        ui.label(egui::RichText::new(text).color(p.on_surround));
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn handles_move_their_own_sides_and_stay_in_the_art() {
        let crop = CropBox { left: 0.2, top: 0.3, width: 0.5, height: 0.4 };
        let near = |a: CropBox, b: [f64; 4]| {
            [a.left, a.top, a.width, a.height].iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-9)
        };
        assert!(near(dragged(crop, [-1, 0], [0.1, 0.9]), [0.1, 0.3, 0.6, 0.4]));
        assert!(near(dragged(crop, [1, 1], [2.0, 0.9]), [0.2, 0.3, 0.8, 0.6]));
        // Over its own other side: it stops at the least.
        assert!(near(dragged(crop, [-1, 0], [0.9, 0.0]), [0.68, 0.3, 0.02, 0.4]));
        assert!(near(moved(crop, [0.9, -0.9]), [0.5, 0.0, 0.5, 0.4]));
        assert!(near(nudged(crop, [0, 1], [0.3, 0.005]), [0.2, 0.3, 0.5, 0.405]));
    }
}
