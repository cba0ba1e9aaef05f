//! The inner loops of a halftone row: coverage between the source's pixels, and its comparison
//! with the thresholds. This is the plain form and the definition; a vector form of the same
//! integers stands in its own file and is tested against it.

use super::grid::{DotGrid, RUN};

/// Weight of a whole source pixel; 14 bits keep the sums inside 32.
pub(super) const ONE: i32 = 1 << 14;

/// Where a run of device pixels lies between the source's pixels.
#[derive(Debug, Clone)]
pub(super) struct Across {
    /// Left source pixel of each device pixel.
    pub left: Vec<u32>,
    /// Weight of the pixel to its right, 0..=ONE.
    pub weight: Vec<i16>,
    /// The same for the vector form, one for each whole 16 device pixels.
    pub steps: Vec<Step>,
    /// Device pixels that look into one window of 8 source pixels: 8, or 4 where the source is nearly as
    /// fine as the device. None where it is finer still, and the plain form is used.
    pub window: Option<usize>,
}

/// How 16 device pixels get their coverage: each pair of neighbours is picked out of a window of 8 source
/// pixels by a shuffle of bytes and weighed by a multiplication that adds pairs. Two halves of 8 pixels,
/// in the order in which packing joins them: 0..4 and 8..12, then 4..8 and 12..16.
#[derive(Debug, Clone)]
#[repr(align(64))]
pub(super) struct Step {
    pub pick: [[u8; 32]; 2],
    pub weigh: [[i16; 16]; 2],
}

impl Across {
    /// `out` device pixels over `source` source pixels, centres on centres, edges repeated.
    pub fn new(source: usize, out: usize) -> Self {
        let mut left = Vec::with_capacity(out);
        let mut weight = Vec::with_capacity(out);
        for x in 0..out {
            let (l, w) = between(x, source, out);
            left.push(l as u32);
            weight.push(w as i16);
        }
        let near = |window: &usize| left.chunks(*window).all(|of| of[of.len() - 1] - of[0] < 7);
        let window = [8, 4].into_iter().find(near);
        let steps = window.map_or_else(Vec::new, |window| {
            let sixteens = left.chunks_exact(16).zip(weight.chunks_exact(16));
            sixteens.map(|(left, weight)| Step::new(left, weight, window)).collect()
        });
        Self { left, weight, steps, window }
    }
}

impl Step {
    fn new(left: &[u32], weight: &[i16], window: usize) -> Self {
        let mut step = Self { pick: [[0; 32]; 2], weigh: [[0; 16]; 2] };
        for (x, (&l, &w)) in left.iter().zip(weight).enumerate() {
            let (half, at) = (x / 4 % 2, x / 8 * 4 + x % 4);
            let first = 2 * (l - left[x / window * window]) as u8;
            for (byte, pick) in step.pick[half][4 * at..4 * at + 4].iter_mut().enumerate() {
                *pick = first + byte as u8;
            }
            step.weigh[half][2 * at] = ONE as i16 - w;
            step.weigh[half][2 * at + 1] = w;
        }
        step
    }
}

/// The left (upper) source pixel under a device pixel and the weight of the next one.
pub(super) fn between(x: usize, source: usize, out: usize) -> (usize, i32) {
    // (x + 1/2) * source / out - 1/2 in exact integers.
    let twice = (2 * x as i64 + 1) * source as i64 - out as i64;
    let unit = 2 * out as i64;
    let whole = twice.div_euclid(unit);
    if whole < 0 {
        return (0, 0);
    }
    if whole as usize >= source - 1 {
        return (source - 1, 0);
    }
    (whole as usize, (twice.rem_euclid(unit) * i64::from(ONE) / unit) as i32)
}

/// A row between two source rows by the fastest way this machine has: `weight` of ONE belongs to
/// `lower`. Signed coverage.
pub(super) fn blend_rows(upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) {
    #[cfg(target_arch = "x86_64")]
    if super::kernel_avx2::blend_rows(upper, lower, weight, out) {
        return;
    }
    blend_rows_plain(upper, lower, weight, out);
}

/// The same, plainly.
pub(super) fn blend_rows_plain(upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) {
    for ((out, &a), &b) in out.iter_mut().zip(upper).zip(lower) {
        *out = mix(a, b, weight);
    }
}

/// `a` and `b` by weights that add up to ONE; exact where they are equal.
#[inline(always)]
pub(super) fn mix(a: i16, b: i16, weight: i32) -> i16 {
    ((i32::from(a) * (ONE - weight) + i32::from(b) * weight) >> 14) as i16
}

/// Screens one row by the fastest way this machine has. `source` is signed coverage with
/// [`SPARE`] spare values at its end.
pub(super) fn screen_row(grid: &DotGrid, y: usize, source: &[i16], across: &Across, out: &mut [u64]) {
    #[cfg(target_arch = "x86_64")]
    if super::kernel_avx2::screen_row(grid, y, source, across, out) {
        return;
    }
    screen_row_plain(grid, y, source, across, out);
}

/// Spare values after a source row, so that vector loads may run past it.
pub(super) const SPARE: usize = 32;

/// Screens one row, the plain form.
pub(super) fn screen_row_plain(grid: &DotGrid, y: usize, source: &[i16], across: &Across, out: &mut [u64]) {
    let bank = grid.bank();
    let mut phase = grid.row_phase(y);
    out.fill(0);
    for (run, (lefts, weights)) in across.left.chunks(RUN).zip(across.weight.chunks(RUN)).enumerate() {
        let thresholds = &bank[phase.next_run()..][..RUN];
        let mut bits = 0u64;
        for (x, (&left, &weight)) in lefts.iter().zip(weights).enumerate() {
            let left = left as usize;
            let coverage = mix(source[left], source[left + 1], i32::from(weight));
            bits |= u64::from(coverage > thresholds[x]) << x;
        }
        out[run * RUN / 64] |= bits << (run * RUN % 64);
    }
}
