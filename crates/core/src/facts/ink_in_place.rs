//! How much ink lies in one place.

use super::Survey;
use crate::raster::Plane;

/// Printed ink of every block, in solids: 1.0 is one full layer.
pub(crate) fn total_ink(s: &Survey<'_>) -> Vec<f32> {
    (0..s.blocks())
        .map(|at| {
            (0..s.len())
                .map(|i| {
                    let a = f64::from(s.small[i].data()[at]) / 65535.0;
                    (s.printed(i, a) * f64::from(s.screens.list[i].hits)) as f32
                })
                .sum()
        })
        .collect()
}

/// Area in cm2 of the largest patch of blocks, joined at their sides, with at least `layers` of
/// ink, and its map.
pub(crate) fn largest_patch(s: &Survey<'_>, ink: &[f32], layers: f32) -> (f64, Plane<u8>) {
    let (w, h) = (s.small.first().map_or(1, Plane::width), s.small.first().map_or(1, Plane::height));
    let mut seen = vec![false; ink.len()];
    let mut best: Vec<usize> = Vec::new();
    for start in 0..ink.len() {
        if seen[start] || ink[start] < layers {
            continue;
        }
        let mut patch = vec![start];
        seen[start] = true;
        let mut next = 0;
        while next < patch.len() {
            let at = patch[next];
            next += 1;
            let (x, y) = (at % w, at / w);
            let mut visit = |x: usize, y: usize| {
                let to = y * w + x;
                if !seen[to] && ink[to] >= layers {
                    seen[to] = true;
                    patch.push(to);
                }
            };
            if x > 0 {
                visit(x - 1, y);
            }
            if x + 1 < w {
                visit(x + 1, y);
            }
            if y > 0 {
                visit(x, y - 1);
            }
            if y + 1 < h {
                visit(x, y + 1);
            }
        }
        if patch.len() > best.len() {
            best = patch;
        }
    }
    let mut map = Plane::filled(w, h, 0u8);
    for &at in &best {
        map.set(at % w, at / w, 255);
    }
    (best.len() as f64 * (s.mm_per_px / 10.0).powi(2), map)
}
