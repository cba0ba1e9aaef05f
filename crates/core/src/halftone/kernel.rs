//! The inner loops of a halftone row: coverage between the source's pixels, and its comparison with the
//! thresholds, 64 pixels to a word. Each has a plain form, which is its definition, and one over vectors
//! that gives the same integers.

use fearless_simd::{Level, i16x8, i16x16, i16x32, i32x16, mask16x32, prelude::*, u8x16, u8x64, u32x16};

use super::across::{Across, ONE, STEP, Step, Steps, mix};
use super::grid::{DotGrid, RUN, RowPhase};
use crate::simd::{Vectors, run};

/// A row between two source rows: `weight` of ONE belongs to `lower`. Signed coverage.
///
/// # Panics
/// If the rows are not of one length.
pub(super) fn blend_rows(level: Level, upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) {
    assert!(upper.len() == out.len() && lower.len() == out.len());
    let whole = out.len() / STEP * STEP;
    run!(level, simd => blend_in(simd, &upper[..whole], &lower[..whole], weight, &mut out[..whole]));
    blend_rows_plain(&upper[whole..], &lower[whole..], weight, &mut out[whole..]);
}

/// The same, plainly.
fn blend_rows_plain(upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) {
    for ((out, &a), &b) in out.iter_mut().zip(upper).zip(lower) {
        *out = mix(a, b, weight);
    }
}

#[inline(always)]
fn blend_in<S: Vectors>(simd: S, upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) {
    // The upper row's weight in the low half of each pair, the lower row's in the high half.
    let weights: i16x32<S> = i32x16::splat(simd, (ONE - weight) | weight << 16).bitcast();
    let rows = upper.as_chunks::<STEP>().0.iter().zip(lower.as_chunks::<STEP>().0);
    for (out, (upper, lower)) in out.as_chunks_mut::<STEP>().0.iter_mut().zip(rows) {
        let (low, high) = i16x32::load_array_ref(simd, upper).interleave(i16x32::load_array_ref(simd, lower));
        let (low, high) = (low.pairwise_dot_product(weights) >> 14, high.pairwise_dot_product(weights) >> 14);
        low.saturating_narrow(high).store_array(out);
    }
}

/// Screens one row. `source` is signed coverage with [`super::across::SPARE`] spare values at its end.
pub(super) fn screen_row(grid: &DotGrid, y: usize, source: &[i16], across: &Across, out: &mut [u64]) {
    let whole = across.left.len() / 64;
    let words = &mut out[..whole];
    let (steps, window) = match &across.steps {
        Steps::Whole(steps) => (steps, STEP),
        Steps::Eights(steps) => (steps, 8),
        Steps::Fours(steps) => (steps, 4),
        Steps::None => return screen_plainly(grid, y, source, across, 0, out),
    };
    let level = across.level;
    match (window, grid.is_loose()) {
        (STEP, false) => run!(level, simd => screen_in::<_, STEP, false>(simd, grid, y, source, steps, words)),
        (STEP, true) => run!(level, simd => screen_in::<_, STEP, true>(simd, grid, y, source, steps, words)),
        (8, false) => run!(level, simd => screen_in::<_, 8, false>(simd, grid, y, source, steps, words)),
        (8, true) => run!(level, simd => screen_in::<_, 8, true>(simd, grid, y, source, steps, words)),
        (_, false) => run!(level, simd => screen_in::<_, 4, false>(simd, grid, y, source, steps, words)),
        (_, true) => run!(level, simd => screen_in::<_, 4, true>(simd, grid, y, source, steps, words)),
    }
    screen_plainly(grid, y, source, across, whole, out);
}

