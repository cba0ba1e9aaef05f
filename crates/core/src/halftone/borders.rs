//! Where the edge of a flat shape runs through a pixel, to far less than a pixel. A pixel says how much of it a shape
//! covers; added up along a column that crosses the edge, from inside the shape to outside of it, that is exactly how
//! far the shape reaches in that column. Three columns side by side give the edge's place, slope and bend. The sums
//! hold for blurred and for sharpened edges too, as both keep the area.
//!
//! A hair, a stroke of a pixel or two on clear film or a slit as narrow in a solid, has both its edges in such a column:
//! the sum is its width, and the place where the sum balances its middle.

use super::shapes::{FLAT, Lines, REACH};

/// Largest step of the edge from one column to the next: past it lies another edge.
const STEEPEST: f32 = 1.6;
/// Largest change of that step: past it lies a corner.
const BENT: f32 = 0.7;
/// How far a value may fall back on the way across an edge, as a share of the step.
const RIPPLE: f32 = 0.08;

/// Widths of a hair in pixels. Narrower ones hold on no mesh, and pixels tell their middle badly.
const HAIR: std::ops::RangeInclusive<f32> = 0.7..=2.6;
/// Pixels in a column that a hair touches beyond its width and its slope: a sharp one two halves, a soft stroke more.
const HAIR_BLUR: f32 = 2.0;
/// Largest difference of a hair's width from one column to the next.
const UNEVEN: f32 = 0.3;
/// Furthest that a hair lies from the pixel.
const HAIR_NEAR: f32 = 2.0;
/// The steepest hair that is looked at in columns: steeper ones run the other way.
const HAIR_STEEPEST: f32 = 1.1;

/// The edge of a shape, or the two of a hair, through a pixel: one coordinate as a parabola of the other, both from the
/// pixel's middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Border {
    /// Whether it runs down rather than along.
    down: bool,
    side: Side,
    /// The edge, or the hair's middle.
    parabola: [f32; 3],
}

/// Where the fuller area lies.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Side {
    /// Where the coordinate is smaller than the edge's.
    First,
    /// Where it is greater.
    Last,
    /// Within so much of the hair's middle.
    Within(f32),
    /// Outside of that.
    Without(f32),
}

impl Border {
    /// The edge between areas of `low` and `high` coverage about pixel `x` of the middle line; none where more than
    /// one edge, or a corner, lies there.
    pub fn through(lines: &Lines<'_>, x: usize, low: u16, high: u16) -> Option<Self> {
        let last = lines[REACH].len() as isize - 1;
        let at = |along: isize, across: isize| {
            let column = (x as isize + along).clamp(0, last) as usize;
            lines[(REACH as isize + across) as usize][column]
        };
        let step = |a: u16, b: u16| f32::from(b) - f32::from(a);
        let slope = |at: &dyn Fn(isize, isize) -> u16| {
            step(at(-1, -1), at(-1, 1)) + 2.0 * step(at(0, -1), at(0, 1)) + step(at(1, -1), at(1, 1))
        };
        let (across, along) = (slope(&at), slope(&|a, b| at(b, a)));
        let down = along.abs() > across.abs();
        let full_first = if down { along < 0.0 } else { across < 0.0 };
        let mut reach = [0.0; 3];
        for (reach, a) in reach.iter_mut().zip(-1..) {
            let column = |b: isize| if down { at(b, a) } else { at(a, b) };
            *reach = if full_first { column_end(column, low, high)? } else { -column_end(|b| column(-b), low, high)? };
        }
        let [before, here, after] = reach;
        let (rise, bend) = (0.5 * (after - before), after - 2.0 * here + before);
        if (after - here).abs().max((here - before).abs()) > STEEPEST || bend.abs() > BENT {
            return None;
        }
        // Sums are means over their columns: the parabola's middle lies a little off its mean.
        let side = if full_first { Side::First } else { Side::Last };
        Some(Self { down, side, parabola: [here - bend / 24.0, rise, 0.5 * bend] })
    }

    /// The hair through pixel `x` of the middle line or close by it; none where there is no hair or something else is
    /// near.
    pub fn hair(lines: &Lines<'_>, x: usize) -> Option<Self> {
        let last = lines[REACH].len() as isize - 1;
        let at = |along: isize, across: isize| {
            let column = (x as isize + along).clamp(0, last) as usize;
            lines[(REACH as isize + across) as usize][column]
        };
        [false, true].into_iter().find_map(|down| {
            let hair = |a: isize| Hair::in_column(|b| if down { at(b, a) } else { at(a, b) });
            let [before, here, after] = [hair(-1)?, hair(0)?, hair(1)?];
            let (rise, bend) = (0.5 * (after.middle - before.middle), after.middle - 2.0 * here.middle + before.middle);
            let alike = |other: &Hair| other.full == here.full && (other.width - here.width).abs() <= UNEVEN;
            let sharp = here.touches as f32 <= here.width + rise.abs() + HAIR_BLUR;
            let is = here.middle.abs() <= HAIR_NEAR
                && alike(&before)
                && alike(&after)
                && sharp
                && rise.abs() <= HAIR_STEEPEST
                && bend.abs() <= BENT;
            let half = (before.width + here.width + after.width) / 6.0;
            let side = if here.full { Side::Within(half) } else { Side::Without(half) };
            is.then_some(Self { down, side, parabola: [here.middle - bend / 24.0, rise, 0.5 * bend] })
        })
    }

