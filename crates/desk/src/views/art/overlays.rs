//! What lies over the table while the artwork is judged: the art as it was received, the map of
//! soft edges, rings round stray specks.

use egui::{Align2, Color32, CornerRadius, FontId, Painter, Rect, Stroke, pos2, vec2};

use crate::View;
use crate::derived::SOFT_STEPS;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::color32;
use crate::view_state::Scratch;

const UV: Rect = Rect { min: pos2(0.0, 0.0), max: pos2(1.0, 1.0) };

/// Names of the two sides while before and after lie side by side.
pub fn split_labels(state: &State, scratch: &Scratch) -> Option<[&'static str; 2]> {
    let there = scratch.art.split && scratch.view == View::Art && scratch.against.is_none();
    (there && state.study().is_some()).then_some(["As received", "Prepared"])
}

/// Draws over the print on the canvas.
pub fn overlays_ui(painter: &Painter, state: &State, scratch: &Scratch, canvas: Rect, print: Rect) {
    let Some(study) = state.study() else { return };
    let desk = &scratch.art;
    let split_x = print.left() + print.width() * scratch.divider;
    let before = match (desk.hold, split_labels(state, scratch)) {
        (true, _) => Some(canvas),
        (false, Some(_)) => Some(Rect::from_min_max(canvas.min, pos2(split_x, canvas.bottom()))),
        (false, None) => None,
    };
    if let Some(clip) = before {
        let side = painter.with_clip_rect(clip.intersect(canvas));
        // The prepared art may be clear where this is not, and the other way round.
        if let Some(look) = state.look(scratch, View::Art) {
            side.rect_filled(print, CornerRadius::ZERO, color32(look.garment.color));
        }
        side.image(study.before.id(), print, UV, Color32::WHITE);
        if desk.hold {
            label(painter, pos2(canvas.center().x, canvas.bottom() - 26.0), "as received");
            return;
        }
    }
    if scratch.view != View::Art && !scratch.peek {
        return;
    }
    if desk.soft {
        painter.rect_filled(print, CornerRadius::ZERO, Color32::from_black_alpha(165));
        if let Some(map) = study.soft_map(print.width() * painter.ctx().pixels_per_point()) {
            painter.image(map.id(), print, UV, Color32::WHITE);
        }
        legend(painter, canvas);
    }
    if desk.specks {
        let removed = state.doc().is_some_and(|doc| doc.job.prep.specks.is_some());
        rings(painter, state, canvas, print, removed);
    }
}

fn rings(painter: &Painter, state: &State, canvas: Rect, print: Rect, removed: bool) {
    let (Some(study), Some([wide_mm, _])) = (state.study(), state.print_size_mm()) else { return };
    let p = palette(painter.ctx());
    let per_mm = print.width() / wide_mm as f32;
    let color = if removed { p.fill } else { p.accent };
    for speck in &study.specks {
        let at = print.min + vec2(speck.x_mm as f32, speck.y_mm as f32) * per_mm;
        let radius = (speck.size_mm as f32 * per_mm / 2.0 + 3.0).max(7.0);
        if !canvas.expand(radius).contains(at) {
            continue;
        }
        painter.circle_stroke(at, radius, Stroke::new(3.5, Color32::from_black_alpha(150)));
        painter.circle_stroke(at, radius, Stroke::new(1.75, color));
        if removed {
            let across = vec2(radius, -radius) * 0.7;
            painter.line_segment([at - across, at + across], Stroke::new(1.75, color));
        }
    }
}

fn legend(painter: &Painter, canvas: Rect) {
    let p = palette(painter.ctx());
    let font = FontId::proportional(11.5);
    let frame = Rect::from_min_size(pos2(canvas.left() + 14.0, canvas.bottom() - 92.0), vec2(232.0, 80.0));
    painter.rect_filled(frame, CornerRadius::same(8), p.panel);
    painter.text(frame.min + vec2(10.0, 6.0), Align2::LEFT_TOP, "edges, against a dot's width", font.clone(), p.text);
    let mut from = 0.0;
    for (at, step) in SOFT_STEPS.iter().enumerate() {
        let y = frame.top() + 30.0 + at as f32 * 16.0;
        let swatch = Rect::from_min_size(pos2(frame.left() + 10.0, y - 5.0), vec2(22.0, 10.0));
        painter.rect_filled(swatch, CornerRadius::ZERO, step.color);
        let width = match (from, step.lines) {
            (0.0, to) => format!("up to {to}"),
            (from, to) if to.is_finite() => format!("{from} to {to}"),
            (from, _) => format!("over {from}"),
        };
        let dots = if step.lines == 1.0 { "dot" } else { "dots" };
        let text = format!("{width} {dots}: {}", step.label);
        painter.text(pos2(swatch.right() + 8.0, y), Align2::LEFT_CENTER, text, font.clone(), p.weak);
        from = step.lines;
    }
}

fn label(painter: &Painter, at: egui::Pos2, text: &str) {
    let p = palette(painter.ctx());
    let galley = painter.layout_no_wrap(text.to_owned(), FontId::proportional(13.0), p.text);
    let rect = Rect::from_center_size(at, galley.size());
    painter.rect_filled(rect.expand2(vec2(12.0, 6.0)), CornerRadius::same(12), p.panel);
    painter.galley(rect.min, galley, p.text);
}
