//! Cleaning compressed art before it is enlarged: the steps between a JPEG's blocks are eased
//! where they are small enough to be the compression's own, and noise is evened out without
//! crossing edges (a bilateral mean). Both work on the art's own pixels.

use rayon::prelude::*;

use crate::raster::{Picture, Plane, Rgba16};

/// How strongly an 8 x 8 grid shows, and where it begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blocking {
    /// Mean step across block borders over the mean step elsewhere; 1 for art without blocks.
    pub ratio: f64,
    /// Mean step across block borders beyond that elsewhere, in 8-bit levels.
    pub step_levels: f64,
    /// Column of the first border, 0..8.
    pub x: usize,
    /// Row of the first border, 0..8.
    pub y: usize,
}

/// Measures the grid. A step that continues a slope does not count: what counts is how far a
/// border step differs from the steps beside it.
pub fn find_blocking(picture: &Picture) -> Blocking {
    let luma = luma(picture);
    let across = phases(&luma);
    let down = phases(&Plane::from_fn(luma.height(), luma.width(), |x, y| luma.get(y, x)));
    let best = |p: &[f64; 8]| (0..8).max_by(|&a, &b| p[a].total_cmp(&p[b])).unwrap_or(0);
    let (x, y) = (best(&across), best(&down));
    let rest = |p: &[f64; 8], skip: usize| (p.iter().sum::<f64>() - p[skip]) / 7.0;
    let border = (across[x] + down[y]) / 2.0;
    let other = (rest(&across, x) + rest(&down, y)) / 2.0;
    Blocking { ratio: border / other.max(1e-6), step_levels: (border - other) / 257.0, x, y }
}

/// Mean excess step into each column, by its place in a period of eight.
fn phases(luma: &Plane<u16>) -> [f64; 8] {
    let width = luma.width();
    let mut sums = [0.0_f64; 8];
    let mut counts = [0.0_f64; 8];
    for y in 0..luma.height() {
        let row = luma.row(y);
        for x in 2..width.saturating_sub(1) {
            let step = |at: usize| f64::from(row[at]) - f64::from(row[at - 1]);
            let excess = (step(x) - (step(x - 1) + step(x + 1)) / 2.0).abs();
            // Real edges would drown the grid.
            if excess < 20.0 * 257.0 {
                sums[x % 8] += excess;
                counts[x % 8] += 1.0;
            }
        }
    }
    std::array::from_fn(|i| sums[i] / counts[i].max(1.0))
}

fn luma(picture: &Picture) -> Plane<u16> {
    picture.pixels().map(|p| ((u32::from(p[0]) * 54 + u32::from(p[1]) * 183 + u32::from(p[2]) * 19) >> 8) as u16)
}

/// Eases the steps between blocks. `strength` 0..=1 scales what step still counts as the
/// compression's own: at 1, three times the measured mean step in lightness, twice that in
/// colour, whose blocks are coarser. Without a grid nothing changes.
///
/// Where both sides are flat the step becomes a ramp over four pixels each side, since a flat block
/// shows whole; elsewhere only the two next to the border move, so that texture stays.
pub(super) fn deblock(picture: &mut Picture, strength: f64) {
    let grid = find_blocking(picture);
    if strength <= 0.0 || grid.ratio < 1.15 || grid.step_levels <= 0.0 {
        return;
    }
    let (w, h) = (picture.width(), picture.height());
    let most = (3.0 * grid.step_levels.max(0.7) * strength * 257.0).max(257.0) as f32;
    picture.pixels_mut().data_mut().par_chunks_mut(w).for_each(|row| {
        for x in (4..w.saturating_sub(3)).filter(|x| x % 8 == grid.x) {
            ease(row, x - 4, 1, most);
        }
    });
    // Borders lie eight rows apart and reach four each way: bands of rows do not overlap.
    let first = (4..12).find(|y| y % 8 == grid.y).unwrap_or(4) - 4;
    if h > first {
        picture.pixels_mut().data_mut()[first * w..].par_chunks_exact_mut(8 * w).for_each(|band| {
            (0..w).for_each(|x| ease(band, x, w, most));
        });
    }
}

/// Eases one border: eight pixels from `at`, `step` apart, with the border in their middle.
fn ease(data: &mut [Rgba16], at: usize, step: usize, most: f32) {
    const RAMP: [f32; 8] = [1.0, 3.0, 5.0, 7.0, -7.0, -5.0, -3.0, -1.0];
    const NEAR: [f32; 8] = [0.0, 0.0, 2.0, 6.0, -6.0, -2.0, 0.0, 0.0];
    let mut v: [[f32; 3]; 8] = std::array::from_fn(|i| ycc(&data[at + i * step]));
    let old = v;
    for c in 0..3 {
        let most = if c == 0 { most } else { 2.0 * most };
        let [b, d] = [old[3][c], old[4][c]];
        let slopes = [b - old[2][c], old[5][c] - d];
        // The step beyond the slope that both sides have anyway.
        let own = d - b - (slopes[0] + slopes[1]) / 2.0;
        if own.abs() > most || slopes.iter().any(|s| s.abs() > most) {
            continue;
        }
        let flat = |side: &[[f32; 3]]| {
            let (low, high) = side.iter().fold((f32::MAX, f32::MIN), |(l, h), p| (l.min(p[c]), h.max(p[c])));
            high - low <= 0.5 * most
        };
        let weights = if flat(&old[..4]) && flat(&old[4..]) { RAMP } else { NEAR };
        for (to, weight) in v.iter_mut().zip(weights) {
            to[c] += own * weight / 16.0;
        }
    }
    for (i, (new, old)) in v.iter().zip(&old).enumerate() {
        if new != old {
            let pixel = &mut data[at + i * step];
            let made = rgb(*new);
            *pixel = [made[0], made[1], made[2], pixel[3]];
        }
    }
}

