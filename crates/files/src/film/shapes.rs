//! Line work of a film (marks, frames, letters) as outlines in millimetres, filled a device row
//! at a time. Exact at any resolution and nothing to keep in memory but the outlines.

use strikeoff_core::halftone::fill_run;
use strikeoff_core::units::MM_PER_INCH;

/// A filled outline: closed contours under the non-zero winding rule, as fonts have them.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    edges: Vec<[f64; 4]>,
    top_mm: f64,
    bottom_mm: f64,
    ink: bool,
}

impl Shape {
    /// From contours in millimetres, x to the right and y down. `ink` false clears instead.
    pub fn new(contours: &[Vec<[f64; 2]>], ink: bool) -> Self {
        let mut edges = Vec::new();
        let (mut top_mm, mut bottom_mm) = (f64::INFINITY, f64::NEG_INFINITY);
        for contour in contours {
            for (at, from) in contour.iter().enumerate() {
                let to = contour[(at + 1) % contour.len()];
                top_mm = top_mm.min(from[1]);
                bottom_mm = bottom_mm.max(from[1]);
                // Level edges are kept: they stand up on a sideways film.
                edges.push([from[0], from[1], to[0], to[1]]);
            }
        }
        Self { edges, top_mm, bottom_mm, ink }
    }

    /// A rectangle.
    pub fn rectangle(x: f64, y: f64, width: f64, height: f64) -> Self {
        Self::new(&[vec![[x, y], [x + width, y], [x + width, y + height], [x, y + height]]], true)
    }

    /// A ring: a circle line of radius `radius` and a stroke width.
    pub fn ring(x: f64, y: f64, radius: f64, stroke: f64) -> Self {
        let circle = |r: f64, turn: f64| -> Vec<[f64; 2]> {
            (0..96)
                .map(|i| f64::from(i) / 96.0 * std::f64::consts::TAU * turn)
                .map(|t| [x + r * t.cos(), y + r * t.sin()])
                .collect()
        };
        Self::new(&[circle(radius + stroke / 2.0, 1.0), circle(radius - stroke / 2.0, -1.0)], true)
    }

    /// The shape on a sheet on which the film lies at `at_mm`; sideways, the film is turned a right
    /// angle clockwise and was `film_height_mm` high.
    #[must_use]
    pub fn placed(mut self, at_mm: [f64; 2], sideways: bool, film_height_mm: f64) -> Self {
        let place = |x: f64, y: f64| {
            let (x, y) = if sideways { (film_height_mm - y, x) } else { (x, y) };
            (x + at_mm[0], y + at_mm[1])
        };
        (self.top_mm, self.bottom_mm) = (f64::INFINITY, f64::NEG_INFINITY);
        for edge in &mut self.edges {
            let ((x0, y0), (x1, y1)) = (place(edge[0], edge[1]), place(edge[2], edge[3]));
            *edge = [x0, y0, x1, y1];
            self.top_mm = self.top_mm.min(y0.min(y1));
            self.bottom_mm = self.bottom_mm.max(y0.max(y1));
        }
        self
    }

    /// Fills row `y`: a pixel is inked where its middle is inside.
    pub fn fill_row(&self, y: usize, dpi: [f64; 2], width_px: usize, crossings: &mut Vec<(f64, i32)>, row: &mut [u64]) {
        let middle = (y as f64 + 0.5) / dpi[1] * MM_PER_INCH;
        if middle < self.top_mm || middle > self.bottom_mm {
            return;
        }
        crossings.clear();
        for &[x0, y0, x1, y1] in &self.edges {
            // Half-open, so that a corner counts once.
            let down = y0 <= middle && middle < y1;
            let up = y1 <= middle && middle < y0;
            if down || up {
                crossings.push((x0 + (x1 - x0) * (middle - y0) / (y1 - y0), if down { 1 } else { -1 }));
            }
        }
        crossings.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let pixel = |mm: f64| (mm / MM_PER_INCH * dpi[0] - 0.5).ceil().clamp(0.0, width_px as f64) as usize;
        let mut winding = 0;
        for pair in crossings.windows(2) {
            winding += pair[0].1;
            if winding != 0 {
                fill_run(row, pixel(pair[0].0), pixel(pair[1].0), self.ink);
            }
        }
    }
}
