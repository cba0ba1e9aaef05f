//! The flat colours of a picture: what areas of one colour there are, and how much of the picture
//! they make up.
//!
//! Only pixels that look like all four of their neighbours count, so that the blends along
//! outlines make no colours of their own. They are counted in the cells of a colour cube; cells
//! join the heaviest colour near them, and the colours' means are refined by two rounds of
//! k-means.

use rayon::prelude::*;
use serde::Serialize;

use crate::color::{Oklab, Rgb8, encode_u16, linear_from_u16, oklab_from_linear};
use crate::raster::{Picture, Rgba16};

/// An area colour of the art.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FlatColor {
    /// Its mean.
    pub color: Rgb8,
    /// The same to 16 bits, sRGB-encoded.
    #[serde(skip)]
    pub exact: [u16; 3],
    /// Share of all pixels that are not clear, 0..=1, edges not counted.
    pub share: f64,
}

/// Most flat colours that are kept apart.
pub const MAX_FLAT: usize = 24;
/// Channels of neighbours in one area differ by at most this: 3 %, above the noise of compression.
const NEAR: u16 = 1966;
const CELLS: usize = 32;

/// Least alpha of a pixel whose colour is looked at.
pub(super) const OPAQUE: u16 = 0xF000;

/// Whether two pixels look the same at a glance.
#[inline]
pub(super) fn alike(a: &Rgba16, b: &Rgba16) -> bool {
    a[0].abs_diff(b[0]) <= NEAR && a[1].abs_diff(b[1]) <= NEAR && a[2].abs_diff(b[2]) <= NEAR
}

/// Flat colours that differ by more than `same_within` in OKLab and make up at least
/// `least_share` of the picture, largest first; at most [`MAX_FLAT`].
pub fn flat_colors(picture: &Picture, same_within: f64, least_share: f64) -> Vec<FlatColor> {
    common_colors(picture, same_within, least_share, true)
}

/// The commonest colours, of flat pixels or of all.
pub(super) fn common_colors(picture: &Picture, same_within: f64, least_share: f64, flat: bool) -> Vec<FlatColor> {
    let (cells, solid) = count(picture, flat);
    let mut points: Vec<([f32; 3], f64)> = cells
        .into_iter()
        .filter(|c| c.0 > 0)
        .map(|(count, sum)| (lab(sum.map(|s| (s / count as f64) as u16)), count as f64))
        .collect();
    // Stable: equally heavy cells stay in the order of the cube.
    points.sort_by(|a, b| b.1.total_cmp(&a.1));
    let reach = same_within.max(1e-3) as f32;
    let least = (least_share * solid as f64).max(1.0);
    let mut centers: Vec<[f32; 3]> = Vec::new();
    let mut weights: Vec<f64> = Vec::new();
    for (point, weight) in &points {
        match nearest(*point, &centers) {
            Some((at, d)) if d <= reach => weights[at] += weight,
            _ if centers.len() < 4 * MAX_FLAT => {
                centers.push(*point);
                weights.push(*weight);
            }
            _ => {}
        }
    }
    centers = centers.into_iter().zip(&weights).filter(|(_, w)| **w >= least).map(|(c, _)| c).collect();
    for _ in 0..2 {
        refine(&points, &mut centers, reach, least);
    }
    let mut found = refine(&points, &mut centers, reach, least);
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    found.truncate(MAX_FLAT);
    found
        .into_iter()
        .map(|(center, weight)| {
            let linear = crate::color::linear_from_oklab(Oklab::new(center[0], center[1], center[2]));
            let exact = encode_u16(linear);
            FlatColor { color: Rgb8::from_linear(linear), exact, share: weight / solid.max(1) as f64 }
        })
        .collect()
}

/// One round of k-means over the points within reach of a centre; centres that hold too little go.
fn refine(points: &[([f32; 3], f64)], centers: &mut Vec<[f32; 3]>, reach: f32, least: f64) -> Vec<([f32; 3], f64)> {
    let mut sums = vec![([0.0f64; 3], 0.0f64); centers.len()];
    for (point, weight) in points {
        if let Some((at, d)) = nearest(*point, centers)
            && d <= 1.5 * reach
        {
            sums[at].0.iter_mut().zip(point).for_each(|(s, x)| *s += f64::from(*x) * weight);
            sums[at].1 += weight;
        }
    }
    let kept: Vec<([f32; 3], f64)> =
        sums.into_iter().filter(|s| s.1 >= least).map(|(sum, w)| (sum.map(|s| (s / w) as f32), w)).collect();
    *centers = kept.iter().map(|k| k.0).collect();
    kept
}

