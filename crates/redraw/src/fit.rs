//! From refined chains to fitted ones: each chain becomes lines and cubics, shared by the regions on both sides.

use kurbo::{ParamCurve, ParamCurveNearest, PathSeg, Point, Vec2};
use rayon::prelude::*;

use crate::cracks::Map;
use crate::divide::{Points, Stretch, divide, full_circle, level};
use crate::outline::{Outline, outlines};
use crate::path::{Style, circle, draw};
use crate::primitive::Primitive;

/// Lines and curves of every chain of the map, in its order, each running as its chain does.
pub(crate) fn fit(map: &mut Map, stray: f64, corner: f64) -> Vec<Vec<PathSeg>> {
    let style = Style { within: 2.2 * stray + 0.03, corner };
    let mut outlines = outlines(map);
    let divided: Vec<Divided> = outlines.par_iter_mut().map(|o| Divided::new(o, stray)).collect();
    place_nodes(map, &outlines, &divided);
    let drawn = |map: &Map| -> Vec<Vec<PathSeg>> {
        let draw = |(o, d): (&Outline, &Divided)| {
            begun_at(d.draw(o, &map.nodes, style), o.start.map(|n| map.nodes[n as usize]))
        };
        outlines.par_iter().zip(&divided).map(draw).collect()
    };
    // Nodes that outlines pass go onto the curves, and what ends in them is drawn anew.
    let first = drawn(map);
    let stems = stems(map, &outlines, &divided);
    for (outline, path) in outlines.iter().zip(&first) {
        let mut before = (0, 0.0);
        for &(_, node) in &outline.passed {
            let (place, stem) = (&mut map.nodes[node as usize], &stems[node as usize]);
            before = onto(path, place, stem, before);
        }
        if let Some(node) = outline.start {
            onto(path, &mut map.nodes[node as usize], &stems[node as usize], (0, 0.0));
        }
    }
    let second = drawn(map);
    let mut chains = vec![Vec::new(); map.chains.len()];
    for (outline, path) in outlines.iter().zip(second) {
        share_out(map, outline, path, &mut chains);
    }
    for (chain, to) in map.chains.iter().zip(&mut chains) {
        if let (true, Some([from, end])) = (chain.on_border(), chain.ends) {
            *to = vec![PathSeg::Line(kurbo::Line::new(map.nodes[from as usize], map.nodes[end as usize]))];
        }
    }
    chains
}

struct Divided {
    stretches: Vec<Stretch>,
    circle: Option<(Point, f64)>,
}

impl Divided {
    fn new(outline: &mut Outline, stray: f64) -> Self {
        if outline.ends.is_none() {
            // Where to begin is only known once it is divided.
            let points = Points { at: &outline.points, weight: &outline.weight, stray };
            let first = best_start(&outline.points, &divide(&points));
            outline.begin_at(first);
        }
        let points = Points { at: &outline.points, weight: &outline.weight, stray };
        let mut stretches = divide(&points);
        let circle = if outline.ends.is_none() { full_circle(&points, &stretches) } else { None };
        level(&points, &mut stretches);
        Self { stretches, circle }
    }

    fn draw(&self, outline: &Outline, nodes: &[Point], style: Style) -> Vec<PathSeg> {
        if let Some((middle, radius)) = self.circle {
            let area: f64 = outline.points.windows(2).map(|w| (w[0] - middle).cross(w[1] - middle)).sum();
            return circle(middle, radius, outline.points[0], area < 0.0);
        }
        draw(outline, &self.stretches, outline.ends.map(|e| e.map(|n| nodes[n as usize])), style)
    }

    fn at(&self, point: usize) -> &Stretch {
        let after = self.stretches.partition_point(|s| s.last < point);
        &self.stretches[after.min(self.stretches.len() - 1)]
    }
}

