//! Outlines moved until the areas that they bound are those that the art's edges show.
//!
//! Chains are drawn with the colours on either side, exactly by area, and compared with the art. Where a pixel
//! is wrong, the chain through it moves across itself by the area that is missing there. What is wrong beside
//! a chain counts as well, so that an edge that the art shows blurred lands in the blur's middle.

use kurbo::{Point, Vec2};
use rayon::prelude::*;

use crate::art::Field;
use crate::cracks::{Chain, Map, OUTSIDE};
use crate::space::Sample;
use crate::wrong::Wrong;

/// Distance of a chain's points, pixels.
const SPACING: f64 = 0.75;
/// Share of the missing area that one step makes good: a thin line's two sides both answer to it.
const GAIN: f64 = 0.7;
/// Steps after which a clean picture has settled.
const STEPS: usize = 24;
/// How calm the sides of thin lines are kept, and how much their points are trusted.
const THIN_CALM: f64 = 0.8;
const THIN_TRUST: f64 = 0.2;
/// A chain has settled when none of its points moves farther, pixels.
const SETTLED: f64 = 0.01;

/// Moves all chains of `map` to where `target` has its edges.
pub(crate) fn refine(map: &mut Map, target: &Field, paints: &[Sample], calm: f64) {
    let paint = |label: u8| if label == OUTSIDE { Sample::default() } else { paints[label as usize] };
    let nodes = map.nodes.clone();
    map.chains.par_iter_mut().for_each(|chain| begin(chain, &nodes));
    let mut wrong = Wrong::new(map);
    let mut states: Vec<State> = map.chains.iter().map(|_| State::default()).collect();
    for step in 0..STEPS {
        wrong.draw(map, target, &paint);
        map.chains.par_iter_mut().zip(&mut states).filter(|(c, _)| !c.on_border()).for_each(|(chain, state)| {
            // What has settled is looked at again after each spacing.
            if state.settled {
                return;
            }
            let normals = normals(chain);
            let moves = moves(chain, &normals, &wrong.field, paint(chain.left) - paint(chain.right));
            if state.alone.len() != chain.points.len() {
                state.alone = alone(chain, &normals, target, paint(chain.left), paint(chain.right));
                state.soft = softness(chain, &normals, &state.alone, target, paint(chain.left) - paint(chain.right));
            }
            let (alone, calm) = (&state.alone, calm.max(state.soft));
            shift(chain, &normals, &moves, |i| if alone[i] { calm } else { calm.max(THIN_CALM) });
            state.settled = moves.iter().all(|v| v.abs() < SETTLED);
        });
        let last = step + 1 == STEPS;
        if step % 2 == 1 || last {
            meet(map);
        }
        if step % 6 == 5 && !last {
            map.chains.par_iter_mut().filter(|c| !c.on_border()).for_each(space_evenly);
            states.iter_mut().for_each(|state| *state = State::default());
        }
    }
    map.chains.par_iter_mut().filter(|c| !c.on_border()).for_each(|chain| {
        let (normals, left, right) = (normals(chain), paint(chain.left), paint(chain.right));
        let alone = alone(chain, &normals, target, left, right);
        let sharp = 1.0 - 0.9 * softness(chain, &normals, &alone, target, left - right);
        chain.trust = alone.iter().map(|&a| if a { sharp } else { THIN_TRUST.min(sharp) }).collect();
    });
}

/// What is known of a chain between two spacings of its points.
#[derive(Default)]
struct State {
    alone: Vec<bool>,
    soft: f64,
    settled: bool,
}

/// Smooths the pixel steps away and spaces points evenly, ends at their nodes.
fn begin(chain: &mut Chain, nodes: &[Point]) {
    if let Some([from, to]) = chain.ends {
        chain.points.insert(0, nodes[from as usize]);
        chain.points.push(nodes[to as usize]);
    }
    if chain.on_border() {
        let ends = [chain.points[0], chain.points[chain.points.len() - 1]];
        chain.points = ends.to_vec();
        return;
    }
    for _ in 0..2 {
        let old = chain.points.clone();
        for_inner(chain, |i, before, after| old[before].midpoint(old[after]).midpoint(old[i]));
    }
    space_evenly(chain);
}

