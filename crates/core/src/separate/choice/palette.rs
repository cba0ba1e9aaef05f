//! A picture's colours as a few hundred weighed ones: what ink choice and costs are judged on.

use rayon::prelude::*;

use crate::color::{Oklab, linear_from_oklab, linear_from_u16, oklab_from_linear};
use crate::raster::Picture;
use crate::separate::process::target_color;

/// A colour and how many pixels it stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Weighed {
    /// Linear light.
    pub color: [f32; 3],
    /// Pixels.
    pub weight: f64,
}

/// Cells a side of the histogram.
const CELLS: usize = 32;

/// At most `most` colours of a picture on its garment, by k-means in OKLab over a histogram.
/// The starts are the heaviest colours thinned by distance, so the result is always the same.
/// One list for each number of `most`.
pub(super) fn weighed_colors<const LISTS: usize>(
    picture: &Picture,
    garment: [f32; 3],
    most: [usize; LISTS],
) -> [Vec<Weighed>; LISTS] {
    let cells = histogram(picture, garment);
    let mut points: Vec<([f32; 3], f64)> = cells
        .into_iter()
        .filter(|c| c.0 > 0)
        .map(|(count, sum)| {
            let mean = sum.map(|s| (s / count as f64) as f32);
            let lab = oklab_from_linear(mean);
            ([lab.l, lab.a, lab.b], count as f64)
        })
        .collect();
    points.sort_by(|a, b| b.1.total_cmp(&a.1));
    let linear = |lab: [f32; 3]| linear_from_oklab(Oklab::new(lab[0], lab[1], lab[2]));
    let weighed = |(lab, weight)| Weighed { color: linear(lab).map(|x| x.clamp(0.0, 1.0)), weight };
    most.map(|most| {
        let few = if points.len() > most { cluster(&points, most) } else { points.clone() };
        few.into_iter().map(weighed).collect()
    })
}

/// Pixels and the sum of their linear light, by cell.
fn histogram(picture: &Picture, garment: [f32; 3]) -> Vec<(u64, [f64; 3])> {
    let none = || vec![(0u64, [0.0f64; 3]); CELLS * CELLS * CELLS];
    // A fixed number of parts keeps sums the same for any number of threads.
    let part = picture.pixels().data().len().div_ceil(16).max(1);
    let parts: Vec<Vec<(u64, [f64; 3])>> = picture
        .pixels()
        .data()
        .par_chunks(part)
        .map(|pixels| {
            let mut cells = none();
            for pixel in pixels.iter().filter(|p| p[3] != 0) {
                let color = target_color(pixel, garment);
                let [r, g, b] = color.map(|v| (v >> 11) as usize);
                let cell = &mut cells[(r * CELLS + g) * CELLS + b];
                cell.0 += 1;
                for (sum, x) in cell.1.iter_mut().zip(linear_from_u16(&color)) {
                    *sum += f64::from(x);
                }
            }
            cells
        })
        .collect();
    let mut total = none();
    for part in parts {
        for (total, cell) in total.iter_mut().zip(part) {
            total.0 += cell.0;
            total.1.iter_mut().zip(cell.1).for_each(|(t, c)| *t += c);
        }
    }
    total
}

fn distance(a: [f32; 3], b: [f32; 3]) -> f32 {
    (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2)
}

/// k-means from starts chosen one after the other where weight times distance to the nearest
/// start is greatest, so that small but distinct colours are kept.
fn cluster(points: &[([f32; 3], f64)], most: usize) -> Vec<([f32; 3], f64)> {
    let mut centers = vec![points[0].0];
    let mut nearest: Vec<f32> = points.iter().map(|p| distance(p.0, centers[0])).collect();
    while centers.len() < most {
        let worth = |i: &usize| f64::from(nearest[*i]) * points[*i].1.sqrt();
        let Some(next) = (0..points.len()).max_by(|a, b| worth(a).total_cmp(&worth(b))) else { break };
        centers.push(points[next].0);
        for (near, p) in nearest.iter_mut().zip(points) {
            *near = near.min(distance(p.0, points[next].0));
        }
    }
    let mut weights = vec![0.0f64; centers.len()];
    for _ in 0..6 {
        let home: Vec<usize> = points
            .par_iter()
            .map(|p| {
                let d = |c: &usize| distance(p.0, centers[*c]);
                (0..centers.len()).min_by(|a, b| d(a).total_cmp(&d(b))).unwrap_or(0)
            })
            .collect();
        let mut sums = vec![[0.0f64; 3]; centers.len()];
        weights.fill(0.0);
        for (p, &home) in points.iter().zip(&home) {
            weights[home] += p.1;
            sums[home].iter_mut().zip(p.0).for_each(|(s, x)| *s += f64::from(x) * p.1);
        }
        for ((center, sum), &weight) in centers.iter_mut().zip(sums).zip(&weights) {
            if weight > 0.0 {
                *center = sum.map(|s| (s / weight) as f32);
            }
        }
    }
    centers.into_iter().zip(weights).filter(|c| c.1 > 0.0).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    #[test]
    fn weights_add_up_and_a_small_distinct_color_survives() {
        let pixels = Plane::from_fn(200, 100, |x, y| {
            let g = ((x * 300 + y * 13) % 65536) as u16;
            if x < 3 && y < 3 { [60_000, 0, 0, u16::MAX] } else { [g, g, g / 2 + 20_000, u16::MAX] }
        });
        let [colors] = weighed_colors(&Picture::new(pixels), [1.0; 3], [12]);
        assert!(colors.len() <= 12);
        assert_eq!(colors.iter().map(|c| c.weight).sum::<f64>(), 20_000.0);
        let red = colors.iter().find(|c| c.color[0] > 0.6 && c.color[1] < 0.02).expect("the red is kept");
        assert_eq!(red.weight, 9.0);
    }
}
