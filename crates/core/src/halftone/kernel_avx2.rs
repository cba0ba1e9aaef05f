//! The row kernel for AVX2: 64 pixels of a row at a time, in the same integers as the plain form.
//! The source pixels round 8 device pixels come by one load; a shuffle, a multiplication and a shift
//! make coverage of them, and thresholds come by one load for 16 pixels. Blocks without ink or all
//! solid are not screened at all.
#![expect(unsafe_code, reason = "vector intrinsics; loads stay inside the slices by the checks at the top")]

use std::arch::x86_64::*;

use super::grid::{DotGrid, RUN, RowPhase};
use super::kernel::{Across, ONE, SPARE, Step, blend_rows_plain};

/// Blends two rows if the machine has AVX2; says whether it did.
pub(super) fn blend_rows(upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) -> bool {
    if !is_x86_feature_detected!("avx2") || upper.len() != out.len() || lower.len() != out.len() {
        return false;
    }
    let whole = out.len() / 16 * 16;
    // SAFETY: AVX2 was found, and all three slices have `whole` values.
    unsafe { blend_blocks(&upper[..whole], &lower[..whole], weight, &mut out[..whole]) };
    blend_rows_plain(&upper[whole..], &lower[whole..], weight, &mut out[whole..]);
    true
}

/// Rows of one length, a multiple of 16.
#[target_feature(enable = "avx2")]
unsafe fn blend_blocks(upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) {
    // The upper row's weight in the low half of each pair, the lower row's in the high half.
    let weights = _mm256_set1_epi32((ONE - weight) | weight << 16);
    for ((out, upper), lower) in out.chunks_exact_mut(16).zip(upper.chunks_exact(16)).zip(lower.chunks_exact(16)) {
        // SAFETY: each chunk has 16 values.
        unsafe {
            let a = _mm256_loadu_si256(upper.as_ptr().cast());
            let b = _mm256_loadu_si256(lower.as_ptr().cast());
            let low = _mm256_madd_epi16(_mm256_unpacklo_epi16(a, b), weights);
            let high = _mm256_madd_epi16(_mm256_unpackhi_epi16(a, b), weights);
            let mixed = _mm256_packs_epi32(_mm256_srai_epi32::<14>(low), _mm256_srai_epi32::<14>(high));
            _mm256_storeu_si256(out.as_mut_ptr().cast(), mixed);
        }
    }
}

/// Screens the whole words of a row if the machine has AVX2 and the source is not finer than the
/// device; says how many it did.
pub(super) fn screen_words(
    grid: &DotGrid,
    y: usize,
    source: &[i16],
    across: &Across,
    out: &mut [u64],
) -> Option<usize> {
    let (last, window) = (*across.left.last()?, across.window?);
    if !is_x86_feature_detected!("avx2") || (last as usize) + SPARE > source.len() {
        return None;
    }
    let whole = across.left.len() / 64;
    let blocks = &mut out[..whole];
    // SAFETY: AVX2 was found. Each load of the source reads 8 values from `left[x]` on, and `left` never
    // exceeds `last`, behind which SPARE (32) values follow.
    unsafe {
        match (window, grid.is_loose()) {
            (8, false) => screen_blocks::<8, false>(grid, y, source, across, blocks),
            (8, true) => screen_blocks::<8, true>(grid, y, source, across, blocks),
            (_, false) => screen_blocks::<4, false>(grid, y, source, across, blocks),
            (_, true) => screen_blocks::<4, true>(grid, y, source, across, blocks),
        }
    }
    Some(whole)
}

#[target_feature(enable = "avx2")]
unsafe fn screen_blocks<const WINDOW: usize, const LOOSE: bool>(
    grid: &DotGrid,
    y: usize,
    source: &[i16],
    across: &Across,
    out: &mut [u64],
) {
    let mut phase = grid.row_phase(y);
    let lefts = across.left.chunks_exact(64);
    for ((word, left), steps) in out.iter_mut().zip(lefts).zip(across.steps.chunks_exact(4)) {
        let span = &source[left[0] as usize..=left[63] as usize + 1];
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
            // SAFETY: see `screen_row`.
            unsafe {
                let low = inked::<WINDOW, LOOSE>(grid, &mut phase, source, &left[half * 32..], &steps[half * 2]);
                let high =
                    inked::<WINDOW, LOOSE>(grid, &mut phase, source, &left[half * 32 + 16..], &steps[half * 2 + 1]);
                // Packing works in lanes of 128 bits; the permutation puts them in order.
                let bytes = _mm256_permute4x64_epi64::<0b11_01_10_00>(_mm256_packs_epi16(low, high));
                *mask = _mm256_movemask_epi8(bytes).cast_unsigned();
            }
        }
        *word = u64::from(masks[0]) | u64::from(masks[1]) << 32;
    }
}

/// All ones in the lanes of 16 device pixels that take ink.
#[inline]
#[target_feature(enable = "avx2")]
unsafe fn inked<const WINDOW: usize, const LOOSE: bool>(
    grid: &DotGrid,
    phase: &mut RowPhase,
    source: &[i16],
    left: &[u32],
    step: &Step,
) -> __m256i {
    // SAFETY: by the caller, every place in `left` has 8 values of the source from it on; `next_run` gives
    // places that have RUN values behind them; a step's arrays have 32 bytes.
    unsafe {
        let windows = |x: usize| {
            let low = source.as_ptr().add(left[x] as usize);
            let high = source.as_ptr().add(left[x + 8] as usize);
            _mm256_set_m128i(_mm_loadu_si128(high.cast()), _mm_loadu_si128(low.cast()))
        };
        let first = windows(0);
        let second = if WINDOW == 8 { first } else { windows(4) };
        let weighed = |windows: __m256i, half: usize| {
            let pairs = _mm256_shuffle_epi8(windows, _mm256_loadu_si256(step.pick[half].as_ptr().cast()));
            let sums = _mm256_madd_epi16(pairs, _mm256_loadu_si256(step.weigh[half].as_ptr().cast()));
            _mm256_srai_epi32::<14>(sums)
        };
        let coverage = _mm256_packs_epi32(weighed(first, 0), weighed(second, 1));
        let run = grid.bank().as_ptr().add(phase.next_run_of::<LOOSE>());
        _mm256_cmpgt_epi16(coverage, _mm256_loadu_si256(run.cast()))
    }
}
