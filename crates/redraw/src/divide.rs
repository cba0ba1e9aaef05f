//! An outline's points divided into straight and round stretches: the division of least cost, where each
//! stretch costs something and so does each point's distance from it. Points next to a division count for
//! little: the pixel at a corner shows it rounded.

use kurbo::{Point, Vec2};

use crate::primitive::{Primitive, Sums};

/// Points `first..=last` on one primitive.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stretch {
    pub first: usize,
    pub last: usize,
    pub shape: Primitive,
    cost: f64,
}

/// Cost of a straight stretch, in squared deviations of one point.
const LINE: f64 = 14.0;
/// Cost of a round one.
const ROUND: f64 = 19.0;
/// Longest stretch that is tried, in points; longer ones are joined afterwards.
const LONGEST: usize = 220;
/// Cost at which a stretch is not made longer.
const HOPELESS: f64 = 90.0;
/// Weight of a stretch's end point, and of the one next to it.
const ENDS: [f64; 2] = [0.02, 0.3];

pub(crate) struct Points<'a> {
    pub at: &'a [Point],
    pub weight: &'a [f64],
    /// How far points stray from their outline, pixels.
    pub stray: f64,
}

/// Divides points into stretches, first to last.
pub(crate) fn divide(points: &Points) -> Vec<Stretch> {
    let n = points.at.len();
    // By point: least cost up to it, where its last stretch begins, and whether that is round.
    let mut best = vec![(f64::MAX, 0, false); n];
    best[0].0 = 0.0;
    for first in 0..n - 1 {
        let from = best[first].0;
        if from < f64::MAX {
            extend(points, first, |last, cost, round| {
                if from + cost < best[last].0 {
                    best[last] = (from + cost, first, round);
                }
            });
        }
    }
    let mut stretches = Vec::new();
    let mut last = n - 1;
    while last > 0 {
        let (_, first, round) = best[last];
        stretches.push(stretch(points, first, last, round));
        last = first;
    }
    stretches.reverse();
    join(points, stretches)
}

/// Offers every stretch that begins at `first`: its last point, its cost, whether it is round.
fn extend(points: &Points, first: usize, mut offer: impl FnMut(usize, f64, bool)) {
    let n = points.at.len();
    let origin = points.at[first];
    let per_square = 1.0 / (points.stray * points.stray);
    let mut core = Sums::default();
    for last in first + 1..n.min(first + LONGEST + 1) {
        // What has left the end's two points.
        if last >= first + 4 {
            core.add(points.at[last - 2] - origin, points.weight[last - 2]);
        }
        if last == first + 1 && n > 2 {
            continue;
        }
        let all = sums(points, first, last, &core);
        let line = LINE + all.line_error() * per_square;
        offer(last, line, false);
        let round = if line < ROUND { None } else { circle(points, first, last, &all) };
        let round = round.map_or(f64::MAX, |(_, _, error)| ROUND + error * per_square);
        if round < f64::MAX {
            offer(last, round, true);
        }
        if line.min(round) > HOPELESS {
            return;
        }
    }
}

/// Sums of a stretch: its core and its ends, which count for less.
fn sums(points: &Points, first: usize, last: usize, core: &Sums) -> Sums {
    let origin = points.at[first];
    let mut all = *core;
    let count = last - first;
    let mut add = |i: usize, w: f64| all.add(points.at[i] - origin, points.weight[i] * w);
    add(first, ENDS[0]);
    add(last, ENDS[0]);
    if count >= 2 {
        add(first + 1, ENDS[1]);
    }
    if count >= 3 {
        add(last - 1, ENDS[1]);
    }
    all
}

/// Sums of what has left the two points at either end.
fn core(points: &Points, first: usize, last: usize) -> Sums {
    let mut core = Sums::default();
    for i in first + 2..(last - 1).max(first + 2) {
        core.add(points.at[i] - points.at[first], points.weight[i]);
    }
    core
}

/// The stretch over points `first..=last`, straight unless it is to be round and can be.
fn stretch(points: &Points, first: usize, last: usize, round: bool) -> Stretch {
    let all = sums(points, first, last, &core(points, first, last));
    let square = points.stray * points.stray;
    let way = points.at[last] - points.at[first];
    if let (true, Some((middle, radius, error))) = (round, circle(points, first, last, &all)) {
        let half = points.at[(first + last) / 2] - points.at[first];
        let middle = points.at[first] + middle;
        let shape = Primitive::Circle { middle, radius, backwards: half.cross(way) < 0.0 };
        return Stretch { first, last, shape, cost: ROUND + error / square };
    }
    let (at, along, error) = all.line();
    let along = if along.dot(way) < 0.0 { -along } else { along };
    let shape = Primitive::Line { at: points.at[first] + at, along };
    Stretch { first, last, shape, cost: LINE + error / square }
}

