//! From stretches to lines and curves: sharp corners where stretches meet at an angle, one direction where
//! they run on, arcs between straight sides, and as few cubics as keep to the points.

use kurbo::{Arc, BezPath, PathEl, PathSeg, Point, Vec2};

use crate::cubic;
use crate::divide::Stretch;
use crate::outline::Outline;
use crate::primitive::{Primitive, crossing};

/// How outlines are drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Style {
    /// Largest distance of a cubic from the points.
    pub within: f64,
    /// Turns of more than this are corners, radians.
    pub corner: f64,
}

/// Where one stretch ends and the next begins.
#[derive(Debug, Clone, Copy)]
struct Joint {
    at: Point,
    /// Where the next stretch begins: elsewhere at the blunt end of a thin line.
    leave: Point,
    /// Direction arriving, and leaving.
    into: Vec2,
    out: Vec2,
    smooth: bool,
}

/// Shortest line that stays straight within a smooth run, in points.
const HARD: usize = 6;
/// A corner lies no farther than this from the points that turn at it.
const FARTHEST: f64 = 3.0;
/// Turns of more than this without a corner near are the blunt ends of lines, radians.
const BLUNT: f64 = 1.9;
/// An arc's cubics lie within this of it, pixels.
const ROUND: f64 = 0.008;

/// Lines and curves of an outline divided into stretches, its end nodes at `ends`.
pub(crate) fn draw(outline: &Outline, stretches: &[Stretch], ends: Option<[Point; 2]>, style: Style) -> Vec<PathSeg> {
    let mut joints = joints(outline, stretches, ends, style);
    let rounds = fillets(stretches, &mut joints);
    let n = stretches.len();
    let mut drawn = Vec::new();
    let mut i = 0;
    while i < n {
        let (from, to) = (joints[i], joints[i + 1]);
        if i > 0 && from.leave != from.at {
            drawn.push(PathSeg::Line(kurbo::Line::new(from.at, from.leave)));
        }
        let from = Joint { at: from.leave, ..from };
        if hard(&stretches[i]) || (stretches[i].shape.is_line() && !(from.smooth || to.smooth)) {
            drawn.push(PathSeg::Line(kurbo::Line::new(from.at, to.at)));
            i += 1;
            continue;
        }
        let alone = !from.smooth && (i + 1 == n || !to.smooth);
        if let Some(arc) =
            rounds[i].or_else(|| if alone { arc_between(outline, &stretches[i], from.at, to.at) } else { None })
        {
            push_arc(&mut drawn, &arc, from.at, to.at);
            i += 1;
            continue;
        }
        let mut last = i;
        while last + 1 < n && joints[last + 1].smooth && !hard(&stretches[last + 1]) && rounds[last + 1].is_none() {
            last += 1;
        }
        i = soft(outline, stretches, &joints, (i, last), style, &mut drawn) + 1;
    }
    if joints[n].leave != joints[n].at {
        drawn.push(PathSeg::Line(kurbo::Line::new(joints[n].at, joints[n].leave)));
    }
    drawn
}

fn hard(stretch: &Stretch) -> bool {
    stretch.shape.is_line() && stretch.last - stretch.first >= HARD
}

/// Draws from stretch `first` on, no farther than `last`, by the longest cubic that keeps to the points.
/// Returns the last stretch that it covers.
fn soft(
    outline: &Outline,
    stretches: &[Stretch],
    joints: &[Joint],
    (first, last): (usize, usize),
    style: Style,
    drawn: &mut Vec<PathSeg>,
) -> usize {
    let from = Joint { at: joints[first].leave, ..joints[first] };
    for end in (first..=last).rev() {
        let to = joints[end + 1];
        // Points next to a corner show it rounded.
        let skip = |smooth: bool| if smooth { 1 } else { 2 };
        let a = stretches[first].first + skip(from.smooth);
        let b = (stretches[end].last + 1).saturating_sub(skip(to.smooth)).max(a);
        let points: Vec<Point> = (a..b).filter(|&i| outline.weight[i] > 0.16).map(|i| outline.points[i]).collect();
        let (curve, far) = cubic::fit(&points, (from.at, from.out), (to.at, to.into));
        let turn: f64 = stretches[first..=end].iter().map(|s| turn(s, outline).abs()).sum();
        if (far <= style.within && turn < 2.4) || end == first {
            if end == first
                && far > style.within
                && let Some(arc) = arc_between(outline, &stretches[first], from.at, to.at)
            {
                push_arc(drawn, &arc, from.at, to.at);
                return end;
            }
            drawn.push(PathSeg::Cubic(curve));
            return end;
        }
    }
    first
}

