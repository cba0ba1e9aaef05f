//! A region drawn on the table, out of which a screen is trimmed (or which alone it keeps). Drawn
//! by dragging round it, by clicking corners, or with the arrow keys and the space bar.

use egui::{
    Color32, CornerRadius, CursorIcon, Key, Painter, PointerButton, Pos2, Rect, Response, Shape, Stroke, Ui, pos2, vec2,
};
use strikeoff_core::tune::{Edit, EditEntry, Region, edits};
use strikeoff_core::units::Mm;

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{plain_button_if, quiet};
use crate::view_state::{Lasso, Scratch};

/// Corners of a dragged outline are this far apart, in points of the window.
const SPACING: f32 = 4.0;
/// A click this near the first corner closes the region.
const CLOSE: f32 = 9.0;

enum Done {
    TrimInside,
    KeepInside,
    Stop,
}

/// Takes in what the user draws, and draws it.
pub fn lasso_ui(
    ui: &mut Ui,
    state: &State,
    scratch: &mut Scratch,
    commands: &mut Commands,
    canvas: Rect,
    print: Rect,
    response: &Response,
) {
    let Some(mut lasso) = scratch.lasso.take() else { return };
    let mut done = pointer(ui, &mut lasso, print, response);
    if response.has_focus() || !ui.ctx().egui_wants_keyboard_input() {
        done = keys(ui, &mut lasso, response).or(done);
    }
    paint(&ui.painter_at(canvas), ui, &lasso, print);
    done = bar_ui(ui, &mut lasso, canvas).or(done);
    match done {
        Some(Done::Stop) => {}
        Some(way) if lasso.points.len() >= 3 => trim(state, commands, &lasso, matches!(way, Done::TrimInside)),
        _ => scratch.lasso = Some(lasso),
    }
}

fn trim(state: &State, commands: &mut Commands, lasso: &Lasso, inside: bool) {
    let Some(doc) = state.doc() else { return };
    let mut job = doc.job.clone();
    let region = Region::Outline { points: lasso.points.clone() };
    let feather_mm = Mm::new(lasso.soft_mm).unwrap_or_else(|_| unreachable!());
    job.edits.push(EditEntry::on(Edit::MaskRegion(edits::MaskRegion {
        screen: lasso.screen.clone(),
        region,
        outside: inside,
        soft_edge_mm: feather_mm,
    })));
    let what = format!("Trim {} in a region", lasso.screen);
    commands.push(Command::change(job, what));
}

fn pointer(ui: &Ui, lasso: &mut Lasso, print: Rect, response: &Response) -> Option<Done> {
    let at = response.interact_pointer_pos().or(response.hover_pos());
    if response.hovered() {
        ui.ctx().set_cursor_icon(CursorIcon::Crosshair);
    }
    let at = at?;
    let here = [
        f64::from((at.x - print.left()) / print.width()).clamp(-0.2, 1.2),
        f64::from((at.y - print.top()) / print.height()).clamp(-0.2, 1.2),
    ];
    let apart = |p: &[f64; 2]| place(print, *p).distance(at);
    if response.dragged_by(PointerButton::Primary) && lasso.points.last().is_none_or(|p| apart(p) >= SPACING) {
        lasso.points.push(here);
    }
    if response.clicked_by(PointerButton::Primary) {
        if lasso.points.len() >= 3 && lasso.points.first().is_some_and(|p| apart(p) <= CLOSE) {
            return Some(Done::TrimInside);
        }
        lasso.points.push(here);
    }
    (response.drag_stopped_by(PointerButton::Primary) && lasso.points.len() >= 8).then_some(Done::TrimInside)
}

