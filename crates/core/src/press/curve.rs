//! A curve made ready for pixels: 16-bit values in, 16-bit values out, the same bytes at every level of
//! vectors. Most machines read it from a table of even steps. Where the curve is smooth the table is itself
//! made of parabolas, one for each half octave of its steps (which follow a root or a power down to nothing),
//! and AVX-512, which picks their numbers out of registers by a permutation, computes the table's values
//! faster than it reads them.

use fearless_simd::Level;
#[cfg(target_arch = "x86_64")]
use fearless_simd::{Simd, SimdBase};

/// Half octaves that have a parabola: all of a number of 16 bits.
const PARTS: usize = 32;

/// A curve over 16-bit values, in steps of `1 << SHIFT`; `SHIFT` is 1 to 15.
#[derive(Debug)]
pub(super) struct Curve<const SHIFT: u32> {
    /// Values of the steps 0..=65536 >> SHIFT, and one more, so that two can be read at once.
    pub(super) table: Vec<u16>,
    /// What the table is made of; none where the curve bends too sharply for parabolas.
    #[cfg_attr(not(target_arch = "x86_64"), expect(dead_code, reason = "read by AVX-512's way alone"))]
    pub(super) parts: Option<Parts>,
}

impl<const SHIFT: u32> Curve<SHIFT> {
    /// Steps from 0 to 65536.
    const STEPS: usize = 1 << (16 - SHIFT);

    /// Of a function of 0..=1 whose values are 0..=65535, by parabolas where these are within `close`.
    pub(super) fn new(curve: &dyn Fn(f32) -> f32, close: f32) -> Self {
        let exact: Vec<f32> = (0..=Self::STEPS).map(|step| curve(step as f32 / Self::STEPS as f32)).collect();
        let parts = Parts::of(&exact, close);
        let value = |step: usize| parts.as_ref().map_or((exact[step] + 0.5) as u16, |parts| parts.at(step));
        let mut table: Vec<u16> = (0..=Self::STEPS).map(value).collect();
        table.push(0);
        Self { table, parts }
    }

    /// Values of a row, each read at its nearest step; the same at every level.
    ///
    /// # Panics
    /// If `out` is shorter than `row`.
    pub(super) fn read(&self, level: Level, row: &[u16], out: &mut [u16]) {
        let out = &mut out[..row.len()];
        #[cfg(target_arch = "x86_64")]
        {
            if let (Some(avx512), Some(parts)) = (level.as_avx512(), &self.parts) {
                return wide::read::<SHIFT>(avx512, parts, row, out);
            }
            if let Some(avx2) = level.as_avx2() {
                return gathered::read::<SHIFT>(avx2, &self.table, row, out);
            }
        }
        let _ = level;
        self.read_plain(row, out);
    }

    /// Opaque pixels of three bands, each read as in [`Curve::read`]; values are 0..=255.
    ///
    /// # Panics
    /// If there are more pixels than values.
    pub(super) fn read_pixels<const N: usize>(&self, level: Level, bands: &[[u16; N]; 3], out: &mut [[u8; 4]]) {
        assert!(out.len() <= N);
        const { assert!(N.is_multiple_of(32), "whole registers") };
        #[cfg(target_arch = "x86_64")]
        {
            if let (Some(avx512), Some(parts)) = (level.as_avx512(), &self.parts) {
                return wide::read_pixels::<SHIFT, N>(avx512, parts, bands, out);
            }
            if let Some(avx2) = level.as_avx2() {
                return gathered::read_pixels::<SHIFT, N>(avx2, &self.table, bands, out);
            }
        }
        let _ = level;
        self.read_pixels_plain(bands, out);
    }

    /// The plain form.
    pub(super) fn read_pixels_plain<const N: usize>(&self, [red, green, blue]: &[[u16; N]; 3], out: &mut [[u8; 4]]) {
        let table = &self.table[..=Self::STEPS];
        let value = |value: u16| table[(usize::from(value) + (1 << (SHIFT - 1))) >> SHIFT] as u8;
        for (((out, &r), &g), &b) in out.iter_mut().zip(red).zip(green).zip(blue) {
            *out = [value(r), value(g), value(b), 255];
        }
    }