/// Replaces each point that is no end by what `place(point, before, after)` says.
fn for_inner(chain: &mut Chain, place: impl Fn(usize, usize, usize) -> Point) {
    let n = chain.points.len();
    if chain.ends.is_some() {
        for i in 1..n.saturating_sub(1) {
            chain.points[i] = place(i, i - 1, i + 1);
        }
    } else {
        for i in 0..n {
            chain.points[i] = place(i, (i + n - 1) % n, (i + 1) % n);
        }
    }
}

/// Points anew along the chain, evenly.
fn space_evenly(chain: &mut Chain) {
    let closed = chain.ends.is_none();
    let mut points = std::mem::take(&mut chain.points);
    if closed {
        points.push(points[0]);
    }
    let length: f64 = points.windows(2).map(|w| w[0].distance(w[1])).sum();
    let least = if closed { 8.0 } else { 2.0 };
    let count = (length / SPACING).round().max(least);
    let step = length / count;
    let mut spaced = vec![points[0]];
    let mut walked = 0.0;
    for w in points.windows(2) {
        let long = w[0].distance(w[1]);
        while spaced.len() as f64 * step <= walked + long && (spaced.len() as f64) < count {
            let t = (spaced.len() as f64 * step - walked) / long.max(1e-12);
            spaced.push(w[0].lerp(w[1], t));
        }
        walked += long;
    }
    if !closed {
        spaced.push(points[points.len() - 1]);
    }
    chain.points = spaced;
}

/// Unit normals to the left of a chain's way.
fn normals(chain: &Chain) -> Vec<Vec2> {
    let n = chain.points.len();
    let closed = chain.ends.is_none();
    let point = |i: isize| {
        let last = n as isize - 1;
        chain.points[if closed { i.rem_euclid(n as isize) } else { i.clamp(0, last) } as usize]
    };
    let normal = |i: usize| {
        let along = point(i as isize + 1) - point(i as isize - 1);
        let long = along.hypot2().sqrt();
        if long < 1e-9 { Vec2::ZERO } else { Vec2::new(along.y, -along.x) / long }
    };
    (0..n).map(normal).collect()
}

/// How far each point has to move to its left.
fn moves(chain: &Chain, normals: &[Vec2], wrong: &Field, d: Sample) -> Vec<f64> {
    let length = d.dot(d);
    if length < 1.0 {
        return vec![0.0; chain.points.len()];
    }
    let missing = |p: Point| f64::from(wrong.between(p.x, p.y, d) / length);
    let one = |(p, n): (&Point, &Vec2)| {
        // What is wrong farther off counts for less, so that both sides of a thin line know which is meant.
        let weighed = |k: i32| {
            let off = f64::from(k) * 0.4;
            missing(*p + *n * off) * (1.0 - off.abs() / 1.6)
        };
        let across: f64 = (-3..=3).map(weighed).sum();
        // Too little of the left colour: the chain moves to its right.
        -(0.4 * across * GAIN).clamp(-0.4, 0.4)
    };
    chain.points.iter().zip(normals).map(one).collect()
}

/// Whether both colours of a chain are seen whole beside each of its points. Where one is a thin line's they
/// are not, and what is missing may be its width or its place.
fn alone(chain: &Chain, normals: &[Vec2], target: &Field, left: Sample, right: Sample) -> Vec<bool> {
    let d = left - right;
    let length = d.dot(d).max(1.0);
    let base = right.dot(d);
    let share = |p: Point| (target.between(p.x, p.y, d) - base) / length;
    let whole = |(p, n): (&Point, &Vec2)| share(*p + *n * 1.3) > 0.8 && share(*p - *n * 1.3) < 0.2;
    chain.points.iter().zip(normals).map(whole).collect()
}

/// How blurred the art is along a chain: 0 where pixels are only averaged, 1 where an edge is three pixels wide. A point
/// of a blurred edge is told by few pixels, and only its neighbours keep it in line.
fn softness(chain: &Chain, normals: &[Vec2], alone: &[bool], target: &Field, d: Sample) -> f64 {
    let length = d.dot(d).max(1.0);
    let rise = |(p, n): (&Point, &Vec2)| {
        let (before, after) = (*p - *n * 0.6, *p + *n * 0.6);
        f64::from((target.between(after.x, after.y, d) - target.between(before.x, before.y, d)) / length)
    };
    let points = chain.points.iter().zip(normals).zip(alone).filter(|(_, alone)| **alone);
    let (sum, count) = points.fold((0.0, 0_u32), |(sum, count), (at, _)| (sum + rise(at), count + 1));
    if count as usize * 2 < alone.len() {
        // A thin line's colour is never reached.
        return 0.0;
    }
    // Averaged pixels rise by 0.84 over that way, an edge of three pixels by 0.4.
    ((0.7 - sum / f64::from(count.max(1))) / 0.25).clamp(0.0, 1.0)
}

