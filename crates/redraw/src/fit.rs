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
    let outlines = outlines(map);
    let divided: Vec<Divided> = outlines.par_iter().map(|o| Divided::new(o, stray)).collect();
    place_nodes(map, &outlines, &divided);
    let drawn = |map: &Map| -> Vec<Vec<PathSeg>> {
        outlines.par_iter().zip(&divided).map(|(o, d)| d.draw(o, &map.nodes, style)).collect()
    };
    // Nodes that outlines pass go onto the curves, and what ends in them is drawn anew.
    let first = drawn(map);
    for (outline, path) in outlines.iter().zip(&first) {
        let mut before = (0, 0.0);
        for &(_, node) in &outline.passed {
            if let Some(at) = nearest(path, map.nodes[node as usize], before) {
                map.nodes[node as usize] = path[at.0].eval(at.1);
                before = at;
            }
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
    fn new(outline: &Outline, stray: f64) -> Self {
        let points = Points { at: &outline.points, weight: &outline.weight, stray };
        let mut stretches = divide(&points);
        let circle = if outline.ends.is_none() { full_circle(&points, &stretches) } else { None };
        level(&points, &mut stretches);
        Self { stretches, circle }
    }

    fn draw(&self, outline: &Outline, nodes: &[Point], style: Style) -> Vec<PathSeg> {
        if let Some((middle, radius)) = self.circle {
            let area: f64 = outline.points.windows(2).map(|w| (w[0] - middle).cross(w[1] - middle)).sum();
            return circle(middle, radius, area < 0.0);
        }
        draw(outline, &self.stretches, outline.ends.map(|e| e.map(|n| nodes[n as usize])), style)
    }

    fn at(&self, point: usize) -> &Stretch {
        let after = self.stretches.partition_point(|s| s.last < point);
        &self.stretches[after.min(self.stretches.len() - 1)]
    }
}

/// Moves each node to where the stretches that meet in it cross.
fn place_nodes(map: &mut Map, outlines: &[Outline], divided: &[Divided]) {
    let mut meeting: Vec<Vec<Primitive>> = vec![Vec::new(); map.nodes.len()];
    for (outline, divided) in outlines.iter().zip(divided) {
        for &(at, node) in &outline.passed {
            meeting[node as usize].push(divided.at(at).shape);
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
    let all = path.iter().enumerate().skip(first).map(|(i, segment)| {
        let start = if i == first { after } else { 0.0 };
        let found = segment.subsegment(start..1.0).nearest(p, 1e-7);
        (found.distance_sq, i, start + (1.0 - start) * found.t)
    });
    all.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, i, t)| (i, t))
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
            if range.end - range.start > 1e-6 {
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
