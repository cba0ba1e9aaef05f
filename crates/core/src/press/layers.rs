//! Layers of ink over a garment in whole numbers: each band goes `r <- r (1 - a U) + a S` from layer to
//! layer, in 16 bits of linear light, `U` being what a solid takes of the light under it. Whole numbers give
//! the same codes on every machine, and twice as many of them fit a register as floats. Products are cut off:
//! a layer costs about one part of 65535, and the darkest codes of sRGB lie twenty apart.

use fearless_simd::{Level, Simd, prelude::*};

use crate::simd::{Vectors, run};

/// Pixels that are worked on at a time.
pub(super) const BLOCK: usize = 256;
/// A value of each pixel.
pub(super) type Line = [u16; BLOCK];

/// What a solid of a layer does to light, band by band, 65535 for all of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Solid {
    /// What it sends back itself.
    pub scatter: [u16; 3],
    /// What it takes of the light under it; never less than it sends back.
    pub take: [u16; 3],
}

/// Lays layers over a garment, first down first: the rest of `bands` is overwritten.
pub(super) fn lay(level: Level, garment: [u16; 3], solids: &[Solid], coverages: &[Line], bands: &mut [Line; 3]) {
    run!(level, simd => lay_in(simd, garment, solids, coverages, bands));
}

/// Registers of pixels side by side: one's sums go on while the other's wait.
const SIDE: usize = 2;

#[inline(always)]
fn lay_in<S: Vectors>(simd: S, garment: [u16; 3], solids: &[Solid], coverages: &[Line], bands: &mut [Line; 3]) {
    let wide = S::u16s::LEN;
    for at in (0..BLOCK).step_by(SIDE * wide) {
        let mut r = [[splat(simd, garment[0]); SIDE], [splat(simd, garment[1]); SIDE], [splat(simd, garment[2]); SIDE]];
        for (solid, coverage) in solids.iter().zip(coverages) {
            for (band, r) in r.iter_mut().enumerate() {
                let (take, scatter) = (splat(simd, solid.take[band]), splat(simd, solid.scatter[band]));
                for side in 0..SIDE {
                    let a = S::u16s::from_slice(simd, &coverage[at + side * wide..][..wide]);
                    let taken = simd.mul_high(r[side], simd.mul_high(a, take).saturating_add(1));
                    r[side] = (r[side] - taken).saturating_add(simd.mul_high(a, scatter));
                }
            }
        }
        for band in 0..3 {
            for side in 0..SIDE {
                r[band][side].store_slice(&mut bands[band][at + side * wide..][..wide]);
            }
        }
    }
}

/// A value in all places. By twos: a broadcast of 32 bits costs nothing where one of 16 does.
#[inline(always)]
fn splat<S: Simd>(simd: S, value: u16) -> S::u16s {
    S::u32s::splat(simd, u32::from(value) << 16 | u32::from(value)).bitcast()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simd;

    /// The same sums, value by value.
    fn plain(garment: [u16; 3], solids: &[Solid], coverages: &[Line], bands: &mut [Line; 3]) {
        let share = |value: u16, of: u16| ((u32::from(value) * u32::from(of)) >> 16) as u16;
        for (band, line) in bands.iter_mut().enumerate() {
            for (x, r) in line.iter_mut().enumerate() {
                *r = garment[band];
                for (solid, coverage) in solids.iter().zip(coverages) {
                    let a = coverage[x];
                    *r -= share(*r, share(a, solid.take[band]).saturating_add(1));
                    *r = r.saturating_add(share(a, solid.scatter[band]));
                }
            }
        }
    }

    #[test]
    fn every_level_gives_the_plain_values_and_these_are_the_models() {
        let mut state = 7u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 16) as u16
        };
        for layers in [0, 1, 6, 13] {
            let solids: Vec<Solid> = (0..layers)
                .map(|_| {
                    let scatter: [u16; 3] = std::array::from_fn(|_| next());
                    Solid { scatter, take: scatter.map(|s| s + next() % (65_535 - s).max(1)) }
                })
                .collect();
            let coverages: Vec<Line> =
                (0..layers).map(|_| std::array::from_fn(|x| [0, u16::MAX, next(), next()][x % 4])).collect();
            for garment in [[0, 65_535, 600], [1, 30_000, 65_534]] {
                let (mut expected, mut bands) = ([[1; BLOCK]; 3], [[2; BLOCK]; 3]);
                plain(garment, &solids, &coverages, &mut expected);
                for (level, token) in simd::each() {
                    lay(token, garment, &solids, &coverages, &mut bands);
                    assert!(bands == expected, "{level:?}, {layers} layers");
                }
                for (x, band) in (0..BLOCK).flat_map(|x| [(x, 0), (x, 1), (x, 2)]) {
                    let exact = solids.iter().zip(&coverages).fold(f64::from(garment[band]), |r, (solid, coverage)| {
                        let [a, take, scatter] = [coverage[x], solid.take[band], solid.scatter[band]].map(f64::from);
                        r * (1.0 - a * take / 65_535.0 / 65_535.0) + a * scatter / 65_535.0
                    });
                    let made = f64::from(expected[band][x]);
                    assert!((made - exact).abs() <= 2.0 + layers as f64, "{made} for {exact}");
                }
            }
        }
    }
}
