//! Where edges are soft. An edge's own blur is found from how much a further blur of known width
//! weakens its gradient: for a Gaussian edge of deviation s, blurring by b weakens it by
//! sqrt(1 + b^2/s^2) (Zhuo and Sim, 2011). Widths are on the print, so they compare to the dots.

use rayon::prelude::*;

use crate::raster::{Picture, Plane};
use crate::units::Lpi;

/// Width of edges on the print.
#[derive(Debug, Clone, PartialEq)]
pub struct SoftEdges {
    /// Width (10 to 90 %) of the edge at each pixel in micrometres, the median of what is measured
    /// two pixels around; 0 where there is none.
    pub width_um: Plane<u16>,
    /// Median of those widths in mm.
    pub median_width_mm: Option<f64>,
    /// Share of edge pixels wider than one and a half lines of the ruling.
    pub soft_share: f64,
}

/// From 10 to 90 % a Gaussian edge takes this many deviations.
const RISE: f64 = 2.563;
/// Weakest gradient that counts as an edge: the luma step a pixel for a whole range of 1.
const WEAKEST: f32 = 0.02;

/// Measures the edges of a picture of resolution `ppi`.
pub fn find_soft_edges(picture: &Picture, ppi: f64, ruling: Lpi) -> SoftEdges {
    let (w, h) = (picture.width(), picture.height());
    let luma = picture.pixels().map(|p| {
        let l = 0.2126 * f32::from(p[0]) + 0.7152 * f32::from(p[1]) + 0.0722 * f32::from(p[2]);
        // A clear ground counts as light: its edge is an edge of the art.
        let alpha = f32::from(p[3]) / 65535.0;
        (l / 65535.0 - 1.0) * alpha + 1.0
    });
    let further = 1.5_f64;
    let blurred = blur(&luma, further);
    let slope = |plane: &Plane<f32>, x: usize, y: usize| {
        let gx = plane.get((x + 1).min(w - 1), y) - plane.get(x.saturating_sub(1), y);
        let gy = plane.get(x, (y + 1).min(h - 1)) - plane.get(x, y.saturating_sub(1));
        gx.hypot(gy) / 2.0
    };
    let sharp = Plane::from_fn(w, h, |x, y| slope(&luma, x, y));
    let width_um = Plane::from_fn(w, h, |x, y| {
        let here = sharp.get(x, y);
        if here < WEAKEST {
            return 0;
        }
        // Only the crest of an edge tells its width.
        let (left, right) = (sharp.get(x.saturating_sub(1), y), sharp.get((x + 1).min(w - 1), y));
        let (up, down) = (sharp.get(x, y.saturating_sub(1)), sharp.get(x, (y + 1).min(h - 1)));
        if !((here >= left && here >= right) || (here >= up && here >= down)) {
            return 0;
        }
        let ratio = f64::from(here / slope(&blurred, x, y).max(1e-6));
        let deviation = if ratio > 1.001 { further / (ratio * ratio - 1.0).sqrt() } else { 40.0 };
        let um = RISE * deviation.min(40.0) * 25_400.0 / ppi;
        um.clamp(1.0, 65535.0) as u16
    });
    // One pixel's gradient is noisy; edges beside it are mostly the same edge.
    let width_um = Plane::from_fn(w, h, |x, y| {
        if width_um.get(x, y) == 0 {
            return 0;
        }
        let mut near = [0_u16; 25];
        let mut count = 0;
        for ny in y.saturating_sub(2)..=(y + 2).min(h - 1) {
            for &width in &width_um.row(ny)[x.saturating_sub(2)..=(x + 2).min(w - 1)] {
                if width > 0 {
                    near[count] = width;
                    count += 1;
                }
            }
        }
        let near = &mut near[..count];
        *near.select_nth_unstable(count / 2).1
    });
    let mut widths: Vec<u16> = width_um.data().iter().copied().filter(|&v| v > 0).collect();
    let limit = (1.5 * 25_400.0 / ruling.get()) as u16;
    let soft_share = widths.iter().filter(|&&v| v > limit).count() as f64 / widths.len().max(1) as f64;
    let middle = widths.len() / 2;
    let median_width_mm = (!widths.is_empty()).then(|| f64::from(*widths.select_nth_unstable(middle).1) / 1000.0);
    SoftEdges { width_um, median_width_mm, soft_share }
}

fn blur(plane: &Plane<f32>, sigma: f64) -> Plane<f32> {
    let reach = (3.0 * sigma).ceil() as usize;
    let mut kernel: Vec<f32> =
        (0..=2 * reach).map(|i| (-0.5 * ((i as f64 - reach as f64) / sigma).powi(2)).exp() as f32).collect();
    let sum: f32 = kernel.iter().sum();
    kernel.iter_mut().for_each(|k| *k /= sum);
    let (w, h) = (plane.width(), plane.height());
    let mut rows = vec![0.0_f32; w * h];
    rows.par_chunks_mut(w).enumerate().for_each(|(y, to)| {
        for (k, weight) in kernel.iter().enumerate() {
            let from = plane.row((y + k).saturating_sub(reach).min(h - 1));
            to.iter_mut().zip(from).for_each(|(t, f)| *t += weight * f);
        }
    });
    let rows = Plane::from_vec(w, h, rows);
    Plane::from_fn(w, h, |x, y| {
        let row = rows.row(y);
        kernel.iter().enumerate().map(|(k, weight)| weight * row[(x + k).saturating_sub(reach).min(w - 1)]).sum()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_width_of_a_gaussian_edge_is_found() {
        // Slanted edges of known deviation at 100 ppi: 0.254 mm a pixel.
        for deviation in [1.2, 2.0, 4.0] {
            let edge = Plane::from_fn(120, 120, |x, y| {
                let across = (x as f64 - 60.0 + 0.2 * (y as f64 - 60.0)) / (1.0 + 0.04_f64).sqrt() / deviation;
                // Logistic stand-in for the normal distribution (scale 1.702).
                let v = (65535.0 / (1.0 + (-1.702 * across).exp())) as u16;
                [v, v, v, 65535]
            });
            let found = find_soft_edges(&Picture::new(edge), 100.0, Lpi::new(45.0).unwrap());
            let want = 2.563 * deviation * 0.254;
            let got = found.median_width_mm.unwrap();
            assert!((got / want - 1.0).abs() < 0.2, "{got} for {want}");
            assert_eq!(found.soft_share > 0.5, want > 1.5 * 25.4 / 45.0, "{deviation}: {}", found.soft_share);
        }
    }
}
