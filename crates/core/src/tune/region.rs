//! A region of the print, in fractions of its width and height, as a mask with clean edges.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::raster::{FULL, Plane};

/// A region. Places and sizes are fractions of the print's width and height, from its top left
/// corner.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "shape", deny_unknown_fields)]
pub enum Region {
    /// A rectangle.
    Rectangle {
        /// Left edge.
        #[schemars(transform = table::REGION.schema())]
        left: f64,
        /// Top edge.
        #[schemars(transform = table::REGION.schema())]
        top: f64,
        /// Width.
        #[schemars(transform = table::REGION.schema())]
        width: f64,
        /// Height.
        #[schemars(transform = table::REGION.schema())]
        height: f64,
    },
    /// An ellipse in a rectangle.
    Ellipse {
        /// Left edge of the rectangle.
        #[schemars(transform = table::REGION.schema())]
        left: f64,
        /// Top edge.
        #[schemars(transform = table::REGION.schema())]
        top: f64,
        /// Width.
        #[schemars(transform = table::REGION.schema())]
        width: f64,
        /// Height.
        #[schemars(transform = table::REGION.schema())]
        height: f64,
    },
    /// A closed outline, for a region drawn by hand. Where it crosses itself, inside and outside
    /// take turns.
    Outline {
        /// Corners, at least three.
        #[schemars(transform = table::CORNERS.schema(), transform = table::REGION.each())]
        points: Vec<[f64; 2]>,
    },
}

/// Corners that an ellipse is drawn with: under a hundredth of a pixel off at 10 000 px.
const ELLIPSE: usize = 720;
/// Rows that a pixel row is cut into; across, coverage is exact.
const SUB_ROWS: usize = 8;

impl Region {
    /// Whether it is a region; its numbers are held to their ranges with the edit's.
    pub(super) fn check(&self) -> Result<(), String> {
        match self {
            Self::Outline { points } if points.len() < 3 => Err("an outline needs at least three corners".to_owned()),
            _ => Ok(()),
        }
    }

    fn corners(&self) -> Vec<[f64; 2]> {
        match self {
            Self::Rectangle { left, top, width, height } => {
                let (right, bottom) = (left + width, top + height);
                vec![[*left, *top], [right, *top], [right, bottom], [*left, bottom]]
            }
            Self::Ellipse { left, top, width, height } => (0..ELLIPSE)
                .map(|i| {
                    let (sin, cos) = (i as f64 / ELLIPSE as f64 * std::f64::consts::TAU).sin_cos();
                    [left + width * (0.5 + 0.5 * cos), top + height * (0.5 + 0.5 * sin)]
                })
                .collect(),
            Self::Outline { points } => points.clone(),
        }
    }

    /// The region as a mask: 65535 inside, a fraction where an edge crosses the pixel.
    pub(super) fn mask(&self, width: usize, height: usize) -> Plane<u16> {
        let corners: Vec<[f64; 2]> =
            self.corners().iter().map(|[x, y]| [x * width as f64, y * height as f64]).collect();
        let mut mask = Plane::filled(width, height, 0);
        mask.data_mut().par_chunks_mut(width.max(1)).enumerate().for_each(|(y, out)| {
            let mut sums = vec![0f64; width];
            for sub in 0..SUB_ROWS {
                let at = y as f64 + (sub as f64 + 0.5) / SUB_ROWS as f64;
                for pair in crossings(&corners, at).chunks_exact(2) {
                    add_span(&mut sums, pair[0], pair[1]);
                }
            }
            for (out, sum) in out.iter_mut().zip(sums) {
                *out = (sum / SUB_ROWS as f64 * f64::from(FULL)).round().clamp(0.0, f64::from(FULL)) as u16;
            }
        });
        mask
    }
}

/// Where the outline crosses the horizontal at `y`, from the left.
fn crossings(corners: &[[f64; 2]], y: f64) -> Vec<f64> {
    let mut xs: Vec<f64> = (0..corners.len())
        .filter_map(|i| {
            let ([x0, y0], [x1, y1]) = (corners[i], corners[(i + 1) % corners.len()]);
            ((y0 <= y) != (y1 <= y)).then(|| x0 + (y - y0) / (y1 - y0) * (x1 - x0))
        })
        .collect();
    xs.sort_by(f64::total_cmp);
    xs
}

/// Adds the share of every pixel that lies between `from` and `to`.
fn add_span(sums: &mut [f64], from: f64, to: f64) {
    let (from, to) = (from.clamp(0.0, sums.len() as f64), to.clamp(0.0, sums.len() as f64));
    let (first, last) = (from as usize, to as usize);
    if first == last {
        if first < sums.len() {
            sums[first] += to - from;
        }
        return;
    }
    sums[first] += (first + 1) as f64 - from;
    for sum in &mut sums[first + 1..last] {
        *sum += 1.0;
    }
    if last < sums.len() {
        sums[last] += to - last as f64;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn areas_are_right() {
        let mask = |region: Region| region.mask(200, 100).mean_coverage();
        let rect = Region::Rectangle { left: 0.1, top: 0.255, width: 0.333, height: 0.5 };
        assert_abs_diff_eq!(mask(rect), 0.333 * 0.5, epsilon = 1e-4);
        let ellipse = Region::Ellipse { left: 0.1, top: 0.1, width: 0.6, height: 0.8 };
        assert_abs_diff_eq!(mask(ellipse), std::f64::consts::PI * 0.3 * 0.4, epsilon = 1e-4);
        let triangle = Region::Outline { points: vec![[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]] };
        assert_abs_diff_eq!(mask(triangle), 0.5, epsilon = 1e-4);
        let outside = Region::Rectangle { left: -1.0, top: -1.0, width: 3.0, height: 3.0 };
        assert_eq!(mask(outside), 1.0);
    }
}
