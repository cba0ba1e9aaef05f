//! A tile of the print, looked at for the fringe that a shifted screen shows.

use super::Survey;
use super::register::{Altered, COLOR_COUNTS, GLARES, NARROW_MM, SHOWS, TILE_BLOCKS};
use crate::color::{Lab, lab_from_linear};
use crate::raster::{Plane, choke, spread};
use crate::units::MM_PER_INCH;
use crate::{Cancelled, Progress};

/// Fringe of one screen in one tile at one shift.
#[derive(Default)]
pub(super) struct TileFringe {
    /// Lines of fringe across the shift, in pixels of length, by direction: left, right, up, down.
    pub length_px: [f64; 4],
    /// Pixels of them.
    pub pixels: [u64; 4],
    /// Those that glare.
    pub glaring: [u64; 4],
    pub strongest: f32,
    pub blocks: Vec<(usize, usize)>,
}

/// Pixels that a shift may have. What is around a tile, and what a fringe is compared with, are squares of
/// the shift: a longer one is looked at on coarser pixels, on which it is as wide as this.
const MOST_SHIFT_PX: f64 = 16.0;

/// The pixels that tiles are looked at with.
#[derive(Clone, Copy)]
pub(super) struct Scale {
    /// Pixels of the print along a side of one of them.
    by: usize,
    /// Their side in mm.
    pub px_mm: f64,
}

impl Scale {
    pub fn of(ppi: f64, most_mm: f64) -> Self {
        let by = (most_mm / MM_PER_INCH * ppi / MOST_SHIFT_PX).ceil().max(1.0);
        Self { by: by as usize, px_mm: by * MM_PER_INCH / ppi }
    }
}

/// A tile of the print with as much around it as the largest shift reaches. All its pixels are those of its scale.
pub(super) struct Tile {
    scale: Scale,
    /// Place of its first pixel in the print, which may lie outside.
    from: (i64, i64),
    /// Pixels of the tile itself, and around it.
    side: usize,
    reach: usize,
    /// Coverages of every screen, pixel by pixel.
    coverage: Vec<Vec<f32>>,
    /// Colours as meant.
    meant: Vec<Lab>,
}

impl Tile {
    pub fn new(
        s: &Survey<'_>,
        (bx, by): (usize, usize),
        scale: Scale,
        most_px: f64,
        alter: Option<Altered>,
    ) -> Result<Self, Cancelled> {
        let side = (TILE_BLOCKS * s.block).div_ceil(scale.by);
        let reach = most_px.ceil() as usize + 1;
        let first = |block: usize| (block * s.block / scale.by) as i64 - reach as i64;
        let from = (first(bx), first(by));
        let wide = side + 2 * reach;
        let mut coverage = Vec::with_capacity(s.len());
        for (at, screen) in s.screens.list.iter().enumerate() {
            let plane = match alter.filter(|alter| alter.screen == at) {
                None => window(&screen.coverage, from, wide, scale.by),
                Some(Altered { by_mm, .. }) => {
                    let by_px = by_mm / scale.px_mm;
                    let far = by_px.abs().ceil() as usize + 1;
                    let around =
                        window(&screen.coverage, (from.0 - far as i64, from.1 - far as i64), wide + 2 * far, scale.by);
                    let quiet = Progress::none();
                    let moved =
                        if by_px < 0.0 { choke(&around, -by_px, &quiet)? } else { spread(&around, by_px, &quiet)? };
                    window(&moved, (far as i64, far as i64), wide, 1)
                }
            };
            coverage.push(plane.data().iter().map(|&v| f32::from(v) / 65535.0).collect());
        }
        let mut a = vec![0.0f32; s.len()];
        let meant = (0..wide * wide)
            .map(|at| {
                for (a, plane) in a.iter_mut().zip(&coverage) {
                    let plane: &Vec<f32> = plane;
                    *a = plane[at];
                }
                lab_from_linear(s.optics.reflectance(&a))
            })
            .collect();
        Ok(Self { scale, from, side, reach, coverage, meant })
    }

    pub fn fringe(&self, s: &Survey<'_>, screen: usize, shift_px: f64) -> TileFringe {
        let (wide, reach) = (self.side + 2 * self.reach, self.reach);
        // Only what prints; outside there is nothing to see.
        let printed = |side: usize| side.div_ceil(self.scale.by) as i64;
        let across = (printed(s.screens.width) - self.from.0).clamp(0, (wide - reach) as i64) as usize;
        let down = (printed(s.screens.height) - self.from.1).clamp(0, (wide - reach) as i64) as usize;
        let (whole, part) = (shift_px.floor() as usize, shift_px.fract() as f32);
        let own = &self.coverage[screen];
        let narrow = NARROW_MM / self.scale.px_mm;
        let mut out = TileFringe::default();
        let mut a = vec![0.0f32; self.coverage.len()];
        // Lengths of the runs that end at the last pixel looked at: one for rows, one a column.
        for (direction, step) in [1i64, -1, wide as i64, -(wide as i64)].into_iter().enumerate() {
            let mut runs = vec![0u32; wide];
            let (mut length_px, mut pixels) = (0.0, 0);
            let mut end = |run: &mut u32| {
                if *run > 0 {
                    length_px += (f64::from(*run) / narrow).min(1.0);
                    pixels += u64::from(*run);
                    *run = 0;
                }
            };
            for y in reach..down {
                for x in reach..across {
                    let here = y * wide + x;
                    let run = &mut runs[if direction < 2 { 0 } else { x }];
                    let source = (here as i64 + step * whole as i64) as usize;
                    let moved = own[source] + part * (own[(source as i64 + step) as usize] - own[source]);
                    let seen = if (moved - own[here]).abs() < 0.10 {
                        0.0
                    } else {
                        a.iter_mut().zip(&self.coverage).for_each(|(a, plane)| *a = plane[here]);
                        a[screen] = moved;
                        self.beyond(here, lab_from_linear(s.optics.reflectance(&a)), shift_px.ceil() as usize + 1)
                    };
                    if seen < SHOWS {
                        end(run);
                        continue;
                    }
                    *run += 1;
                    out.strongest = out.strongest.max(seen);
                    out.glaring[direction] += u64::from(seen >= GLARES);
                    let at = |from: i64, px: usize| (from + px as i64) as usize * self.scale.by / s.block;
                    let (last_x, last_y) = (s.small[0].width() - 1, s.small[0].height() - 1);
                    let block = (at(self.from.0, x).min(last_x), at(self.from.1, y).min(last_y));
                    if out.blocks.last() != Some(&block) {
                        out.blocks.push(block);
                    }
                }
                if direction < 2 {
                    end(&mut runs[0]);
                }
            }
            runs.iter_mut().for_each(&mut end);
            out.length_px[direction] = length_px;
            out.pixels[direction] = pixels;
        }
        out
    }

