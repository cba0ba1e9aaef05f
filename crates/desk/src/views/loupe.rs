//! The loupe: what lies under the pointer. Proof and art colour with their difference, and what
//! every screen puts there: coverage on the shirt, and on the film where compensation makes the
//! two differ.

use egui::{Align2, Color32, CornerRadius, FontId, Pos2, Rect, Response, Stroke, StrokeKind, Ui, pos2, vec2};
use strikeoff_core::color::{Lab, Rgb8, ciede2000, lab_from_linear};
use strikeoff_core::press::Stack;
use strikeoff_core::screens::ScreenName;

use crate::derived::{APERTURE_MM, Measured};
use crate::render::{View, on_fabric};
use crate::state::State;
use crate::ui::format::percent;
use crate::ui::theme::palette;
use crate::ui::widgets::{bar, color32, disc, text_in};
use crate::view_state::Scratch;

/// What is under the pointer.
struct Spot {
    proof: Rgb8,
    art: Rgb8,
    delta_e: f32,
    lab: [Lab; 2],
    inks: Vec<Line>,
    total: f32,
}

struct Line {
    name: ScreenName,
    color: Color32,
    shirt: f32,
    film: f32,
    shown: bool,
}

/// Draws the loupe beside the pointer while it is over the print.
pub fn loupe_ui(ui: &Ui, state: &State, scratch: &mut Scratch, canvas: Rect, print: Rect, table: &Response) {
    scratch.measured_at = None;
    if !scratch.loupe || table.dragged() {
        return;
    }
    let Some(pointer) = table.hover_pos().filter(|at| print.contains(*at)) else { return };
    let part = (pointer - print.min) / print.size();
    let Some(spot) = spot(state, scratch, [part.x, part.y]) else { return };
    let measures = scratch.view == View::Dots;
    if measures {
        scratch.measured_at = Some([part.x, part.y].map(|part| (part * 1000.0) as u16));
    }
    let p = palette(ui.ctx());
    let line_height = 19.0;
    let more = if measures { 20.0 } else { 0.0 };
    let size = vec2(268.0, 92.0 + more + line_height * spot.inks.len() as f32);
    let rect = place(canvas, pointer, size);
    let painter = ui.painter_at(canvas);
    painter.rect(rect, CornerRadius::same(8), p.panel, Stroke::new(1.0, p.line), StrokeKind::Inside);
    let font = FontId::proportional(12.0);
    let small = FontId::proportional(11.0);
    let at = rect.min + vec2(26.0, 26.0);
    disc(&painter, at + vec2(19.0, 0.0), 14.0, color32(spot.art), p.weak);
    disc(&painter, at, 14.0, color32(spot.proof), p.weak);
    let text = pos2(rect.left() + 74.0, rect.top() + 10.0);
    painter.text(text, Align2::LEFT_TOP, format!("dE {:.1}", spot.delta_e), FontId::proportional(14.0), p.text);
    painter.text(text + vec2(0.0, 19.0), Align2::LEFT_TOP, "print in front, art behind", small.clone(), p.weak);
    // Rounded to whole numbers, and none of them to minus nought.
    let lab = |lab: Lab| format!("L {}  a {}  b {}", lab.l.round() as i32, lab.a.round() as i32, lab.b.round() as i32);
    let y = rect.top() + 48.0;
    painter.text(
        pos2(rect.left() + 12.0, y),
        Align2::LEFT_TOP,
        format!("print {}", lab(spot.lab[0])),
        small.clone(),
        p.weak,
    );
    painter.text(
        pos2(rect.left() + 140.0, y),
        Align2::LEFT_TOP,
        format!("art {}", lab(spot.lab[1])),
        small.clone(),
        p.weak,
    );
    let mut y = y + 20.0;
    if measures {
        let text = pos2(rect.left() + 12.0, y);
        painter.text(text, Align2::LEFT_TOP, measured_words(state), small.clone(), p.text);
        y += more;
    }
    for line in &spot.inks {
        let middle = y + line_height / 2.0;
        let fade = if line.shown { p.text } else { p.weak };
        disc(&painter, pos2(rect.left() + 18.0, middle), 6.0, line.color, p.weak);
        text_in(ui, pos2(rect.left() + 32.0, middle - 8.0), 92.0, &line.name, font.clone(), fade);
        let track = Rect::from_min_size(pos2(rect.left() + 130.0, middle - 3.0), vec2(58.0, 6.0));
        bar(&painter, track, line.shirt, p);
        let shirt = if line.shown { percent(f64::from(line.shirt)) } else { "hidden".into() };
        painter.text(pos2(rect.left() + 226.0, middle), Align2::RIGHT_CENTER, shirt, font.clone(), fade);
        let film = format!("{:.0}", line.film * 100.0);
        painter.text(pos2(rect.right() - 12.0, middle), Align2::RIGHT_CENTER, film, small.clone(), p.weak);
        y += line_height;
    }
    let total = format!("all ink {:.0} %", spot.total * 100.0);
    painter.text(pos2(rect.left() + 12.0, y + 2.0), Align2::LEFT_TOP, total, small.clone(), p.weak);
    painter.text(pos2(rect.right() - 12.0, y + 2.0), Align2::RIGHT_TOP, "on shirt, on film", small, p.weak);
}

