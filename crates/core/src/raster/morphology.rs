//! Choke and spread: the least (or most) coverage within a round reach of every pixel. On soft
//! edges this moves each tone of the edge by the same distance and keeps its softness. Reaches
//! between whole pixels mix the two neighbouring ones, so that a reach in millimetres means the
//! same on a proxy.
//!
//! The disk is cut into its horizontal chords (as Urbach and Wilkinson, IEEE Transactions on Image
//! Processing 17, 2008): a row's running minimum is made once for every chord length, each from
//! the next shorter, and a pixel is the minimum over its rows. Minimum and maximum are the same
//! code: a spread is a choke of the inverted plane. Outside the plane nothing counts, but where the
//! border is said to be an edge.

use rayon::prelude::*;

use super::{FULL, Plane};
use crate::simd::{self, run};
use crate::{Cancelled, Progress};

/// Pulls edges back by `reach_px`, in place. A cancelled plane is left half done.
pub fn choke_in_place(plane: &mut Plane<u16>, reach_px: f64, progress: &Progress) -> Result<(), Cancelled> {
    between(plane, reach_px, false, Border::Open, progress)
}

/// Pushes edges out by `reach_px`, in place. A cancelled plane is left half done.
pub fn spread_in_place(plane: &mut Plane<u16>, reach_px: f64, progress: &Progress) -> Result<(), Cancelled> {
    between(plane, reach_px, true, Border::Open, progress)
}

/// Pulls edges back by `reach_px`, in place, the plane's border among them: beyond it there is no
/// ink. A cancelled plane is left half done.
pub fn choke_from_border_in_place(plane: &mut Plane<u16>, reach_px: f64, progress: &Progress) -> Result<(), Cancelled> {
    between(plane, reach_px, false, Border::Edge, progress)
}

/// A copy with edges pulled back by `reach_px`.
pub fn choke(plane: &Plane<u16>, reach_px: f64, progress: &Progress) -> Result<Plane<u16>, Cancelled> {
    let mut out = plane.clone();
    choke_in_place(&mut out, reach_px, progress)?;
    Ok(out)
}

/// A copy with edges pushed out by `reach_px`.
pub fn spread(plane: &Plane<u16>, reach_px: f64, progress: &Progress) -> Result<Plane<u16>, Cancelled> {
    let mut out = plane.clone();
    spread_in_place(&mut out, reach_px, progress)?;
    Ok(out)
}

/// What the border of a plane is.
#[derive(Clone, Copy, PartialEq)]
enum Border {
    /// Nothing is known beyond it, and nothing counts.
    Open,
    /// Beyond it there is no ink.
    Edge,
}

fn between(
    plane: &mut Plane<u16>,
    reach_px: f64,
    most: bool,
    border: Border,
    progress: &Progress,
) -> Result<(), Cancelled> {
    // A disk larger than the plane covers all of it from anywhere.
    let reach_px = reach_px.clamp(0.0, (plane.width() + plane.height()) as f64);
    let (whole, part) = (reach_px.floor(), reach_px.fract());
    // Less than a thousandth of a pixel is rounding of millimetres.
    let mut high = None;
    if part >= 1e-3 {
        let mut next = plane.clone();
        disk(&mut next, whole as usize + 1, most, progress)?;
        if border == Border::Edge {
            clear_border(&mut next, whole as usize + 1);
        }
        high = Some(next);
    }
    if whole > 0.0 {
        disk(plane, whole as usize, most, progress)?;
        if border == Border::Edge {
            clear_border(plane, whole as usize);
        }
    }
    let Some(high) = high else { return Ok(()) };
    let weight = (part * 65_536.0).round() as i64;
    plane.data_mut().par_iter_mut().zip(high.data()).with_min_len(1 << 14).for_each(|(low, &high)| {
        let (a, b) = (i64::from(*low), i64::from(high));
        *low = (a + (((b - a) * weight + 32_768) >> 16)) as u16;
    });
    Ok(())
}