    /// The plain form.
    pub(super) fn read_plain(&self, row: &[u16], out: &mut [u16]) {
        let table = &self.table[..=Self::STEPS];
        for (out, &value) in out.iter_mut().zip(row) {
            *out = table[(usize::from(value) + (1 << (SHIFT - 1))) >> SHIFT];
        }
    }
}

/// Parabolas in the mantissa, 1..2, of a step's number from 1 on.
#[derive(Debug)]
pub(super) struct Parts {
    base: [f32; PARTS],
    slope: [f32; PARTS],
    bend: [f32; PARTS],
}

/// Which half octave a number from 1 on lies in: the end of its exponent and the begin of its mantissa.
const PART_SHIFT: u32 = f32::MANTISSA_DIGITS - 2;
const MANTISSA: u32 = (1 << (f32::MANTISSA_DIGITS - 1)) - 1;

impl Parts {
    /// Of the values of steps; none where they bend too sharply.
    fn of(exact: &[f32], close: f32) -> Option<Self> {
        let mut parts = Self { base: [0.0; PARTS], slope: [0.0; PARTS], bend: [0.0; PARTS] };
        // Between two steps straight on.
        let at = |number: f64| {
            let left = (number as usize - 1).min(exact.len() - 2);
            f64::from(exact[left]) + f64::from(exact[left + 1] - exact[left]) * (number - 1.0 - left as f64)
        };
        let numbers = exact.len() as f64;
        for part in 0..PARTS - 1 {
            let scale = 2f64.powi(part as i32 / 2);
            let first = scale * (1.0 + 0.5 * (part % 2) as f64);
            let last = (first + 0.5 * scale - 1.0).min(numbers);
            let to = part_of(first as f32);
            if first > numbers {
                break;
            }
            if last <= first {
                parts.base[to] = at(first) as f32;
                continue;
            }
            // Through Chebyshev's points, where errors are most even.
            let [x0, x1, x2] = [-1.0, 0.0, 1.0]
                .map(|side| (0.5 * (first + last) + side * 0.75f64.sqrt() * 0.5 * (last - first)) / scale);
            let [y0, y1, y2] = [x0, x1, x2].map(|x| at(x * scale));
            let bend = ((y2 - y1) / (x2 - x1) - (y1 - y0) / (x1 - x0)) / (x2 - x0);
            let slope = (y1 - y0) / (x1 - x0) - bend * (x0 + x1);
            parts.base[to] = (y0 - slope * x0 - bend * x0 * x0) as f32;
            parts.slope[to] = slope as f32;
            parts.bend[to] = bend as f32;
        }
        // To whole numbers by cutting off.
        parts.base.iter_mut().for_each(|base| *base += 0.5);
        let near = |(step, exact): (usize, &f32)| (f32::from(parts.at(step)) - exact).abs() <= close + 0.5;
        exact.iter().enumerate().all(near).then_some(parts)
    }

    /// Value of a step; the same sums as in registers.
    fn at(&self, step: usize) -> u16 {
        let number = (step + 1) as f32;
        let part = part_of(number);
        let mantissa = f32::from_bits(number.to_bits() & MANTISSA | 1f32.to_bits());
        ((self.bend[part] * mantissa + self.slope[part]) * mantissa + self.base[part]) as u16
    }
}

fn part_of(number: f32) -> usize {
    (number.to_bits() >> PART_SHIFT) as usize % PARTS
}

