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
    let mut best = vec![(f64::MAX, None::<Stretch>); n];
    best[0].0 = 0.0;
    for first in 0..n - 1 {
        if best[first].0 == f64::MAX {
            continue;
        }
        let from = best[first].0;
        extend(points, first, |stretch| {
            let to = &mut best[stretch.last];
            if from + stretch.cost < to.0 {
                *to = (from + stretch.cost, Some(stretch));
            }
        });
    }
    let mut stretches = Vec::new();
    let mut at = n - 1;
    while let (_, Some(stretch)) = best[at] {
        stretches.push(stretch);
        at = stretch.first;
    }
    stretches.reverse();
    join(points, stretches)
}

/// Offers every stretch that begins at `first`.
fn extend(points: &Points, first: usize, mut offer: impl FnMut(Stretch)) {
    let n = points.at.len();
    let origin = points.at[first];
    let mut core = Sums::default();
    for last in first + 1..n.min(first + LONGEST + 1) {
        // What has left the end's two points.
        if last >= first + 4 {
            core.add(points.at[last - 2] - origin, points.weight[last - 2]);
        }
        if last == first + 1 && n > 2 {
            continue;
        }
        let (line, round) = costs(points, first, last, &core);
        let reach = line.min(round.map_or(f64::MAX, |r| r.cost));
        let line = Stretch { first, last, cost: line, ..line_of(points, first, last, &core) };
        offer(line);
        if let Some(round) = round {
            offer(round);
        }
        if reach > HOPELESS {
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

fn line_of(points: &Points, first: usize, last: usize, core: &Sums) -> Stretch {
    let (at, along, _) = sums(points, first, last, core).line();
    let way = points.at[last] - points.at[first];
    let along = if along.dot(way) < 0.0 { -along } else { along };
    Stretch { first, last, shape: Primitive::Line { at: points.at[first] + at, along }, cost: 0.0 }
}

/// Cost as a line, and as a circle with its stretch.
fn costs(points: &Points, first: usize, last: usize, core: &Sums) -> (f64, Option<Stretch>) {
    let all = sums(points, first, last, core);
    let square = points.stray * points.stray;
    let line = LINE + all.line().2 / square;
    if last < first + 5 || line < ROUND {
        return (line, None);
    }
    let Some((middle, radius, error)) = all.circle() else { return (line, None) };
    let middle = points.at[first] + middle;
    let way = points.at[last] - points.at[first];
    let long: f64 = (last - first) as f64 * points.at[first].distance(points.at[first + 1]);
    if !(0.8..4000.0).contains(&radius) || long > 3.6 * radius {
        return (line, None);
    }
    let half = points.at[(first + last) / 2] - points.at[first];
    let shape = Primitive::Circle { middle, radius, backwards: half.cross(way) < 0.0 };
    (line, Some(Stretch { first, last, shape, cost: ROUND + error / square }))
}

/// The best single stretch over points `first..=last`.
fn whole(points: &Points, first: usize, last: usize) -> Stretch {
    let mut core = Sums::default();
    for i in first + 2..(last - 1).max(first + 2) {
        core.add(points.at[i] - points.at[first], points.weight[i]);
    }
    let (line, round) = costs(points, first, last, &core);
    let straight = Stretch { cost: line, ..line_of(points, first, last, &core) };
    round.filter(|r| r.cost < line).unwrap_or(straight)
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
