//! How much of each pixel a colour covers, at any size, by exact area: what screens and films are cut from.

use std::ops::Range;

use kurbo::Point;
use rayon::prelude::*;

use crate::area::Rows;
use crate::redrawing::Redrawing;

/// Curves are flattened to within this many pixels of the coverage that is asked for. A pixel with one
/// boundary in it is then wrong by less than this times the boundary's length there: 0.3 % at most.
const FLAT: f64 = 0.002;

impl Redrawing {
    /// Coverage by one colour in rows `rows` of the redraw at `scale` times the art's size, top row first:
    /// 0 none, 65535 all. A row has `ceil(width * scale)` pixels. Memory is that of the rows asked for; strips
    /// fit together to the whole. The coverages of all colours add up to 65535 but for rounding.
    pub fn coverage(&self, colour: usize, scale: f64, rows: Range<usize>) -> Vec<u16> {
        let width = (self.width as f64 * scale).ceil() as usize;
        let mut sums = Rows::<1>::new(width, rows.start, rows.len());
        let (top, bottom) = (rows.start as f64 / scale, rows.end as f64 / scale);
        let bounding = self.edges.iter().filter_map(|edge| {
            let is = |side: Option<usize>| if side == Some(colour) { 1.0 } else { 0.0 };
            let step = is(edge.left) - is(edge.right);
            (step != 0.0).then_some((edge, step))
        });
        for (edge, step) in bounding {
            let mut from = Point::ZERO;
            for segment in edge.path.segments() {
                let end = kurbo::ParamCurve::end(&segment);
                let bounds = kurbo::Shape::bounding_box(&segment);
                let to_scale = |p: Point| Point::new(p.x * scale, p.y * scale);
                if bounds.y1 < top || bounds.y0 > bottom {
                    continue;
                }
                let start = kurbo::ParamCurve::start(&segment);
                kurbo::flatten([kurbo::PathEl::MoveTo(start), segment.as_path_el()], FLAT / scale, |el| match el {
                    kurbo::PathEl::MoveTo(p) => from = p,
                    _ => {
                        // The last point exactly: strips and neighbours share it.
                        let p = el.end_point().unwrap_or(end);
                        sums.edge(to_scale(from), to_scale(p), [step]);
                        from = p;
                    }
                });
            }
        }
        let pixels: Vec<[f64; 1]> = sums.pixels().collect();
        pixels.par_iter().map(|[v]| (v.clamp(0.0, 1.0) * 65535.0 + 0.5) as u16).collect()
    }
}