#[inline(always)]
fn screen_in<S: Vectors, const WINDOW: usize, const LOOSE: bool>(
    simd: S,
    grid: &DotGrid,
    y: usize,
    source: &[i16],
    steps: &[Step],
    out: &mut [u64],
) {
    if !S::BLOCK_SHUFFLES || (WINDOW == STEP && !S::FAR_SHUFFLES) {
        unreachable!("steps are for levels with the shuffles that they need");
    }
    let (runs, mut phase) = (grid.bank().as_chunks().0, grid.row_phase(y));
    for (word, [low, high]) in out.iter_mut().zip(steps.as_chunks::<2>().0) {
        if let Some(flat) = flat(simd, source, low.first as usize, high.end as usize) {
            *word = flat;
            phase.skip(64 / RUN);
            continue;
        }
        let low = inked::<S, WINDOW, LOOSE>(simd, runs, &mut phase, source, low);
        let high = inked::<S, WINDOW, LOOSE>(simd, runs, &mut phase, source, high);
        *word = low.narrow(high).to_bitmask();
    }
}

/// The word of a stretch of the source that has no ink at all, or nothing but solids: most of a film is such.
#[inline(always)]
fn flat<S: Vectors>(simd: S, source: &[i16], first: usize, end: usize) -> Option<u64> {
    let value = source[first];
    let word = match value {
        i16::MIN => 0,
        i16::MAX => u64::MAX,
        _ => return None,
    };
    let values = i16x32::splat(simd, value);
    for at in (first..end).step_by(32) {
        if !i16x32::from_slice(simd, &source[at..][..32]).simd_eq(values).all_true() {
            return None;
        }
    }
    Some(word)
}

/// Which of 32 device pixels take ink.
#[inline(always)]
fn inked<S: Vectors, const WINDOW: usize, const LOOSE: bool>(
    simd: S,
    runs: &[[i16; RUN]],
    phase: &mut RowPhase,
    source: &[i16],
    step: &Step,
) -> mask16x32<S> {
    let pick = [pairs(simd, &step.pick[0]), pairs(simd, &step.pick[1])];
    let (low, high) = if WINDOW == STEP {
        let window = i16x32::from_slice(simd, &source[step.first as usize..][..32]);
        (window.swizzle_dyn(pick[0]), window.swizzle_dyn(pick[1]))
    } else {
        let source = &source[step.first as usize..];
        let low = windows(simd, source, [step.next[0], step.next[2], step.next[4], step.next[6]]);
        let high = match WINDOW {
            8 => low,
            _ => windows(simd, source, [step.next[1], step.next[3], step.next[5], step.next[7]]),
        };
        (low.swizzle_dyn_within_blocks(pick[0]), high.swizzle_dyn_within_blocks(pick[1]))
    };
    let low = low.pairwise_dot_product(i16x32::load_array_ref(simd, &step.weigh[0])) >> 14;
    let high = high.pairwise_dot_product(i16x32::load_array_ref(simd, &step.weigh[1])) >> 14;
    // Fours of one and the other by turns.
    let coverage = simd.narrow_by_blocks(low, high);
    let low = i16x16::load_array_ref(simd, &runs[phase.next_run_of::<LOOSE>() / RUN]);
    let high = i16x16::load_array_ref(simd, &runs[phase.next_run_of::<LOOSE>() / RUN]);
    coverage.simd_gt(low.combine(high))
}

/// The four bytes of each pair whose first bytes are given, four pairs in each block of 16 bytes.
#[inline(always)]
fn pairs<S: Vectors>(simd: S, first: &[u8; 16]) -> u8x64<S> {
    const SPREAD: [u8; 64] = {
        let mut spread = [0; 64];
        let mut at = 0;
        while at < 64 {
            spread[at] = at as u8 / 4;
            at += 1;
        }
        spread
    };
    let four: u8x64<S> = u32x16::splat(simd, 0x03_02_01_00).bitcast();
    let first = u8x64::block_splat(u8x16::load_array_ref(simd, first));
    first.swizzle_dyn_within_blocks(u8x64::load_array_ref(simd, &SPREAD)) + four
}

/// Four windows of 8 source pixels.
#[inline(always)]
fn windows<S: Vectors>(simd: S, source: &[i16], next: [u8; 4]) -> i16x32<S> {
    let (a, b) = (window(simd, source, next[0]), window(simd, source, next[1]));
    let (c, d) = (window(simd, source, next[2]), window(simd, source, next[3]));
    a.combine(b).combine(c.combine(d))
}

