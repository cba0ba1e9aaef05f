//! Squares in a picture: parts darker or lighter than their surround at some level of some channel, with four corners
//! and filled, or filled but for a hole.

use rayon::prelude::*;
use strikeoff_core::raster::Picture;

/// A square, as seen.
#[derive(Debug, Clone)]
pub(super) struct Square {
    /// In pixels of the picture.
    pub middle: [f64; 2],
    /// In a round.
    pub corners: [[f64; 2]; 4],
    /// Mean side.
    pub side: f64,
    /// Whether it has a hole as the mark at the upper left has.
    pub hole: bool,
    /// How far it is from a square with straight sides; less is better.
    off: f64,
}

/// The longer side of the picture that squares are looked for in.
const LOOK_PX: usize = 1200;
/// Levels that parts are cut at.
const LEVELS: usize = 16;
/// A side has so many pixels at least.
const LEAST_PX: usize = 6;

/// Most squares that are gone on with, with a hole and without.
const MOST_HOLES: usize = 40;
const MOST_SOLID: usize = 250;

struct Gray {
    w: usize,
    h: usize,
    data: Vec<u8>,
}

/// All squares of a picture, each once.
pub(super) fn squares(picture: &Picture) -> Vec<Square> {
    let step = picture.width().max(picture.height()).div_ceil(LOOK_PX).max(1);
    let grays: Vec<Gray> = (0..3).map(|c| gray(picture, step, c)).collect();
    let tasks: Vec<(&Gray, u8, bool)> = grays
        .iter()
        .flat_map(|gray| levels(gray).into_iter().flat_map(move |level| [(gray, level, false), (gray, level, true)]))
        .collect();
    let mut all: Vec<Square> =
        tasks.par_iter().flat_map_iter(|(gray, level, above)| parts(gray, *level, *above)).collect();
    all.sort_by(|a, b| a.off.total_cmp(&b.off).then(a.middle[0].total_cmp(&b.middle[0])));
    let mut kept: Vec<Square> = Vec::new();
    for square in all {
        let again = kept.iter().any(|k| {
            (k.middle[0] - square.middle[0]).hypot(k.middle[1] - square.middle[1]) < 0.3 * k.side
                && k.hole == square.hole
                && (0.7..1.4).contains(&(k.side / square.side))
        });
        if !again {
            kept.push(square);
        }
    }
    // Noise and cloth make squares too; the straightest are enough.
    let mut left = [MOST_HOLES, MOST_SOLID];
    kept.retain(|square| {
        let left = &mut left[usize::from(!square.hole)];
        *left = left.saturating_sub(1);
        *left > 0
    });
    for square in &mut kept {
        square.middle = square.middle.map(|v| v * step as f64);
        square.corners = square.corners.map(|corner| corner.map(|v| v * step as f64));
        square.side *= step as f64;
    }
    kept
}

fn gray(picture: &Picture, step: usize, channel: usize) -> Gray {
    let (w, h) = (picture.width() / step, picture.height() / step);
    let pixels = picture.pixels();
    let data = (0..w * h)
        .into_par_iter()
        .map(|at| {
            let (x, y) = (at % w * step, at / w * step);
            let sum: u32 =
                (0..step * step).map(|i| u32::from(pixels.get(x + i % step, y + i / step)[channel] >> 8)).sum();
            (sum / (step * step) as u32) as u8
        })
        .collect();
    Gray { w, h, data }
}

/// Levels between the darkest and the lightest of a picture.
fn levels(gray: &Gray) -> Vec<u8> {
    let mut count = [0usize; 256];
    gray.data.iter().for_each(|v| count[usize::from(*v)] += 1);
    let end = |back: bool| {
        let mut left = gray.data.len() / 500;
        let mut values: Box<dyn Iterator<Item = usize>> =
            if back { Box::new((0..256).rev()) } else { Box::new(0..256) };
        values.find(|v| {
            let enough = count[*v] > left;
            left = left.saturating_sub(count[*v]);
            enough
        })
    };
    let (Some(low), Some(high)) = (end(false), end(true)) else { return Vec::new() };
    let mut levels: Vec<u8> =
        (1..LEVELS).map(|i| (low + (high.saturating_sub(low)) * i / LEVELS) as u8).filter(|v| *v > 0).collect();
    levels.dedup();
    levels
}

/// Squares among the parts below or from a level.
fn parts(gray: &Gray, level: u8, above: bool) -> Vec<Square> {
    let (w, h) = (gray.w, gray.h);
    let inside = |at: usize| (gray.data[at] >= level) == above;
    let most = w.max(h) / 5;
    let mut seen = vec![false; w * h];
    let mut out = Vec::new();
    let mut part: Vec<usize> = Vec::new();
    for start in 0..w * h {
        if seen[start] || !inside(start) {
            continue;
        }
        part.clear();
        part.push(start);
        seen[start] = true;
        let mut next = 0;
        while let Some(&at) = part.get(next) {
            next += 1;
            let (x, y) = (at % w, at / w);
            let round = [
                (x > 0).then(|| at - 1),
                (x + 1 < w).then_some(at + 1),
                (y > 0).then(|| at - w),
                (y + 1 < h).then_some(at + w),
            ];
            for to in round.into_iter().flatten() {
                if !seen[to] && inside(to) {
                    seen[to] = true;
                    part.push(to);
                }
            }
        }
        if part.len() >= LEAST_PX * LEAST_PX / 2 && part.len() <= most * most {
            out.extend(square(&part, w, h, most));
        }
    }
    out
}

