//! The inner loops of a halftone row: coverage between the source's pixels, and its comparison
//! with the thresholds. This is the plain form and the definition; vector forms of the same
//! integers stand in files of their own and are tested against it.

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
    /// The same for 32 device pixels at a time. None where a run of them looks at more than 32 pixels of
    /// the source.
    pub steps32: Option<Vec<Step32>>,
}

/// How 32 device pixels get their coverage out of a window of 32 source pixels.
#[derive(Debug, Clone)]
#[repr(align(32))]
pub(super) struct Step32 {
    /// Weight of each right neighbour.
    pub weight: [i16; 32],
    /// Left neighbour of each, counted from the window's first.
    pub pick: [u8; 32],
    /// First source pixel of the window.
    pub first: u32,
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
        let thirty_twos = left.chunks_exact(32).zip(weight.chunks_exact(32));
        let steps32 = thirty_twos.map(|(left, weight)| Step32::new(left, weight)).collect();
        Self { left, weight, steps, window, steps32 }
    }
}

impl Step32 {
    fn new(left: &[u32], weight: &[i16]) -> Option<Self> {
        let first = left[0];
        if left[31] - first > 30 {
            return None;
        }
        let pick = std::array::from_fn(|x| (left[x] - first) as u8);
        Some(Self { weight: std::array::from_fn(|x| weight[x]), pick, first })
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
    if super::kernel_avx512::blend_rows(upper, lower, weight, out)
        || super::kernel_avx2::blend_rows(upper, lower, weight, out)
    {
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
    let done = super::kernel_avx512::screen_words(grid, y, source, across, out)
        .or_else(|| super::kernel_avx2::screen_words(grid, y, source, across, out))
        .unwrap_or(0);
    #[cfg(not(target_arch = "x86_64"))]
    let done = 0;
    screen_plainly(grid, y, source, across, done, out);
}

/// Spare values after a source row, so that vector loads may run past it.
pub(super) const SPARE: usize = 32;

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
    use super::*;
    use crate::halftone::{Cell, DeviceGrid, DotShape};
    use crate::units::{Degrees, Dpi, Lpi};
    use proptest::prelude::*;

    /// The vector forms; each says itself that it did nothing where the machine lacks it.
    #[cfg(target_arch = "x86_64")]
    mod forms {
        use super::super::super::{kernel_avx2, kernel_avx512};
        use super::*;

        type Screen = fn(&DotGrid, usize, &[i16], &Across, &mut [u64]) -> Option<usize>;
        type Blend = fn(&[i16], &[i16], i32, &mut [i16]) -> bool;
        pub const SCREEN: [(&str, Screen); 2] =
            [("avx2", kernel_avx2::screen_words), ("avx512", kernel_avx512::screen_words)];
        pub const BLEND: [Blend; 2] = [kernel_avx2::blend_rows, kernel_avx512::blend_rows];
    }

    #[test]
    fn rows_follow_the_definition_in_every_form() {
        let device = DeviceGrid::square(Dpi::new(720.0).unwrap());
        let cell = Cell::new(&DotShape::Euclidean);
        // Turned, loosened, and of whole cells.
        let grids = [(55.0, 37.0), (55.0, 45.0), (60.0, 90.0)].map(|(lpi, degrees)| {
            DotGrid::of_cell(device, Lpi::new(lpi).unwrap(), Degrees::new(degrees).unwrap(), &cell)
        });
        let mut seed = 1u32;
        for (source_px, out_px) in [(300, 720), (97, 1001), (500, 500), (3, 130), (1, 64), (640, 700), (700, 640)] {
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
            let words = out_px.div_ceil(64);
            let (mut plain, mut fast) = (vec![0; words], vec![0; words]);
            for (grid, y) in grids.iter().flat_map(|grid| (0..40).map(move |y| (grid, y))) {
                screen_plainly(grid, y, &source, &across, 0, &mut plain);
                for x in (0..out_px).step_by(7) {
                    let left = across.left[x] as usize;
                    let coverage = mix(source[left], source[left + 1], i32::from(across.weight[x]));
                    let ink = i32::from(coverage) + 32_768 > i32::from(grid.threshold(x, y));
                    assert_eq!(plain[x / 64] >> (x % 64) & 1 == 1, ink, "{x} {y}");
                }
                screen_row(grid, y, &source, &across, &mut fast);
                assert_eq!(fast, plain, "{source_px} {out_px} {y}");
                #[cfg(target_arch = "x86_64")]
                for (name, form) in forms::SCREEN {
                    fast.fill(0);
                    if let Some(done) = form(grid, y, &source, &across, &mut fast) {
                        assert_eq!(done, out_px / 64);
                        assert_eq!(fast[..done], plain[..done], "{name} {source_px} {out_px} {y}");
                    }
                }
            }
        }
    }

    #[test]
    fn vector_forms_are_used_where_the_machine_has_them() {
        #[cfg(target_arch = "x86_64")]
        {
            let device = DeviceGrid::square(Dpi::new(720.0).unwrap());
            let grid = DotGrid::new(device, Lpi::new(55.0).unwrap(), Degrees::new(22.5).unwrap(), &DotShape::Round);
            let (source, across, mut out) = (vec![0; 300 + SPARE], Across::new(300, 720), vec![0; 12]);
            let found = [
                is_x86_feature_detected!("avx2"),
                is_x86_feature_detected!("avx512f") && is_x86_feature_detected!("avx512bw"),
            ];
            for ((name, form), found) in forms::SCREEN.into_iter().zip(found) {
                assert_eq!(form(&grid, 0, &source, &across, &mut out).is_some(), found, "{name}");
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
            blend_rows(&upper, &lower, weight, &mut fast);
            prop_assert_eq!(&fast, &plain);
            #[cfg(target_arch = "x86_64")]
            for form in forms::BLEND {
                fast.fill(0);
                if form(&upper, &lower, weight, &mut fast) {
                    prop_assert_eq!(&fast, &plain);
                }
            }
        }
    }
}
