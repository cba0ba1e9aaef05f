//! The plain forms: a layer directly, as the card says; and Winograd's way a number at a time, in the order of the
//! kernel, which it equals to the last bit.

use super::net::{Raw, TERMS};
use super::winograd::transformed;

/// A feature map: channel, row, column.
#[derive(Debug, Clone)]
pub(super) struct Map {
    pub width: usize,
    pub height: usize,
    pub values: Vec<f32>,
}

impl Map {
    pub(super) fn new(channels: usize, width: usize, height: usize) -> Self {
        Self { width, height, values: vec![0.0; channels * width * height] }
    }

    pub(super) fn get(&self, c: usize, x: isize, y: isize) -> f32 {
        let inside = (0..self.width as isize).contains(&x) && (0..self.height as isize).contains(&y);
        if inside { self.values[(c * self.height + y as usize) * self.width + x as usize] } else { 0.0 }
    }

    pub(super) fn at(&mut self, c: usize, x: usize, y: usize) -> &mut f32 {
        &mut self.values[(c * self.height + y) * self.width + x]
    }
}

fn bent(value: f32, slope: f32) -> f32 {
    if value > 0.0 { value } else { value * slope }
}

/// The sum of 9 products a channel in.
pub(super) fn direct(raw: &Raw, terms: &[f64; TERMS], slopes: &[f32], of: &Map) -> Map {
    let (weight, bias) = raw.folded(terms);
    let mut out = Map::new(raw.outputs, of.width, of.height);
    for o in 0..raw.outputs {
        for y in 0..of.height {
            for x in 0..of.width {
                let mut sum = bias[o];
                for c in 0..raw.inputs {
                    for k in 0..9 {
                        let v = of.get(c, x as isize + k as isize % 3 - 1, y as isize + k as isize / 3 - 1);
                        sum += weight[(o * raw.inputs + c) * 9 + k] * f64::from(v);
                    }
                }
                *out.at(o, x, y) = bent(sum as f32, slopes[o]);
            }
        }
    }
    out
}

fn into(d: [f32; 6]) -> [f32; 6] {
    let (even, odd) = (d[4] - d[2] * 4.0, d[3] - d[1] * 4.0);
    let (far, near) = (d[4] - d[2], (d[3] - d[1]) * 2.0);
    let ends = |a: f32, b: f32, c: f32| a * 4.0 - b * 5.0 + c;
    [ends(d[0], d[2], d[4]), even + odd, even - odd, far + near, far - near, ends(d[1], d[3], d[5])]
}

fn out_of(m: [f32; 6]) -> [f32; 4] {
    let (s, d, ws, wd) = (m[1] + m[2], m[1] - m[2], m[3] + m[4], m[3] - m[4]);
    [m[0] + s + ws, d + wd * 2.0, s + ws * 4.0, d + wd * 8.0 + m[5]]
}

/// Winograd's way, square by square.
pub(super) fn winograd(raw: &Raw, terms: &[f64; TERMS], slopes: &[f32], of: &Map) -> Map {
    let (weight, bias) = raw.folded(terms);
    let filters: Vec<[f64; 36]> = weight.chunks_exact(9).map(transformed).collect();
    let mut out = Map::new(raw.outputs, of.width, of.height);
    for top in (0..of.height).step_by(4) {
        for left in (0..of.width).step_by(4) {
            let places: Vec<[[f32; 6]; 6]> = (0..raw.inputs)
                .map(|c| {
                    let rows: [[f32; 6]; 6] = std::array::from_fn(|r| {
                        into(std::array::from_fn(|x| of.get(c, (left + x) as isize - 1, (top + r) as isize - 1)))
                    });
                    let columns: [[f32; 6]; 6] = std::array::from_fn(|x| into(rows.map(|row| row[x])));
                    std::array::from_fn(|r| std::array::from_fn(|x| columns[x][r]))
                })
                .collect();
            for o in 0..raw.outputs {
                let mut sums = [[0.0_f32; 6]; 6];
                for (c, place) in places.iter().enumerate() {
                    for i in 0..36 {
                        sums[i / 6][i % 6] += place[i / 6][i % 6] * filters[o * raw.inputs + c][i] as f32;
                    }
                }
                let columns: [[f32; 4]; 6] = std::array::from_fn(|x| out_of(sums.map(|row| row[x])));
                for r in 0..4.min(of.height - top) {
                    let four = out_of(columns.map(|column| column[r]));
                    for (x, value) in four.into_iter().enumerate().take(of.width - left) {
                        *out.at(o, left + x, top + r) = bent(value + bias[o] as f32, slopes[o]);
                    }
                }
            }
        }
    }
    out
}