fn keys(ui: &Ui, lasso: &mut Lasso, response: &Response) -> Option<Done> {
    if response.has_focus() {
        let step = if ui.input(|i| i.modifiers.shift) { 0.1 } else { 0.02 };
        let by = ui.input(|i| {
            let n = |key| f64::from(i.num_presses(key) as u32);
            [n(Key::ArrowRight) - n(Key::ArrowLeft), n(Key::ArrowDown) - n(Key::ArrowUp)]
        });
        if by != [0.0; 2] {
            let [x, y] = lasso.crosshair.unwrap_or([0.5, 0.5]);
            lasso.crosshair = Some([(x + by[0] * step).clamp(0.0, 1.0), (y + by[1] * step).clamp(0.0, 1.0)]);
        }
        if ui.input(|i| i.key_pressed(Key::Space))
            && let Some(at) = lasso.crosshair
        {
            lasso.points.push(at);
        }
    }
    if ui.input(|i| i.key_pressed(Key::Backspace)) {
        lasso.points.pop();
    }
    if ui.input(|i| i.key_pressed(Key::Escape)) {
        return Some(Done::Stop);
    }
    (ui.input(|i| i.key_pressed(Key::Enter)) && lasso.points.len() >= 3).then_some(Done::TrimInside)
}

fn place(print: Rect, [x, y]: [f64; 2]) -> Pos2 {
    print.min + vec2(x as f32 * print.width(), y as f32 * print.height())
}

fn paint(painter: &Painter, ui: &Ui, lasso: &Lasso, print: Rect) {
    let p = palette(ui.ctx());
    let corners: Vec<Pos2> = lasso.points.iter().map(|c| place(print, *c)).collect();
    let closed = corners.iter().chain(corners.first()).copied().collect::<Vec<_>>();
    // Two strokes, so that the line shows on any ground.
    painter.add(Shape::line(closed.clone(), Stroke::new(3.0, Color32::from_black_alpha(160))));
    painter.extend(Shape::dashed_line(&closed, Stroke::new(1.5, p.accent), 6.0, 4.0));
    if let Some(first) = corners.first() {
        painter.circle(*first, 4.5, p.accent, Stroke::new(1.0, Color32::WHITE));
    }
    if let Some(at) = lasso.crosshair {
        let at = place(print, at);
        for by in [vec2(9.0, 0.0), vec2(0.0, 9.0)] {
            painter.line_segment([at - by, at + by], Stroke::new(3.0, Color32::from_black_alpha(160)));
            painter.line_segment([at - by, at + by], Stroke::new(1.5, Color32::WHITE));
        }
    }
}

fn bar_ui(ui: &mut Ui, lasso: &mut Lasso, canvas: Rect) -> Option<Done> {
    let p = palette(ui.ctx());
    let mut done = None;
    let size = vec2(canvas.width().min(640.0) - 20.0, 62.0);
    let bar = Rect::from_min_size(pos2(canvas.center().x - size.x / 2.0, canvas.top() + 48.0), size);
    ui.painter().rect_filled(bar, CornerRadius::same(8), p.panel);
    ui.scope_builder(egui::UiBuilder::new().max_rect(bar.shrink2(vec2(12.0, 5.0))), |ui| {
        let text = format!("Draw round what {} must not print: drag, or click corners.", lasso.screen);
        ui.label(quiet(text, p));
        ui.horizontal(|ui| {
            let ready = lasso.points.len() >= 3;
            let offer = |ui: &mut Ui, enabled: bool, text: &str, hint: &str| {
                plain_button_if(ui, enabled, text).on_hover_text(hint).clicked()
            };
            if offer(ui, ready, "Trim inside", "Take the ink out of the region (Enter)") {
                done = Some(Done::TrimInside);
            }
            if offer(ui, ready, "Keep inside only", "Take the ink out of everything else") {
                done = Some(Done::KeepInside);
            }
            if offer(ui, !lasso.points.is_empty(), "One corner back", "Backspace") {
                lasso.points.pop();
            }
            if offer(ui, true, "Stop drawing", "Escape") {
                done = Some(Done::Stop);
            }
            let soft = egui::DragValue::new(&mut lasso.soft_mm)
                .clamp_existing_to_range(false)
                .range(0.0..=20.0)
                .speed(0.05)
                .fixed_decimals(2)
                .prefix("soft edge ")
                .suffix(" mm");
            ui.add(soft)
                .accessible_name("Soft edge of the region")
                .on_hover_text("Width over which the ink fades at the region's edge");
        });
    });
    done
}