/// The circle of a stretch from its first point, if it makes a sensible arc.
fn circle(points: &Points, first: usize, last: usize, all: &Sums) -> Option<(Vec2, f64, f64)> {
    if last < first + 5 {
        return None;
    }
    let (middle, radius, error) = all.circle()?;
    let long = (last - first) as f64 * points.at[first].distance_squared(points.at[first + 1]).sqrt();
    ((0.8..4000.0).contains(&radius) && long <= 3.6 * radius).then_some((middle, radius, error))
}

/// The best single stretch over points `first..=last`.
fn whole(points: &Points, first: usize, last: usize) -> Stretch {
    let straight = stretch(points, first, last, false);
    if straight.cost < ROUND {
        return straight;
    }
    let round = stretch(points, first, last, true);
    if round.cost < straight.cost { round } else { straight }
}

/// Joins neighbours that are one stretch longer than was tried.
fn join(points: &Points, stretches: Vec<Stretch>) -> Vec<Stretch> {
    let mut joined: Vec<Stretch> = Vec::new();
    for stretch in stretches {
        if let Some(before) = joined.last_mut() {
            let both = whole(points, before.first, stretch.last);
            if both.cost < before.cost + stretch.cost {
                *before = both;
                continue;
            }
        }
        joined.push(stretch);
    }
    joined
}

/// The circle that all points of a closed outline lie on, if it costs less than `stretches`.
pub(crate) fn full_circle(points: &Points, stretches: &[Stretch]) -> Option<(Point, f64)> {
    let mut sums = Sums::default();
    for (p, w) in points.at.iter().zip(points.weight).skip(1) {
        sums.add(*p - points.at[0], *w);
    }
    let (middle, radius, error) = sums.circle()?;
    let cost: f64 = stretches.iter().map(|s| s.cost).sum();
    // Nothing else is as likely as a circle.
    let fits = ROUND + 0.5 * error / (points.stray * points.stray) < cost;
    let off = |p: &Point| ((*p - points.at[0] - middle).hypot() - radius).abs();
    let near = points.at.iter().map(off).fold(0.0, f64::max) < 4.0 * points.stray + 0.05;
    (fits && near && radius > 0.5).then(|| (points.at[0] + middle, radius))
}

/// Lines that are nearly upright or level, exactly so; neighbours that then lie in one line are one.
pub(crate) fn level(points: &Points, stretches: &mut Vec<Stretch>) {
    for s in stretches.iter_mut() {
        let Primitive::Line { at, along } = s.shape else { continue };
        let long = points.at[s.first].distance(points.at[s.last]);
        let lean = along.x.abs().min(along.y.abs());
        // An end may be off by as much as points stray, and no line leans by more than three degrees.
        if lean < 0.052 && lean * long * 0.5 < 1.6 * points.stray + 0.02 {
            let flat = if along.x.abs() > along.y.abs() {
                Vec2::new(along.x.signum(), 0.0)
            } else {
                Vec2::new(0.0, along.y.signum())
            };
            s.shape = Primitive::Line { at, along: flat };
        }
    }
    let mut joined: Vec<Stretch> = Vec::new();
    for s in stretches.drain(..) {
        match joined.last_mut() {
            Some(before) if in_line(before, &s, points.stray) => *before = as_one(before, &s),
            _ => joined.push(s),
        }
    }
    *stretches = joined;
}

fn in_line(a: &Stretch, b: &Stretch, stray: f64) -> bool {
    let (Primitive::Line { at: p, along: d }, Primitive::Line { at: q, along: e }) = (a.shape, b.shape) else {
        return false;
    };
    let upright = |d: Vec2| d.x == 0.0 || d.y == 0.0;
    upright(d) && d == e && d.cross(q - p).abs() < 3.0 * stray
}

/// Two level lines as one, at the mean of their places by length.
fn as_one(a: &Stretch, b: &Stretch) -> Stretch {
    let (m, n) = ((a.last - a.first) as f64, (b.last - b.first) as f64);
    match (a.shape, b.shape) {
        (Primitive::Line { at: p, along }, Primitive::Line { at: q, .. }) => {
            let shape = Primitive::Line { at: p.lerp(q, n / (m + n)), along };
            Stretch { first: a.first, last: b.last, shape, cost: a.cost + b.cost }
        }
        _ => *a,
    }
}