/// Stores two registers of bytes as at most so many pixels.
#[cfg(target_arch = "x86_64")]
#[inline(always)]
fn store<S: Simd, B: SimdBase<S, Element = u8>>(bytes: [B; 2], pixels: &mut [[u8; 4]]) {
    let pixels = pixels.as_flattened_mut();
    let mut last = [0; 128];
    let whole = pixels.len() == 2 * B::LEN;
    let to = if whole { &mut *pixels } else { &mut last[..2 * B::LEN] };
    let (low, high) = to.split_at_mut(B::LEN);
    bytes[0].store_slice(low);
    bytes[1].store_slice(high);
    if !whole {
        let count = pixels.len();
        pixels.copy_from_slice(&last[..count]);
    }
}

/// The parabolas with AVX-512; the one thing there that the portable vectors lack is a permutation of
/// floats out of two registers.
#[cfg(target_arch = "x86_64")]
mod wide {
    use std::arch::x86_64::{__m512, __m512i, _mm512_permutex2var_ps};

    use fearless_simd::{Simd, f32x16, prelude::*, u8x64, u16x32, u32x16, x86::Avx512};

    use super::{MANTISSA, PART_SHIFT, PARTS, Parts, store};

    fearless_simd::kernel!(
        #[inline(always)]
        fn picked(avx512: Avx512, low: __m512, at: __m512i, high: __m512) -> __m512 {
            _mm512_permutex2var_ps(low, at, high)
        }
    );

    pub(super) fn read<const SHIFT: u32>(avx512: Avx512, parts: &Parts, row: &[u16], out: &mut [u16]) {
        avx512.vectorize(
            #[inline(always)]
            || {
                let (row, row_rest) = row.as_chunks::<32>();
                let (out, out_rest) = out.as_chunks_mut::<32>();
                for (out, row) in out.iter_mut().zip(row) {
                    read_32::<SHIFT>(avx512, parts, row, out);
                }
                if !row_rest.is_empty() {
                    let (mut last, mut made) = ([0; 32], [0; 32]);
                    last[..row_rest.len()].copy_from_slice(row_rest);
                    read_32::<SHIFT>(avx512, parts, &last, &mut made);
                    out_rest.copy_from_slice(&made[..out_rest.len()]);
                }
            },
        );
    }

    pub(super) fn read_pixels<const SHIFT: u32, const N: usize>(
        avx512: Avx512,
        parts: &Parts,
        bands: &[[u16; N]; 3],
        out: &mut [[u8; 4]],
    ) {
        avx512.vectorize(
            #[inline(always)]
            || {
                for (at, out) in out.chunks_mut(32).enumerate() {
                    let mut rgba = [u32x16::splat(avx512, 255 << 24); 2];
                    for (band, line) in bands.iter().enumerate() {
                        let (low, high) = u16x32::load_array_ref(avx512, &line.as_chunks().0[at]).widen();
                        rgba[0] |= values::<SHIFT>(avx512, parts, low) << (8 * band as u32);
                        rgba[1] |= values::<SHIFT>(avx512, parts, high) << (8 * band as u32);
                    }
                    store([rgba[0].bitcast::<u8x64<_>>(), rgba[1].bitcast()], out);
                }
            },
        );
    }

    #[inline(always)]
    fn read_32<const SHIFT: u32>(avx512: Avx512, parts: &Parts, row: &[u16; 32], out: &mut [u16; 32]) {
        let (low, high) = u16x32::load_array_ref(avx512, row).widen();
        values::<SHIFT>(avx512, parts, low).narrow(values::<SHIFT>(avx512, parts, high)).store_array(out);
    }

    #[inline(always)]
    fn values<const SHIFT: u32>(avx512: Avx512, parts: &Parts, row: u32x16<Avx512>) -> u32x16<Avx512> {
        // The nearest step, counted from 1.
        let number: f32x16<Avx512> = ((row + ((1 << SHIFT) + (1 << (SHIFT - 1)))) >> SHIFT).to_float();
        let bits = number.to_bits();
        let part = bits >> PART_SHIFT;
        let mantissa = f32x16::from_bits(bits & MANTISSA | 1f32.to_bits());
        let value = of(avx512, &parts.bend, part) * mantissa + of(avx512, &parts.slope, part);
        (value * mantissa + of(avx512, &parts.base, part)).to_int()
    }

