//! A threshold table whose every level is blue noise: dots as far from each other as they can be,
//! without a grid. Made by the void-and-cluster method (R. Ulichney, "The void-and-cluster method
//! for dither array generation", Proc. SPIE 1913, 1993): the next dot goes into the largest void,
//! voids being seen through a Gaussian of 1.5 dots. Sums are integers, so the table is the same on
//! every machine; it is made once, when it is first needed (a fraction of a second).

use std::sync::OnceLock;

/// Dots a side; the table repeats after them.
pub const BLUE_NOISE_SIDE: usize = 256;

const SIDE: usize = BLUE_NOISE_SIDE;
/// Standard deviation of the Gaussian, in dots (Ulichney's choice).
const SIGMA: f64 = 1.5;
/// Dots to each side that the Gaussian reaches.
const REACH: usize = 7;

/// Threshold, 0..=65534, of a dot; ink prints where coverage is above it.
#[inline]
pub fn blue_noise_threshold(x: usize, y: usize) -> u16 {
    static TABLE: OnceLock<Vec<u16>> = OnceLock::new();
    TABLE.get_or_init(|| make(SIDE))[y % SIDE * SIDE + x % SIDE]
}

/// A table of a quarter of the side, which is made in a sixteenth of the time: for what is as coarse as cells.
#[inline]
pub(super) fn coarse_threshold(x: i32, y: i32) -> u16 {
    const COARSE: i32 = BLUE_NOISE_SIDE as i32 / 4;
    static TABLE: OnceLock<Vec<u16>> = OnceLock::new();
    let table = TABLE.get_or_init(|| make(COARSE as usize));
    table[(y.rem_euclid(COARSE) * COARSE + x.rem_euclid(COARSE)) as usize]
}

/// Each place's rank scaled to thresholds.
fn make(side: usize) -> Vec<u16> {
    let ranks = ranks(side);
    let count = ranks.len() as u64;
    ranks.into_iter().map(|rank| (u64::from(rank) * 65_535 / count) as u16).collect()
}

/// The order in which places take ink.
fn ranks(side: usize) -> Vec<u32> {
    let all = side * side;
    let mut field = Voids::new(side);
    // A tenth of the places at random, then moved from clusters into voids until it is even.
    let mut seed = 0x2545_F491u32;
    let mut start = Vec::new();
    while start.len() < all / 10 {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let at = (seed >> 16) as usize % all;
        if !field.inked[at] {
            field.set(at, true);
            start.push(at);
        }
    }
    loop {
        let from = field.tightest();
        field.set(from, false);
        let to = field.largest_void();
        field.set(to, true);
        if from == to {
            break;
        }
    }
    let even = field.clone();
    let count = all / 10;
    let mut ranks = vec![0u32; all];
    for rank in (0..count).rev() {
        let at = field.tightest();
        field.set(at, false);
        ranks[at] = rank as u32;
    }
    field = even;
    // Past one half the tightest cluster of bare places is still the largest void of the inked
    // ones, since both sums add up to the same everywhere.
    for rank in count..all {
        let at = field.largest_void();
        field.set(at, true);
        ranks[at] = rank as u32;
    }
    ranks
}

/// Inked places and how crowded each place is. The extremes of every row are kept.
#[derive(Clone)]
struct Voids {
    side: usize,
    inked: Vec<bool>,
    crowd: Vec<i32>,
    gauss: Vec<i32>,
    /// For each row the most crowded inked place and the least crowded bare one.
    rows: Vec<(i32, usize, i32, usize)>,
}

impl Voids {
    fn new(side: usize) -> Self {
        let width = 2 * REACH + 1;
        let gauss = (0..width * width)
            .map(|at| {
                let (x, y) = ((at % width) as f64 - REACH as f64, (at / width) as f64 - REACH as f64);
                ((-(x * x + y * y) / (2.0 * SIGMA * SIGMA)).exp() * f64::from(1 << 20)).round() as i32
            })
            .collect();
        // A little unevenness decides between places that are equally crowded, else rows of equal
        // places would fill in order.
        let crowd = (0..(side * side) as u32).map(|at| (at.wrapping_mul(0x9E37_79B1) >> 22) as i32).collect();
        let mut field = Self { side, inked: vec![false; side * side], crowd, gauss, rows: vec![(0, 0, 0, 0); side] };
        for y in 0..side {
            field.look(y);
        }
        field
    }

    fn set(&mut self, at: usize, ink: bool) {
        let side = self.side;
        self.inked[at] = ink;
        let (x, y) = (at % side, at / side);
        for (row, line) in self.gauss.chunks_exact(2 * REACH + 1).enumerate() {
            let y = (y + row + side - REACH) % side;
            for (column, &add) in line.iter().enumerate() {
                let x = (x + column + side - REACH) % side;
                self.crowd[y * side + x] += if ink { add } else { -add };
            }
        }
        for row in 0..=2 * REACH {
            self.look((y + row + side - REACH) % side);
        }
    }

    /// Finds the extremes of a row again.
    fn look(&mut self, y: usize) {
        let side = self.side;
        let (mut most, mut most_at, mut least, mut least_at) = (i32::MIN, 0, i32::MAX, 0);
        for at in y * side..(y + 1) * side {
            let crowd = self.crowd[at];
            if self.inked[at] {
                if crowd > most {
                    (most, most_at) = (crowd, at);
                }
            } else if crowd < least {
                (least, least_at) = (crowd, at);
            }
        }
        self.rows[y] = (most, most_at, least, least_at);
    }

    fn tightest(&self) -> usize {
        self.rows.iter().max_by_key(|row| row.0).map_or(0, |row| row.1)
    }

    fn largest_void(&self) -> usize {
        self.rows.iter().min_by_key(|row| row.2).map_or(0, |row| row.3)
    }
}

#[cfg(test)]
mod tests {
    use super::super::settings::EDGE_SHARE;
    use super::*;

    const COUNT: usize = SIDE * SIDE;

    #[test]
    fn every_level_is_there_once() {
        let mut all: Vec<u16> = (0..COUNT).map(|at| blue_noise_threshold(at % SIDE, at / SIDE)).collect();
        all.sort_unstable();
        assert_eq!((all[0], all[COUNT - 1]), (0, 65_534));
        assert!(all.windows(2).all(|pair| pair[1] - pair[0] <= 1));
    }

    #[test]
    fn at_one_half_neighbours_differ_as_the_gain_assumes() {
        let inked = |x: usize, y: usize| blue_noise_threshold(x, y) < 32_768;
        let differ = (0..COUNT)
            .map(|at| (at % SIDE, at / SIDE))
            .map(|(x, y)| usize::from(inked(x, y) != inked(x + 1, y)) + usize::from(inked(x, y) != inked(x, y + 1)))
            .sum::<usize>() as f64
            / (2 * COUNT) as f64;
        assert!((differ - EDGE_SHARE).abs() < 0.02, "{differ}");
    }
}
