//! Where the device pixels of a row lie between the pixels of its source, and how vectors get both
//! neighbours of each out of a few loads.

use fearless_simd::Level;

use crate::simd::{block_shuffles, far_shuffles};

/// Weight of a whole source pixel; 14 bits keep the sums inside 32.
pub(super) const ONE: i32 = 1 << 14;

/// Device pixels of a step.
pub(super) const STEP: usize = 32;

/// Spare values after a source row, so that vector loads may run past it.
pub(super) const SPARE: usize = 32;

/// Where a run of device pixels lies between the source's pixels.
#[derive(Debug, Clone)]
pub(super) struct Across {
    /// Left source pixel of each device pixel.
    pub left: Vec<u32>,
    /// Weight of the pixel to its right, 0..=ONE.
    pub weight: Vec<i16>,
    /// The level that steps are made for.
    pub level: Level,
    /// The same for vectors, one for each whole [`STEP`].
    pub steps: Steps,
}

/// How vectors go about a row.
#[derive(Debug, Clone)]
pub(super) enum Steps {
    /// A step's pixels come out of one window of 32 source pixels.
    Whole(Vec<Step>),
    /// Each eight pixels of a step come out of a window of 8.
    Eights(Vec<Step>),
    /// Each four pixels of a step come out of a window of 8.
    Fours(Vec<Step>),
    /// Not at all: the level has no shuffles, or the source is more than twice as fine as the device.
    None,
}

/// How 32 device pixels get their coverage: each pair of neighbours is picked out of its window by a
/// shuffle of bytes and weighed by a multiplication that adds pairs.
#[derive(Debug, Clone)]
#[repr(align(64))]
pub(super) struct Step {
    /// Weights of the left and the right neighbours, by turns: of the first four pixels of each eight,
    /// then of the other four.
    pub weigh: [[i16; 32]; 2],
    /// Each left neighbour's first byte in its window, in the same order.
    pub pick: [[u8; 16]; 2],
    /// First source pixel of the first window.
    pub first: u32,
    /// Source pixel behind the last one that is looked at.
    pub end: u32,
    /// How far from the first the windows of each four pixels begin.
    pub next: [u8; STEP / 4],
}

impl Across {
    /// `out` device pixels over `source` source pixels, centres on centres, edges repeated.
    pub fn new(level: Level, source: usize, out: usize) -> Self {
        let (left, weight): (Vec<u32>, Vec<i16>) = (0..out)
            .map(|x| {
                let (left, weight) = between(x, source, out);
                (left as u32, weight as i16)
            })
            .unzip();
        let near = |count: usize, window: u32| left.chunks(count).all(|of| of[of.len() - 1] - of[0] < window - 1);
        let steps = |window: usize| {
            let steps = left.as_chunks::<STEP>().0.iter().zip(weight.as_chunks::<STEP>().0);
            steps.map(|(left, weight)| Step::new(left, weight, window)).collect()
        };
        let steps = if !block_shuffles(level) {
            Steps::None
        } else if far_shuffles(level) && near(STEP, 32) {
            Steps::Whole(steps(STEP))
        } else if near(8, 8) {
            Steps::Eights(steps(8))
        } else if near(4, 8) {
            Steps::Fours(steps(4))
        } else {
            Steps::None
        };
        // Blocks of 128 bits are put together faster by twos than by fours.
        #[cfg(target_arch = "x86_64")]
        let level = match &steps {
            Steps::Eights(_) | Steps::Fours(_) => level.as_avx2().map_or(level, fearless_simd::Simd::level),
            Steps::Whole(_) | Steps::None => level,
        };
        Self { left, weight, level, steps }
    }
}

impl Step {
    /// Windows begin at the left neighbour of every `window` device pixels.
    fn new(left: &[u32; STEP], weight: &[i16; STEP], window: usize) -> Self {
        let (first, end, next) = (left[0], left[STEP - 1] + 2, [0; STEP / 4]);
        let mut step = Self { weigh: [[0; 32]; 2], pick: [[0; 16]; 2], first, end, next };
        for (x, (&l, &w)) in left.iter().zip(weight).enumerate() {
            let (half, at) = (x / 4 % 2, x / 8 * 4 + x % 4);
            let first = left[x / window * window];
            step.next[x / 4] = (first - left[0]) as u8;
            step.pick[half][at] = 2 * (l - first) as u8;
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

/// `a` and `b` by weights that add up to ONE; exact where they are equal.
#[inline(always)]
pub(super) fn mix(a: i16, b: i16, weight: i32) -> i16 {
    ((i32::from(a) * (ONE - weight) + i32::from(b) * weight) >> 14) as i16
}