/// The point at which a closed outline turns most between two stretches; next to a line rather than elsewhere.
fn best_start(points: &[Point], stretches: &[Stretch]) -> usize {
    let n = stretches.len();
    let score = |i: usize| {
        let (a, b) = (&stretches[(i + n - 1) % n], &stretches[i]);
        let p = points[b.first];
        let ((_, da), (_, db)) = (a.shape.tangent(p), b.shape.tangent(p));
        let line = if a.shape.is_line() || b.shape.is_line() { 0.3 } else { 0.0 };
        da.cross(db).atan2(da.dot(db)).abs() + line
    };
    let best = (0..n).max_by(|&a, &b| score(a).total_cmp(&score(b)).then(b.cmp(&a)));
    best.map_or(0, |i| stretches[i].first)
}

/// What ends in each node.
fn stems(map: &Map, outlines: &[Outline], divided: &[Divided]) -> Vec<Vec<Primitive>> {
    let mut stems = vec![Vec::new(); map.nodes.len()];
    for (outline, divided) in outlines.iter().zip(divided) {
        if let Some([from, to]) = outline.ends {
            stems[from as usize].push(divided.stretches[0].shape);
            stems[to as usize].push(divided.stretches[divided.stretches.len() - 1].shape);
        }
    }
    stems
}

/// A closed path that begins where it comes nearest to a node.
fn begun_at(mut path: Vec<PathSeg>, node: Option<Point>) -> Vec<PathSeg> {
    let Some((i, t)) = node.and_then(|p| nearest(&path, p, (0, 0.0))) else { return path };
    let (before, after) = (path[i].subsegment(0.0..t), path[i].subsegment(t..1.0));
    path.rotate_left(i);
    path[0] = after;
    path.push(before);
    path.retain(|s| s.start().distance(s.end()) > 1e-9);
    path
}

/// Moves a node to where what ends in it meets a path, no earlier than `from`.
fn onto(path: &[PathSeg], node: &mut Point, stems: &[Primitive], from: (usize, f64)) -> (usize, f64) {
    let mut p = *node;
    let mut found = from;
    for _ in 0..5 {
        let Some(at) = nearest(path, p, from) else { return from };
        found = at;
        let here = path[at.0].eval(at.1);
        let ahead = path[at.0].eval((at.1 + 0.01).min(1.0)) - path[at.0].eval((at.1 - 0.01).max(0.0));
        p = here;
        let Some(stem) = stems.first() else { break };
        let along = Primitive::Line { at: here, along: ahead / ahead.hypot().max(1e-12) };
        match crate::primitive::crossing(stem, &along, here) {
            Some(met) if met.distance(*node) < 1.5 => p = met,
            _ => break,
        }
    }
    *node = p;
    found
}

/// Moves each node to where the stretches that meet in it cross.
fn place_nodes(map: &mut Map, outlines: &[Outline], divided: &[Divided]) {
    let mut meeting: Vec<Vec<Primitive>> = vec![Vec::new(); map.nodes.len()];
    for (outline, divided) in outlines.iter().zip(divided) {
        for &(at, node) in &outline.passed {
            meeting[node as usize].push(divided.at(at).shape);
        }
        if let Some(node) = outline.start {
            meeting[node as usize].push(divided.stretches[0].shape);
        }
        if let Some([from, to]) = outline.ends {
            let count = divided.stretches.len();
            meeting[from as usize].push(divided.stretches[0].shape);
            meeting[to as usize].push(divided.stretches[count - 1].shape);
        }
    }
    let (w, h) = (map.width as f64, map.height as f64);
    for (node, shapes) in map.nodes.iter_mut().zip(&meeting) {
        let old = *node;
        let sides = [(old.x <= 0.0 || old.x >= w), (old.y <= 0.0 || old.y >= h)];
        if shapes.is_empty() || sides == [true; 2] {
            continue;
        }
        let mut met = old;
        for _ in 0..3 {
            let mut lines: Vec<(Point, Vec2)> = shapes.iter().map(|s| s.tangent(met)).collect();
            // The picture's own sides count as if they were a thousand.
            for (&on, along) in sides.iter().zip([Vec2::new(0.0, 1.0), Vec2::new(1.0, 0.0)]) {
                if on {
                    lines.extend(std::iter::repeat_n((old, along), 1000));
                }
            }
            met = crate::refine::crossing(old, &lines);
        }
        for shape in shapes {
            if let Primitive::Line { at, along } = shape {
                if along.y == 0.0 && !sides[1] {
                    met.y = at.y;
                } else if along.x == 0.0 && !sides[0] {
                    met.x = at.x;
                }
            }
        }
        if sides[0] {
            met.x = old.x;
        }
        if sides[1] {
            met.y = old.y;
        }
        if met.distance(old) < 2.0 {
            *node = Point::new(met.x.clamp(0.0, w), met.y.clamp(0.0, h));
        }
    }
}

