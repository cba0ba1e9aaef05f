//! The garment on the table: the flat shirt of [`strikeoff_core::preview::shirt`]. The cloth is flat colour,
//! so colour can be judged on it; folds and grain are laid over cloth and print together and can be
//! turned off.

use std::sync::OnceLock;

use egui::epaint::{Mesh, Vertex, WHITE_UV};
use egui::{Color32, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};
use strikeoff_core::preview::shirt::{self, ARMHOLE, At, COLLAR, NECK_TOP, SHOULDER};
use strikeoff_core::units::Mm;

fn at([x, y]: At) -> Pos2 {
    pos2(x as f32, y as f32)
}

/// All of the shirt, on the table.
pub fn bounds_mm() -> Rect {
    let [from, to] = shirt::bounds_mm();
    Rect::from_min_max(at(from), at(to))
}

/// Where a print of a size lies.
pub fn print_rect_mm(size_mm: [f64; 2], below_collar: Mm) -> Rect {
    let [left, top, width, height] = shirt::print_rect_mm(size_mm, below_collar);
    Rect::from_min_size(at([left, top]), vec2(width as f32, height as f32))
}

/// Draws the cloth. `place` maps the table to the canvas.
pub fn cloth(painter: &Painter, place: impl Fn(Pos2) -> Pos2, color: Color32) {
    let inside = shade(color, -0.16);
    // The back of the collar, seen through the opening.
    let back: Vec<Pos2> = (0..=32).map(|i| place(collar(i as f32 / 32.0, 14.0))).collect();
    let front: Vec<Pos2> = (0..=32).rev().map(|i| place(collar(i as f32 / 32.0, COLLAR[1]))).collect();
    let mut opening = Mesh::default();
    for (b, f) in back.iter().zip(front.iter().rev()) {
        opening.colored_vertex(*b, inside);
        opening.colored_vertex(*f, inside);
    }
    strip(&mut opening, 33);
    painter.add(Shape::mesh(opening));
    for patch in &Patches::get().cloth {
        painter.add(laid(patch, &place, |_| color));
    }
}

/// Lays folds over cloth and print, then draws seams and edges.
pub fn folds_and_seams(painter: &Painter, place: impl Fn(Pos2) -> Pos2, color: Color32, folds: bool) {
    let scale = (place(pos2(100.0, 0.0)) - place(pos2(0.0, 0.0))).length() / 100.0;
    if folds {
        for patch in &Patches::get().folds {
            painter.add(laid(patch, &place, |vertex| vertex.color));
        }
    }
    let light = color.intensity() > 0.22;
    let seam = if light { Color32::from_black_alpha(46) } else { Color32::from_white_alpha(40) };
    let edge = if light { Color32::from_black_alpha(88) } else { Color32::from_white_alpha(58) };
    let thin = Stroke::new((1.1 * scale).clamp(0.6, 2.2), seam);
    let rim = Stroke::new((1.5 * scale).clamp(0.8, 3.0), edge);
    let line = |points: Vec<Pos2>, stroke: Stroke| {
        painter.line(points.into_iter().map(&place).collect(), stroke);
    };
    // Collar: its rib between two lines, and the back.
    line((0..=32).map(|i| collar(i as f32 / 32.0, COLLAR[1])).collect(), rim);
    line((0..=32).map(|i| rib(i as f32 / 32.0)).collect(), thin);
    line((0..=32).map(|i| collar(i as f32 / 32.0, 14.0)).collect(), rim);
    for side in [-1.0f32, 1.0] {
        let m = move |p: Pos2| pos2(p.x * side, p.y);
        line((0..=16).map(|i| body(side, i as f32 / 16.0 * ARMHOLE as f32)).collect(), thin);
        line((0..=24).map(|i| body(side, ARMHOLE as f32 + i as f32 / 24.0 * (1.0 - ARMHOLE as f32))).collect(), rim);
        line((0..=12).map(|i| sleeve(side, i as f32 / 12.0, 0.0)).collect(), rim);
        line((0..=12).map(|i| sleeve(side, i as f32 / 12.0, 1.0)).collect(), rim);
        line((0..=12).map(|i| sleeve(side, 1.0, i as f32 / 12.0)).collect(), rim);
        line((0..=12).map(|i| sleeve(side, 0.88, i as f32 / 12.0)).collect(), thin);
        line(vec![m(at([COLLAR[0], NECK_TOP])), m(at(SHOULDER))], rim);
    }
    line((0..=32).map(|i| body(i as f32 / 16.0 - 1.0, 1.0)).collect(), rim);
    line((0..=32).map(|i| body(i as f32 / 16.0 - 1.0, 1.0) - vec2(0.0, 20.0)).collect(), thin);
}

/// Body and sleeves in millimetres, worked out once: a frame only places them.
struct Patches {
    /// Without a colour.
    cloth: [Mesh; 3],
    /// Shadows of the folds.
    folds: [Mesh; 3],
}