/// How far a stretch turns, radians.
fn turn(stretch: &Stretch, outline: &Outline) -> f64 {
    let (_, a) = stretch.shape.tangent(outline.points[stretch.first]);
    let (_, b) = stretch.shape.tangent(outline.points[stretch.last]);
    a.cross(b).atan2(a.dot(b))
}

fn joints(outline: &Outline, stretches: &[Stretch], ends: Option<[Point; 2]>, style: Style) -> Vec<Joint> {
    let n = stretches.len();
    let mut joints: Vec<Joint> = Vec::with_capacity(n + 1);
    let point = |i: usize| outline.points[i];
    for i in 0..=n {
        let joint = match (i, ends) {
            (0, Some([start, _])) => {
                let (_, out) = stretches[0].shape.tangent(start);
                Joint { at: start, leave: start, into: out, out, smooth: false }
            }
            (i, Some([_, end])) if i == n => {
                let (_, into) = stretches[n - 1].shape.tangent(end);
                Joint { at: end, leave: end, into, out: into, smooth: false }
            }
            (i, _) if i == n => joints[0],
            (0, _) => joint(&stretches[n - 1], &stretches[0], point(0), style),
            _ => joint(&stretches[i - 1], &stretches[i], point(stretches[i].first), style),
        };
        joints.push(joint);
    }
    joints
}

fn joint(a: &Stretch, b: &Stretch, p: Point, style: Style) -> Joint {
    let ((pa, da), (pb, db)) = (a.shape.tangent(p), b.shape.tangent(p));
    let turn = da.cross(db).atan2(da.dot(db)).abs();
    let both_lines = a.shape.is_line() && b.shape.is_line();
    if turn > style.corner || (both_lines && turn > 0.03) {
        let met = crossing(&a.shape, &b.shape, p).filter(|m| m.distance(p) < FARTHEST);
        if met.is_none() && turn > BLUNT {
            // The end of a thin line: square across, where its points turn.
            return Joint { at: pa, leave: pb, into: da, out: db, smooth: false };
        }
        let at = pinned(pinned(met.unwrap_or(p), a), b);
        let ((_, into), (_, out)) = (a.shape.tangent(at), b.shape.tangent(at));
        return Joint { at, leave: at, into, out, smooth: false };
    }
    let (at, along) = match (hard(a), hard(b)) {
        (true, false) => (pa, da),
        (false, true) => (pb, db),
        _ => (pa.midpoint(pb), da + db),
    };
    let along = along / along.hypot().max(1e-12);
    Joint { at, leave: at, into: along, out: along, smooth: true }
}

/// On a level or upright line to the last bit.
fn pinned(mut p: Point, stretch: &Stretch) -> Point {
    if let Primitive::Line { at, along } = stretch.shape {
        if along.y == 0.0 {
            p.y = at.y;
        } else if along.x == 0.0 {
            p.x = at.x;
        }
    }
    p
}

