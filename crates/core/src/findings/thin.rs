//! What is thinner than a box: solids opened by a square at full resolution, in rows of bits.

use rayon::prelude::*;

use crate::raster::Plane;

/// One bit a pixel, rows padded to words.
pub(super) struct Bits {
    width: usize,
    rows: Vec<Vec<u64>>,
}

impl Bits {
    pub fn count(&self) -> u64 {
        self.rows.iter().flatten().map(|w| u64::from(w.count_ones())).sum()
    }

    /// A map of blocks: 255 where any bit is set.
    pub fn map(&self, block: usize) -> Plane<u8> {
        let (w, h) = (self.width.div_ceil(block).max(1), self.rows.len().div_ceil(block).max(1));
        let mut out = Plane::filled(w, h, 0u8);
        for (y, row) in self.rows.iter().enumerate() {
            for (at, &word) in row.iter().enumerate() {
                let mut left = word;
                while left != 0 {
                    let x = at * 64 + left.trailing_zeros() as usize;
                    out.set(x / block, y / block, 255);
                    left &= left - 1;
                }
            }
        }
        out
    }
}

/// Nearly solid and nearly clear: 85 % and more, 15 % and less.
const SOLID_FROM: u16 = 55_705;
const CLEAR_TO: u16 = 9_830;

/// Rows of bits: which pixels are nearly solid, and which nearly clear.
pub(super) fn bits(plane: &Plane<u16>) -> (Vec<Vec<u64>>, Vec<Vec<u64>>) {
    let row = |y: usize| {
        let part = |part: &[u16]| {
            let (mut solid, mut clear) = (0u64, 0u64);
            for (i, &v) in part.iter().enumerate() {
                solid |= u64::from(v >= SOLID_FROM) << i;
                clear |= u64::from(v <= CLEAR_TO) << i;
            }
            (solid, clear)
        };
        plane.row(y).chunks(64).map(part).unzip()
    };
    (0..plane.height()).into_par_iter().map(row).unzip()
}

/// Pixels of `core` that lie in no `side` x `side` box free of `bare` pixels. Beyond the picture's
/// border nothing is bare, so that what runs off the edge is not taken for thin.
pub(super) fn thin(width: usize, core: &[Vec<u64>], bare: &[Vec<u64>], side: usize) -> Bits {
    let h = core.len();
    if side < 2 || core.par_iter().all(|row| row.iter().all(|&w| w == 0)) {
        return Bits { width, rows: core.iter().map(|row| vec![0; row.len()]).collect() };
    }
    // Runs of `side` in a row: bit x stays if none of x .. x + side is bare.
    let across: Vec<Vec<u64>> = bare
        .par_iter()
        .map(|row| {
            let mut row: Vec<u64> = row.iter().map(|w| !w).collect();
            erode(&mut row, side);
            row
        })
        .collect();
    // Boxes: and over `side` rows downwards; then grown back right and down, and taken away.
    let boxes: Vec<Vec<u64>> = (0..h)
        .into_par_iter()
        .map(|y| {
            let mut row = across[y].clone();
            for below in across.iter().take((y + side).min(h)).skip(y + 1) {
                row.iter_mut().zip(below).for_each(|(a, b)| *a &= b);
            }
            dilate(&mut row, side);
            row
        })
        .collect();
    let left = |y: usize| {
        // What starts off the upper or left edge has its box outside: the rim is left alone.
        if y < side || y + side > h {
            return vec![0; core[y].len()];
        }
        let mut row = core[y].clone();
        for above in &boxes[(y + 1).saturating_sub(side)..=y] {
            row.iter_mut().zip(above).for_each(|(a, b)| *a &= !b);
        }
        if let Some(first) = row.first_mut() {
            *first &= !0u64 << side;
        }
        row
    };
    Bits { width, rows: (0..h).into_par_iter().map(left).collect() }
}

/// Bit x stays if bits x .. x + side are all set; beyond the row counts as set.
fn erode(row: &mut [u64], side: usize) {
    let mut done = 1;
    while done < side {
        let by = done.min(side - done);
        for at in 0..row.len() {
            let next = row.get(at + 1).copied().unwrap_or(!0);
            row[at] &= (row[at] >> by) | (next << (64 - by));
        }
        done += by;
    }
}

/// Bit x is set if any of bits x - side + 1 ..= x is.
fn dilate(row: &mut [u64], side: usize) {
    let mut done = 1;
    while done < side {
        let by = done.min(side - done);
        for at in (0..row.len()).rev() {
            let before = if at == 0 { 0 } else { row[at - 1] };
            row[at] |= (row[at] << by) | (before >> (64 - by));
        }
        done += by;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The plain way: try every box.
    fn plain(plane: &Plane<u16>, side: usize) -> Vec<(usize, usize)> {
        let (w, h) = (plane.width() as i64, plane.height() as i64);
        let body = |x: i64, y: i64| x >= w || y >= h || plane.get(x as usize, y as usize) > CLEAR_TO;
        let n = side as i64;
        let mut out = Vec::new();
        for y in n..h - n + 1 {
            for x in n..w {
                let inside = (y - n + 1..=y)
                    .any(|y0| (x - n + 1..=x).any(|x0| (y0..y0 + n).all(|v| (x0..x0 + n).all(|u| body(u, v)))));
                if plane.get(x as usize, y as usize) >= SOLID_FROM && !inside {
                    out.push((x as usize, y as usize));
                }
            }
        }
        out
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn bit_rows_find_what_trying_every_box_finds(
            data in proptest::collection::vec(prop_oneof![3 => Just(65535u16), 1 => Just(0u16), 1 => Just(30000u16)], 150 * 24),
            side in 2usize..6,
        ) {
            let plane = Plane::from_vec(150, 24, data);
            let (solid, clear) = bits(&plane);
            let bits = thin(150, &solid, &clear, side);
            let mut got = Vec::new();
            for (y, row) in bits.rows.iter().enumerate() {
                for x in 0..150 {
                    if row[x / 64] >> (x % 64) & 1 == 1 {
                        got.push((x, y));
                    }
                }
            }
            prop_assert_eq!(got, plain(&plane, side));
        }
    }
}
