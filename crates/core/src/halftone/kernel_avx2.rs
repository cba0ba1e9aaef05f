//! The row kernel for AVX2: 64 pixels of a row at a time, in the same integers as the plain form.
//! The four source pixels' neighbourhoods of 8 device pixels come by one load and one shuffle,
//! thresholds by one load for 16 pixels. Blocks without ink or all solid are not screened at all.
#![expect(unsafe_code, reason = "vector intrinsics; loads stay inside the slices by the checks at the top")]

use std::arch::x86_64::*;

use super::grid::{DotGrid, RUN};
use super::kernel::{Across, ONE, SPARE, mix};

/// Screens one row if the machine has AVX2 and the source is not finer than the device; says
/// whether it did.
pub(super) fn screen_row(grid: &DotGrid, y: usize, source: &[i16], across: &Across, out: &mut [u64]) -> bool {
    let Some(&last) = across.left.last() else { return false };
    if across.shuffles.is_empty() || !is_x86_feature_detected!("avx2") || (last as usize) + SPARE > source.len() {
        return false;
    }
    let whole = across.left.len() / 64;
    // SAFETY: AVX2 was found. Each load reads at most 9 values from `left[x]` on, and `left` never
    // exceeds `last`, behind which SPARE (32) values follow.
    unsafe { screen_blocks(grid, y, source, across, &mut out[..whole]) };
    if whole < out.len() {
        // The last part of a word by the plain form, on its own piece of the grid.
        screen_tail(grid, y, source, across, whole, out);
    }
    true
}

/// Screens the pixels after `whole` words.
fn screen_tail(grid: &DotGrid, y: usize, source: &[i16], across: &Across, whole: usize, out: &mut [u64]) {
    let mut phase = grid.row_phase(y);
    phase.skip(whole * 64 / RUN);
    let mut word = 0u64;
    for (run, (lefts, weights)) in
        across.left[whole * 64..].chunks(RUN).zip(across.weight[whole * 64..].chunks(RUN)).enumerate()
    {
        let thresholds = &grid.bank()[phase.next_run()..][..RUN];
        for (x, (&left, &weight)) in lefts.iter().zip(weights).enumerate() {
            let left = left as usize;
            let coverage = mix(source[left], source[left + 1], i32::from(weight));
            word |= u64::from(coverage > thresholds[x]) << (run * RUN + x);
        }
    }
    out[whole] = word;
}

#[target_feature(enable = "avx2")]
unsafe fn screen_blocks(grid: &DotGrid, y: usize, source: &[i16], across: &Across, out: &mut [u64]) {
    let bank = grid.bank();
    let mut phase = grid.row_phase(y);
    for (block, word) in out.iter_mut().enumerate() {
        let x = block * 64;
        let (first, last) = (across.left[x] as usize, across.left[x + 63] as usize + 1);
        let span = &source[first..=last];
        if span.iter().all(|&v| v == i16::MIN) {
            *word = 0;
            phase.skip(64 / RUN);
            continue;
        }
        if span.iter().all(|&v| v == i16::MAX) {
            *word = u64::MAX;
            phase.skip(64 / RUN);
            continue;
        }
        let mut masks = [0u32; 2];
        for (half, mask) in masks.iter_mut().enumerate() {
            let at = x + half * 32;
            // SAFETY: see `screen_row`; `bank` holds RUN values from each run on.
            unsafe {
                let low_t = _mm256_loadu_si256(bank.as_ptr().add(phase.next_run()).cast());
                let high_t = _mm256_loadu_si256(bank.as_ptr().add(phase.next_run()).cast());
                let low = _mm256_cmpgt_epi16(coverage(source, across, at), low_t);
                let high = _mm256_cmpgt_epi16(coverage(source, across, at + 16), high_t);
                // Packing works in lanes of 128 bits; the permutation puts them in order.
                let bytes = _mm256_permute4x64_epi64::<0b11_01_10_00>(_mm256_packs_epi16(low, high));
                *mask = _mm256_movemask_epi8(bytes).cast_unsigned();
            }
        }
        *word = u64::from(masks[0]) | u64::from(masks[1]) << 32;
    }
}

