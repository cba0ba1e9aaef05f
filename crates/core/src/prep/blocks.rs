//! Blocks of JPEG compression: finding their grid, and evening them out before art is enlarged.
//!
//! A JPEG keeps each 8 x 8 block as cosines rounded to the steps of a table. Seen through blocks that
//! lie elsewhere, the borders and ripples that rounding left are many faint cosines, while what the
//! picture has is a few strong ones. So the picture is cut into blocks at several places off the
//! grid, what is fainter than rounding can tell is taken out, and the results are averaged, those
//! with the fewest cosines left counting most (translation-invariant denoising: Coifman and Donoho,
//! 1995; for JPEG: Nosratinia, 2001). It works on the art's own pixels.

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

impl Blocking {
    /// Steps of the compression's table as a multiple of the example tables, as far as the grid
    /// tells: fitted to five photographs at qualities 8 to 92, where it is within a factor of 1.6.
    fn table_scale(&self) -> f64 {
        let excess = (self.ratio - 1.0).clamp(0.0, 2.2);
        0.7 * excess + 0.5 * excess.powi(3)
    }
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

/// Steps for brightness and for colour: the example tables of ITU-T T.81, K.1 and K.2.
const STEPS: [[u8; 64]; 2] = [
    [
        16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29,
        51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92, 49, 64, 78, 87, 103, 121,
        120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
    ],
    [
        17, 18, 24, 47, 99, 99, 99, 99, 18, 21, 26, 66, 99, 99, 99, 99, 24, 26, 56, 99, 99, 99, 99, 99, 47, 66, 99, 99,
        99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99,
        99, 99, 99, 99, 99, 99, 99, 99,
    ],
];
/// Where blocks are cut beside the grid, across and down: every row and column of a block once but
/// for the grid's own, at which the picture is as the compression left it.
const PLACES: [[usize; 2]; 7] = [[4, 4], [2, 6], [6, 2], [1, 5], [5, 1], [3, 3], [7, 7]];
/// Rows that a thread takes at a time, and pixels beside them that its blocks reach.
const STRIP: usize = 64;
const BESIDE: usize = 8;

type Block = [[f32; 8]; 8];

/// Evens out blocks. `strength` 0..=1 is how much of half a step of the compression's table is taken
/// out; without a grid nothing changes.
pub(super) fn deblock(picture: &mut Picture, strength: f64) {
    let grid = find_blocking(picture);
    let (w, h) = (picture.width(), picture.height());
    if strength <= 0.0 || grid.ratio < 1.15 || grid.step_levels <= 0.0 || w < 16 || h < 16 {
        return;
    }
    let cut = (0.5 * strength * grid.table_scale()) as f32;
    // Cosines come out turned, see `cosines`.
    let faint = STEPS
        .map(|steps| -> Block { std::array::from_fn(|u| std::array::from_fn(|v| cut * f32::from(steps[v * 8 + u]))) });
    let basis = basis();
    let clear = picture.has_alpha();
    let before = picture.clone();
    picture.pixels_mut().data_mut().par_chunks_mut(STRIP * w).enumerate().for_each_init(
        Strip::default,
        |held, (strip, out)| {
            held.read(&before, strip * STRIP, out.len() / w);
            for [across, down] in PLACES {
                // Strips begin, and reach beside them, a multiple of eight rows from the top.
                let (top, left) = ((grid.y + down) % 8, (grid.x + across) % 8);
                for y in (top..held.height - 7).step_by(8) {
                    for x in (left..held.width - 7).step_by(8) {
                        if !clear || held.is_solid(x, y) {
                            (0..3).for_each(|c| held.add(c, x, y, &basis, &faint[c.min(1)]));
                        }
                    }
                }
            }
            held.write(out, w);
        },
    );
}

/// A strip and what lies beside it, edges repeated: brightness and two colour differences (ITU-T
/// T.871) in 8-bit levels, and the weighted sums of what becomes of them.
#[derive(Default)]
struct Strip {
    width: usize,
    height: usize,
    values: [Vec<f32>; 3],
    sums: [Vec<f32>; 3],
    weights: [Vec<f32>; 3],
    solid: Vec<bool>,
}

impl Strip {
    fn read(&mut self, picture: &Picture, first: usize, rows: usize) {
        let (w, h) = (picture.width(), picture.height());
        (self.width, self.height) = (w + 2 * BESIDE, rows + 2 * BESIDE);
        for list in self.values.iter_mut().chain(&mut self.sums).chain(&mut self.weights) {
            list.clear();
            list.resize(self.width * self.height, 0.0);
        }
        self.solid.clear();
        for y in 0..self.height {
            let row = picture.pixels().row((first + y).saturating_sub(BESIDE).min(h - 1));
            for x in 0..self.width {
                let pixel = &row[x.saturating_sub(BESIDE).min(w - 1)];
                for (list, v) in self.values.iter_mut().zip(levels(pixel)) {
                    list[y * self.width + x] = v;
                }
                self.solid.push(pixel[3] == u16::MAX);
            }
        }
    }

    fn is_solid(&self, x: usize, y: usize) -> bool {
        (y..y + 8).all(|y| self.solid[y * self.width + x..][..8].iter().all(|&s| s))
    }

