//! Edits of tone: each is one function of coverage, sampled at all 65536 values and looked up.

use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::raster::{FULL, Plane};
use crate::units::Coverage;

/// A tone curve through points in percent of coverage: a monotone cubic spline (Fritsch and
/// Carlson, SIAM Journal on Numerical Analysis 17, 1980), so it never swings past its points. Flat
/// before the first point and after the last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<[f64; 2]>", into = "Vec<[f64; 2]>")]
pub struct Curve {
    points: Vec<[f64; 2]>,
}

/// A list of points that is no curve.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CurveError {
    /// Fewer than two.
    #[error("a tone curve needs at least two points")]
    TooFew,
    /// More than any curve needs.
    #[error("a tone curve has at most {most} points, not {count}", most = table::CURVE_POINTS.most)]
    TooMany {
        /// How many there are.
        count: usize,
    },
    /// Points must go up in coverage before the curve.
    #[error("the points of a tone curve must have rising coverage: {0} % is followed by {1} %")]
    NotRising(f64, f64),
    /// A point is outside 0..=100 %.
    #[error("a tone curve's points must be 0 to 100 %, not {0}")]
    Outside(f64),
}

impl Curve {
    /// Through points `[before, after]` in percent of coverage, 0..=100, with rising `before`.
    pub fn new(points: Vec<[f64; 2]>) -> Result<Self, CurveError> {
        if points.len() < 2 {
            return Err(CurveError::TooFew);
        }
        if points.len() > table::CURVE_POINTS.most {
            return Err(CurveError::TooMany { count: points.len() });
        }
        if let Some(outside) = points.iter().flatten().find(|v| !table::CURVE_TONE.range().contains(*v)) {
            return Err(CurveError::Outside(*outside));
        }
        if let Some(pair) = points.windows(2).find(|pair| pair[1][0] <= pair[0][0]) {
            return Err(CurveError::NotRising(pair[0][0], pair[1][0]));
        }
        Ok(Self { points })
    }

    /// Changes nothing.
    pub fn straight() -> Self {
        Self { points: vec![[0.0, 0.0], [100.0, 100.0]] }
    }

    /// The points.
    pub fn points(&self) -> &[[f64; 2]] {
        &self.points
    }

    /// Coverage after the curve, both 0..=1.
    pub fn at(&self, coverage: f64) -> f64 {
        Spline::new(&self.points).at(coverage * 100.0) / 100.0
    }
}

impl schemars::JsonSchema for Curve {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Curve".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        let mut percent = schemars::json_schema!({ "type": "number" });
        table::CURVE_TONE.schema()(&mut percent);
        schemars::json_schema!({
            "title": table::CURVE_POINTS.title, "type": "array", "minItems": 2, "maxItems": table::CURVE_POINTS.most,
            "items": { "type": "array", "minItems": 2, "maxItems": 2, "items": percent },
            "description": "Points [before, after] in percent of coverage, before rising",
        })
    }
}

impl TryFrom<Vec<[f64; 2]>> for Curve {
    type Error = CurveError;
    fn try_from(points: Vec<[f64; 2]>) -> Result<Self, CurveError> {
        Self::new(points)
    }
}

impl From<Curve> for Vec<[f64; 2]> {
    fn from(curve: Curve) -> Self {
        curve.points
    }
}

/// The points with a slope at each.
struct Spline<'a> {
    points: &'a [[f64; 2]],
    slopes: Vec<f64>,
}

