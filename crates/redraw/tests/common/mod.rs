//! Art made from shapes that are known exactly.

#![allow(dead_code)]

use kurbo::{BezPath, ParamCurve, PathSeg, Point};
use strikeoff_redraw::{Art, Redrawing, Settings, redraw};

/// Points a side in each pixel.
const FINE: usize = 16;

pub const CLEAR: [u8; 4] = [0; 4];
pub const WHITE: [u8; 4] = [255; 4];
pub const BLACK: [u8; 4] = [0, 0, 0, 255];
pub const RED: [u8; 4] = [200, 30, 40, 255];
pub const BLUE: [u8; 4] = [30, 60, 160, 255];
pub const GREEN: [u8; 4] = [40, 140, 70, 255];

/// Art whose colour at every point `at` gives; pixels are means, blended encoded as programs do.
pub fn art(width: usize, height: usize, at: impl Fn(f64, f64) -> [u8; 4]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(width * height * 4);
    for y in 0..height {
        for x in 0..width {
            let mut sum = [0.0; 4];
            for j in 0..FINE {
                for i in 0..FINE {
                    let (u, v) = ((i as f64 + 0.5) / FINE as f64, (j as f64 + 0.5) / FINE as f64);
                    let c = at(x as f64 + u, y as f64 + v).map(f64::from);
                    (0..3).for_each(|k| sum[k] += c[k] * c[3]);
                    sum[3] += c[3];
                }
            }
            let plain = |s: f64| if sum[3] > 0.0 { (s / sum[3]).round() as u8 } else { 0 };
            let alpha = (sum[3] / (FINE * FINE) as f64).round() as u8;
            bytes.extend([plain(sum[0]), plain(sum[1]), plain(sum[2]), alpha]);
        }
    }
    bytes
}

pub fn redrawn(width: usize, height: usize, bytes: &[u8]) -> Redrawing {
    redraw(&Art::new(width, height, bytes).expect("the size fits"), &Settings::default()).expect("the art is flat")
}

/// Whether a point lies in a polygon, by the rule of odd crossings.
pub fn inside(ring: &[(f64, f64)], x: f64, y: f64) -> bool {
    let mut odd = false;
    for i in 0..ring.len() {
        let (p, q) = (ring[i], ring[(i + 1) % ring.len()]);
        if (p.1 > y) != (q.1 > y) && x < p.0 + (y - p.1) / (q.1 - p.1) * (q.0 - p.0) {
            odd = !odd;
        }
    }
    odd
}

/// Points along an outline, some twenty a segment.
pub fn along(path: &BezPath) -> Vec<Point> {
    path.segments().flat_map(|s| (0..20).map(move |i| s.eval((f64::from(i) + 0.5) / 20.0))).collect()
}

/// Where the outline turns by more than 12 degrees.
pub fn corners(path: &BezPath) -> Vec<Point> {
    let mut found = Vec::new();
    for ring in path.subpaths() {
        let segments: Vec<PathSeg> = kurbo::segments(ring.iter().copied()).filter(|s| s.start() != s.end()).collect();
        for (i, a) in segments.iter().enumerate() {
            let b = &segments[(i + 1) % segments.len()];
            let (into, out) = (a.end() - a.eval(0.99), b.eval(0.01) - b.start());
            if into.cross(out).atan2(into.dot(out)).abs().to_degrees() > 12.0 {
                found.push(a.end());
            }
        }
    }
    found
}

/// Distance from a point to a polygon's sides.
pub fn to_ring(ring: &[(f64, f64)], p: Point) -> f64 {
    let side = |i: usize| {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        let (a, b) = (Point::new(a.0, a.1), Point::new(b.0, b.1));
        let t = ((p - a).dot(b - a) / (b - a).hypot2()).clamp(0.0, 1.0);
        p.distance(a.lerp(b, t))
    };
    (0..ring.len()).map(side).fold(f64::MAX, f64::min)
}

pub fn star(x: f64, y: f64, points: usize, outer: f64, inner: f64, turn: f64) -> Vec<(f64, f64)> {
    let corner = |i: usize| {
        let r = if i.is_multiple_of(2) { outer } else { inner };
        let a = turn + i as f64 * std::f64::consts::PI / points as f64;
        (x + r * a.cos(), y + r * a.sin())
    };
    (0..2 * points).map(corner).collect()
}