    /// Each part's number.
    #[inline(always)]
    fn of(avx512: Avx512, values: &[f32; PARTS], part: u32x16<Avx512>) -> f32x16<Avx512> {
        let (low, high) = values.split_at(PARTS / 2);
        let (low, high) = (f32x16::from_slice(avx512, low), f32x16::from_slice(avx512, high));
        picked(avx512, low.into(), part.into(), high.into()).simd_into(avx512)
    }
}

/// The table with AVX2's gathers, which the portable vectors lack.
#[cfg(target_arch = "x86_64")]
mod gathered {
    use std::arch::x86_64::{__m256i, _mm256_i32gather_epi32, _mm256_min_epu32, _mm256_set1_epi32};

    use fearless_simd::{Simd, prelude::*, u8x32, u16x16, u32x8, x86::Avx2};

    use super::store;

    pub(super) fn read<const SHIFT: u32>(avx2: Avx2, table: &[u16], row: &[u16], out: &mut [u16]) {
        assert!(table.len() >= (1 << (16 - SHIFT)) + 2, "a value for each step, and one more");
        avx2.vectorize(
            #[inline(always)]
            || {
                let (row, row_rest) = row.as_chunks::<16>();
                let (out, out_rest) = out.as_chunks_mut::<16>();
                for (out, row) in out.iter_mut().zip(row) {
                    let (low, high) = u16x16::load_array_ref(avx2, row).widen();
                    values::<SHIFT>(avx2, table, low).narrow(values::<SHIFT>(avx2, table, high)).store_array(out);
                }
                for (out, &value) in out_rest.iter_mut().zip(row_rest) {
                    *out = table[(usize::from(value) + (1 << (SHIFT - 1))) >> SHIFT];
                }
            },
        );
    }

    pub(super) fn read_pixels<const SHIFT: u32, const N: usize>(
        avx2: Avx2,
        table: &[u16],
        bands: &[[u16; N]; 3],
        out: &mut [[u8; 4]],
    ) {
        assert!(table.len() >= (1 << (16 - SHIFT)) + 2, "a value for each step, and one more");
        avx2.vectorize(
            #[inline(always)]
            || {
                for (at, out) in out.chunks_mut(16).enumerate() {
                    let mut rgba = [u32x8::splat(avx2, 255 << 24); 2];
                    for (band, line) in bands.iter().enumerate() {
                        let (low, high) = u16x16::load_array_ref(avx2, &line.as_chunks().0[at]).widen();
                        rgba[0] |= (values::<SHIFT>(avx2, table, low) & 0xFF) << (8 * band as u32);
                        rgba[1] |= (values::<SHIFT>(avx2, table, high) & 0xFF) << (8 * band as u32);
                    }
                    store([rgba[0].bitcast::<u8x32<_>>(), rgba[1].bitcast()], out);
                }
            },
        );
    }

    #[inline(always)]
    fn values<const SHIFT: u32>(avx2: Avx2, table: &[u16], row: u32x8<Avx2>) -> u32x8<Avx2> {
        let step = (row + (1 << (SHIFT - 1))) >> SHIFT;
        let pairs: u32x8<Avx2> = pairs_at(avx2, table, step.into()).simd_into(avx2);
        pairs & 0xFFFF
    }

    fearless_simd::kernel!(
        /// Values at eight places of a table, each with the one behind it in its upper half.
        #[inline(always)]
        fn pairs_at(avx2: Avx2, table: &[u16], places: __m256i) -> __m256i {
            let places = _mm256_min_epu32(places, _mm256_set1_epi32(table.len() as i32 - 2));
            #[expect(unsafe_code, reason = "a gather reads by pointer")]
            // SAFETY: places are held to those that have a value behind them.
            unsafe {
                _mm256_i32gather_epi32::<2>(table.as_ptr().cast(), places)
            }
        }
    );
}
