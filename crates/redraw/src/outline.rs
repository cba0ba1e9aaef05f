//! Chains that run on smoothly through junctions, taken together, so that what is one curve in the art is
//! fitted as one: the side of a stripe goes on straight behind what it touches.

use kurbo::{Point, Vec2};

use crate::cracks::{Chain, Map};

/// A run of chains fitted as one. A closed one ends with its first point again.
pub(crate) struct Outline {
    /// Chains in order; true where one is walked backwards.
    pub parts: Vec<(u32, bool)>,
    pub points: Vec<Point>,
    pub weight: Vec<f64>,
    /// Nodes passed on the way: index of the point, and node.
    pub passed: Vec<(usize, u32)>,
    /// Nodes at the ends; none where closed.
    pub ends: Option<[u32; 2]>,
    /// The node that a closed outline begins at, if it passes any.
    pub start: Option<u32>,
}

/// Largest turn at a junction through which a chain runs on, degrees.
const THROUGH: f64 = 18.0;
/// Weight of points beside a junction, which three colours disturb.
const DISTURBED: f64 = 0.15;

/// All outlines but the picture's sides.
pub(crate) fn outlines(map: &Map) -> Vec<Outline> {
    let partner = partners(map);
    let mut used = vec![false; map.chains.len()];
    let mut all = Vec::new();
    for start in 0..map.chains.len() {
        if used[start] || map.chains[start].on_border() {
            continue;
        }
        // Back to where it begins, or once round.
        let mut first = (start as u32, false);
        while let Some(before) = leave(&partner, (first.0, !first.1)) {
            first = (before.0, !before.1);
            if first.0 == start as u32 {
                break;
            }
        }
        let mut parts = vec![first];
        used[first.0 as usize] = true;
        while let Some(next) = leave(&partner, parts[parts.len() - 1]) {
            if used[next.0 as usize] {
                break;
            }
            used[next.0 as usize] = true;
            parts.push(next);
        }
        let closed = leave(&partner, parts[parts.len() - 1]) == Some(parts[0]);
        all.push(assemble(map, parts, closed));
    }
    all
}

/// The chain that a chain runs on into at its end.
fn leave(partner: &[[Option<(u32, bool)>; 2]], (chain, back): (u32, bool)) -> Option<(u32, bool)> {
    partner[chain as usize][usize::from(!back)]
}

/// For both ends of each chain (its start, its end), the chain that goes on there, walked away from the node.
fn partners(map: &Map) -> Vec<[Option<(u32, bool)>; 2]> {
    let mut leaving: Vec<Vec<(u32, bool, Vec2)>> = vec![Vec::new(); map.nodes.len()];
    for (i, chain) in map.chains.iter().enumerate() {
        let (Some([from, to]), false) = (chain.ends, chain.on_border()) else { continue };
        leaving[from as usize].push((i as u32, false, away(chain, false)));
        leaving[to as usize].push((i as u32, true, away(chain, true)));
    }
    let mut partner = vec![[None; 2]; map.chains.len()];
    for at_node in &leaving {
        let mut pairs = Vec::new();
        for (i, a) in at_node.iter().enumerate() {
            for b in &at_node[..i] {
                let turn = (-a.2).cross(b.2).atan2((-a.2).dot(b.2)).abs().to_degrees();
                if turn < THROUGH && a.0 != b.0 {
                    pairs.push((turn, *a, *b));
                }
            }
        }
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (_, a, b) in pairs {
            let (ea, eb) = (usize::from(a.1), usize::from(b.1));
            if partner[a.0 as usize][ea].is_none() && partner[b.0 as usize][eb].is_none() {
                partner[a.0 as usize][ea] = Some((b.0, b.1));
                partner[b.0 as usize][eb] = Some((a.0, a.1));
            }
        }
    }
    partner
}

/// The way a chain leaves its start, or its end.
fn away(chain: &Chain, end: bool) -> Vec2 {
    let n = chain.points.len();
    let at = |i: usize| chain.points[if end { n - 1 - i } else { i }];
    if n < 4 { at(n - 1) - at(0) } else { at(7.min(n - 1)) - at(1) }
}

fn assemble(map: &Map, parts: Vec<(u32, bool)>, closed: bool) -> Outline {
    let chain = &map.chains[parts[0].0 as usize];
    if chain.ends.is_none() {
        let mut points = chain.points.clone();
        let sharpest = sharpest(&points);
        points.rotate_left(sharpest);
        points.push(points[0]);
        let mut weight = trust(chain);
        weight.rotate_left(sharpest);
        weight.push(weight[0]);
        return Outline { parts, points, weight, passed: Vec::new(), ends: None, start: None };
    }
    let mut points: Vec<Point> = Vec::new();
    let mut weight: Vec<f64> = Vec::new();
    let mut passed = Vec::new();
    let mut ends = [0; 2];
    for (i, &(c, back)) in parts.iter().enumerate() {
        let chain = &map.chains[c as usize];
        let nodes = chain.ends.unwrap_or_default();
        let [from, to] = if back { [nodes[1], nodes[0]] } else { nodes };
        let mut own = chain.points.clone();
        let mut own_weight = trust(chain);
        if back {
            own.reverse();
            own_weight.reverse();
        }
        if i == 0 {
            ends[0] = from;
        } else {
            passed.push((points.len() - 1, from));
            own.remove(0);
            own_weight.remove(0);
        }
        ends[1] = to;
        points.extend(own);
        weight.extend(own_weight);
    }
    for &(at, _) in &passed {
        for w in &mut weight[at.saturating_sub(1)..=(at + 1).min(points.len() - 1)] {
            *w = w.min(DISTURBED);
        }
    }
    let (start, ends) = if closed { (Some(ends[0]), None) } else { (None, Some(ends)) };
    Outline { parts, points, weight, passed, ends, start }
}

impl Outline {
    /// Begins a closed outline that passes no node at another of its points.
    pub fn begin_at(&mut self, first: usize) {
        if self.ends.is_none() && self.start.is_none() {
            self.points.pop();
            self.weight.pop();
            self.points.rotate_left(first);
            self.weight.rotate_left(first);
            self.points.push(self.points[0]);
            self.weight.push(self.weight[0]);
        }
    }
}

fn trust(chain: &Chain) -> Vec<f64> {
    if chain.trust.len() == chain.points.len() { chain.trust.clone() } else { vec![1.0; chain.points.len()] }
}

/// Where a closed outline turns most.
fn sharpest(points: &[Point]) -> usize {
    let n = points.len();
    let turn = |i: usize| {
        let (a, b) = (points[i] - points[(i + n - 2) % n], points[(i + 2) % n] - points[i]);
        a.cross(b).atan2(a.dot(b)).abs()
    };
    (0..n).max_by(|&a, &b| turn(a).total_cmp(&turn(b)).then(b.cmp(&a))).unwrap_or(0)
}