/// Rounds between two straight sides become arcs that touch both; moves the joints to where they touch.
fn fillets(stretches: &[Stretch], joints: &mut [Joint]) -> Vec<Option<Arc>> {
    let n = stretches.len();
    let mut rounds = vec![None; n];
    let closed = joints[0].smooth;
    for i in 0..n {
        let (before, after) = ((i + n - 1) % n, (i + 1) % n);
        let inner = (closed || i > 0 && i + 1 < n) && n > 2;
        if !inner || !joints[i].smooth || !joints[i + 1].smooth || !hard(&stretches[before]) || !hard(&stretches[after])
        {
            continue;
        }
        let Primitive::Circle { middle, .. } = stretches[i].shape else { continue };
        let (Primitive::Line { along: da, .. }, Primitive::Line { along: db, .. }) =
            (stretches[before].shape, stretches[after].shape)
        else {
            continue;
        };
        let Some(met) = crossing(&stretches[before].shape, &stretches[after].shape, joints[i].at) else { continue };
        let turn = da.cross(db).atan2(da.dot(db));
        let half = (0.5 * turn.abs()).cos();
        if half < 0.2 || turn.abs() < 0.1 {
            continue;
        }
        // The arc's middle as fitted gives the radius that touches both sides.
        let inward = (middle - met) / (middle - met).hypot().max(1e-9);
        let Primitive::Circle { radius, .. } = stretches[i].shape else { continue };
        let gap = (middle - met).hypot() - radius;
        let radius = gap / (1.0 / half - 1.0);
        let reach = radius * (0.5 * turn.abs()).tan();
        let (ta, tb) = (met - da * reach, met + db * reach);
        let near = ta.distance(joints[i].at) < 0.35 * reach + 1.0 && tb.distance(joints[i + 1].at) < 0.35 * reach + 1.0;
        if gap <= 0.0 || !near || inward.dot(db - da) <= 0.0 {
            continue;
        }
        let center = ta + Vec2::new(-da.y, da.x) * radius * turn.signum();
        let start = (ta - center).atan2();
        rounds[i] = Some(Arc::new(center, (radius, radius), start, turn, 0.0));
        joints[i] = Joint { at: ta, leave: ta, into: da, out: da, smooth: true };
        joints[i + 1] = Joint { at: tb, leave: tb, into: db, out: db, smooth: true };
        if i == 0 {
            joints[n] = joints[0];
        } else if i + 1 == n {
            joints[0] = joints[n];
        }
    }
    rounds
}

/// The arc from `a` to `b` that bulges as the stretch's circle does.
fn arc_between(outline: &Outline, stretch: &Stretch, a: Point, b: Point) -> Option<Arc> {
    let Primitive::Circle { middle, radius, backwards } = stretch.shape else { return None };
    let sign = if backwards { -1.0 } else { 1.0 };
    let (start, end) = ((a - middle).atan2(), (b - middle).atan2());
    let sweep = (sign * (end - start)).rem_euclid(std::f64::consts::TAU);
    // Through both ends and the middle of the fitted arc.
    let via = middle + Vec2::from_angle(start + sign * 0.5 * sweep) * radius;
    let (u, v) = (via - a, b - a);
    let cross = 2.0 * u.cross(v);
    if cross.abs() < 1e-9 {
        return None;
    }
    let center = a + Vec2::new(v.y * u.hypot2() - u.y * v.hypot2(), u.x * v.hypot2() - v.x * u.hypot2()) / cross;
    let radius = center.distance(a);
    let start = (a - center).atan2();
    let sweep = sign * (sign * ((b - center).atan2() - start)).rem_euclid(std::f64::consts::TAU);
    // Ends that were moved past each other would send it round the other way.
    let fitted = turn(stretch, outline).rem_euclid(std::f64::consts::TAU * sign);
    (radius.is_finite() && sweep.abs() < 5.5 && (sweep - fitted).abs() < 0.8)
        .then(|| Arc::new(center, (radius, radius), start, sweep, 0.0))
}

/// Adds an arc as cubics, its ends exactly where they should be.
fn push_arc(drawn: &mut Vec<PathSeg>, arc: &Arc, from: Point, to: Point) {
    let mut path = BezPath::new();
    path.move_to(from);
    arc.to_cubic_beziers(ROUND, |a, b, c| path.curve_to(a, b, c));
    if let Some(PathEl::CurveTo(_, _, last)) = path.elements_mut().last_mut() {
        *last = to;
    }
    drawn.extend(path.segments());
}

/// A whole circle as cubics, from its point nearest to `start`.
pub(crate) fn circle(middle: Point, radius: f64, start: Point, backwards: bool) -> Vec<PathSeg> {
    let sweep = std::f64::consts::TAU * if backwards { -1.0 } else { 1.0 };
    let angle = (start - middle).atan2();
    let from = middle + Vec2::from_angle(angle) * radius;
    let mut drawn = Vec::new();
    push_arc(&mut drawn, &Arc::new(middle, (radius, radius), angle, sweep, 0.0), from, from);
    drawn
}