    /// Whether a place, given from the pixel's middle, lies in the fuller area.
    pub fn is_full(&self, along: f32, across: f32) -> bool {
        let (u, v) = if self.down { (across, along) } else { (along, across) };
        let [a, b, c] = self.parabola;
        let edge = a + u * (b + u * c);
        match self.side {
            Side::First => v < edge,
            Side::Last => v > edge,
            Side::Within(half) => (v - edge).abs() < half,
            Side::Without(half) => (v - edge).abs() > half,
        }
    }
}

/// A hair in a column across it.
struct Hair {
    /// Whether it is solid on clear film; else a slit in a solid.
    full: bool,
    width: f32,
    /// From the middle of pixel 0.
    middle: f32,
    /// Pixels that it touches.
    touches: usize,
}

impl Hair {
    fn in_column(column: impl Fn(isize) -> u16) -> Option<Self> {
        let reach = REACH as isize;
        let ends = [column(-reach), column(reach)];
        let full = ends.iter().all(|v| *v <= FLAT);
        if !full && ends.iter().any(|v| u16::MAX - v > FLAT) {
            return None;
        }
        let share = |b: isize| f32::from(if full { column(b) } else { u16::MAX - column(b) }) / 65_535.0;
        let (mut width, mut moment, mut touches) = (0.0, 0.0, 0);
        let (mut before, mut falls) = (0.0_f32, false);
        for b in -reach..=reach {
            let s = share(b);
            if falls && s > before + RIPPLE {
                return None;
            }
            falls |= s < before - RIPPLE;
            before = if falls { before.min(s) } else { before.max(s) };
            touches += usize::from(s * 65_535.0 > f32::from(FLAT));
            width += s;
            moment += s * b as f32;
        }
        HAIR.contains(&width).then(|| Self { full, width, middle: moment / width, touches })
    }
}