impl<'a> Spline<'a> {
    /// Slopes by the weighted harmonic mean of the neighbouring secants (Fritsch and Butland,
    /// SIAM Journal on Scientific and Statistical Computing 5, 1984), zero where the secants turn.
    fn new(points: &'a [[f64; 2]]) -> Self {
        let n = points.len();
        let step: Vec<f64> = points.windows(2).map(|p| p[1][0] - p[0][0]).collect();
        let secant: Vec<f64> = points.windows(2).map(|p| (p[1][1] - p[0][1]) / (p[1][0] - p[0][0])).collect();
        let slopes = (0..n)
            .map(|i| {
                if i == 0 || i == n - 1 {
                    return if n == 2 { secant[0] } else { Self::end(i == 0, &step, &secant) };
                }
                let (a, b) = (secant[i - 1], secant[i]);
                if a * b <= 0.0 {
                    return 0.0;
                }
                let (w1, w2) = (2.0 * step[i] + step[i - 1], step[i] + 2.0 * step[i - 1]);
                (w1 + w2) / (w1 / a + w2 / b)
            })
            .collect();
        Self { points, slopes }
    }

    /// Three-point slope at an end, kept so that the curve stays monotone.
    fn end(first: bool, step: &[f64], secant: &[f64]) -> f64 {
        let m = step.len();
        let (h0, h1, d0, d1) = if first {
            (step[0], step[1], secant[0], secant[1])
        } else {
            (step[m - 1], step[m - 2], secant[m - 1], secant[m - 2])
        };
        let slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
        if slope * d0 <= 0.0 {
            0.0
        } else if d0 * d1 <= 0.0 && slope.abs() > 3.0 * d0.abs() {
            3.0 * d0
        } else {
            slope
        }
    }

    fn at(&self, x: f64) -> f64 {
        let points = self.points;
        let (first, last) = (points[0], points[points.len() - 1]);
        if x <= first[0] {
            return first[1];
        }
        if x >= last[0] {
            return last[1];
        }
        let i = points.partition_point(|p| p[0] <= x) - 1;
        let ([x0, y0], [x1, y1]) = (points[i], points[i + 1]);
        let h = x1 - x0;
        let t = (x - x0) / h;
        let (t2, t3) = (t * t, t * t * t);
        let y = y0 * (2.0 * t3 - 3.0 * t2 + 1.0)
            + self.slopes[i] * h * (t3 - 2.0 * t2 + t)
            + y1 * (3.0 * t2 - 2.0 * t3)
            + self.slopes[i + 1] * h * (t3 - t2);
        y.clamp(y0.min(y1), y0.max(y1))
    }
}

/// Applies `f` (coverage 0..=1 to coverage, clamped) through a table.
pub(super) fn map_tone(plane: &mut Plane<u16>, f: impl Fn(f64) -> f64) {
    let full = f64::from(FULL);
    let table: Vec<u16> = (0..=FULL).map(|v| (f(f64::from(v) / full).clamp(0.0, 1.0) * full).round() as u16).collect();
    plane.apply(|v| table[usize::from(v)]);
}

/// The curve on a plane.
pub(super) fn curve(plane: &mut Plane<u16>, curve: &Curve) {
    let spline = Spline::new(&curve.points);
    map_tone(plane, |c| spline.at(c * 100.0) / 100.0);
}

