//! The sRGB transfer as tables made for whole pictures: 16-bit code to linear light by look-up,
//! and back by a table over the float's own exponent and leading bits with a straight line in
//! each cell, within 0.6 of a 16-bit code of the exact curve.

use std::sync::OnceLock;

use crate::color;

/// Linear light of each 16-bit code.
pub(super) fn linear() -> &'static [f32; 65536] {
    static TABLE: OnceLock<Box<[f32; 65536]>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let values: Vec<f32> = (0..=u16::MAX).map(|v| color::linearize(f32::from(v) / 65535.0)).collect();
        values.try_into().unwrap_or_else(|_| unreachable!("one value a code"))
    })
}

/// Cells a factor of two; 64 keep the line within half a code.
const CELL_BITS: u32 = 6;
/// 2^-15: below it the curve is its straight toe.
const FIRST: u32 = (127 - 15) << 23;
const CELLS: usize = 15 << CELL_BITS;

/// 16-bit codes from linear light.
pub(super) struct Encode {
    /// Value at the cell's start and rise over it, for each cell.
    cells: Vec<[f32; 2]>,
}

pub(super) fn encode() -> &'static Encode {
    static TABLE: OnceLock<Encode> = OnceLock::new();
    TABLE.get_or_init(|| {
        let at = |cell: usize| f32::from_bits(FIRST + ((cell as u32) << (23 - CELL_BITS)));
        let value = |x: f32| color::encode(x) * 65535.0;
        let cells = (0..CELLS).map(|c| [value(at(c)), value(at(c + 1)) - value(at(c))]).collect();
        Encode { cells }
    })
}

impl Encode {
    /// Nearest code; outside 0..=1 clipped, NaN black.
    pub(super) fn get(&self, linear: f32) -> u16 {
        let toe = f32::from_bits(FIRST);
        if linear >= 1.0 {
            return u16::MAX;
        }
        // `max` turns NaN into the toe's start.
        let linear = linear.max(0.0);
        if linear < toe {
            return (linear * (12.92 * 65535.0) + 0.5) as u16;
        }
        let bits = linear.to_bits() - FIRST;
        let cell = self.cells[(bits >> (23 - CELL_BITS)) as usize];
        let along = (bits & ((1 << (23 - CELL_BITS)) - 1)) as f32 / (1_u32 << (23 - CELL_BITS)) as f32;
        (cell[0] + cell[1] * along + 0.5) as u16
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_within_a_code_of_the_curve() {
        for i in 0..=1_000_000 {
            let x = (i as f32 / 1e6).powi(3);
            let exact = color::encode(x) * 65535.0;
            let got = f32::from(encode().get(x));
            assert!((got - exact).abs() <= 1.1, "{x}: {got} for {exact}");
        }
        for v in 0..=u16::MAX {
            assert!(encode().get(linear()[v as usize]).abs_diff(v) <= 1, "{v}");
        }
        assert_eq!([-0.5, f32::NAN, 2.0].map(|x| encode().get(x)), [0, 0, 65535]);
    }
}
