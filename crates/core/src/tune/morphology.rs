//! Choke and spread: the least (or most) coverage within a round reach of every pixel. On soft
//! edges this moves each tone of the edge by the same distance and keeps its softness. Reaches
//! between whole pixels mix the two neighbouring ones, so that a reach in millimetres means the
//! same on a proxy.
//!
//! The disk is cut into its horizontal chords (as Urbach and Wilkinson, IEEE Transactions on Image
//! Processing 17, 2008): a row's running minimum is made once for every chord length, each from
//! the next shorter, and a pixel is the minimum over its rows. Minimum and maximum are the same
//! code: a spread is a choke of the inverted plane. Outside the plane nothing counts.

use rayon::prelude::*;

use crate::raster::{FULL, Plane};
use crate::{Cancelled, Progress};

/// Pulls edges back by `reach_px`.
pub fn choke(plane: &Plane<u16>, reach_px: f64, progress: &Progress) -> Result<Plane<u16>, Cancelled> {
    between(plane, reach_px, false, progress)
}

/// Pushes edges out by `reach_px`.
pub fn spread(plane: &Plane<u16>, reach_px: f64, progress: &Progress) -> Result<Plane<u16>, Cancelled> {
    between(plane, reach_px, true, progress)
}

fn between(plane: &Plane<u16>, reach_px: f64, most: bool, progress: &Progress) -> Result<Plane<u16>, Cancelled> {
    // A disk larger than the plane covers all of it from anywhere.
    let reach_px = reach_px.clamp(0.0, (plane.width() + plane.height()) as f64);
    let (whole, part) = (reach_px.floor(), reach_px.fract());
    let low = if whole == 0.0 { plane.clone() } else { disk(plane, whole as usize, most, progress)? };
    // Less than a thousandth of a pixel is rounding of millimetres.
    if part < 1e-3 {
        return Ok(low);
    }
    let high = disk(plane, whole as usize + 1, most, progress)?;
    let mut out = low;
    let weight = (part * 65_536.0).round() as i64;
    out.data_mut().par_iter_mut().zip(high.data()).with_min_len(1 << 14).for_each(|(low, &high)| {
        let (a, b) = (i64::from(*low), i64::from(high));
        *low = (a + (((b - a) * weight + 32_768) >> 16)) as u16;
    });
    Ok(out)
}

/// Half lengths of the disk's chords by distance from its middle row: pixels whose centres lie
/// within `radius`.
fn chords(radius: usize) -> Vec<usize> {
    (0..=radius).map(|dy| (radius * radius - dy * dy).isqrt()).collect()
}

/// Rows that are worked on together, so that running minima are made for few rows twice.
const STRIP: usize = 128;
/// Columns of a tile: its rows of running minima stay in the near caches.
const TILE: usize = 2048;

fn disk(plane: &Plane<u16>, radius: usize, most: bool, progress: &Progress) -> Result<Plane<u16>, Cancelled> {
    let (width, height) = (plane.width(), plane.height());
    let chords = chords(radius);
    // Distinct half lengths, shortest first, and which of them each row of the disk uses.
    let mut lengths = chords.clone();
    lengths.sort_unstable();
    lengths.dedup();
    let slot: Vec<usize> = chords.iter().map(|c| lengths.partition_point(|l| l < c)).collect();
    let mut out = Plane::filled(width, height, 0);
    let flip = if most { FULL } else { 0 };
    out.data_mut().par_chunks_mut(STRIP * width.max(1)).enumerate().try_for_each(|(at, rows)| {
        progress.step("choke and spread", (at * STRIP) as f32 / height as f32)?;
        let job = Strip { plane, top: at * STRIP, radius, lengths: &lengths, slot: &slot, flip };
        job.run(rows);
        Ok(())
    })?;
    Ok(out)
}

struct Strip<'a> {
    plane: &'a Plane<u16>,
    /// First row of the strip.
    top: usize,
    radius: usize,
    lengths: &'a [usize],
    slot: &'a [usize],
    /// Xored into every value before and after: turns minimum into maximum.
    flip: u16,
}

