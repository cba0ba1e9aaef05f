//! How damaged and how soft is the art? A small net looks at its liveliest tiles; `assets/enlarger/card.md` says
//! how they are weighed. Both numbers are rounded, so that the last bit of a mean changes nothing.

use rayon::prelude::*;

use super::net::{Condition, JudgeWeights};
use crate::raster::Picture;
use crate::simd::{self, run};

const TILE: usize = 48;
const STEP: usize = 24;
const TILES: usize = 24;
const CHANNELS: usize = 16;
/// Verdicts are rounded to so many parts.
const PARTS: f64 = 256.0;

/// Five numbers of a tile: damage, its log spread, softness, its log spread, log odds of clean.
type Verdict = [f64; 5];

/// Judges the picture's colour; clear pixels count with the colour that they hide.
pub(super) fn judge(weights: &JudgeWeights, picture: &Picture) -> Condition {
    let verdicts: Vec<Verdict> = liveliest(picture).par_iter().map(|tile| verdict(weights, tile)).collect();
    let weighed = |value: usize| {
        let sure = |v: &Verdict| (-v[value + 1].clamp(-4.0, 2.0)).exp();
        let total: f64 = verdicts.iter().map(sure).sum();
        verdicts.iter().map(|v| v[value] * sure(v)).sum::<f64>() / total
    };
    let clean = verdicts.iter().map(|v| v[4]).sum::<f64>() > 0.0;
    let rounded = |v: f64| (v * PARTS).round() / PARTS;
    Condition {
        damage: if clean { 0.0 } else { rounded(weighed(0).clamp(0.05, 1.0)) },
        softness: rounded(weighed(2).clamp(-1.5, 1.6)),
    }
}

/// A square of 8-bit pixels.
struct Tile {
    side: usize,
    pixels: Vec<[u8; 3]>,
}

/// The tiles whose bytes spread most.
fn liveliest(picture: &Picture) -> Vec<Tile> {
    let (width, height) = (picture.width(), picture.height());
    let side = TILE.min(width).min(height);
    let byte = |v: u16| ((u32::from(v) + 128) / 257) as u8;
    let rows: Vec<usize> = (0..=height - side).step_by(STEP).collect();
    let mut places: Vec<(u64, [usize; 2])> = rows
        .into_par_iter()
        .flat_map_iter(|y| {
            (0..=width - side).step_by(STEP).map(move |x| {
                let (mut sum, mut squares) = (0_u64, 0_u64);
                for row in y..y + side {
                    for pixel in &picture.pixels().row(row)[x..x + side] {
                        for &v in &pixel[..3] {
                            let v = u64::from(byte(v));
                            sum += v;
                            squares += v * v;
                        }
                    }
                }
                ((side * side * 3) as u64 * squares - sum * sum, [x, y])
            })
        })
        .collect();
    // Stable: of equals the first.
    places.sort_by_key(|(spread, _)| std::cmp::Reverse(*spread));
    places.truncate(TILES);
    let tile = |&(_, [x, y]): &(u64, [usize; 2])| Tile {
        side,
        pixels: (y..y + side)
            .flat_map(|row| picture.pixels().row(row)[x..x + side].iter().map(|p| [byte(p[0]), byte(p[1]), byte(p[2])]))
            .collect(),
    };
    places.iter().map(tile).collect()
}

fn verdict(weights: &JudgeWeights, tile: &Tile) -> Verdict {
    run!(simd::level() => verdict_on(weights, tile))
}

#[inline(always)]
fn verdict_on(weights: &JudgeWeights, tile: &Tile) -> Verdict {
    let mut side = tile.side;
    let scaled = |v: u8| (f32::from(v) / 255.0 - 0.5) * 4.0;
    let mut values: Vec<f32> = tile.pixels.iter().flatten().map(|&v| scaled(v)).collect();
    let mut inputs = 3;
    // Tiles under 11 pixels leave nothing after five layers without border.
    for [weight, bias, slopes] in weights.layers.iter().take((side - 1) / 2) {
        // Place in the filter and channel in, then channel out, so that outputs lie side by side.
        let mut turned = vec![[0.0_f32; CHANNELS]; 9 * inputs];
        for (out, filter) in weight.chunks_exact(9 * inputs).enumerate() {
            for (i, &w) in filter.iter().enumerate() {
                turned[i % 9 * inputs + i / 9][out] = w;
            }
        }
        let made = side - 2;
        let mut next = vec![0.0; made * made * CHANNELS];
        for (i, out) in next.as_chunks_mut::<CHANNELS>().0.iter_mut().enumerate() {
            let (x, y) = (i % made, i / made);
            let mut sums = [0.0_f32; CHANNELS];
            sums.copy_from_slice(&bias[..CHANNELS]);
            for row in 0..3 {
                let line = &values[((y + row) * side + x) * inputs..][..3 * inputs];
                for (&v, w) in line.iter().zip(&turned[row * 3 * inputs..][..3 * inputs]) {
                    for c in 0..CHANNELS {
                        sums[c] += v * w[c];
                    }
                }
            }
            for c in 0..CHANNELS {
                out[c] = if sums[c] > 0.0 { sums[c] } else { sums[c] * slopes[c] };
            }
        }
        (values, side, inputs) = (next, made, CHANNELS);
    }
    let pixels = (side * side) as f64;
    let mean = |c: usize| values.chunks_exact(inputs).map(|p| f64::from(p[c.min(inputs - 1)])).sum::<f64>() / pixels;
    let means: Vec<f64> = (0..CHANNELS).map(|c| mean(c) * 4.0).collect();
    let dense = |[weight, bias]: &[Vec<f32>; 2], of: &[f64]| -> Vec<f64> {
        let row =
            |(w, &b): (&[f32], &f32)| f64::from(b) + w.iter().zip(of).map(|(&w, v)| f64::from(w) * v).sum::<f64>();
        weight.chunks_exact(of.len()).zip(bias).map(row).collect()
    };
    let mut hidden = dense(&weights.hidden, &means);
    hidden.iter_mut().filter(|v| **v < 0.0).for_each(|v| *v *= 0.1);
    let last = dense(&weights.last, &hidden);
    std::array::from_fn(|i| last[i])
}

#[cfg(test)]
pub(super) fn first_verdict(weights: &JudgeWeights, picture: &Picture) -> Verdict {
    verdict(weights, &liveliest(picture)[0])
}