/// How far the fuller area reaches in a column that runs from it into the emptier one, from the middle of pixel 0.
fn column_end(column: impl Fn(isize) -> u16, low: u16, high: u16) -> Option<f32> {
    let reach = REACH as isize;
    let first = (0..=reach).map(|b| -b).find(|&b| high.saturating_sub(column(b)) <= FLAT)?;
    let last = (0..=reach).find(|&b| column(b).saturating_sub(low) <= FLAT)?;
    let range = f32::from(high - low);
    let (mut sum, mut before) = (0.0, 1.0_f32);
    for b in first..=last {
        let share = (f32::from(column(b)) - f32::from(low)) / range;
        if share > before + RIPPLE {
            return None;
        }
        before = before.min(share);
        sum += share;
    }
    Some(first as f32 - 0.5 + sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    /// Coverage by area of what `inside` says, sixteen places a pixel each way.
    fn drawn(side: usize, inside: impl Fn(f64, f64) -> bool + Sync) -> Plane<u16> {
        Plane::from_fn(side, side, |x, y| {
            let place = |v: usize, part: usize| v as f64 + (part as f64 + 0.5) / 16.0;
            let at = |i: usize| (place(x, i % 16), place(y, i / 16));
            let count = (0..256).filter(|&i| inside(at(i).0, at(i).1)).count();
            (count * 65_535 / 256) as u16
        })
    }

    fn lines(plane: &Plane<u16>, y: usize) -> Lines<'_> {
        std::array::from_fn(|k| plane.row((y + k).saturating_sub(REACH).min(plane.height() - 1)))
    }

    /// Mean distance of the edge found in pixels that the true edge crosses, from the true edge, in pixels: the area
    /// on its wrong side by its length; and the share of those pixels where one is found.
    fn off(plane: &Plane<u16>, inside: impl Fn(f64, f64) -> bool, length: f64) -> (f64, f64) {
        let (mut wrong, mut found, mut all) = (0usize, 0usize, 0usize);
        for y in REACH..plane.height() - REACH {
            for x in 0..plane.width() {
                if !(1..65_535).contains(&plane.get(x, y)) {
                    continue;
                }
                all += 1;
                let Some(border) = Border::through(&lines(plane, y), x, 0, u16::MAX) else { continue };
                found += 1;
                for i in 0..400 {
                    let (u, v) = ((i % 20) as f64 / 20.0 - 0.475, (i / 20) as f64 / 20.0 - 0.475);
                    let truly = inside(x as f64 + 0.5 + u, y as f64 + 0.5 + v);
                    wrong += usize::from(truly != border.is_full(u as f32, v as f32));
                }
            }
        }
        (wrong as f64 / 400.0 / length, found as f64 / all as f64)
    }

    #[test]
    fn the_edge_of_a_disc_is_its_circle() {
        let inside = |x: f64, y: f64| (x - 40.2).hypot(y - 39.7) < 27.3;
        let (off, found) = off(&drawn(80, inside), inside, std::f64::consts::TAU * 27.3);
        assert!(off < 0.012 && found == 1.0, "{off} px, {found}");
    }

    /// Strokes on clear film and slits in a solid, of widths and at angles as they come: drawn by area and found again.
    #[test]
    fn hairs_keep_their_width_and_do_not_break() {
        for width in [0.9, 1.2, 1.8, 2.3] {
            for degrees in [0.0_f64, 3.0, 17.0, 31.0, 44.0, 62.0, 88.0] {
                let (sin, cos) = degrees.to_radians().sin_cos();
                let within = move |x: f64, y: f64| ((x - 30.3) * cos + (y - 30.1) * sin).abs() < width / 2.0;
                for full in [true, false] {
                    let inside = move |x: f64, y: f64| within(x, y) == full;
                    let plane = drawn(60, inside);
                    let (mut wrong, mut found, mut all) = (0usize, 0usize, 0usize);
                    for y in 12..48 {
                        for x in (12..48).filter(|&x| (1..65_535).contains(&plane.get(x, y))) {
                            all += 1;
                            let Some(hair) = Border::hair(&lines(&plane, y), x) else { continue };
                            found += 1;
                            for i in 0..400 {
                                let (u, v) = ((i % 20) as f64 / 20.0 - 0.475, (i / 20) as f64 / 20.0 - 0.475);
                                let truly = inside(x as f64 + 0.5 + u, y as f64 + 0.5 + v);
                                wrong += usize::from(truly != hair.is_full(u as f32, v as f32));
                            }
                        }
                    }
                    // Both edges, as far as the middle part of the picture shows them.
                    let off = wrong as f64 / 400.0 / (2.0 * 36.0 / cos.abs().max(sin.abs()));
                    let seen = found as f64 / all as f64;
                    // Within a pixel its area does not tell where it lies: up to a twentieth.
                    assert!(off < 0.06, "{width} px at {degrees}, {full}: {off} px");
                    // Wider ones have two edges that are found by themselves.
                    assert!(width > 1.2 || seen > 0.8, "{width} px at {degrees}, {full}: {seen} found");
                }
            }
        }
        // A soft stroke is a tone, as are a stroke on a tint and two strokes side by side.
        let soft = Plane::from_fn(40, 40, |x, _| {
            [0, 9_000, 22_000, 22_000, 9_000][(x + 1).clamp(18, 22) - 18] * u16::from((18..22).contains(&x))
        });
        let tint = Plane::from_fn(40, 40, |x, _| if x == 20 { 65_535 } else { 20_000 });
        let two = Plane::from_fn(40, 40, |x, _| if x == 19 || x == 21 { 65_535 } else { 0 });
        for plane in [soft, tint, two] {
            assert!((0..40).all(|x| Border::hair(&lines(&plane, 20), x).is_none()));
        }
    }

    #[test]
    fn straight_edges_at_any_angle_are_straight() {
        for degrees in [0.0_f64, 3.0, 17.0, 31.0, 45.0, 62.0, 88.0] {
            let (sin, cos) = degrees.to_radians().sin_cos();
            let inside = move |x: f64, y: f64| (x - 30.3) * cos + (y - 30.1) * sin < 0.0;
            let length = 52.0 / cos.abs().max(sin.abs());
            let (off, found) = off(&drawn(60, inside), inside, length);
            assert!(off < 0.015 && found > 0.9, "{degrees} degrees: {off} px, {found}");
        }
    }

    /// Blurred over three pixels the sums are the same; aslant, a blurred edge may be too wide to be looked across.
    #[test]
    fn a_blurred_edge_lies_where_it_lay() {
        let inside = |x: f64, y: f64| (x - 40.2).hypot(y - 39.7) < 27.3;
        let sharp = drawn(80, inside);
        let blurred = Plane::from_fn(80, 80, |x, y| {
            let near = |v: usize, d: usize| (v + d).saturating_sub(1).min(79);
            ((0..9).map(|i| u32::from(sharp.get(near(x, i % 3), near(y, i / 3)))).sum::<u32>() / 9) as u16
        });
        let (off, found) = off(&blurred, inside, std::f64::consts::TAU * 27.3);
        assert!(off < 0.03 && found > 0.7, "{off} px, {found}");
    }

    #[test]
    fn corners_and_hairs_are_left_to_others() {
        let corner = drawn(40, |x, y| x < 20.4 && y < 20.6);
        assert!(Border::through(&lines(&corner, 20), 20, 0, u16::MAX).is_none());
        let hair = drawn(40, |x, _| (19.3..20.1).contains(&x));
        assert!((18..22).all(|x| Border::through(&lines(&hair, 20), x, 0, u16::MAX).is_none()));
    }
}