fn nearest(point: [f32; 3], centers: &[[f32; 3]]) -> Option<(usize, f32)> {
    let d = |c: &[f32; 3]| (0..3).map(|i| (c[i] - point[i]).powi(2)).sum::<f32>();
    let best = centers.iter().map(d).enumerate().min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((best.0, best.1.sqrt()))
}

pub(super) fn lab(color: [u16; 3]) -> [f32; 3] {
    let lab = oklab_from_linear(linear_from_u16(&color));
    [lab.l, lab.a, lab.b]
}

/// Flat (or all opaque) pixels and the sums of their encoded channels by cell, and all pixels that
/// are not clear.
fn count(picture: &Picture, flat: bool) -> (Vec<(u64, [f64; 3])>, u64) {
    let (w, h) = (picture.width(), picture.height());
    let pixels = picture.pixels();
    let none = || vec![(0u64, [0u64; 3]); CELLS * CELLS * CELLS];
    let rows_a_part = h.div_ceil(16).max(1);
    // Whole numbers add up the same in any order.
    let (cells, solid) = (0..h.div_ceil(rows_a_part))
        .into_par_iter()
        .map(|part| {
            let mut cells = none();
            let mut solid = 0u64;
            for y in part * rows_a_part..((part + 1) * rows_a_part).min(h) {
                let (row, up, down) = (pixels.row(y), pixels.row(y.saturating_sub(1)), pixels.row((y + 1).min(h - 1)));
                for x in 0..w {
                    let p = &row[x];
                    if p[3] == 0 {
                        continue;
                    }
                    solid += 1;
                    let around = [&row[x.saturating_sub(1)], &row[(x + 1).min(w - 1)], &up[x], &down[x]];
                    if p[3] >= OPAQUE && (!flat || around.iter().all(|q| alike(p, q) && q[3] >= OPAQUE)) {
                        let [r, g, b] = [p[0], p[1], p[2]].map(|v| (v >> 11) as usize);
                        let cell = &mut cells[(r * CELLS + g) * CELLS + b];
                        cell.0 += 1;
                        (0..3).for_each(|i| cell.1[i] += u64::from(p[i]));
                    }
                }
            }
            (cells, solid)
        })
        .reduce(
            || (none(), 0),
            |(mut a, s), (b, t)| {
                for (a, b) in a.iter_mut().zip(b) {
                    a.0 += b.0;
                    (0..3).for_each(|i| a.1[i] += b.1[i]);
                }
                (a, s + t)
            },
        );
    (cells.into_iter().map(|(n, sum)| (n, sum.map(|s| s as f64))).collect(), solid)
}

/// An opaque pixel of a colour, for tests of what looks at pixels.
#[cfg(test)]
pub(super) fn opaque(color: &str) -> Rgba16 {
    let [r, g, b] = color.parse::<Rgb8>().expect("a colour").0.map(|v| u16::from(v) * 257);
    [r, g, b, u16::MAX]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    #[test]
    fn areas_are_colours_and_blends_along_outlines_are_not() {
        let (red, cream, ink) = (opaque("#C8202F"), opaque("#F4E6C0"), opaque("#16161A"));
        let mix = |a: Rgba16, b: Rgba16| -> Rgba16 { std::array::from_fn(|i| a[i] / 2 + b[i] / 2) };
        let picture = Picture::new(Plane::from_fn(120, 100, |x, y| match (x, y) {
            (50..70, 45..55) => ink,
            (0..60, _) => red,
            (60, _) => mix(red, cream),
            (_, 98..) => [0; 4],
            // Noise of compression.
            _ => cream.map(|v| v - 257 * ((x * 7 + y * 13) % 3) as u16),
        }));
        let found = flat_colors(&picture, 0.05, 0.001);
        let names: Vec<String> = found.iter().map(|f| f.color.to_string()).collect();
        assert_eq!(found.len(), 3, "{names:?}");
        assert_eq!(names[0], "#C8202F");
        assert_eq!(names[2], "#16161A");
        // 57 of 100 columns' worth of red without its edges; shares are of what is not clear.
        assert!((found[0].share - 0.48).abs() < 0.02, "{found:?}");
        assert!((found[2].share - 200.0 / 11_900.0).abs() < 0.006, "{found:?}");
    }

    #[test]
    fn a_small_share_is_no_colour_of_its_own() {
        let picture =
            Picture::new(Plane::from_fn(
                100,
                100,
                |x, y| if x < 5 && y < 5 { opaque("#00A040") } else { opaque("#202020") },
            ));
        assert_eq!(flat_colors(&picture, 0.05, 0.0001).len(), 2);
        assert_eq!(flat_colors(&picture, 0.05, 0.01).len(), 1);
    }
}
