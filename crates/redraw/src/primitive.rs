//! Straight lines and circles through points, by sums that grow point by point.

use kurbo::{Point, Vec2};

/// A line or a circle that points lie on.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Primitive {
    /// Through a point, in a direction of length 1.
    Line { at: Point, along: Vec2 },
    /// About a middle; the points run with falling angle where `backwards` (y downwards).
    Circle { middle: Point, radius: f64, backwards: bool },
}

impl Primitive {
    /// The point of it nearest to `p`, and its direction there.
    pub fn tangent(&self, p: Point) -> (Point, Vec2) {
        match *self {
            Self::Line { at, along } => (at + along * along.dot(p - at), along),
            Self::Circle { middle, radius, backwards } => {
                let out = p - middle;
                let out = if out.hypot() < 1e-9 { Vec2::new(1.0, 0.0) } else { out / out.hypot() };
                let along = Vec2::new(-out.y, out.x);
                (middle + out * radius, if backwards { -along } else { along })
            }
        }
    }

    pub fn is_line(&self) -> bool {
        matches!(self, Self::Line { .. })
    }
}

/// Where two primitives cross, looked for from `near`; none where they run alongside each other.
pub(crate) fn crossing(a: &Primitive, b: &Primitive, near: Point) -> Option<Point> {
    let mut p = near;
    for _ in 0..8 {
        let ((pa, da), (pb, db)) = (a.tangent(p), b.tangent(p));
        let cross = da.cross(db);
        if cross.abs() < 0.05 {
            return None;
        }
        let to = pa + da * ((pb - pa).cross(db) / cross);
        if a.is_line() && b.is_line() {
            return Some(to);
        }
        let step = to - p;
        // Circles bend: no leap beyond what a tangent tells.
        p += step * (4.0 / step.hypot().max(4.0));
        if step.hypot() < 1e-7 {
            break;
        }
    }
    Some(p)
}

/// Weighted sums of points relative to an origin near them.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Sums {
    w: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
    xz: f64,
    yz: f64,
    zz: f64,
}

impl Sums {
    pub fn add(&mut self, p: Vec2, w: f64) {
        let z = p.x * p.x + p.y * p.y;
        self.w += w;
        self.x += w * p.x;
        self.y += w * p.y;
        self.xx += w * p.x * p.x;
        self.xy += w * p.x * p.y;
        self.yy += w * p.y * p.y;
        self.xz += w * p.x * z;
        self.yz += w * p.y * z;
        self.zz += w * z * z;
    }

    /// The sum of squared distances from the line of least squares.
    pub fn line_error(&self) -> f64 {
        let w = self.w.max(1e-12);
        let (mx, my) = (self.x / w, self.y / w);
        let (xx, xy, yy) = (self.xx - w * mx * mx, self.xy - w * mx * my, self.yy - w * my * my);
        let half = 0.5 * (xx - yy);
        (0.5 * (xx + yy) - (half * half + xy * xy).sqrt()).max(0.0)
    }

    /// The line of least squares: a point of it, its direction (either way), the sum of squared distances.
    pub fn line(&self) -> (Vec2, Vec2, f64) {
        let w = self.w.max(1e-12);
        let (mx, my) = (self.x / w, self.y / w);
        let (xx, xy, yy) = (self.xx - w * mx * mx, self.xy - w * mx * my, self.yy - w * my * my);
        let half = 0.5 * (xx - yy);
        let root = half.hypot(xy);
        let least = (0.5 * (xx + yy) - root).max(0.0);
        // The direction of the larger spread, from whichever form does not cancel.
        let along = if half > 0.0 { Vec2::new(half + root, xy) } else { Vec2::new(xy, root - half) };
        let long = along.hypot();
        (Vec2::new(mx, my), if long < 1e-12 { Vec2::new(1.0, 0.0) } else { along / long }, least)
    }

    /// The circle of least squares (of squared radii): middle, radius, about the sum of squared distances.
    pub fn circle(&self) -> Option<(Vec2, f64, f64)> {
        let w = self.w.max(1e-12);
        let (mx, my) = (self.x / w, self.y / w);
        // About the mean, so that the equations of the middle stand by themselves.
        let (uu, uv, vv) = (self.xx / w - mx * mx, self.xy / w - mx * my, self.yy / w - my * my);
        let z = (self.xx + self.yy) / w;
        let (uz, vz) = (self.xz / w - mx * z, self.yz / w - my * z);
        let det = uu * vv - uv * uv;
        if det < 1e-12 {
            return None;
        }
        let (a, b) = (0.5 * (uz * vv - vz * uv) / det, 0.5 * (vz * uu - uz * uv) / det);
        let square = z - 2.0 * a * mx - 2.0 * b * my + a * a + b * b;
        if square <= 0.0 {
            return None;
        }
        let spread = self.zz / w - z * z;
        let explained = 4.0 * (a * a * uu + 2.0 * a * b * uv + b * b * vv);
        let left = spread - 4.0 * (a * uz + b * vz) + explained;
        Some((Vec2::new(a, b), square.sqrt(), (w * left / (4.0 * square)).max(0.0)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_of_a_circle_give_it_back() {
        let mut sums = Sums::default();
        for i in 0..20 {
            let (sin, cos) = (f64::from(i) * 0.07 + 1.0).sin_cos();
            sums.add(Vec2::new(7.0 + 12.5 * cos, -3.0 + 12.5 * sin), 1.0 + f64::from(i % 3));
        }
        let (middle, radius, error) = sums.circle().unwrap();
        assert!((middle - Vec2::new(7.0, -3.0)).hypot() < 1e-6 && (radius - 12.5).abs() < 1e-6 && error < 1e-6);
        assert!(sums.line().2 > 0.1);
    }

    #[test]
    fn points_of_a_line_give_it_back() {
        let mut sums = Sums::default();
        for i in 0..9 {
            sums.add(Vec2::new(2.0 + 0.6 * f64::from(i), 1.0 + 0.8 * f64::from(i)), 1.0);
        }
        let (_, along, error) = sums.line();
        assert!(along.cross(Vec2::new(0.6, 0.8)).abs() < 1e-9 && error < 1e-9);
    }

    #[test]
    fn a_line_crosses_a_circle_where_looked_for() {
        let line = Primitive::Line { at: Point::new(0.0, 1.0), along: Vec2::new(1.0, 0.0) };
        let circle = Primitive::Circle { middle: Point::ORIGIN, radius: 2.0, backwards: false };
        let met = crossing(&line, &circle, Point::new(1.5, 1.2)).unwrap();
        assert!((met - Point::new(3.0_f64.sqrt(), 1.0)).hypot() < 1e-6);
    }
}