/// Moves a chain's points across it, calmed along it.
fn shift(chain: &mut Chain, normals: &[Vec2], moves: &[f64], calm: impl Fn(usize) -> f64) {
    let old = chain.points.clone();
    for_inner(chain, |i, before, after| {
        let mean = 0.25 * moves[before] + 0.5 * moves[i] + 0.25 * moves[after];
        old[i] + normals[i] * (moves[i] + (mean - moves[i]) * calm(i).min(1.0))
    });
    fair(chain, |i| 0.1 * calm(i).min(1.0));
}

/// Takes out the turns that change from point to point; even curves stay as they are.
fn fair(chain: &mut Chain, by: impl Fn(usize) -> f64) {
    let n = chain.points.len();
    let closed = chain.ends.is_none();
    let old = chain.points.clone();
    let bend = |i: usize| {
        let (before, after) = ((i + n - 1) % n, (i + 1) % n);
        if !closed && (i == 0 || i == n - 1) {
            return None;
        }
        Some(old[before].to_vec2() - 2.0 * old[i].to_vec2() + old[after].to_vec2())
    };
    for_inner(chain, |i, before, after| match (bend(before), bend(i), bend(after)) {
        (Some(a), Some(b), Some(c)) => old[i] - (a - 2.0 * b + c) * by(i),
        _ => old[i],
    });
}

/// Moves nodes to where the chains that end in them meet.
fn meet(map: &mut Map) {
    let (w, h) = (map.width as f64, map.height as f64);
    let mut lines: Vec<Vec<(Point, Vec2)>> = vec![Vec::new(); map.nodes.len()];
    for chain in map.chains.iter().filter(|c| !c.on_border()) {
        let Some([from, to]) = chain.ends else { continue };
        let n = chain.points.len();
        let reach = 5.min(n - 1);
        if reach < 2 {
            continue;
        }
        lines[from as usize].push((chain.points[1], chain.points[reach] - chain.points[1]));
        lines[to as usize].push((chain.points[n - 2], chain.points[n - 1 - reach] - chain.points[n - 2]));
    }
    for (node, lines) in map.nodes.iter_mut().zip(&lines) {
        let old = *node;
        let edge = (old.x <= 0.0 || old.x >= w, old.y <= 0.0 || old.y >= h);
        if edge == (true, true) || lines.is_empty() {
            continue;
        }
        let mut met = crossing(old, lines);
        if edge.0 || edge.1 {
            met = on_border(old, lines, edge);
        }
        let step = met - old;
        *node = old + step * (0.5_f64).min(0.5 / step.hypot().max(1e-9));
    }
    for chain in &mut map.chains {
        if let Some([from, to]) = chain.ends {
            let last = chain.points.len() - 1;
            chain.points[0] = map.nodes[from as usize];
            chain.points[last] = map.nodes[to as usize];
        }
    }
}

/// The point nearest to lines, drawn a little to where it was.
pub(crate) fn crossing(old: Point, lines: &[(Point, Vec2)]) -> Point {
    let (mut xx, mut xy, mut yy, mut bx, mut by) = (0.05, 0.0, 0.05, 0.0, 0.0);
    for (p, d) in lines {
        let long = d.hypot();
        if long < 1e-9 {
            continue;
        }
        let n = Vec2::new(-d.y, d.x) / long;
        let off = n.dot(*p - old);
        xx += n.x * n.x;
        xy += n.x * n.y;
        yy += n.y * n.y;
        bx += n.x * off;
        by += n.y * off;
    }
    let det = xx * yy - xy * xy;
    old + Vec2::new(yy * bx - xy * by, xx * by - xy * bx) / det
}

/// Where the first line comes to the picture's side.
fn on_border(old: Point, lines: &[(Point, Vec2)], edge: (bool, bool)) -> Point {
    let (p, d) = lines[0];
    let (far, along) = if edge.0 { (old.x - p.x, d.x) } else { (old.y - p.y, d.y) };
    if along.abs() < 0.1 * d.hypot() {
        return old;
    }
    let met = p + d * (far / along);
    if edge.0 { Point::new(old.x, met.y) } else { Point::new(met.x, old.y) }
}