#[inline(always)]
fn window<S: Vectors>(simd: S, source: &[i16], next: u8) -> i16x8<S> {
    i16x8::from_slice(simd, &source[usize::from(next)..][..8])
}

/// Screens the words of a row from `from` on, the plain form.
pub(super) fn screen_plainly(grid: &DotGrid, y: usize, source: &[i16], across: &Across, from: usize, out: &mut [u64]) {
    let bank = grid.bank();
    let mut phase = grid.row_phase(y);
    phase.skip(from * 64 / RUN);
    let (left, weight) = (&across.left[from * 64..], &across.weight[from * 64..]);
    for ((word, lefts), weights) in out[from..].iter_mut().zip(left.chunks(64)).zip(weight.chunks(64)) {
        *word = 0;
        for (run, (lefts, weights)) in lefts.chunks(RUN).zip(weights.chunks(RUN)).enumerate() {
            let thresholds = &bank[phase.next_run()..][..RUN];
            for (x, (&left, &weight)) in lefts.iter().zip(weights).enumerate() {
                let left = left as usize;
                let coverage = mix(source[left], source[left + 1], i32::from(weight));
                *word |= u64::from(coverage > thresholds[x]) << (run * RUN + x);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::across::SPARE;
    use super::*;
    use crate::halftone::{Cell, DeviceGrid, DotShape};
    use crate::simd;
    use crate::units::{Degrees, Dpi, Lpi};
    use proptest::prelude::*;

    #[test]
    fn rows_follow_the_definition_at_every_level() {
        let device = DeviceGrid::square(Dpi::new(720.0).unwrap());
        let cell = Cell::new(&DotShape::Euclidean);
        // Turned, loosened, and of whole cells.
        let grids = [(55.0, 37.0), (55.0, 45.0), (60.0, 90.0)].map(|(lpi, degrees)| {
            DotGrid::of_cell(device, Lpi::new(lpi).unwrap(), Degrees::new(degrees).unwrap(), &cell)
        });
        let mut seed = 1u32;
        for (source_px, out_px) in [
            (300usize, 720usize),
            (97, 1001),
            (500, 500),
            (3, 130),
            (1, 64),
            (640, 700),
            (700, 640),
            (900, 640),
            (1500, 640),
        ] {
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
            let words = out_px.div_ceil(64);
            let (mut plain, mut fast) = (vec![0; words], vec![0; words]);
            for (level, token) in simd::each() {
                let across = Across::new(token, source_px, out_px);
                let has_steps = !matches!(across.steps, Steps::None);
                let expected = simd::block_shuffles(token) && source_px <= 2 * out_px;
                assert_eq!(has_steps, expected, "{level:?} {source_px} {out_px}");
                for (grid, y) in grids.iter().flat_map(|grid| (0..40).map(move |y| (grid, y))) {
                    screen_plainly(grid, y, &source, &across, 0, &mut plain);
                    for x in (0..out_px).step_by(7) {
                        let left = across.left[x] as usize;
                        let coverage = mix(source[left], source[left + 1], i32::from(across.weight[x]));
                        let ink = i32::from(coverage) + 32_768 > i32::from(grid.threshold(x, y));
                        assert_eq!(plain[x / 64] >> (x % 64) & 1 == 1, ink, "{x} {y}");
                    }
                    fast.fill(0x5A);
                    screen_row(grid, y, &source, &across, &mut fast);
                    assert_eq!(fast, plain, "{level:?} {source_px} {out_px} {y}");
                }
            }
        }
    }

    proptest! {
        #[test]
        fn rows_blend_as_in_the_plain_form(
            rows in prop::collection::vec((any::<i16>(), any::<i16>()), 0..140), weight in 0..=ONE
        ) {
            let (upper, lower): (Vec<i16>, Vec<i16>) = rows.into_iter().unzip();
            let (mut fast, mut plain) = (vec![0; upper.len()], vec![0; upper.len()]);
            blend_rows_plain(&upper, &lower, weight, &mut plain);
            for (_, token) in simd::each() {
                fast.fill(0);
                blend_rows(token, &upper, &lower, weight, &mut fast);
                prop_assert_eq!(&fast, &plain);
            }
        }
    }
}