/// No ink within `reach` whole pixels of the border: a disk there reaches beyond it.
fn clear_border(plane: &mut Plane<u16>, reach: usize) {
    let (width, height) = (plane.width(), plane.height());
    for y in 0..height {
        let row = plane.row_mut(y);
        if y < reach || y + reach >= height || 2 * reach >= width {
            row.fill(0);
        } else {
            row[..reach].fill(0);
            row[width - reach..].fill(0);
        }
    }
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

/// In place, so that no fresh memory is touched: a strip first sets the rows around it aside.
fn disk(plane: &mut Plane<u16>, radius: usize, most: bool, progress: &Progress) -> Result<(), Cancelled> {
    let (width, height) = (plane.width(), plane.height());
    if width == 0 || height == 0 {
        return Ok(());
    }
    let chords = chords(radius);
    // Distinct half lengths, shortest first, and which of them each row of the disk uses.
    let mut lengths = chords.clone();
    lengths.sort_unstable();
    lengths.dedup();
    let slot: Vec<usize> = chords.iter().map(|c| lengths.partition_point(|l| l < c)).collect();
    // What is set aside is at most half of the plane.
    let strip = STRIP.max(4 * radius).min(height);
    let around: Vec<[Vec<u16>; 2]> = (0..height)
        .step_by(strip)
        .map(|top| {
            let bottom = (top + strip).min(height);
            let rows = |from: usize, to: usize| plane.data()[from * width..to * width].to_vec();
            [rows(top.saturating_sub(radius), top), rows(bottom, (bottom + radius).min(height))]
        })
        .collect();
    let flip = if most { FULL } else { 0 };
    plane.data_mut().par_chunks_mut(strip * width).zip(&around).enumerate().try_for_each(|(at, (rows, around))| {
        progress.step("choke and spread", (at * strip) as f32 / height as f32)?;
        let [above, below] = around;
        Strip { width, radius, lengths: &lengths, slot: &slot, flip, above, below }.run(rows);
        Ok(())
    })
}

struct Strip<'a> {
    width: usize,
    radius: usize,
    lengths: &'a [usize],
    slot: &'a [usize],
    /// Xored into every value before and after: turns minimum into maximum.
    flip: u16,
    /// The rows above the strip as they were, at most `radius`; fewer at the plane's edge.
    above: &'a [u16],
    /// The rows below it.
    below: &'a [u16],
}

impl Strip<'_> {
    fn run(&self, rows: &mut [u16]) {
        run!(simd::level() => self.run_on(rows));
    }

    /// Tile after tile. Rows are numbered from the first one above the strip. A ring of rows holds,
    /// for the last `2 radius + 1` of them, the running minimum of every chord length; a row of the
    /// strip is written when the ring has all that is around it.
    #[inline(always)]
    fn run_on(&self, rows: &mut [u16]) {
        let (width, radius) = (self.width, self.radius);
        let (over, own) = (self.above.len() / width, rows.len() / width);
        let all = over + own + self.below.len() / width;
        let ring_rows = 2 * radius + 1;
        let kinds = self.lengths.len();
        let tile = TILE.max(4 * radius).min(width);
        let mut ring = vec![FULL; ring_rows * kinds * tile];
        // One row of the tile with `radius` to spare on both sides, and a scratch row as long.
        let mut source = vec![FULL; tile + 2 * radius];
        let mut scratch = source.clone();
        // The columns left of the tile as they were, for every row of the strip, and those that the
        // next tile will want.
        let mut left_of = vec![FULL; own * radius];
        let mut right_end = left_of.clone();
        let mut offsets = Vec::with_capacity(ring_rows);
        for left in (0..width).step_by(tile) {
            let wide = tile.min(width - left);
            let mut next = 0;
            for y in over..over + own {
                while next <= (y + radius).min(all - 1) {
                    let row = if next < over {
                        &self.above[next * width..][..width]
                    } else if next < over + own {
                        &rows[(next - over) * width..][..width]
                    } else {
                        &self.below[(next - over - own) * width..][..width]
                    };
                    load(row, left, wide, radius, &mut source);
                    if (over..over + own).contains(&next) {
                        let kept = (next - over) * radius..(next - over + 1) * radius;
                        if left > 0 {
                            source[..radius].copy_from_slice(&left_of[kept.clone()]);
                        }
                        if left + wide < width {
                            right_end[kept].copy_from_slice(&row[left + wide - radius..left + wide]);
                        }
                    }
                    if self.flip != 0 {
                        turn(
                            &mut source[radius - left.min(radius)..(radius + wide + radius).min(radius + width - left)],
                        );
                    }
                    let place = &mut ring[(next % ring_rows) * kinds * tile..][..kinds * tile];
                    running(&mut source, &mut scratch, radius, self.lengths, place, tile, wide);
                    next += 1;
                }
                offsets.clear();
                for other in y.saturating_sub(radius)..=(y + radius).min(all - 1) {
                    offsets.push(((other % ring_rows) * kinds + self.slot[other.abs_diff(y)]) * tile);
                }
                let target = &mut rows[(y - over) * width + left..][..wide];
                for (at, group) in offsets.chunks(4).enumerate() {
                    let row = |i: usize| &ring[group[i.min(group.len() - 1)]..][..wide];
                    least(target, at > 0, [row(0), row(1), row(2), row(3)]);
                }
                if self.flip != 0 {
                    turn(target);
                }
            }
            std::mem::swap(&mut left_of, &mut right_end);
        }
    }
}

