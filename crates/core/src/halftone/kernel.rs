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
    /// For each 8 device pixels, where in the 16 bytes after the first one's left pixel each
    /// finds its own; empty where the source is too fine for that.
    pub shuffles: Vec<[u8; 16]>,
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
        let near = |eight: &[u32]| eight[eight.len() - 1] - eight[0] < 8;
        let shuffles = if left.chunks(8).all(near) {
            (left.chunks(8))
                .map(|eight| {
                    let mut bytes = [0u8; 16];
                    for (k, &l) in eight.iter().enumerate() {
                        bytes[2 * k] = (2 * (l - eight[0])) as u8;
                        bytes[2 * k + 1] = bytes[2 * k] + 1;
                    }
                    bytes
                })
                .collect()
        } else {
            Vec::new()
        };
        Self { left, weight, shuffles }
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

/// A row between two source rows: `weight` of ONE belongs to `lower`. Signed coverage.
pub(super) fn blend_rows(upper: &[i16], lower: &[i16], weight: i32, out: &mut [i16]) {
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