impl Strip<'_> {
    fn run(&self, out: &mut [u16]) {
        #[cfg(target_arch = "x86_64")]
        if std::arch::is_x86_feature_detected!("avx2") {
            #[expect(unsafe_code, reason = "the processor was asked for AVX2 in the line above")]
            // SAFETY: `run_avx2` is safe code that only needs the feature just detected.
            unsafe {
                self.run_avx2(out);
            }
            return;
        }
        self.run_on(out);
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2")]
    fn run_avx2(&self, out: &mut [u16]) {
        self.run_on(out);
    }

    /// Tile after tile. A ring of rows holds, for the last `2 radius + 1` rows of the plane, the
    /// running minimum of every chord length.
    #[inline(always)]
    fn run_on(&self, out: &mut [u16]) {
        let (width, height, radius) = (self.plane.width(), self.plane.height(), self.radius);
        let rows = out.len() / width;
        let ring_rows = 2 * radius + 1;
        let kinds = self.lengths.len();
        let tile = TILE.max(4 * radius).min(width);
        let mut ring = vec![FULL; ring_rows * kinds * tile];
        // One row of the tile with `radius` to spare on both sides, and a scratch row as long.
        let mut source = vec![FULL; tile + 2 * radius];
        let mut scratch = source.clone();
        for left in (0..width).step_by(tile) {
            let wide = tile.min(width - left);
            let mut next = self.top.saturating_sub(radius);
            for y in self.top..self.top + rows {
                while next <= (y + radius).min(height - 1) {
                    self.load(next, left, wide, &mut source);
                    let row = &mut ring[(next % ring_rows) * kinds * tile..][..kinds * tile];
                    running(&mut source, &mut scratch, radius, self.lengths, row, tile, wide);
                    next += 1;
                }
                let target = &mut out[(y - self.top) * width + left..][..wide];
                target.fill(FULL);
                for other in y.saturating_sub(radius)..=(y + radius).min(height - 1) {
                    let kind = self.slot[other.abs_diff(y)];
                    let row = &ring[((other % ring_rows) * kinds + kind) * tile..][..wide];
                    least(target, row);
                }
                if self.flip != 0 {
                    for v in target {
                        *v ^= self.flip;
                    }
                }
            }
        }
    }

    /// The part of row `y` from `left - radius` on into `source`; what lies outside is solid, so
    /// that it never is the least.
    #[inline(always)]
    fn load(&self, y: usize, left: usize, wide: usize, source: &mut [u16]) {
        let radius = self.radius;
        let row = self.plane.row(y);
        let from = left.saturating_sub(radius);
        let to = (left + wide + radius).min(row.len());
        let start = from + radius - left;
        source[..start].fill(FULL);
        for (to, &from) in source[start..].iter_mut().zip(&row[from..to]) {
            *to = from ^ self.flip;
        }
        source[start + to - from..].fill(FULL);
    }
}

/// `a = min(a, b)`, value by value.
#[inline(always)]
fn least(a: &mut [u16], b: &[u16]) {
    for (a, &b) in a.iter_mut().zip(b) {
        *a = (*a).min(b);
    }
}

/// Running minima of every half length into `out`, `tile` apart. `window[i]` is kept as the least
/// of a growing span of `source` that begins at `i`; a chord of half length `h` begins at
/// `radius - h`. `source` is used up.
#[inline(always)]
fn running(
    window: &mut Vec<u16>,
    scratch: &mut Vec<u16>,
    radius: usize,
    lengths: &[usize],
    out: &mut [u16],
    tile: usize,
    wide: usize,
) {
    let mut span = 1;
    for (kind, &half) in lengths.iter().enumerate() {
        let wanted = 2 * half + 1;
        while span < wanted {
            // Two spans that overlap make a longer one.
            let shift = span.min(wanted - span);
            let n = window.len() - shift;
            for ((to, &a), &b) in scratch[..n].iter_mut().zip(&window[..n]).zip(&window[shift..]) {
                *to = a.min(b);
            }
            scratch[n..].copy_from_slice(&window[n..]);
            std::mem::swap(window, scratch);
            span += shift;
        }
        out[kind * tile..][..wide].copy_from_slice(&window[radius - half..][..wide]);
    }
}