impl Patches {
    fn get() -> &'static Self {
        static PATCHES: OnceLock<Patches> = OnceLock::new();
        PATCHES.get_or_init(|| {
            let sleeves = |side: f32| move |u, v| sleeve(side, u, v);
            let plain = |_, _| Color32::WHITE;
            let on_body = |u, v| shadow(body_fold(u, v));
            let on_sleeve = |u, v| shadow(sleeve_fold(u, v));
            Self {
                cloth: [grid(plain, body, 48, 1), grid(plain, sleeves(-1.0), 12, 6), grid(plain, sleeves(1.0), 12, 6)],
                folds: [
                    grid(on_body, body, 64, 56),
                    grid(on_sleeve, sleeves(-1.0), 16, 12),
                    grid(on_sleeve, sleeves(1.0), 16, 12),
                ],
            }
        })
    }
}

/// A patch on the canvas.
fn laid(patch: &Mesh, place: impl Fn(Pos2) -> Pos2, color: impl Fn(&Vertex) -> Color32) -> Shape {
    let mut mesh = patch.clone();
    for vertex in &mut mesh.vertices {
        *vertex = Vertex { pos: place(vertex.pos), uv: vertex.uv, color: color(vertex) };
    }
    Shape::mesh(mesh)
}

fn body(u: f32, v: f32) -> Pos2 {
    at(shirt::body(f64::from(u), f64::from(v)))
}

fn sleeve(side: f32, u: f32, v: f32) -> Pos2 {
    at(shirt::sleeve(f64::from(side), f64::from(u), f64::from(v)))
}

fn collar(t: f32, drop: f64) -> Pos2 {
    at(shirt::collar(f64::from(t), drop))
}

fn rib(t: f32) -> Pos2 {
    at(shirt::rib(f64::from(t)))
}

/// Darkness of the folds, -1..1: none where prints lie, stronger at the sides and the hem.
fn body_fold(u: f32, v: f32) -> f32 {
    let side = ((u.abs() - 0.7) / 0.3).clamp(0.0, 1.0);
    let edge = side * side * 0.30;
    let drape = side * 0.10 * (v * 17.0 + u * 5.0).sin();
    let hem = ((v - 0.88) / 0.12).clamp(0.0, 1.0) * 0.07 * (1.0 + (u * 21.0).sin());
    let armpit = (-((u.abs() - 1.0).powi(2) * 40.0 + (v - 0.24).powi(2) * 90.0)).exp() * 0.34;
    edge + drape + hem + armpit
}

fn sleeve_fold(u: f32, v: f32) -> f32 {
    0.16 * v + 0.14 * (1.0 - u) * v + 0.07 * (v * 9.0 + u * 6.0).sin()
}

fn shadow(dark: f32) -> Color32 {
    let alpha = (dark.abs().min(1.0) * 110.0) as u8;
    if dark >= 0.0 { Color32::from_black_alpha(alpha) } else { Color32::from_white_alpha(alpha) }
}

fn shade(color: Color32, by: f32) -> Color32 {
    let target = if by < 0.0 { Color32::BLACK } else { Color32::WHITE };
    color.lerp_to_gamma(target, by.abs())
}

/// A patch of `nu` by `nv` cells over u and v in 0..1 (u in -1..1 for the body).
fn grid(color: impl Fn(f32, f32) -> Color32, at: impl Fn(f32, f32) -> Pos2, nu: usize, nv: usize) -> Mesh {
    let rows = nv.max(24);
    let mut mesh = Mesh::default();
    let from_minus_one = at(-1.0, 0.5).x < -1.0 && at(1.0, 0.5).x > 1.0 && at(0.0, 0.5).x.abs() < 1.0;
    for j in 0..=rows {
        let v = j as f32 / rows as f32;
        for i in 0..=nu {
            let t = i as f32 / nu as f32;
            let u = if from_minus_one { 2.0 * t - 1.0 } else { t };
            mesh.vertices.push(Vertex { pos: at(u, v), uv: WHITE_UV, color: color(u, v) });
        }
    }
    let w = nu as u32 + 1;
    for j in 0..rows as u32 {
        for i in 0..nu as u32 {
            let a = j * w + i;
            mesh.add_triangle(a, a + 1, a + w);
            mesh.add_triangle(a + 1, a + w, a + w + 1);
        }
    }
    mesh
}

fn strip(mesh: &mut Mesh, pairs: u32) {
    for i in 0..pairs - 1 {
        let a = 2 * i;
        mesh.add_triangle(a, a + 1, a + 2);
        mesh.add_triangle(a + 1, a + 2, a + 3);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folds_leave_the_print_alone() {
        for i in 0..=20 {
            for j in 2..=16 {
                let (u, v) = (i as f32 / 20.0 * 1.3 - 0.65, j as f32 / 20.0);
                assert!(body_fold(u, v).max(0.0) <= 0.02, "fold at {u} {v}");
            }
        }
    }
}
