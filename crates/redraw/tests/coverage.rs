//! Coverage against tiny-skia: thousands of random outlines drawn sixteen times as large without smoothing and
//! averaged. Source: the `tiny-skia` crate.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

use kurbo::{BezPath, PathEl, Point, Vec2};
use strikeoff_redraw::{Colour, Edge, Redrawing};

const SIDE: usize = 24;
const FINE: usize = 16;

/// Even numbers from 0 to 1, the same each run (Vigna's splitmix64).
struct Random(u64);

impl Random {
    fn next(&mut self, from: f64, to: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        from + (to - from) * ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// An outline that its middle sees all of, of lines and cubics; some reach beyond the picture.
fn outline(random: &mut Random) -> BezPath {
    let corners = random.next(5.0, 10.0) as usize;
    let (x, y) = (random.next(4.0, 20.0), random.next(4.0, 20.0));
    let middle = Point::new(x, y);
    let spoke = |random: &mut Random, i: usize| {
        let angle = (i as f64 + random.next(0.1, 0.9)) / corners as f64 * std::f64::consts::TAU;
        middle + Vec2::from_angle(angle) * random.next(1.0, 14.0)
    };
    let points: Vec<Point> = (0..corners).map(|i| spoke(random, i)).collect();
    let mut path = BezPath::new();
    path.move_to(points[0]);
    for i in 0..corners {
        let (a, b) = (points[i], points[(i + 1) % corners]);
        if random.next(0.0, 1.0) < 0.5 {
            path.line_to(b);
        } else {
            let bow = random.next(0.8, 1.25);
            let out = |p: Point| middle + (p - middle) * bow;
            path.curve_to(out(a.lerp(b, 0.33)), out(a.lerp(b, 0.67)), b);
        }
    }
    path
}

fn by_tiny_skia(path: &BezPath, scale: f32) -> Vec<f64> {
    let mut builder = tiny_skia::PathBuilder::new();
    for el in path {
        let p = |p: Point| (p.x as f32, p.y as f32);
        match el {
            PathEl::MoveTo(a) => builder.move_to(p(a).0, p(a).1),
            PathEl::LineTo(a) => builder.line_to(p(a).0, p(a).1),
            PathEl::CurveTo(a, b, c) => builder.cubic_to(p(a).0, p(a).1, p(b).0, p(b).1, p(c).0, p(c).1),
            _ => {}
        }
    }
    builder.close();
    let side = (SIDE as f32 * scale).ceil() as usize;
    let mut mask = tiny_skia::Mask::new((side * FINE) as u32, (side * FINE) as u32).expect("a size");
    let transform = tiny_skia::Transform::from_scale(FINE as f32 * scale, FINE as f32 * scale);
    mask.fill_path(&builder.finish().expect("an outline"), tiny_skia::FillRule::Winding, false, transform);
    let mut sums = vec![0.0; side * side];
    for (i, v) in mask.data().iter().enumerate() {
        let (x, y) = (i % (side * FINE) / FINE, i / (side * FINE) / FINE);
        sums[y * side + x] += f64::from(*v) / 255.0 / (FINE * FINE) as f64;
    }
    sums
}

#[test]
fn coverage_is_that_of_tiny_skia() {
    let mut random = Random(7);
    let (mut sum, mut count, mut worst) = (0.0, 0.0, 0.0_f64);
    for case in 0..3000 {
        let path = outline(&mut random);
        // Its inside on the right or the left of its way, by the sign of its area.
        let inside_left = kurbo::Shape::area(&path) < 0.0;
        let (left, right) = if inside_left { (Some(0), None) } else { (None, Some(0)) };
        let made = Redrawing {
            width: SIDE,
            height: SIDE,
            colours: vec![Colour::solid([0; 3])],
            shapes: Vec::new(),
            edges: vec![Edge { left, right, path: path.clone() }],
            flatness: 1.0,
        };
        let scale = if case % 3 == 0 { 1.5 } else { 1.0 };
        let want = by_tiny_skia(&path, scale as f32);
        let rows = want.len() / (SIDE as f64 * scale).ceil() as usize;
        let mut got = made.coverage(0, scale, 0..7);
        got.extend(made.coverage(0, scale, 7..rows));
        assert_eq!(got.len(), want.len());
        for (g, w) in got.iter().zip(&want) {
            let off = (f64::from(*g) / 65535.0 - w).abs();
            worst = worst.max(off);
            if off > 0.0 {
                sum += off;
                count += 1.0;
            }
        }
    }
    // Sixteen by sixteen points tell an area to about a sixteenth where a side runs along them.
    assert!(worst < 0.09, "{worst}");
    assert!(sum / count < 0.006, "{}", sum / count);
}
