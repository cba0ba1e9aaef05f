//! What the camera made of light: a curve a channel, through the greys of the strip.

use strikeoff_core::color::linear_from_u16;

/// sRGB's transfer, on beyond 1.
pub(super) fn encode(linear: f64) -> f64 {
    if linear <= 0.003_130_8 { 12.92 * linear.max(0.0) } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 }
}

pub(super) fn decode(encoded: f64) -> f64 {
    if encoded <= 0.040_45 { encoded.max(0.0) / 12.92 } else { ((encoded + 0.055) / 1.055).powf(2.4) }
}

/// A channel of the picture to linear light, as a table of its 4096 upper values.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    table: Vec<f32>,
}

const TABLE: usize = 4096;

impl Curve {
    /// A picture that is sRGB.
    pub fn plain() -> Self {
        let table = (0..TABLE).map(|i| {
            let v = (i * 65535 / (TABLE - 1)) as u16;
            linear_from_u16(&[v, v, v])[0]
        });
        Self { table: table.collect() }
    }

    /// Through points, rising, of the picture's values and encoded light; smooth and rising between them (Fritsch and
    /// Carlson 1980), straight beyond.
    pub fn through(points: &[(f64, f64)]) -> Self {
        let n = points.len();
        let slopes: Vec<f64> = points.windows(2).map(|p| (p[1].1 - p[0].1) / (p[1].0 - p[0].0).max(1e-9)).collect();
        let tangent = |i: usize| match i {
            0 => slopes[0],
            i if i == n - 1 => slopes[n - 2],
            i if slopes[i - 1] * slopes[i] <= 0.0 => 0.0,
            i => 2.0 * slopes[i - 1] * slopes[i] / (slopes[i - 1] + slopes[i]),
        };
        let at = |x: f64| {
            if x <= points[0].0 {
                return points[0].1 + slopes[0] * (x - points[0].0);
            }
            if x >= points[n - 1].0 {
                return points[n - 1].1 + slopes[n - 2] * (x - points[n - 1].0);
            }
            let i = points.windows(2).position(|p| x < p[1].0).unwrap_or(n - 2);
            let (a, b) = (points[i], points[i + 1]);
            let wide = b.0 - a.0;
            let t = (x - a.0) / wide;
            let (t2, t3) = (t * t, t * t * t);
            (2.0 * t3 - 3.0 * t2 + 1.0) * a.1
                + (t3 - 2.0 * t2 + t) * wide * tangent(i)
                + (3.0 * t2 - 2.0 * t3) * b.1
                + (t3 - t2) * wide * tangent(i + 1)
        };
        Self { table: (0..TABLE).map(|i| decode(at(i as f64 / (TABLE - 1) as f64)) as f32).collect() }
    }

    /// Linear light of a 16-bit value.
    pub fn at(&self, value: u16) -> f64 {
        f64::from(self.table[usize::from(value) >> 4])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_goes_through_its_points_and_never_falls() {
        let points = [(0.1, 0.05), (0.3, 0.35), (0.35, 0.36), (0.8, 0.9)];
        let curve = Curve::through(&points);
        for (x, y) in points {
            let got = encode(curve.at((x * 65535.0) as u16));
            assert!((got - y).abs() < 0.003, "{x}: {got}");
        }
        assert!((0..=u16::MAX).step_by(16).map(|v| curve.at(v)).is_sorted());
        let plain = Curve::plain();
        assert!((plain.at(32768) - decode(0.5)).abs() < 1e-3);
    }
}
