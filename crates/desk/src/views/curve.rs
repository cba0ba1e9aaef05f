//! The tone curve over the screen's histogram. Points are dragged; a click on the curve adds one,
//! a second click on a point takes it out. Arrow keys move the chosen point.

use egui::{Align2, CornerRadius, FontId, Key, Pos2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};
use strikeoff_core::screens::ScreenName;
use strikeoff_core::tune::Curve;

use crate::render::{TONE_BINS, Tones};
use crate::ui::theme::palette;
use crate::ui::widgets::focus_ring;

/// Draws the curve; gives a new one when it was changed.
pub fn curve_ui(ui: &mut Ui, screen: &ScreenName, tones: &Tones, curve: &Curve) -> Option<Curve> {
    let p = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 140.0), Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(Role::Figure, true, format!("Curve of {screen}")));
    ui.painter().rect_filled(rect, CornerRadius::same(6), p.well);
    let inner = rect.shrink(9.0);
    histogram(ui, inner, &tones.bins);
    let place = |[x, y]: [f64; 2]| {
        pos2(inner.left() + inner.width() * x as f32 / 100.0, inner.bottom() - inner.height() * y as f32 / 100.0)
    };
    ui.painter().line_segment([place([0.0, 0.0]), place([100.0, 100.0])], Stroke::new(1.0, p.line));
    let line = (0..=64).map(|i| {
        let x = f64::from(i) / 64.0;
        place([x * 100.0, curve.at(x) * 100.0])
    });
    ui.painter().add(Shape::line(line.collect(), Stroke::new(2.0, p.accent)));
    let id = response.id.with("point");
    let mut chosen: Option<usize> = ui.data(|d| d.get_temp(id));
    let mut points = curve.points().to_vec();
    let near = |at: Pos2, points: &[[f64; 2]]| {
        let by = |i: &usize| (place(points[*i]) - at).length();
        (0..points.len()).min_by(|a, b| by(a).total_cmp(&by(b))).filter(|i| by(i) < 12.0)
    };
    let value = |at: Pos2| {
        let x = f64::from((at.x - inner.left()) / inner.width()) * 100.0;
        let y = f64::from((inner.bottom() - at.y) / inner.height()) * 100.0;
        [x.clamp(0.0, 100.0), y.clamp(0.0, 100.0)]
    };
    let press = ui.input(|i| i.pointer.press_origin());
    if response.drag_started()
        && let Some(at) = press
    {
        chosen = near(at, &points).or_else(|| add(&mut points, value(at)));
    }
    if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        match near(at, &points) {
            Some(i) if chosen == Some(i) && i > 0 && i + 1 < points.len() => {
                points.remove(i);
                chosen = None;
            }
            Some(i) => chosen = Some(i),
            None => chosen = add(&mut points, value(at)),
        }
    }
    if response.dragged()
        && let (Some(i), Some(at)) = (chosen, response.interact_pointer_pos())
        && i < points.len()
    {
        points[i] = inside(&points, i, value(at));
    }
    if response.has_focus() {
        let filter = egui::EventFilter { horizontal_arrows: true, vertical_arrows: true, ..Default::default() };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, filter));
        let count = |key| ui.input(|i| i.num_presses(key)) as f64;
        let i = chosen.unwrap_or(points.len() / 2).min(points.len() - 1);
        let [x, y] = points[i];
        let moved =
            [x + count(Key::ArrowRight) - count(Key::ArrowLeft), y + count(Key::ArrowUp) - count(Key::ArrowDown)];
        if moved != [x, y] {
            points[i] = inside(&points, i, moved);
        }
    }
    for (i, point) in points.iter().enumerate() {
        let radius = if chosen == Some(i) { 5.5 } else { 4.0 };
        ui.painter().circle(place(*point), radius, p.accent, Stroke::new(1.0, p.well));
    }
    focus_ring(ui.painter(), rect, &response, p);
    let (axis, _) = ui.allocate_exact_size(vec2(ui.available_width(), 13.0), Sense::hover());
    let font = FontId::proportional(11.0);
    ui.painter().text(axis.left_center(), Align2::LEFT_CENTER, "no ink", font.clone(), p.weak);
    ui.painter().text(axis.right_center(), Align2::RIGHT_CENTER, "solid", font, p.weak);
    ui.data_mut(|d| match chosen {
        Some(i) => {
            d.insert_temp(id, i);
        }
        None => d.remove::<usize>(id),
    });
    let hint = "Drag to bend. A click adds a point, a click on the chosen point takes it out";
    response.on_hover_text(hint);
    (points != curve.points()).then(|| Curve::new(points).ok()).flatten()
}

/// Adds a point in its order; gives its place.
fn add(points: &mut Vec<[f64; 2]>, new: [f64; 2]) -> Option<usize> {
    let at = points.iter().position(|p| p[0] > new[0])?;
    let room = at > 0 && new[0] - points[at - 1][0] > 2.0 && points[at][0] - new[0] > 2.0;
    room.then(|| {
        points.insert(at, new);
        at
    })
}

/// Keeps a point between its neighbours.
fn inside(points: &[[f64; 2]], i: usize, [x, y]: [f64; 2]) -> [f64; 2] {
    let low = if i == 0 { 0.0 } else { points[i - 1][0] + 1.0 };
    let high = if i + 1 == points.len() { 100.0 } else { points[i + 1][0] - 1.0 };
    [x.clamp(low, high.max(low)), y.clamp(0.0, 100.0)]
}

fn histogram(ui: &Ui, inner: Rect, bins: &[u32; TONE_BINS]) {
    let p = palette(ui.ctx());
    // Clear and solid areas would dwarf the tones between; those set the height.
    let most = bins[1..TONE_BINS - 1].iter().max().copied().unwrap_or(1).max(1) as f32;
    let step = inner.width() / TONE_BINS as f32;
    let bars = bins.iter().enumerate().map(|(i, &n)| {
        let height = (n as f32 / most).sqrt().min(1.0) * inner.height();
        let x = inner.left() + i as f32 * step;
        let bar = Rect::from_min_max(pos2(x, inner.bottom() - height), pos2(x + step - 0.8, inner.bottom()));
        Shape::rect_filled(bar, CornerRadius::ZERO, p.line)
    });
    ui.painter().extend(bars.collect::<Vec<_>>());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_stay_in_order() {
        let mut points = vec![[0.0, 0.0], [100.0, 100.0]];
        assert_eq!(add(&mut points, [50.0, 40.0]), Some(1));
        assert_eq!(add(&mut points, [51.0, 40.0]), None, "too near to another one");
        let moved = inside(&points, 1, [140.0, -3.0]);
        assert_eq!(moved, [99.0, 0.0]);
        points[1] = moved;
        assert!(Curve::new(points).is_ok());
    }
}