/// A part as a square, if it is one.
fn square(part: &[usize], w: usize, h: usize, most: usize) -> Option<Square> {
    let (mut left, mut right, mut top, mut bottom) = (w, 0, h, 0);
    for at in part {
        (left, right) = (left.min(at % w), right.max(at % w));
        (top, bottom) = (top.min(at / w), bottom.max(at / w));
    }
    let (wide, high) = (right - left + 1, bottom - top + 1);
    let touches = left == 0 || top == 0 || right + 1 == w || bottom + 1 == h;
    if touches || wide.max(high) > most || wide.min(high) < LEAST_PX || wide.max(high) > 3 * wide.min(high) {
        return None;
    }
    let filled = filled(part, w, [left, top], [wide, high]);
    let count = filled.len() as f64;
    let hole = 1.0 - part.len() as f64 / count;
    let middle = [0, 1].map(|i| filled.iter().map(|p| p[i]).sum::<f64>() / count);
    // A hole is one in the middle: what was filled has the same middle as what was there.
    let there = part.len() as f64;
    let own = [
        part.iter().map(|at| (at % w) as f64 + 0.5).sum::<f64>() / there,
        part.iter().map(|at| (at / w) as f64 + 0.5).sum::<f64>() / there,
    ];
    let farthest =
        |worth: &dyn Fn([f64; 2]) -> f64| filled.iter().copied().max_by(|a, b| worth(*a).total_cmp(&worth(*b)));
    let a = farthest(&|p| (p[0] - middle[0]).hypot(p[1] - middle[1]))?;
    let c = farthest(&|p| (p[0] - a[0]).hypot(p[1] - a[1]))?;
    let side = |p: [f64; 2]| (c[0] - a[0]) * (p[1] - a[1]) - (c[1] - a[1]) * (p[0] - a[0]);
    let (b, d) = (farthest(&side)?, farthest(&|p| -side(p))?);
    // Pixels reach half a pixel beyond their middles.
    let corners = [a, b, c, d].map(|p| {
        let by = [p[0] - middle[0], p[1] - middle[1]];
        let longer = 1.0 + 0.6 / by[0].hypot(by[1]).max(1.0);
        [middle[0] + by[0] * longer, middle[1] + by[1] * longer]
    });
    let sides: [f64; 4] = std::array::from_fn(|i| {
        let (p, q) = (corners[i], corners[(i + 1) % 4]);
        (p[0] - q[0]).hypot(p[1] - q[1])
    });
    let area = (0..4).map(|i| {
        let (p, q) = (corners[i], corners[(i + 1) % 4]);
        p[0] * q[1] - p[1] * q[0]
    });
    let area = area.sum::<f64>().abs() / 2.0;
    let (shortest, longest) =
        (sides.iter().copied().fold(f64::INFINITY, f64::min), sides.iter().copied().fold(0.0, f64::max));
    let off = (count / area - 1.0).abs();
    let solid = hole < 0.03;
    let centred = (own[0] - middle[0]).hypot(own[1] - middle[1]) < 0.03 * sides[0];
    if off > 0.15 || longest > 2.4 * shortest || !(solid || (centred && (0.08..0.26).contains(&hole))) {
        return None;
    }
    Some(Square { middle, corners, side: sides.iter().sum::<f64>() / 4.0, hole: !solid, off })
}

/// Middles of the pixels of a part and of its holes.
fn filled(part: &[usize], w: usize, [left, top]: [usize; 2], [wide, high]: [usize; 2]) -> Vec<[f64; 2]> {
    // One pixel of surround, from which the outside is flooded.
    let (wide, high) = (wide + 2, high + 2);
    let mut map = vec![0u8; wide * high];
    for at in part {
        map[(at / w - top + 1) * wide + at % w - left + 1] = 1;
    }
    let mut open = vec![0usize];
    map[0] = 2;
    while let Some(at) = open.pop() {
        let (x, y) = (at % wide, at / wide);
        let round = [
            (x > 0).then(|| at - 1),
            (x + 1 < wide).then_some(at + 1),
            (y > 0).then(|| at - wide),
            (y + 1 < high).then_some(at + wide),
        ];
        for to in round.into_iter().flatten() {
            if map[to] == 0 {
                map[to] = 2;
                open.push(to);
            }
        }
    }
    let middle = |at: usize| [(at % wide + left) as f64 - 0.5, (at / wide + top) as f64 - 0.5];
    map.iter().enumerate().filter(|(_, v)| **v != 2).map(|(at, _)| middle(at)).collect()
}