/// Segment and parameter of a path nearest to a point, no earlier than `from`.
fn nearest(path: &[PathSeg], p: Point, (first, after): (usize, f64)) -> Option<(usize, f64)> {
    let mut best: Option<(f64, usize, f64)> = None;
    for (i, segment) in path.iter().enumerate().skip(first) {
        // A curve stays among its control points.
        let cubic = segment.to_cubic();
        let (mut low, mut high) = (cubic.p0, cubic.p0);
        for q in [cubic.p1, cubic.p2, cubic.p3] {
            low = Point::new(low.x.min(q.x), low.y.min(q.y));
            high = Point::new(high.x.max(q.x), high.y.max(q.y));
        }
        let beside = Point::new(p.x.clamp(low.x, high.x), p.y.clamp(low.y, high.y));
        if best.is_some_and(|b| beside.distance_squared(p) > b.0) {
            continue;
        }
        let start = if i == first { after } else { 0.0 };
        let found = segment.subsegment(start..1.0).nearest(p, 1e-6);
        if best.is_none_or(|b| found.distance_sq < b.0) {
            best = Some((found.distance_sq, i, start + (1.0 - start) * found.t));
        }
    }
    best.map(|(_, i, t)| (i, t))
}

/// Cuts an outline's path at the nodes that it passes and gives each chain its part.
fn share_out(map: &Map, outline: &Outline, path: Vec<PathSeg>, chains: &mut [Vec<PathSeg>]) {
    let mut cuts = vec![(0, 0.0)];
    for &(_, node) in &outline.passed {
        let before = cuts[cuts.len() - 1];
        cuts.push(nearest(&path, map.nodes[node as usize], before).unwrap_or(before));
    }
    cuts.push((path.len().saturating_sub(1), 1.0));
    for (i, &(chain, back)) in outline.parts.iter().enumerate() {
        let (a, b) = (cuts[i], cuts[i + 1]);
        let mut part = Vec::new();
        for (k, segment) in path.iter().enumerate().take(b.0 + 1).skip(a.0) {
            let range = if k == a.0 { a.1 } else { 0.0 }..if k == b.0 { b.1 } else { 1.0 };
            if range == (0.0..1.0) {
                part.push(*segment);
            } else if range.end - range.start > 1e-6 {
                part.push(segment.subsegment(range));
            }
        }
        if let Some(ends) = map.chains[chain as usize].ends {
            let [from, to] = if back { [ends[1], ends[0]] } else { ends }.map(|n| map.nodes[n as usize]);
            if part.is_empty() {
                part.push(PathSeg::Line(kurbo::Line::new(from, to)));
            }
            pin(&mut part, from, to);
        }
        if back {
            part = part.iter().rev().map(PathSeg::reverse).collect();
        }
        chains[chain as usize] = part;
    }
}

/// Puts a part's ends exactly on its nodes.
fn pin(part: &mut [PathSeg], from: Point, to: Point) {
    match part.first_mut() {
        Some(PathSeg::Line(l)) => l.p0 = from,
        Some(PathSeg::Cubic(c)) => c.p0 = from,
        _ => {}
    }
    match part.last_mut() {
        Some(PathSeg::Line(l)) => l.p1 = to,
        Some(PathSeg::Cubic(c)) => c.p3 = to,
        _ => {}
    }
}