    /// Adds the block at `x`, `y` without its faint cosines.
    fn add(&mut self, channel: usize, x: usize, y: usize, basis: &[Block; 2], faint: &Block) {
        let at = |row: usize| (y + row) * self.width + x;
        let mut block: Block = [[0.0; 8]; 8];
        for (row, to) in block.iter_mut().enumerate() {
            to.copy_from_slice(&self.values[channel][at(row)..][..8]);
        }
        let mut cosines = times(&basis[0], &turned(&times(&basis[0], &block)));
        let mean = cosines[0][0];
        let mut left = 0.0;
        for (row, least) in cosines.iter_mut().zip(faint) {
            for (v, least) in row.iter_mut().zip(least) {
                let keep = if v.abs() >= *least { 1.0 } else { 0.0 };
                *v *= keep;
                left += keep;
            }
        }
        cosines[0][0] = mean;
        let block = times(&basis[1], &turned(&times(&basis[1], &cosines)));
        let weight = 1.0 / f32::max(left, 1.0);
        for (row, from) in block.iter().enumerate() {
            let to = at(row);
            self.sums[channel][to..to + 8].iter_mut().zip(from).for_each(|(s, v)| *s += weight * v);
            self.weights[channel][to..to + 8].iter_mut().for_each(|w| *w += weight);
        }
    }

    fn write(&self, out: &mut [Rgba16], w: usize) {
        for (y, row) in out.chunks_exact_mut(w).enumerate() {
            for (x, pixel) in row.iter_mut().enumerate() {
                let at = (y + BESIDE) * self.width + x + BESIDE;
                if self.weights[0][at] > 0.0 {
                    let rgb = codes(std::array::from_fn(|c| self.sums[c][at] / self.weights[c][at]));
                    *pixel = [rgb[0], rgb[1], rgb[2], pixel[3]];
                }
            }
        }
    }
}

/// The cosines of eight samples, one a row, and their transpose, which goes back.
fn basis() -> [Block; 2] {
    let there: Block = std::array::from_fn(|u| {
        let size = if u == 0 { 0.125_f64.sqrt() } else { 0.5 };
        std::array::from_fn(|x| (size * ((2 * x + 1) as f64 * u as f64 * std::f64::consts::PI / 16.0).cos()) as f32)
    });
    [there, turned(&there)]
}

fn times(a: &Block, b: &Block) -> Block {
    std::array::from_fn(|row| {
        let mut sum = [0.0; 8];
        for (&weight, from) in a[row].iter().zip(b) {
            sum.iter_mut().zip(from).for_each(|(s, v)| *s += weight * v);
        }
        sum
    })
}

fn turned(a: &Block) -> Block {
    std::array::from_fn(|row| std::array::from_fn(|column| a[column][row]))
}

/// ITU-T T.871: brightness and two colour differences, in 8-bit levels.
fn levels(p: &Rgba16) -> [f32; 3] {
    let [r, g, b] = [p[0], p[1], p[2]].map(|v| f32::from(v) / 257.0);
    let y = 0.299 * r + 0.587 * g + 0.114 * b;
    [y, (b - y) / 1.772, (r - y) / 1.402]
}

fn codes([y, blue, red]: [f32; 3]) -> [u16; 3] {
    let (r, b) = (y + 1.402 * red, y + 1.772 * blue);
    let g = (y - 0.299 * r - 0.114 * b) / 0.587;
    [r, g, b].map(|v| (v * 257.0 + 0.5).clamp(0.0, 65535.0) as u16)
}

#[cfg(test)]
mod tests {
    use super::super::samples::{error, grey};
    use super::*;

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
        let (left, was) = (error(&eased, &ramp), error(&blocky, &ramp));
        println!("error {was:.0} before, {left:.0} after");
        assert!(left < 0.6 * was, "{left} of {was}");
        let mut same = ramp.clone();
        deblock(&mut same, 1.0);
        assert_eq!(same, ramp);
    }

    #[test]
    fn cosines_go_there_and_back_and_equal_the_definition() {
        let block: Block = std::array::from_fn(|y| std::array::from_fn(|x| ((x * 37 + y * 91 + x * y) % 256) as f32));
        let [there, back] = basis();
        let cosines = times(&there, &turned(&times(&there, &block)));
        // ITU-T T.81, A.3.3.
        for (u, v) in [(0, 0), (3, 1), (7, 6)] {
            let size = |k: usize| if k == 0 { 0.5_f64.sqrt() } else { 1.0 };
            let wave = |x: usize, k: usize| ((2 * x + 1) as f64 * k as f64 * std::f64::consts::PI / 16.0).cos();
            let sum: f64 = (0..64).map(|i| f64::from(block[i / 8][i % 8]) * wave(i % 8, u) * wave(i / 8, v)).sum();
            let want = sum * size(u) * size(v) / 4.0;
            assert!((f64::from(cosines[u][v]) - want).abs() < 1e-2, "{u} {v}");
        }
        let again = times(&back, &turned(&times(&back, &cosines)));
        assert!((0..64).all(|i| (again[i / 8][i % 8] - block[i / 8][i % 8]).abs() < 1e-2));
    }

    #[test]
    fn clear_pixels_stay_and_have_no_say() {
        let art = |hidden: u16| {
            Picture::new(Plane::from_fn(96, 96, |x, y| {
                let v = ((x / 8 * 5 + y / 8 * 3) * 700) as u16;
                if x < 40 { [hidden, hidden, hidden, 0] } else { [v, v, v, 65535] }
            }))
        };
        let [mut a, mut b] = [art(0), art(65535)];
        // The same grid for both, whatever is hidden.
        deblock(&mut a, 1.0);
        deblock(&mut b, 1.0);
        for (a, b) in a.pixels().data().iter().zip(b.pixels().data()) {
            assert_eq!(a[3], b[3]);
            assert!(a[3] == 0 || (0..3).all(|c| a[c].abs_diff(b[c]) < 400), "{a:?} {b:?}");
        }
    }
}
