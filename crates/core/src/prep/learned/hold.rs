//! What the net made, held to the art: reduced again by area it gives the art's tone (one round of back-projection:
//! Irani and Peleg, 1991), and it stays within the art's local range, so that what is flat stays flat. Whether art
//! was reduced in linear light or in codes nobody can know, and at an edge the two differ much; so a mean between
//! the two is right, and only what lies outside both is put right. Means are of 3 x 3 pixels of clean art, and of
//! a neighbourhood as large as a JPEG's block of damaged art, because the damage itself is not to come back.
//! (Held to the mean in linear light pixel by pixel, drawings reduced by a cubic kernel lost 4 dB.)

use fearless_simd::Level;
use rayon::prelude::*;

use super::super::transfer::{code, linear};
use crate::raster::{Plane, Rgba16};
use crate::simd::run;
use crate::{Cancelled, Progress};

/// How far beyond the art's local range a value may go, as a part of that range: a line that is thinner than
/// a pixel of the art is weakened by half or more there.
const SLACK: f32 = 1.0;
/// Pixels of the art to each side that a mean is of: on clean art, and on damaged.
const NEAR: [usize; 2] = [1, 4];

/// Corrects `made`, `scale` times as large as `art`, in place. Both are opaque.
pub(super) fn hold(
    art: &Plane<Rgba16>,
    made: &mut Plane<Rgba16>,
    scale: usize,
    damaged: bool,
    level: Level,
    progress: &Progress,
) -> Result<(), Cancelled> {
    let width = art.width();
    let mut off = Plane::filled(width, art.height(), [0.0_f32; 3]);
    let strip = scale * made.width();
    off.data_mut()
        .par_chunks_exact_mut(width)
        .zip(made.data().par_chunks_exact(strip))
        .enumerate()
        .for_each(|(y, (off, rows))| run!(level => missing(art.row(y), rows, scale, off)));
    let off = blurred(&off, NEAR[usize::from(damaged)]);
    let height = art.height();
    let wide = made.width();
    made.data_mut().par_chunks_exact_mut(strip).enumerate().try_for_each_init(Vec::new, |range, (y, rows)| {
        progress.step("hold to the art", y as f32 / height as f32)?;
        ranges(art, y, range);
        run!(level => correct(&off, y, range, scale, wide, rows));
        Ok(())
    })
}

/// How far, in codes, a row of the art lies outside what the pixels made of it come to: their mean in codes is the
/// least, that in linear light the most.
#[inline(always)]
fn missing(art: &[Rgba16], rows: &[Rgba16], scale: usize, off: &mut [[f32; 3]]) {
    let table = linear();
    let wide = art.len() * scale;
    let share = 1.0 / (scale * scale) as f32;
    for (x, (off, pixel)) in off.iter_mut().zip(art).enumerate() {
        let (mut light, mut codes) = ([0.0_f32; 3], [0.0_f32; 3]);
        for row in rows.chunks_exact(wide) {
            for made in &row[x * scale..][..scale] {
                for c in 0..3 {
                    light[c] += table[usize::from(made[c])];
                    codes[c] += f32::from(made[c]);
                }
            }
        }
        *off = [0, 1, 2].map(|c| {
            let (least, most) = (codes[c] * share, f32::from(code(light[c] * share)));
            let own = f32::from(pixel[c]);
            own - own.max(least).min(most.max(least))
        });
    }
}

/// Means of squares of `2 near + 1` pixels.
fn blurred(off: &Plane<[f32; 3]>, near: usize) -> Plane<[f32; 3]> {
    let mean = |of: &Plane<[f32; 3]>, at: &dyn Fn(usize) -> (usize, usize), from: usize, most: usize| {
        let (from, to) = (from.saturating_sub(near), (from + near + 1).min(most));
        let mut sum = [0.0_f32; 3];
        for i in from..to {
            let (x, y) = at(i);
            sum.iter_mut().zip(of.get(x, y)).for_each(|(sum, v)| *sum += v);
        }
        sum.map(|v| v / (to - from) as f32)
    };
    let (width, height) = (off.width(), off.height());
    let across = Plane::from_fn(width, height, |x, y| mean(off, &|i| (i, y), x, width));
    Plane::from_fn(width, height, |x, y| mean(&across, &|i| (x, i), y, height))
}

/// Lowest and highest codes that each pixel of a row may become.
fn ranges(art: &Plane<Rgba16>, y: usize, out: &mut Vec<[[f32; 3]; 2]>) {
    let rows = y.saturating_sub(1)..(y + 2).min(art.height());
    let width = art.width();
    out.clear();
    out.extend((0..width).map(|x| {
        let (mut low, mut high) = ([u16::MAX; 3], [0_u16; 3]);
        for y in rows.clone() {
            for pixel in &art.row(y)[x.saturating_sub(1)..(x + 2).min(width)] {
                for c in 0..3 {
                    low[c] = low[c].min(pixel[c]);
                    high[c] = high[c].max(pixel[c]);
                }
            }
        }
        let (low, high) = (low.map(f32::from), high.map(f32::from));
        let slack = [0, 1, 2].map(|c| SLACK * (high[c] - low[c]));
        [[0, 1, 2].map(|c| (low[c] - slack[c]).max(0.0)), [0, 1, 2].map(|c| (high[c] + slack[c]).min(65535.0))]
    }));
}

/// Adds the correction, mixed between pixels of the art, to the rows made of row `y`, and holds them in range.
#[inline(always)]
fn correct(off: &Plane<[f32; 3]>, y: usize, ranges: &[[[f32; 3]; 2]], scale: usize, wide: usize, rows: &mut [Rgba16]) {
    let (width, last) = (off.width(), off.height() - 1);
    let mut line = vec![[0.0_f32; 3]; width];
    for (a, row) in rows.chunks_exact_mut(wide).enumerate() {
        let (up, part) = place(a, scale);
        let other = if up { y.saturating_sub(1) } else { (y + 1).min(last) };
        for ((to, own), next) in line.iter_mut().zip(off.row(y)).zip(off.row(other)) {
            *to = [0, 1, 2].map(|c| own[c] + (next[c] - own[c]) * part);
        }
        for b in 0..scale {
            let (left, part) = place(b, scale);
            for (x, [low, high]) in ranges.iter().enumerate() {
                let other = if left { x.saturating_sub(1) } else { (x + 1).min(width - 1) };
                let pixel = &mut row[x * scale + b];
                for c in 0..3 {
                    let add = line[x][c] + (line[other][c] - line[x][c]) * part;
                    let value = f32::from(pixel[c]) + add;
                    pixel[c] = (value.max(low[c]).min(high[c]) + 0.5) as u16;
                }
            }
        }
    }
}

/// Whether a pixel of a square lies before its middle, and how far from it towards the next square's.
fn place(at: usize, scale: usize) -> (bool, f32) {
    let off = (at as f32 + 0.5) / scale as f32 - 0.5;
    (off < 0.0, off.abs())
}