/// 0 below 0, 1 above 1, smooth between.
pub(super) fn smooth(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Trim of light tones to none and dark ones to solid.
pub(super) fn trim(plane: &mut Plane<u16>, below: Coverage, above: Coverage, soft: Coverage) {
    let (below, above, soft) = (below.get(), above.get(), soft.get());
    let room = soft.min((above - below).max(0.0) / 2.0);
    map_tone(plane, |c| {
        if c < below {
            return 0.0;
        }
        if c >= above {
            return 1.0;
        }
        if room <= 0.0 {
            return c;
        }
        // Only the end that is trimmed has a ramp.
        let mut out = c;
        if below > 0.0 {
            out *= smooth((c - below) / room);
        }
        if above < 1.0 {
            out += (1.0 - out) * smooth((c - (above - room)) / room);
        }
        out
    });
}

/// Linear stretch from `none..solid` to 0..1, bent so that the middle becomes `middle`.
pub(super) fn levels(plane: &mut Plane<u16>, none: Coverage, solid: Coverage, middle: Coverage) {
    let (none, solid) = (none.get(), solid.get());
    let power = middle.get().ln() / 0.5f64.ln();
    map_tone(plane, |c| ((c - none) / (solid - none)).clamp(0.0, 1.0).powf(power));
}

/// Gain of `points` at 50 %.
pub(super) fn gain(plane: &mut Plane<u16>, points: f64) {
    map_tone(plane, |c| c + points / 100.0 * 4.0 * c * (1.0 - c));
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn ramp() -> Plane<u16> {
        Plane::from_fn(256, 256, |x, y| (y * 256 + x) as u16)
    }

    fn c(v: f64) -> Coverage {
        Coverage::new(v).unwrap()
    }

    #[test]
    fn spline_agrees_with_scipy() {
        // scipy.interpolate.PchipInterpolator of SciPy 1.10.1 on the same points, evaluated at 5, 15 .. 95 %.
        let points = vec![[0.0, 0.0], [20.0, 10.0], [50.0, 62.0], [70.0, 70.0], [100.0, 95.0]];
        let curve = Curve::new(points).unwrap();
        let scipy = SCIPY_PCHIP;
        for (i, want) in scipy.iter().enumerate() {
            assert_abs_diff_eq!(curve.at((5.0 + 10.0 * i as f64) / 100.0) * 100.0, want, epsilon = 1e-9);
        }
    }

    const SCIPY_PCHIP: [f64; 10] = [
        0.8794745681381954,
        6.338423704414586,
        16.017686784673348,
        36.46710172744721,
        56.50131513471245,
        64.50984154929579,
        67.84952464788732,
        72.92651278038602,
        80.3806338028169,
        89.71863588941052,
    ];

    #[test]
    fn rising_points_give_a_rising_curve_that_stays_between_them() {
        let mut plane = ramp();
        curve(
            &mut plane,
            &Curve::new(vec![[0.0, 0.0], [10.0, 40.0], [12.0, 41.0], [90.0, 42.0], [100.0, 100.0]]).unwrap(),
        );
        assert!(plane.data().windows(2).all(|w| w[0] <= w[1]));
        assert_eq!((plane.data()[0], plane.data()[65_535]), (0, FULL));
    }

    #[test]
    fn a_straight_curve_changes_nothing() {
        let mut plane = ramp();
        curve(&mut plane, &Curve::straight());
        assert_eq!(plane, ramp());
    }

    #[test]
    fn no_curve_from_nonsense() {
        for points in ["[[0,0]]", "[[0,0],[0,1]]", "[[0,0],[50,140]]", "[[0,0],[null,3]]"] {
            assert!(serde_json::from_str::<Curve>(points).is_err(), "{points}");
        }
    }

    #[test]
    fn trims_are_hard_or_soft() {
        let mut hard = ramp();
        trim(&mut hard, c(0.1), c(0.9), c(0.0));
        let data = hard.data();
        assert_eq!((data[6553], data[6554], data[40_000]), (0, 6554, 40_000));
        assert_eq!((data[58_981], data[58_982]), (58_981, FULL));
        let mut soft = ramp();
        trim(&mut soft, c(0.1), c(0.9), c(0.2));
        let data = soft.data();
        assert!(data.windows(2).all(|w| w[0] <= w[1] && w[1] - w[0] < 40), "no step");
        assert_eq!(data[32_768], 32_768, "the middle is left alone");
    }

    #[test]
    fn levels_and_gain_do_what_they_say() {
        let mut plane = ramp();
        levels(&mut plane, c(0.2), c(0.6), c(0.7));
        let at = |plane: &Plane<u16>, v: f64| f64::from(plane.data()[(v * 65_535.0).round() as usize]) / 65_535.0;
        assert_eq!((at(&plane, 0.2), at(&plane, 0.6)), (0.0, 1.0));
        assert_abs_diff_eq!(at(&plane, 0.4), 0.7, epsilon = 1e-4);
        let mut plane = ramp();
        gain(&mut plane, 20.0);
        assert_abs_diff_eq!(at(&plane, 0.5), 0.7, epsilon = 1e-4);
        assert!(plane.data().windows(2).all(|w| w[0] <= w[1]));
    }
}
