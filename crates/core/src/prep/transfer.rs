//! The sRGB transfer made for whole pictures: 16-bit code to linear light by a table, and back by
//! a polynomial without branches, which a compiler turns into vectors; within 0.65 of a 16-bit code
//! of the exact curve.

use std::sync::OnceLock;

use crate::color;
use crate::raster::Rgba16;

/// Linear light of each 16-bit code.
pub(super) fn linear() -> &'static [f32; 65536] {
    static TABLE: OnceLock<Box<[f32; 65536]>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let values: Vec<f32> = (0..=u16::MAX).map(|v| color::linearize(f32::from(v) / 65535.0)).collect();
        values.try_into().unwrap_or_else(|_| unreachable!("one value a code"))
    })
}

/// A pixel in linear light by the table of [`linear`], alpha multiplied in; of four channels alpha is the last.
#[inline(always)]
pub(super) fn light_of<const N: usize>(table: &[f32; 65536], pixel: &Rgba16) -> [f32; N] {
    let alpha = if N == 4 { f32::from(pixel[3]) / 65535.0 } else { 1.0 };
    std::array::from_fn(|c| if c == 3 { alpha } else { table[usize::from(pixel[c])] * alpha })
}

/// Where the two polynomials of [`CURVE`] meet.
const BEND: f32 = 0.27;
/// 65535 (1.055 t^(5/6) - 0.055), t being the square root of linear light, for t from 0.056 to
/// [`BEND`] and from there to 1: minimax over each range (Lawson's iteration), off by 0.15 at most in
/// single precision. Highest power first.
const CURVE: [[f32; 2]; 7] = [
    [-10_244_546.0, -7_562.150_4],
    [11_966_909.0, 34_764.27],
    [-5_937_180.0, -68_581.58],
    [1_669_272.6, 77_614.305],
    [-319_586.7, -60_669.07],
    [116_779.64, 91_973.67],
    [-3_123.135_7, -2_004.574_1],
];

/// The 16-bit code of linear light; outside 0..=1 clipped, NaN black.
#[inline(always)]
pub(super) fn code(linear: f32) -> u16 {
    // Written so that each line is one instruction, and NaN becomes 0.
    let linear = if linear > 0.0 { linear } else { 0.0 };
    let linear = if linear < 1.0 { linear } else { 1.0 };
    let root = linear.sqrt();
    // By bits: a compiler makes a branch of seven choices, and scalars of the loop.
    let is_low = u32::from(root < BEND).wrapping_neg();
    let of = |[low, high]: [f32; 2]| f32::from_bits(high.to_bits() ^ ((low.to_bits() ^ high.to_bits()) & is_low));
    let mut curve = of(CURVE[0]);
    for &c in &CURVE[1..] {
        curve = curve * root + of(c);
    }
    let exact = if linear <= 0.003_130_8 { linear * (12.92 * 65535.0) } else { curve };
    whole(exact)
}

/// 0..=65535 rounded to a whole number: 2^23 leaves no room for a fraction in a float.
#[inline(always)]
pub(super) fn whole(value: f32) -> u16 {
    (value + 8_388_608.0).to_bits() as u16
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_within_one_of_the_curve() {
        for i in 0..=1_000_000 {
            let x = (i as f32 / 1e6).powi(3);
            let exact = color::encode(x) * 65535.0;
            let got = f32::from(code(x));
            assert!((got - exact).abs() <= 0.7, "{x}: {got} for {exact}");
        }
        for v in 0..=u16::MAX {
            assert!(code(linear()[v as usize]).abs_diff(v) <= 1, "{v}");
        }
        assert_eq!([-0.5, f32::NAN, 2.0, 0.0, 1.0].map(code), [0, 0, 65535, 0, 65535]);
    }
}
