//! The row kernel for AVX-512: 32 pixels at a time, in the same integers as the plain form. One load
//! brings the source pixels round 32 device pixels, two permutations pick the left and the right
//! neighbour of each, and the comparison with the thresholds gives the bits as they are stored.
#![expect(unsafe_code, reason = "vector intrinsics; loads stay inside the slices by the checks at the top")]

use std::arch::x86_64::*;

use super::grid::{DotGrid, RUN, RowPhase};
use super::kernel::{Across, ONE, SPARE, Step32, blend_rows_plain};

/// Device pixels of a step.
const STEP: usize = 32;

fn is_here() -> bool {
    is_x86_feature_detected!("avx512f") && is_x86_feature_detected!("avx512bw")
}

/// Blends two rows if the machine has AVX-512; says whether it did.
pub(super) fn blend_rows(upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) -> bool {
    if !is_here() || upper.len() != out.len() || lower.len() != out.len() {
        return false;
    }
    let whole = out.len() / STEP * STEP;
    // SAFETY: AVX-512 was found, and all three slices have `whole` values.
    unsafe { blend_blocks(&upper[..whole], &lower[..whole], weight, &mut out[..whole]) };
    blend_rows_plain(&upper[whole..], &lower[whole..], weight, &mut out[whole..]);
    true
}

/// Rows of one length, a multiple of 32.
#[target_feature(enable = "avx512f,avx512bw")]
unsafe fn blend_blocks(upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) {
    let [upper_weight, lower_weight] = [ONE - weight, weight].map(|w| _mm512_set1_epi16(w as i16));
    for ((out, upper), lower) in out.chunks_exact_mut(STEP).zip(upper.chunks_exact(STEP)).zip(lower.chunks_exact(STEP))
    {
        // SAFETY: each chunk has 32 values.
        unsafe {
            let (a, b) = (_mm512_loadu_si512(upper.as_ptr().cast()), _mm512_loadu_si512(lower.as_ptr().cast()));
            _mm512_storeu_si512(out.as_mut_ptr().cast(), mixed(a, b, upper_weight, lower_weight));
        }
    }
}

/// [`super::kernel::mix`] of 32 pairs.
#[inline]
#[target_feature(enable = "avx512f,avx512bw")]
fn mixed(a: __m512i, b: __m512i, a_weight: __m512i, b_weight: __m512i) -> __m512i {
    // Pairs are joined and sums packed within the same lanes of 128 bits, which keeps their order.
    let low = _mm512_madd_epi16(_mm512_unpacklo_epi16(a, b), _mm512_unpacklo_epi16(a_weight, b_weight));
    let high = _mm512_madd_epi16(_mm512_unpackhi_epi16(a, b), _mm512_unpackhi_epi16(a_weight, b_weight));
    _mm512_packs_epi32(_mm512_srai_epi32::<14>(low), _mm512_srai_epi32::<14>(high))
}

/// Screens the whole words of a row if the machine has AVX-512 and the source is coarser than the
/// device; says how many it did.
pub(super) fn screen_words(
    grid: &DotGrid,
    y: usize,
    source: &[i16],
    across: &Across,
    out: &mut [u64],
) -> Option<usize> {
    let steps = across.steps32.as_ref()?;
    let last = *across.left.last()? as usize;
    if !is_here() || last + SPARE > source.len() {
        return None;
    }
    let whole = across.left.len() / 64;
    // SAFETY: AVX-512 was found. Each load of the source reads 32 values from `left[x]` on, and `left`
    // never exceeds `last`, from which on SPARE (32) values are there.
    unsafe {
        if grid.is_loose() {
            screen_blocks::<true>(grid, y, source, steps, &mut out[..whole]);
        } else {
            screen_blocks::<false>(grid, y, source, steps, &mut out[..whole]);
        }
    }
    Some(whole)
}

#[target_feature(enable = "avx512f,avx512bw")]
unsafe fn screen_blocks<const LOOSE: bool>(
    grid: &DotGrid,
    y: usize,
    source: &[i16],
    steps: &[Step32],
    out: &mut [u64],
) {
    let mut phase = grid.row_phase(y);
    for (word, steps) in out.iter_mut().zip(steps.as_chunks::<2>().0) {
        // SAFETY: see `screen_words`.
        let [low, high] = unsafe {
            [inked::<LOOSE>(grid, &mut phase, source, &steps[0]), inked::<LOOSE>(grid, &mut phase, source, &steps[1])]
        };
        *word = u64::from(low) | u64::from(high) << 32;
    }
}

/// The bits of 32 device pixels.
#[inline]
#[target_feature(enable = "avx512f,avx512bw")]
unsafe fn inked<const LOOSE: bool>(grid: &DotGrid, phase: &mut RowPhase, source: &[i16], step: &Step32) -> u32 {
    // SAFETY: by the caller, 32 values of the source follow `step.first`; `next_run` gives places that
    // have RUN values behind them; a step's arrays have 32 and 64 bytes.
    unsafe {
        let window = _mm512_loadu_si512(source.as_ptr().add(step.first as usize).cast());
        let pick = _mm512_cvtepu8_epi16(_mm256_loadu_si256(step.pick.as_ptr().cast()));
        let weight = _mm512_loadu_si512(step.weight.as_ptr().cast());
        let left = _mm512_permutexvar_epi16(pick, window);
        let right = _mm512_permutexvar_epi16(_mm512_add_epi16(pick, _mm512_set1_epi16(1)), window);
        let coverage = mixed(left, right, _mm512_sub_epi16(_mm512_set1_epi16(ONE as i16), weight), weight);
        let mut run = || {
            let at = phase.next_run_of::<LOOSE>();
            debug_assert!(at + RUN <= grid.bank().len());
            _mm256_loadu_si256(grid.bank().as_ptr().add(at).cast())
        };
        let low = run();
        let thresholds = _mm512_inserti64x4::<1>(_mm512_castsi256_si512(low), run());
        _mm512_cmpgt_epi16_mask(coverage, thresholds)
    }
}
