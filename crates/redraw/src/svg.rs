//! Plain SVG 1.1.
//!
//! Shapes that touch share their outline, and a viewer that smooths each by itself lets the ground show
//! through as a hair between them. So every boundary between two solid colours is drawn first, as a line a
//! pixel wide in one of the two, and the shapes over it: where they leave a hair, that line shows.

use std::fmt::Write;

use kurbo::{BezPath, PathEl, Point};

use crate::redrawing::Redrawing;

/// Width of the line under a boundary, pixels of the art: enough to fill a hair, hidden under both shapes.
const SEAM: f64 = 0.5;

impl Redrawing {
    /// The redraw as SVG 1.1, a unit a pixel of the art. Group `shapes` has a path for each region; group
    /// `seams` under it only keeps hairs from showing between them and can be taken away.
    pub fn to_svg(&self) -> String {
        let (w, h) = (self.width, self.height);
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"{w}\" height=\"{h}\" \
             viewBox=\"0 0 {w} {h}\">\n<g id=\"seams\" fill=\"none\" stroke-width=\"{SEAM}\">\n"
        );
        for edge in &self.edges {
            if let (Some(left), Some(right)) = (edge.left, edge.right) {
                let solid = [left, right].iter().all(|&k| self.colours[k].opacity == 255);
                if solid {
                    // The later shape's colour, as its own smoothing would have it.
                    let _ =
                        writeln!(out, "<path stroke=\"{}\" d=\"{}\"/>", self.hex(left.max(right)), data(&edge.path));
                }
            }
        }
        out.push_str("</g>\n<g id=\"shapes\" fill-rule=\"evenodd\">\n");
        for shape in self.shapes.iter().filter(|s| !self.colours[s.colour].is_clear()) {
            let opacity = self.colours[shape.colour].opacity;
            let _ = write!(out, "<path fill=\"{}\"", self.hex(shape.colour));
            if opacity < 255 {
                let _ = write!(out, " fill-opacity=\"{}\"", number(f64::from(opacity) / 255.0));
            }
            let _ = writeln!(out, " d=\"{}\"/>", data(&shape.outline));
        }
        out.push_str("</g>\n</svg>\n");
        out
    }

    fn hex(&self, colour: usize) -> String {
        let [r, g, b] = self.colours[colour].rgb;
        format!("#{r:02x}{g:02x}{b:02x}")
    }
}

/// Ten-thousandths of a pixel, without noughts at the end.
fn number(v: f64) -> String {
    let mut text = format!("{v:.4}");
    while text.ends_with('0') {
        text.pop();
    }
    if text.ends_with('.') {
        text.pop();
    }
    if text == "-0" { "0".into() } else { text }
}

fn data(path: &BezPath) -> String {
    let mut out = String::new();
    let mut at = Point::ZERO;
    let pair = |p: Point| format!("{} {}", number(p.x), number(p.y));
    for el in path {
        let _ = match el {
            PathEl::MoveTo(p) => write!(out, "M{}", pair(p)),
            PathEl::LineTo(p) if p.y == at.y => write!(out, "H{}", number(p.x)),
            PathEl::LineTo(p) if p.x == at.x => write!(out, "V{}", number(p.y)),
            PathEl::LineTo(p) => write!(out, "L{}", pair(p)),
            PathEl::QuadTo(p, q) => write!(out, "Q{} {}", pair(p), pair(q)),
            PathEl::CurveTo(p, q, r) => write!(out, "C{} {} {}", pair(p), pair(q), pair(r)),
            PathEl::ClosePath => write!(out, "Z"),
        };
        at = el.end_point().unwrap_or(at);
    }
    out
}
