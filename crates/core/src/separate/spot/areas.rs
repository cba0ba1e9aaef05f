//! Which flat colour every pixel of spot art belongs to, and how pixels on outlines are shared.
//!
//! A pixel amid others of its colour is plainly that colour. A pixel on an outline is a blend of
//! two colours that lie beside it: grey between black and white is half of each, however near it
//! comes to a grey that the art also has. So its colours are looked for close by first, then a
//! little further, and only thin strokes that nowhere show their full colour are read against all
//! colours.

use rayon::prelude::*;

use crate::color::{encode_u16, linear_from_u16};
use crate::raster::{FULL, Picture, Plane, Rgba16};
use crate::separate::flat::{FlatColor, lab};

/// No plain colour.
const NONE: u8 = u8::MAX;
/// Side of the tiles in which colours further away are looked for.
const TILE: usize = 8;
/// Farthest ring that is looked at pixel by pixel.
const RINGS: usize = 3;
/// A blend this near is taken as found (distance of encoded channels, grey steps as they are).
const FOUND: f32 = 0.03;
/// A blend of light must fit better than a drawn one by this: half a step of eight bits. All greys
/// between two greys fit both ways.
const BETTER: f32 = 0.002;
/// A pixel that no blend of the colours close by explains, but for this rest, and whose neighbours
/// leave no greater one, is ringing of a sharpened or resampled outline and no third colour. The
/// flanks of a thin stroke have its middle beside them, which leaves more.
const RINGING: f32 = 0.13;
/// What a blend with a colour that is not close by must be better by.
const FAR: f32 = 0.02;

/// A pixel as a blend of two flat colours, by their places in the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Share {
    pub a: u8,
    pub b: u8,
    /// Share of `b`, 0..=65535.
    pub of_b: u16,
}

impl Share {
    fn all(a: u8) -> Self {
        Self { a, b: a, of_b: 0 }
    }

    /// All to the larger side.
    pub fn hard(self) -> Self {
        Self::all(if self.of_b > FULL / 2 { self.b } else { self.a })
    }
}

/// The shares of all pixels; `colors` must not be empty. Clear pixels belong to the first colour,
/// which does not matter.
pub(super) fn shares(picture: &Picture, colors: &[FlatColor], same_within: f64) -> Plane<Share> {
    let finder = Finder::new(colors, same_within);
    let labels = finder.labels(picture);
    let plain = plain(&labels);
    let tiles = tile_masks(&plain);
    let pixels = picture.pixels();
    let (w, h) = (plain.width(), plain.height());
    let mut out = Plane::filled(w, h, Share::all(0));
    out.data_mut().par_chunks_mut(w.max(1)).enumerate().for_each(|(y, row)| {
        let mut last: Option<(Rgba16, u32, Share)> = None;
        for (x, out) in row.iter_mut().enumerate() {
            let label = plain.get(x, y);
            let pixel = pixels.get(x, y);
            if label != NONE {
                *out = Share::all(label);
            } else if pixel[3] > 0 {
                *out = finder.blend(pixels, &plain, &tiles, x, y, &mut last);
            }
        }
    });
    out
}

struct Finder {
    encoded: Vec<[f32; 3]>,
    linear: Vec<[f32; 3]>,
    reach: f32,
}