/// Interpolated coverage of 16 device pixels.
#[target_feature(enable = "avx2")]
unsafe fn coverage(source: &[i16], across: &Across, x: usize) -> __m256i {
    // SAFETY: by the caller, `left[x]` and `left[x + 8]` have 9 values behind them.
    unsafe {
        let pair = |offset: usize| {
            let low = source.as_ptr().add(across.left[x] as usize + offset);
            let high = source.as_ptr().add(across.left[x + 8] as usize + offset);
            _mm256_set_m128i(_mm_loadu_si128(high.cast()), _mm_loadu_si128(low.cast()))
        };
        let shuffle = _mm256_loadu_si256(across.shuffles.as_ptr().add(x / 8).cast());
        let a = _mm256_shuffle_epi8(pair(0), shuffle);
        let b = _mm256_shuffle_epi8(pair(1), shuffle);
        let right = _mm256_loadu_si256(across.weight.as_ptr().add(x).cast());
        let left = _mm256_sub_epi16(_mm256_set1_epi16(ONE as i16), right);
        let low = _mm256_madd_epi16(_mm256_unpacklo_epi16(a, b), _mm256_unpacklo_epi16(left, right));
        let high = _mm256_madd_epi16(_mm256_unpackhi_epi16(a, b), _mm256_unpackhi_epi16(left, right));
        _mm256_packs_epi32(_mm256_srai_epi32::<14>(low), _mm256_srai_epi32::<14>(high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::halftone::kernel::screen_row_plain;
    use crate::halftone::{Cell, DeviceGrid, DotShape};
    use crate::units::{Degrees, Dpi, Lpi};

    #[test]
    fn the_vector_form_gives_the_bits_of_the_plain_one() {
        if !is_x86_feature_detected!("avx2") {
            return;
        }
        let device = DeviceGrid::square(Dpi::new(720.0).unwrap());
        let cell = Cell::new(&DotShape::Euclidean);
        // Turned, loosened, and of whole cells.
        let grids = [(55.0, 37.0), (55.0, 45.0), (60.0, 90.0)].map(|(lpi, degrees)| {
            DotGrid::of_cell(device, Lpi::new(lpi).unwrap(), Degrees::new(degrees).unwrap(), &cell)
        });
        let mut seed = 1u32;
        for (source_px, out_px) in [(300, 720), (97, 1001), (500, 500), (3, 130), (1, 64), (640, 700)] {
            let mut source: Vec<i16> = (0..source_px)
                .map(|i| {
                    seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    match i * 5 / source_px {
                        1 => i16::MIN,
                        3 => i16::MAX,
                        _ => (seed >> 16) as i16,
                    }
                })
                .collect();
            source.resize(source_px + SPARE, source[source_px - 1]);
            let across = Across::new(source_px, out_px);
            let (mut fast, mut plain) = (vec![0u64; out_px.div_ceil(64)], vec![0u64; out_px.div_ceil(64)]);
            for (grid, y) in grids.iter().flat_map(|grid| (0..40).map(move |y| (grid, y))) {
                assert!(screen_row(grid, y, &source, &across, &mut fast));
                screen_row_plain(grid, y, &source, &across, &mut plain);
                assert_eq!(fast, plain, "{source_px} {out_px} {y}");
                for x in (0..out_px).step_by(61) {
                    let coverage = mix(
                        source[across.left[x] as usize],
                        source[across.left[x] as usize + 1],
                        i32::from(across.weight[x]),
                    );
                    let ink = i32::from(coverage) + 32_768 > i32::from(grid.threshold(x, y));
                    assert_eq!(fast[x / 64] >> (x % 64) & 1 == 1, ink, "{x} {y}");
                }
            }
        }
    }
}
