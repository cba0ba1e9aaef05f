//! Letters for film labels as outlines, so that a label stays sharp at every resolution. Set in
//! Hack (an open face, every letter equally wide); what it lacks comes from other fonts.

use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, GlyphId, MetadataProvider};

use super::shapes::Shape;
use crate::text::{Face, set};

/// Width of a line of text in millimetres.
pub fn text_width_mm(text: &str, size_mm: f64) -> f64 {
    f64::from(set(Face::Mono, text).width()) * size_mm
}

/// Draws a line of text with its base line at `y`. A letter that no font has is drawn as a box.
pub fn text(line: &str, x: f64, y: f64, size_mm: f64, out: &mut Vec<Shape>) {
    let mut x = x;
    for run in set(Face::Mono, line).runs {
        let font = FontRef::from_index(run.font.data(), run.font.index());
        let outlines = font.as_ref().ok().map(MetadataProvider::outline_glyphs);
        for glyph in &run.glyphs {
            let [right, up] = glyph.offset.map(|ems| f64::from(ems) * size_mm);
            let outline = outlines.as_ref().and_then(|outlines| outlines.get(GlyphId::new(glyph.id)));
            if let Some(outline) = outline {
                let mut pen = Pen { x: x + right, y: y - up, contours: Vec::new() };
                let settings = DrawSettings::unhinted(Size::new(size_mm as f32), LocationRef::default());
                if outline.draw(settings, &mut pen).is_ok() && !pen.contours.is_empty() {
                    out.push(Shape::new(&pen.contours, true));
                }
            }
            x += f64::from(glyph.advance) * size_mm;
        }
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
