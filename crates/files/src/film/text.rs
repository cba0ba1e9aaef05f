//! Letters for film labels as outlines, from Hack (an open, monospaced face), so that a label
//! looks the same on every machine and stays sharp at every resolution.

use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, MetadataProvider};

use super::shapes::Shape;

/// Width of one letter as a share of the text size; every letter of the face has it.
const ADVANCE: f64 = 0.602;

/// Width of a line of text in millimetres.
pub fn text_width_mm(text: &str, size_mm: f64) -> f64 {
    text.chars().count() as f64 * ADVANCE * size_mm
}

/// As many letters as fit into a width.
pub fn letters_that_fit(width_mm: f64, size_mm: f64) -> usize {
    (width_mm / (ADVANCE * size_mm)).floor().max(0.0) as usize
}

/// Draws a line of text with its base line at `y`. A letter that the face lacks is drawn as a box.
pub fn text(line: &str, x: f64, y: f64, size_mm: f64, out: &mut Vec<Shape>) {
    let Ok(font) = FontRef::new(epaint_default_fonts::HACK_REGULAR) else { return };
    let outlines = font.outline_glyphs();
    let letters = font.charmap();
    for (at, letter) in line.chars().enumerate() {
        if letter.is_whitespace() {
            continue;
        }
        let x = x + at as f64 * ADVANCE * size_mm;
        let drawn = letters.map(letter).and_then(|id| outlines.get(id)).and_then(|glyph| {
            let mut pen = Pen { x, y, contours: Vec::new() };
            glyph.draw(DrawSettings::unhinted(Size::new(size_mm as f32), LocationRef::default()), &mut pen).ok()?;
            Some(Shape::new(&pen.contours, true))
        });
        out.push(
            drawn.unwrap_or_else(|| {
                Shape::rectangle(x + 0.1 * size_mm, y - 0.7 * size_mm, 0.4 * size_mm, 0.7 * size_mm)
            }),
        );
    }
}

/// Collects contours, curves as short lines.
struct Pen {
    x: f64,
    y: f64,
    contours: Vec<Vec<[f64; 2]>>,
}

/// Lines that stand for one curve; letters are a few millimetres high.
const PIECES: i32 = 8;

impl Pen {
    fn place(&self, x: f32, y: f32) -> [f64; 2] {
        [self.x + f64::from(x), self.y - f64::from(y)]
    }

    fn add(&mut self, point: [f64; 2]) {
        if let Some(contour) = self.contours.last_mut() {
            contour.push(point);
        }
    }

    fn last(&self) -> [f64; 2] {
        self.contours.last().and_then(|c| c.last()).copied().unwrap_or([self.x, self.y])
    }
}

impl OutlinePen for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        let point = self.place(x, y);
        self.contours.push(vec![point]);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.add(self.place(x, y));
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        let (a, b, c) = (self.last(), self.place(cx, cy), self.place(x, y));
        for i in 1..=PIECES {
            let t = f64::from(i) / f64::from(PIECES);
            let s = 1.0 - t;
            self.add([0, 1].map(|k| s * s * a[k] + 2.0 * s * t * b[k] + t * t * c[k]));
        }
    }

    fn curve_to(&mut self, cx0: f32, cy0: f32, cx1: f32, cy1: f32, x: f32, y: f32) {
        let (a, b, c, d) = (self.last(), self.place(cx0, cy0), self.place(cx1, cy1), self.place(x, y));
        for i in 1..=PIECES {
            let t = f64::from(i) / f64::from(PIECES);
            let s = 1.0 - t;
            self.add(
                [0, 1].map(|k| s * s * s * a[k] + 3.0 * s * s * t * b[k] + 3.0 * s * t * t * c[k] + t * t * t * d[k]),
            );
        }
    }

    fn close(&mut self) {}
}