/// The part of a row from `left - radius` on into `source`; what lies outside is solid, so that it
/// never is the least.
#[inline(always)]
fn load(row: &[u16], left: usize, wide: usize, radius: usize, source: &mut [u16]) {
    let from = left.saturating_sub(radius);
    let to = (left + wide + radius).min(row.len());
    let start = from + radius - left;
    source[..start].fill(FULL);
    source[start..start + to - from].copy_from_slice(&row[from..to]);
    source[start + to - from..].fill(FULL);
}

/// Turns values round, so that the most becomes the least.
#[inline(always)]
fn turn(values: &mut [u16]) {
    for v in values {
        *v ^= FULL;
    }
}

/// The least of four rows, and of what is there already if `with_old`.
#[inline(always)]
fn least(target: &mut [u16], with_old: bool, [a, b, c, d]: [&[u16]; 4]) {
    let rows = a.iter().zip(b).zip(c.iter().zip(d));
    if with_old {
        for (to, ((&a, &b), (&c, &d))) in target.iter_mut().zip(rows) {
            *to = (*to).min(a.min(b).min(c.min(d)));
        }
    } else {
        for (to, ((&a, &b), (&c, &d))) in target.iter_mut().zip(rows) {
            *to = a.min(b).min(c.min(d));
        }
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
        let full = 2 * half + 1;
        while span < full {
            // Two spans that overlap make a longer one.
            let shift = span.min(full - span);
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
                    let mut made = plane.clone();
                    disk(&mut made, radius, most, &none).unwrap();
                    assert_eq!(made, plain(&plane, radius, most), "{w} {radius}");
                }
            }
        }
        for (w, h) in [(2 * TILE + 37, 9), (TILE + 2, 2 * STRIP + 7)] {
            let wide = noise(w, h, 5);
            for most in [false, true] {
                let mut made = wide.clone();
                disk(&mut made, 3, most, &none).unwrap();
                assert_eq!(made, plain(&wide, 3, most), "{w} x {h}");
            }
        }
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

    #[test]
    fn a_border_that_is_an_edge_is_pulled_back_like_any_other() {
        // The plane with a clear frame around it, choked as it is, and the frame taken away.
        let none = Progress::none();
        let plane = noise(30, 20, 6);
        for reach in [1.0, 2.5, 4.0, 9.0, 40.0] {
            let frame = (reach as usize + 2).min(20);
            let inside = |x: usize, y: usize| (frame..frame + 30).contains(&x) && (frame..frame + 20).contains(&y);
            let framed = Plane::from_fn(30 + 2 * frame, 20 + 2 * frame, |x, y| {
                if inside(x, y) { plane.get(x - frame, y - frame) } else { 0 }
            });
            let want = choke(&framed, reach, &none).unwrap();
            let mut made = plane.clone();
            choke_from_border_in_place(&mut made, reach, &none).unwrap();
            assert_eq!(made, Plane::from_fn(30, 20, |x, y| want.get(x + frame, y + frame)), "reach {reach}");
        }
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