/// What the real dots of a disc measure, and how far the model is from that.
fn measured_words(state: &State) -> String {
    let Some(Measured { dots, model }) = state.derived.measured.latest().copied() else {
        return format!("dots, {APERTURE_MM:.0} mm: being measured");
    };
    let [dots, model] = [dots, model].map(lab_from_linear);
    let [l, a, b] = [dots.l, dots.a, dots.b].map(|v| v.round() as i32);
    format!("dots, {APERTURE_MM:.0} mm: L {l}  a {a}  b {b}, model dE {:.1}", ciede2000(dots, model))
}

/// Beside the pointer, wherever there is room.
fn place(canvas: Rect, pointer: Pos2, size: egui::Vec2) -> Rect {
    let mut at = pointer + vec2(28.0, 20.0);
    if at.x + size.x > canvas.right() - 8.0 {
        at.x = pointer.x - 28.0 - size.x;
    }
    at.y = at.y.min(canvas.bottom() - 8.0 - size.y).max(canvas.top() + 48.0);
    Rect::from_min_size(at, size)
}

fn spot(state: &State, scratch: &Scratch, part: [f32; 2]) -> Option<Spot> {
    let pyramid = state.current_full().or_else(|| state.pyramid())?;
    let level = pyramid.levels.first()?;
    let look = state.look(scratch, scratch.view)?;
    let [w, h] = level.size_px();
    let x = ((part[0] * w as f32) as usize).min(w - 1);
    let y = ((part[1] * h as f32) as usize).min(h - 1);
    let doc = state.doc()?;
    let gain = doc.job.press.gain.curve(look.film.ruling);
    let shown: Vec<_> = level.screens.list.iter().filter(|s| !look.hidden.contains(&s.name)).collect();
    let list = shown.iter().map(|s| (s.name.as_str(), &s.ink, s.hits));
    let stack = Stack::of_inks(&look.ground(), list);
    let a: Vec<f32> = shown.iter().map(|s| f32::from(s.coverage.get(x, y)) / 65535.0).collect();
    let proof = stack.reflectance(&a);
    let art = on_fabric(&level.prepared.picture.pixels().get(x, y), look.garment.reflectance());
    let lab = [lab_from_linear(proof), lab_from_linear(art)];
    let inks = level.screens.list.iter().map(|s| {
        let value = f32::from(s.coverage.get(x, y)) / 65535.0;
        // With compensation the plane is what the shirt is to carry and the film holds less;
        // without, the plane goes on the film and the shirt gains.
        let (shirt, film) = if look.press.compensate { (value, gain.film(value)) } else { (gain.print(value), value) };
        let shown = !look.hidden.contains(&s.name);
        Line { name: s.name.clone(), color: color32(s.ink.over_white), shirt, film, shown }
    });
    Some(Spot {
        proof: Rgb8::from_linear(proof),
        art: Rgb8::from_linear(art),
        delta_e: ciede2000(lab[0], lab[1]),
        lab,
        inks: inks.collect(),
        total: a.iter().sum(),
    })
}