impl Finder {
    fn new(colors: &[FlatColor], same_within: f64) -> Self {
        let encoded = colors.iter().map(|c| c.exact.map(|v| f32::from(v) / 65535.0)).collect();
        let linear = colors.iter().map(|c| linear_from_u16(&c.exact)).collect();
        // No reach goes past the middle between the two nearest colours.
        let labs: Vec<[f32; 3]> = colors.iter().map(|c| lab(c.exact)).collect();
        let apart = |a: &[f32; 3], b: &[f32; 3]| (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f32>().sqrt();
        let pairs = labs.iter().enumerate().flat_map(|(i, a)| labs[..i].iter().map(move |b| apart(a, b)));
        let nearest = pairs.fold(f32::INFINITY, f32::min);
        Self { encoded, linear, reach: (1.2 * same_within as f32).min(0.6 * nearest).max(0.01) }
    }

    /// The nearest colour of every pixel that is within reach of one.
    fn labels(&self, picture: &Picture) -> Plane<u8> {
        let (w, h) = (picture.width(), picture.height());
        let mut labels = Plane::filled(w, h, NONE);
        let rows = picture.pixels().data().par_chunks(w.max(1));
        labels.data_mut().par_chunks_mut(w.max(1)).zip(rows).for_each(|(out, row)| {
            let mut last = ([0u16; 4], NONE);
            for (out, pixel) in out.iter_mut().zip(row) {
                if *pixel != last.0 {
                    let p = encoded(pixel);
                    let (at, d) = self.nearest(p);
                    last = (*pixel, if pixel[3] > 0 && d <= self.reach { at } else { NONE });
                }
                *out = last.1;
            }
        });
        labels
    }

    fn nearest(&self, p: [f32; 3]) -> (u8, f32) {
        let mut best = (NONE, f32::INFINITY);
        for (at, color) in self.encoded.iter().enumerate() {
            let d = distance2(p, *color);
            if d < best.1 {
                best = (at as u8, d);
            }
        }
        (best.0, best.1.sqrt())
    }

    fn blend(
        &self,
        pixels: &Plane<Rgba16>,
        plain: &Plane<u8>,
        tiles: &Plane<u32>,
        x: usize,
        y: usize,
        last: &mut Option<(Rgba16, u32, Share)>,
    ) -> Share {
        let pixel = pixels.get(x, y);
        let p = encoded(&pixel);
        let mut near = 0u32;
        let mut found = None;
        for ring in 1..=RINGS {
            let before = near;
            near |= ring_mask(plain, x, y, ring);
            if near != before {
                found = self.best_pair(p, near, near);
            }
            if let Some((d, share)) = found
                && d <= FOUND
            {
                return share;
            }
        }
        if let Some((d, share)) = found
            && d <= RINGING
            && near.count_ones() > 1
            && self.is_ringing(pixels, plain, near, x, y)
        {
            return share;
        }
        let (tx, ty) = (x / TILE, y / TILE);
        for ty in ty.saturating_sub(1)..(ty + 2).min(tiles.height()) {
            for tx in tx.saturating_sub(1)..(tx + 2).min(tiles.width()) {
                near |= tiles.get(tx, ty);
            }
        }
        // Runs of like pixels far from any plain colour are common where art is not flat at all.
        if let Some((old, mask, share)) = last
            && *old == pixel
            && *mask == near
        {
            return *share;
        }
        let (single, d_single) = self.nearest(p);
        let mut best = (d_single + if near >> single & 1 == 1 { 0.0 } else { FAR }, Share::all(single));
        let all = ((1u64 << self.encoded.len()) - 1) as u32;
        if let Some((d, share)) = self.best_pair(p, near, near)
            && d < best.0
        {
            best = (d, share);
        }
        if best.0 > FOUND
            && let Some((d, share)) = self.best_pair(p, near, all)
            && d + FAR < best.0
        {
            best = (d, share);
        }
        *last = Some((pixel, near, best.1));
        best.1
    }

    /// Whether no pixel beside this one is far from all blends of the colours close by.
    fn is_ringing(&self, pixels: &Plane<Rgba16>, plain: &Plane<u8>, near: u32, x: usize, y: usize) -> bool {
        let (w, h) = (plain.width(), plain.height());
        let explained = |x: usize, y: usize| {
            let beside = pixels.get(x, y);
            plain.get(x, y) != NONE
                || beside[3] == 0
                || self.best_pair(encoded(&beside), near, near).is_some_and(|(d, _)| d <= RINGING)
        };
        let (columns, rows) = (x.saturating_sub(1)..(x + 2).min(w), y.saturating_sub(1)..(y + 2).min(h));
        rows.flat_map(|y| columns.clone().map(move |x| (x, y))).all(|(x, y)| explained(x, y))
    }

    /// The best blend of one colour of each set.
    fn best_pair(&self, p: [f32; 3], set_a: u32, set_b: u32) -> Option<(f32, Share)> {
        let mut best: Option<(f32, Share)> = None;
        let members = |set: u32| (0..self.encoded.len()).filter(move |i| set >> i & 1 == 1);
        for a in members(set_a) {
            for b in members(set_b).filter(|&b| (set_a == set_b && b >= a) || (set_a != set_b && b != a)) {
                let (d, t) = self.blend_of(p, a, b);
                if best.is_none_or(|(old, _)| d < old) {
                    best = Some((d, Share { a: a as u8, b: b as u8, of_b: (t * 65535.0).round() as u16 }));
                }
            }
        }
        best
    }

    /// How near blends of two colours come to a pixel, and the share of the second. Drawing
    /// programs blend encoded values, resampling blends light: whichever fits, drawn where both do.
    fn blend_of(&self, p: [f32; 3], a: usize, b: usize) -> (f32, f32) {
        if a == b {
            return (distance2(p, self.encoded[a]).sqrt(), 0.0);
        }
        let (from, to) = (self.encoded[a], self.encoded[b]);
        let t = along(p, from, to);
        let drawn = distance2(p, std::array::from_fn(|i| from[i] + t * (to[i] - from[i]))).sqrt();
        let light = linear_from_u16(&p.map(|v| (v * 65535.0).round() as u16));
        let (from, to) = (self.linear[a], self.linear[b]);
        let u = along(light, from, to);
        let mixed = encode_u16(std::array::from_fn(|i| from[i] + u * (to[i] - from[i])));
        let resampled = distance2(p, mixed.map(|v| f32::from(v) / 65535.0)).sqrt();
        if drawn <= resampled + BETTER { (drawn, t) } else { (resampled, u) }
    }
}

fn encoded(pixel: &Rgba16) -> [f32; 3] {
    [0, 1, 2].map(|i| f32::from(pixel[i]) / 65535.0)
}

/// Squared distance of encoded colours; a step of grey counts as it is.
fn distance2(a: [f32; 3], b: [f32; 3]) -> f32 {
    let d: [f32; 3] = std::array::from_fn(|i| a[i] - b[i]);
    (2.0 * d[0] * d[0] + 4.0 * d[1] * d[1] + 3.0 * d[2] * d[2]) / 9.0
}

/// Where the foot of `p` lies between `from` and `to`, 0..=1.
fn along(p: [f32; 3], from: [f32; 3], to: [f32; 3]) -> f32 {
    let (mut dot, mut length) = (0.0, 1e-12);
    for i in 0..3 {
        dot += (p[i] - from[i]) * (to[i] - from[i]);
        length += (to[i] - from[i]).powi(2);
    }
    (dot / length).clamp(0.0, 1.0)
}

/// Labels of pixels that have at least three neighbours of their own colour.
fn plain(labels: &Plane<u8>) -> Plane<u8> {
    let (w, h) = (labels.width(), labels.height());
    Plane::from_fn(w, h, |x, y| {
        let own = labels.get(x, y);
        if own == NONE {
            return NONE;
        }
        let same = |x: usize, y: usize| u8::from(labels.get(x, y) == own);
        let around = same(x.saturating_sub(1), y)
            + same((x + 1).min(w - 1), y)
            + same(x, y.saturating_sub(1))
            + same(x, (y + 1).min(h - 1));
        if around >= 3 { own } else { NONE }
    })
}

/// The plain colours of a square ring round a pixel, a bit each.
fn ring_mask(plain: &Plane<u8>, x: usize, y: usize, ring: usize) -> u32 {
    let (w, h) = (plain.width(), plain.height());
    let bit = |label: u8| if label == NONE { 0 } else { 1u32 << label };
    let mut mask = 0;
    let (left, right) = (x.saturating_sub(ring), (x + ring).min(w - 1));
    let (top, bottom) = (y.saturating_sub(ring), (y + ring).min(h - 1));
    for &label in plain.row(top)[left..=right].iter().chain(&plain.row(bottom)[left..=right]) {
        mask |= bit(label);
    }
    for y in top..=bottom {
        mask |= bit(plain.get(left, y)) | bit(plain.get(right, y));
    }
    mask
}

fn tile_masks(plain: &Plane<u8>) -> Plane<u32> {
    let (w, h) = (plain.width(), plain.height());
    Plane::from_fn(w.div_ceil(TILE), h.div_ceil(TILE), |tx, ty| {
        let mut mask = 0;
        for y in ty * TILE..((ty + 1) * TILE).min(h) {
            for &label in &plain.row(y)[tx * TILE..((tx + 1) * TILE).min(w)] {
                if label != NONE {
                    mask |= 1u32 << label;
                }
            }
        }
        mask
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::separate::flat::{flat_colors, opaque};

    /// Black and white side by side with a grey step between, and a grey area elsewhere: the step
    /// is half of each, not grey.
    #[test]
    fn an_outline_is_shared_by_its_neighbours_even_where_a_third_colour_is_nearer() {
        let (black, white, grey) = (opaque("#101010"), opaque("#F8F8F8"), opaque("#848484"));
        let picture = Picture::new(Plane::from_fn(90, 40, |x, _| match x {
            0..20 => black,
            20 => grey,
            21..50 => white,
            _ => grey,
        }));
        let colors = flat_colors(&picture, 0.05, 0.001);
        let at = |name: &str| colors.iter().position(|c| c.color.to_string() == name).unwrap() as u8;
        let shares = shares(&picture, &colors, 0.05);
        let edge = shares.get(20, 20);
        let mut pair = [edge.a, edge.b];
        let mut want = [at("#101010"), at("#F8F8F8")];
        pair.sort_unstable();
        want.sort_unstable();
        assert_eq!(pair, want);
        assert!((i32::from(edge.of_b) - 32_768).abs() < 1500, "{edge:?}");
        assert_eq!(shares.get(70, 20), Share::all(at("#848484")));
        assert_eq!(shares.get(5, 5), Share::all(at("#101010")));
    }

    /// Blue beside cream, darker by a sixth where sharpening overshot, and black elsewhere: no black
    /// along the outline. A thin black stroke between the two is black, its flanks in part.
    #[test]
    fn ringing_beside_an_outline_is_no_third_colour() {
        let (blue, cream, black) = (opaque("#1E3C78"), opaque("#F4E6C0"), opaque("#16161A"));
        let dark = blue.map(|v| v / 8 * 7);
        let half = |a: Rgba16, b: Rgba16| -> Rgba16 { std::array::from_fn(|i| a[i] / 2 + b[i] / 2) };
        let at = |x: usize, stroke: bool| match x {
            0..28 => blue,
            28 if stroke => half(blue, black),
            29 if stroke => black,
            30 if stroke => half(cream, black),
            28 => [dark[0], dark[1], dark[2], u16::MAX],
            29 => half(blue, cream),
            _ => cream,
        };
        let picture = Picture::new(Plane::from_fn(60, 90, |x, y| match y {
            0..20 => black,
            _ => at(x, y >= 60),
        }));
        let colors = flat_colors(&picture, 0.05, 0.001);
        let place = |name: &str| colors.iter().position(|c| c.color.to_string() == name).unwrap() as u8;
        let [blue, black] = ["#1E3C78", "#16161A"].map(place);
        let shares = shares(&picture, &colors, 0.05);
        let of = |color: u8, x: usize, y: usize| {
            let share = shares.get(x, y);
            let of_b = f32::from(share.of_b) / 65535.0;
            f32::from(u8::from(share.a == color)) * (1.0 - of_b) + f32::from(u8::from(share.b == color)) * of_b
        };
        assert_eq!(of(black, 28, 40), 0.0);
        assert!(of(blue, 28, 40) > 0.9, "{:?}", shares.get(28, 40));
        assert!(of(black, 29, 75) > 0.95, "{:?}", shares.get(29, 75));
        for x in [28, 30] {
            assert!((of(black, x, 75) - 0.5).abs() < 0.15, "{:?}", shares.get(x, 75));
        }
    }

    #[test]
    fn a_thin_stroke_without_a_plain_pixel_keeps_its_colour() {
        let (red, white) = (opaque("#C8202F"), opaque("#F8F8F8"));
        let picture = Picture::new(Plane::from_fn(120, 60, |x, y| {
            let area = x < 30 && y < 30;
            if area || x == 80 { red } else { white }
        }));
        let colors = flat_colors(&picture, 0.05, 0.001);
        let shares = shares(&picture, &colors, 0.05);
        let red = colors.iter().position(|c| c.color.to_string() == "#C8202F").unwrap() as u8;
        let stroke = shares.get(80, 45).hard();
        assert_eq!(stroke.a, red);
        assert_ne!(shares.get(79, 45).hard().a, red);
    }
}