    /// How far a colour lies beyond everything within `near` pixels of a place in the print as
    /// meant: in lightness, and a fifth of the distance in a* and b*.
    fn beyond(&self, here: usize, shown: Lab, near: usize) -> f32 {
        let wide = self.side + 2 * self.reach;
        let (mut darkest, mut lightest, mut nearest) = (f32::INFINITY, f32::NEG_INFINITY, f32::INFINITY);
        let mut beyond = f32::INFINITY;
        // From the row itself outwards: what is meant nearby mostly settles it at once.
        for v in 0..=2 * near {
            let rows = v.div_ceil(2) * wide;
            let middle = if v % 2 == 0 { here + rows } else { here - rows };
            for other in &self.meant[middle - near..=middle + near] {
                darkest = darkest.min(other.l);
                lightest = lightest.max(other.l);
                nearest = nearest.min((other.a - shown.a).powi(2) + (other.b - shown.b).powi(2));
            }
            beyond = (darkest - shown.l).max(shown.l - lightest).max(0.0).hypot(COLOR_COUNTS * nearest.sqrt());
            if beyond < SHOWS {
                break;
            }
        }
        beyond
    }
}

/// A square of a plane at pixels of `by` a side, each the mean of what it covers; what lies outside the plane has
/// no ink.
fn window(plane: &Plane<u16>, from: (i64, i64), side: usize, by: usize) -> Plane<u16> {
    let (w, h) = (plane.width() as i64, plane.height() as i64);
    let mut out = Plane::filled(side, side, 0u16);
    let step = by as i64;
    // First and last pixels of the plane that the square holds.
    let within =
        |from: i64, length: i64| ((from * step).clamp(0, length), ((from + side as i64) * step).clamp(0, length));
    let ((left, right), (top, bottom)) = (within(from.0, w), within(from.1, h));
    if left >= right {
        return out;
    }
    if by == 1 {
        for y in top..bottom {
            let part = &plane.row(y as usize)[left as usize..right as usize];
            let to = (left - from.0) as usize;
            out.row_mut((y - from.1) as usize)[to..to + part.len()].copy_from_slice(part);
        }
        return out;
    }
    let mut sums = vec![0u64; side];
    for y in 0..side {
        let (first, last) = (((from.1 + y as i64) * step).max(top), ((from.1 + y as i64 + 1) * step).min(bottom));
        if first >= last {
            continue;
        }
        sums.fill(0);
        for line in first..last {
            let row = plane.row(line as usize);
            (left..right).for_each(|x| sums[(x.div_euclid(step) - from.0) as usize] += u64::from(row[x as usize]));
        }
        let area = (by * by) as u64;
        out.row_mut(y).iter_mut().zip(&sums).for_each(|(o, sum)| *o = ((sum + area / 2) / area) as u16);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_on_coarser_pixels_are_means_with_no_ink_outside() {
        let plane = Plane::from_fn(7, 5, |x, y| (x * 1000 + y * 100) as u16);
        for (from, side) in [((-2, -1), 6), ((0, 0), 3), ((1, 1), 4), ((9, 9), 3), ((-9, 0), 4)] {
            for by in [1i64, 2, 3] {
                let got = window(&plane, from, side, by as usize);
                let value = |x: i64, y: i64| match (0..7).contains(&x) && (0..5).contains(&y) {
                    true => u64::from(plane.get(x as usize, y as usize)),
                    false => 0,
                };
                for y in 0..side as i64 {
                    for x in 0..side as i64 {
                        let (left, top) = ((from.0 + x) * by, (from.1 + y) * by);
                        let sum: u64 = (0..by * by).map(|i| value(left + i % by, top + i / by)).sum();
                        let area = (by * by) as u64;
                        assert_eq!(u64::from(got.get(x as usize, y as usize)), (sum + area / 2) / area);
                    }
                }
            }
        }
    }

    /// However far a shift reaches, a tile is looked at on so few pixels that it stays small.
    #[test]
    fn a_longer_shift_is_looked_at_on_coarser_pixels() {
        for ppi in [60.0, 300.0, 1200.0, 2400.0] {
            for mm in [0.1, 0.5, 1.0, 5.0, 500.0] {
                let scale = Scale::of(ppi, mm);
                assert!(mm / scale.px_mm <= MOST_SHIFT_PX + 1e-9, "{ppi} {mm}");
                assert_eq!(scale.px_mm, scale.by as f64 * MM_PER_INCH / ppi);
            }
        }
        // The usual print and the shifts that are searched keep every pixel.
        assert_eq!(Scale::of(300.0, 0.5).by, 1);
    }
}