/// The same, plainly: for every pixel a look at every pixel of the disk. The fast one is tested
/// against it.
#[cfg(test)]
fn plain(plane: &Plane<u16>, radius: usize, most: bool) -> Plane<u16> {
    let (w, h, r) = (plane.width() as i64, plane.height() as i64, radius as i64);
    Plane::from_fn(plane.width(), plane.height(), |x, y| {
        let mut best = if most { 0 } else { FULL };
        for dy in -r..=r {
            for dx in -r..=r {
                let (sx, sy) = (x as i64 + dx, y as i64 + dy);
                if dx * dx + dy * dy > r * r || !(0..w).contains(&sx) || !(0..h).contains(&sy) {
                    continue;
                }
                let v = plane.get(sx as usize, sy as usize);
                best = if most { best.max(v) } else { best.min(v) };
            }
        }
        best
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn noise(w: usize, h: usize, seed: u64) -> Plane<u16> {
        Plane::from_fn(w, h, |x, y| {
            let mut v = seed ^ (x as u64) << 32 ^ y as u64;
            v = (v ^ v >> 33).wrapping_mul(0xff51_afd7_ed55_8ccd);
            (v ^ v >> 29) as u16
        })
    }

    #[test]
    fn fast_equals_plain_at_every_size_and_radius() {
        let none = Progress::none();
        for (w, h, seed) in [(1, 1, 1), (7, 300, 2), (301, 5, 3), (64, 64, 4)] {
            let plane = noise(w, h, seed);
            for radius in [1, 2, 3, 5, 8, 13] {
                for most in [false, true] {
                    assert_eq!(disk(&plane, radius, most, &none).unwrap(), plain(&plane, radius, most), "{w} {radius}");
                }
            }
        }
        let wide = noise(2 * TILE + 37, 9, 5);
        assert_eq!(disk(&wide, 3, false, &none).unwrap(), plain(&wide, 3, false));
    }

    #[test]
    fn a_reach_between_pixels_lies_between() {
        let plane = noise(40, 40, 9);
        let none = Progress::none();
        let at = |r| choke(&plane, r, &none).unwrap();
        let (low, mid, high) = (at(2.0), at(2.5), at(3.0));
        for ((l, m), h) in low.data().iter().zip(mid.data()).zip(high.data()) {
            assert!(h <= m && m <= l);
            assert!((i32::from(*m) * 2 - i32::from(*l) - i32::from(*h)).abs() <= 1);
        }
        assert_eq!(at(0.0), plane);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn choke_then_spread_adds_no_ink_beyond_the_reach(
            seed: u64, w in 1usize..40, h in 1usize..40, reach in 0.0f64..6.0, ink in 0u16..
        ) {
            let plane = noise(w, h, seed).map(|v| if v > ink { FULL } else { 0 });
            let none = Progress::none();
            let there = choke(&plane, reach, &none).unwrap();
            let back = spread(&there, reach, &none).unwrap();
            // Whole reach: an opening, which never exceeds the original at all. Between two
            // pixels: never beyond the larger of the two reaches.
            let whole = reach.floor();
            let opened = spread(&choke(&plane, whole, &none).unwrap(), whole, &none).unwrap();
            let near = plain(&plane, reach.ceil() as usize, true);
            for i in 0..w * h {
                prop_assert!(opened.data()[i] <= plane.data()[i]);
                prop_assert!(back.data()[i] == 0 || near.data()[i] > 0);
                prop_assert!(there.data()[i] <= plane.data()[i]);
            }
        }
    }
}
