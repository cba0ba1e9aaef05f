//! One cubic through points, with ends and end directions given.

use kurbo::{CubicBez, ParamCurve, ParamCurveDeriv, Point, Vec2};

/// The cubic of least squares from `p0` leaving along `d0` to `p3` arriving along `d3`, and its largest
/// distance from the points. Directions have length 1.
pub(crate) fn fit(points: &[Point], (p0, d0): (Point, Vec2), (p3, d3): (Point, Vec2)) -> (CubicBez, f64) {
    let chord = p0.distance(p3);
    let mut walked = vec![0.0];
    let mut before = p0;
    for p in points.iter().chain([&p3]) {
        walked.push(walked[walked.len() - 1] + before.distance(*p));
        before = *p;
    }
    let long = walked[walked.len() - 1].max(1e-9);
    let mut params: Vec<f64> = walked[1..walked.len() - 1].iter().map(|w| w / long).collect();
    let third = long / 3.0;
    let mut curve = CubicBez::new(p0, p0 + d0 * third, p3 - d3 * third, p3);
    for _ in 0..10 {
        let (a, b) = reach(points, &params, (p0, d0), (p3, d3)).unwrap_or((third, third));
        // Handles as long as the stretch, or backwards, would loop.
        let least = 0.02 * chord.max(0.1);
        let hold = |v: f64| v.clamp(least, (1.2 * long).max(least));
        curve = CubicBez::new(p0, p0 + d0 * hold(a), p3 - d3 * hold(b), p3);
        for (p, t) in points.iter().zip(&mut params) {
            *t = nearer(&curve, *p, *t);
        }
    }
    let far = points.iter().zip(&params).map(|(p, t)| curve.eval(*t).distance(*p)).fold(0.0, f64::max);
    (curve, far)
}

/// Lengths of both handles by least squares.
fn reach(points: &[Point], params: &[f64], (p0, d0): (Point, Vec2), (p3, d3): (Point, Vec2)) -> Option<(f64, f64)> {
    let (mut aa, mut ab, mut bb, mut ar, mut br) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (p, &t) in points.iter().zip(params) {
        let s = 1.0 - t;
        let (b0, b1, b2, b3) = (s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t);
        let rest = p.to_vec2() - p0.to_vec2() * (b0 + b1) - p3.to_vec2() * (b2 + b3);
        let (u, v) = (d0 * b1, -d3 * b2);
        aa += u.dot(u);
        ab += u.dot(v);
        bb += v.dot(v);
        ar += u.dot(rest);
        br += v.dot(rest);
    }
    let det = aa * bb - ab * ab;
    if det < 1e-9 * aa * bb || det <= 0.0 {
        return None;
    }
    Some(((ar * bb - br * ab) / det, (br * aa - ar * ab) / det))
}

/// A Newton step towards the parameter of the nearest point.
fn nearer(curve: &CubicBez, p: Point, t: f64) -> f64 {
    let off = curve.eval(t) - p;
    let first = curve.deriv().eval(t).to_vec2();
    let second = curve.deriv().deriv().eval(t).to_vec2();
    let slope = first.dot(first) + off.dot(second);
    if slope.abs() < 1e-12 {
        return t;
    }
    (t - off.dot(first) / slope).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What lies all in one place has no length to clamp handles to.
    #[test]
    fn points_that_coincide_are_no_fault() {
        let (p, along) = (Point::new(3.0, 4.0), Vec2::new(1.0, 0.0));
        let (curve, far) = fit(&[p], (p, along), (p, along));
        assert!(curve.p0 == p && curve.p3 == p && far < 0.01, "{curve:?} {far}");
    }

    #[test]
    fn points_of_a_cubic_give_it_back() {
        let cubic = CubicBez::new((0.0, 0.0), (5.0, 9.0), (14.0, 8.0), (20.0, 2.0));
        let points: Vec<Point> = (1..40).map(|i| cubic.eval(f64::from(i) / 40.0)).collect();
        let unit = |v: Vec2| v / v.hypot();
        let (got, far) = fit(&points, (cubic.p0, unit(cubic.p1 - cubic.p0)), (cubic.p3, unit(cubic.p3 - cubic.p2)));
        assert!(far < 0.03, "{far}");
        assert!(got.p1.distance(cubic.p1) < 0.8 && got.p2.distance(cubic.p2) < 0.8, "{got:?}");
    }
}
