//! A redraw in its place on a print, and as a picture.

use std::ops::Range;

use kurbo::{Affine, Point};

use crate::area::Rows;
use crate::redrawing::{Edge, Redrawing, Shape};
use crate::settings::Colour;

/// Curves are flattened to within this many pixels of the picture.
const FLAT: f64 = 0.002;

impl Redrawing {
    /// Made `scale` times as large, across and down, then moved by so many of the new pixels, on a picture of
    /// `width` x `height`; what lies beyond it is cut off when it is drawn.
    #[must_use]
    pub fn placed(&self, scale: [f64; 2], by: [f64; 2], width: usize, height: usize) -> Self {
        let to = Affine::new([scale[0], 0.0, 0.0, scale[1], by[0], by[1]]);
        let shape = |shape: &Shape| Shape {
            colour: shape.colour,
            outline: to * &shape.outline,
            area_px: shape.area_px * scale[0] * scale[1],
        };
        let edge = |edge: &Edge| Edge { left: edge.left, right: edge.right, path: to * &edge.path };
        Self {
            width,
            height,
            colours: self.colours.clone(),
            shapes: self.shapes.iter().map(shape).collect(),
            edges: self.edges.iter().map(edge).collect(),
            flatness: self.flatness,
        }
    }

    /// Rows of the redraw as a picture, top row first: in every pixel the mean of what `paint` gives for the
    /// colours that lie in it, by area. Memory is that of the rows asked for; strips fit together to the whole.
    pub fn drawn(&self, rows: Range<usize>, paint: impl Fn(Colour) -> [f64; 4]) -> Vec<[f64; 4]> {
        let paints: Vec<[f64; 4]> = self.colours.iter().map(|colour| paint(*colour)).collect();
        let of = |side: Option<usize>| side.map_or([0.0; 4], |colour| paints[colour]);
        let mut sums = Rows::<4>::new(self.width, rows.start, rows.len());
        let (top, bottom) = (rows.start as f64, rows.end as f64);
        for edge in &self.edges {
            let (left, right) = (of(edge.left), of(edge.right));
            let step = std::array::from_fn(|i| left[i] - right[i]);
            let bounds = kurbo::Shape::bounding_box(&edge.path);
            if bounds.y1 < top || bounds.y0 > bottom {
                continue;
            }
            let mut from = Point::ZERO;
            kurbo::flatten(edge.path.iter(), FLAT, |el| {
                let to = el.end_point().unwrap_or(from);
                if !matches!(el, kurbo::PathEl::MoveTo(_)) {
                    sums.edge(from, to, step);
                }
                from = to;
            });
        }
        sums.pixels().collect()
    }
}
