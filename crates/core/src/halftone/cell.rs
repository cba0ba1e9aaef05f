//! One halftone cell as a threshold table. The spot function only says in which order the
//! cell fills; thresholds are the ranks of that order, so area follows coverage linearly for
//! every dot shape.

use super::DotShape;

/// Samples a side: 512 x 512 ranks are finer than 16-bit coverage.
const SIDE: usize = 512;

/// A threshold for every place of a cell. Ink prints where coverage is above the threshold.
#[derive(Debug, Clone)]
pub struct Cell {
    thresholds: Vec<u16>,
}

impl Cell {
    /// Ranks a dot shape.
    pub fn new(dot: &DotShape) -> Self {
        let spot = dot.spot_function();
        let place = |i: usize| (i as f64 + 0.5) / SIDE as f64 - 0.5;
        let mut order: Vec<(f32, u32)> =
            (0..SIDE * SIDE).map(|at| (spot(place(at % SIDE), place(at / SIDE)) as f32, at as u32)).collect();
        // Equal places fill in a scattered order, so that no direction is preferred.
        let scatter = |at: u32| at.wrapping_mul(0x9E37_79B1).reverse_bits();
        order.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then_with(|| scatter(a.1).cmp(&scatter(b.1))));
        let mut thresholds = vec![0u16; SIDE * SIDE];
        let count = (SIDE * SIDE) as u64;
        for (rank, &(_, at)) in order.iter().enumerate() {
            // 0..=65534: coverage 0 prints nowhere, coverage 65535 everywhere.
            thresholds[at as usize] = (rank as u64 * 65_535 / count) as u16;
        }
        Self { thresholds }
    }

    /// The threshold at a place given as 32-bit fractions of the cell.
    pub fn at(&self, u: u32, v: u32) -> u16 {
        const SHIFT: u32 = 32 - SIDE.trailing_zeros();
        self.thresholds[((v >> SHIFT) as usize) * SIDE + (u >> SHIFT) as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thresholds_are_an_even_ramp() {
        let cell = Cell::new(&DotShape::Round);
        let mut sorted = cell.thresholds.clone();
        sorted.sort_unstable();
        assert_eq!((sorted[0], *sorted.last().unwrap()), (0, 65_534));
        for (rank, value) in sorted.iter().enumerate() {
            assert!((f64::from(*value) - rank as f64 * 65_535.0 / 262_144.0).abs() <= 1.0);
        }
        // The middle of the cell fills first.
        assert!(cell.at(1 << 31, 1 << 31) < 10);
        assert!(cell.at(0, 0) > 65_500);
    }
}