/// Evens out noise: each pixel becomes a mean of its 5 x 5 neighbours, near ones and alike ones
/// counting most; colour is evened more than lightness. `strength` 0..=1: what counts as alike
/// ends at about 40 levels at 1. Rows of `before` are read, so the result does not depend on
/// the order of work.
pub(super) fn denoise(picture: &mut Picture, strength: f64) {
    if strength <= 0.0 {
        return;
    }
    let (w, h) = (picture.width(), picture.height());
    let before = picture.clone();
    let scale = (1.0 / (20.0 * strength.min(1.0) * 257.0)) as f32;
    let near: [[f32; 5]; 5] = std::array::from_fn(|j| {
        std::array::from_fn(|i| {
            let (dx, dy) = (i as f32 - 2.0, j as f32 - 2.0);
            (-(dx * dx + dy * dy) / (2.0 * 1.5 * 1.5)).exp()
        })
    });
    picture.pixels_mut().data_mut().par_chunks_mut(w).enumerate().for_each(|(y, row)| {
        for (x, to) in row.iter_mut().enumerate() {
            if to[3] == 0 {
                continue;
            }
            let own = ycc(to);
            let (mut sum, mut total) = ([0.0_f32; 3], [0.0_f32; 2]);
            for (j, near) in near.iter().enumerate() {
                let from_y = (y + j).saturating_sub(2).min(h - 1);
                for (i, near) in near.iter().enumerate() {
                    let from_x = (x + i).saturating_sub(2).min(w - 1);
                    let other = before.pixels().get(from_x, from_y);
                    if other[3] == 0 {
                        continue;
                    }
                    let v = ycc(&other);
                    let (dl, da, db) = ((v[0] - own[0]) * scale, (v[1] - own[1]) * scale, (v[2] - own[2]) * scale);
                    let chroma = (da * da + db * db) * 0.25;
                    // A rational fall-off in place of the exponential: cheaper, and as good here.
                    let light = near / (1.0 + (dl * dl + chroma)).powi(4);
                    let tint = near / (1.0 + (dl * dl * 0.25 + chroma)).powi(4);
                    sum[0] += light * v[0];
                    sum[1] += tint * v[1];
                    sum[2] += tint * v[2];
                    total[0] += light;
                    total[1] += tint;
                }
            }
            let made = rgb([sum[0] / total[0], sum[1] / total[1], sum[2] / total[1]]);
            *to = [made[0], made[1], made[2], to[3]];
        }
    });
}

/// Lightness and two colour differences, all in 16-bit levels; exactly invertible by [`rgb`].
fn ycc(p: &Rgba16) -> [f32; 3] {
    let [r, g, b] = [f32::from(p[0]), f32::from(p[1]), f32::from(p[2])];
    [(r + 2.0 * g + b) / 4.0, r - g, b - g]
}

fn rgb([y, r_g, b_g]: [f32; 3]) -> [u16; 3] {
    let g = y - (r_g + b_g) / 4.0;
    [r_g + g, g, b_g + g].map(|v| (v + 0.5).clamp(0.0, 65535.0) as u16)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grey(w: usize, h: usize, f: impl Fn(usize, usize) -> f64 + Sync) -> Picture {
        Picture::new(Plane::from_fn(w, h, |x, y| {
            let v = (f(x, y) * 257.0).clamp(0.0, 65535.0) as u16;
            [v, v, v, 65535]
        }))
    }

    fn error(a: &Picture, b: &Picture) -> f64 {
        let d = a.pixels().data().iter().zip(b.pixels().data());
        d.map(|(a, b)| (f64::from(a[1]) - f64::from(b[1])).powi(2)).sum::<f64>().sqrt()
    }

    #[test]
    fn a_grid_is_found_where_it_lies_and_eased() {
        let ramp = grey(96, 80, |x, y| 40.0 + x as f64 + 0.4 * y as f64);
        // Each block flattened towards its own mean, as coarse quantisation does; grid at (3, 5).
        let blocky = grey(96, 80, |x, y| {
            let mid = |v: usize, phase: usize| ((v + 8 - phase) / 8 * 8) as f64 - 8.0 + phase as f64 + 3.5;
            let flat = 40.0 + mid(x, 3) + 0.4 * mid(y, 5);
            0.5 * (40.0 + x as f64 + 0.4 * y as f64) + 0.5 * flat
        });
        let found = find_blocking(&blocky);
        assert_eq!((found.x, found.y), (3, 5), "{found:?}");
        assert!(found.ratio > 2.0 && find_blocking(&ramp).ratio < 1.15);
        let mut eased = blocky.clone();
        deblock(&mut eased, 1.0);
        assert!(error(&eased, &ramp) < 0.8 * error(&blocky, &ramp));
        let mut same = ramp.clone();
        deblock(&mut same, 1.0);
        assert_eq!(same, ramp);
    }

    #[test]
    fn noise_goes_and_an_edge_stays() {
        let clean = grey(60, 60, |x, _| if x < 30 { 60.0 } else { 180.0 });
        let noisy = grey(60, 60, |x, y| {
            let noise = ((x * 7919 + y * 104_729 + x * y * 31) % 17) as f64 - 8.0;
            noise + if x < 30 { 60.0 } else { 180.0 }
        });
        let mut made = noisy.clone();
        denoise(&mut made, 1.0);
        assert!(error(&made, &clean) < 0.6 * error(&noisy, &clean));
        let edge = f64::from(made.pixels().get(30, 30)[1]) - f64::from(made.pixels().get(29, 30)[1]);
        assert!(edge > 105.0 * 257.0, "{edge}");
    }
}
