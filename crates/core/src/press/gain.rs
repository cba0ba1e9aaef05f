//! Dot gain: what a coverage on the film prints as. Kept as a monotone table, so that any
//! source of the curve (edge growth, one number, a measured wedge) is used and inverted alike.
//!
//! No curve reaches solid before the film does. Holes that the law of edge growth would close
//! altogether (from 93 % on at the usual gain) stay open by a share instead: were the curve solid
//! there, a compensated film would leap to 100 % between two neighbouring tones, and wherever the
//! press gains less than was assumed the leap would print as an edge.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::units::{Coverage, Lpi};

/// Where a gain curve comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum DotGain {
    /// Every dot edge grows by this many micrometres (round dots). Gain follows the ruling, up to
    /// 45 points at 50 %: more growth would leave no tone between there and solid.
    Edge {
        /// Growth of the edge in micrometres.
        #[schemars(transform = table::EDGE_GROWTH.schema())]
        growth_um: f64,
    },
    /// A number of points (percent of area) at the 50 % tone, with the shape of edge growth.
    AtHalf {
        /// Points gained at 50 %, 0 to 45.
        #[schemars(transform = table::GAIN_AT_HALF.schema())]
        points: f64,
    },
    /// A measured wedge.
    Measured {
        /// Name of the press run or wedge.
        #[schemars(transform = table::CURVE_NAME.schema())]
        name: String,
        /// Film coverage and what it printed as, both 0..=1; 0 and 1 are implied.
        #[schemars(transform = table::STEPS.schema())]
        points: Vec<(Coverage, Coverage)>,
    },
}

impl Default for DotGain {
    /// 28 points at 50 %: inside the trade's 20 to 40, an assumption until measured.
    fn default() -> Self {
        Self::AtHalf { points: 28.0 }
    }
}

impl DotGain {
    /// In a few words, for film labels and sheets.
    pub fn describe(&self) -> String {
        match self {
            Self::Edge { growth_um } => format!("edge growth {growth_um:.0} um (assumed)"),
            Self::AtHalf { points } => format!("+{points:.0} at 50 % (assumed)"),
            Self::Measured { name, .. } => format!("{name} (measured)"),
        }
    }

    /// The curve at a ruling.
    pub fn curve(&self, ruling: Lpi) -> GainCurve {
        match self {
            Self::Edge { growth_um } => {
                let pitch_um = 25_400.0 / ruling.get();
                GainCurve::from_edge_growth((growth_um / pitch_um).max(0.0))
            }
            Self::AtHalf { points } => GainCurve::from_edge_growth((points / 100.0).max(0.0) / GAIN_OF_GROWTH),
            Self::Measured { points, .. } => GainCurve::from_points(points),
        }
    }
}

/// Film coverage to printed coverage, monotone, with `gain(0) = 0` and `gain(1) = 1`.
#[derive(Debug, Clone, PartialEq)]
pub struct GainCurve {
    table: Vec<f32>,
}

const STEPS: usize = 1024;
/// Gain at one half for an edge that grows by one pitch, to first order: 2 sqrt(pi / 2).
const GAIN_OF_GROWTH: f64 = 2.506_628_274_631_000_2;
/// Most gain at one half.
const MOST_AT_HALF: f64 = 0.45;

impl GainCurve {
    /// No gain.
    pub fn identity() -> Self {
        Self::from_fn(|a| a)
    }

    /// Round dots whose edge grows by `w` of the dot pitch. The second-order term is faded in
    /// from 0 so that no ink stays no ink, and through 0 at one half where dots become holes.
    /// Above one half a hole keeps a share of itself that falls as holes get smaller, but never to
    /// none: slopes at one half are those of shrinking holes, and the curve comes to solid at a slope.
    fn from_edge_growth(w: f64) -> Self {
        use std::f64::consts::PI;
        let w = w.min(MOST_AT_HALF / GAIN_OF_GROWTH);
        let open = 0.5 - w * GAIN_OF_GROWTH;
        Self::from_fn(|a| {
            if a <= 0.5 {
                a + 2.0 * w * (PI * a).sqrt() + PI * w * w * 4.0 * a * (1.0 - 2.0 * a)
            } else {
                let hole = 1.0 - a;
                1.0 - open * (1.0 + 2.0 * open) * hole / (1.0 - (1.0 - 2.0 * open) * hole)
            }
        })
    }

    /// Straight between the steps of a wedge. Steps that read alike count as one in their middle, and
    /// a step that reads solid as far as instruments tell (99.5 %) says only that the curve is near its
    /// end: it goes straight on to solid from the last step under that.
    fn from_points(points: &[(Coverage, Coverage)]) -> Self {
        let mut steps: Vec<(f64, f64)> = points.iter().map(|(f, p)| (f.get(), p.get())).collect();
        steps.retain(|(film, print)| *film > 0.0 && *film < 1.0 && *print < 0.995);
        steps.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut most = 0.0f64;
        for (_, print) in &mut steps {
            most = most.max(*print);
            *print = most;
        }
        let mut known = vec![(0.0, 0.0)];
        for alike in steps.chunk_by(|a, b| a.1 > 0.0 && a.1 == b.1) {
            let films = alike.iter().map(|step| step.0).sum::<f64>();
            known.push((films / alike.len() as f64, alike[0].1));
        }
        known.push((1.0, 1.0));
        Self::from_fn(|a| {
            let right = known.iter().position(|(film, _)| *film >= a).unwrap_or(known.len() - 1).max(1);
            let ((x0, y0), (x1, y1)) = (known[right - 1], known[right]);
            if x1 > x0 { y0 + (y1 - y0) * (a - x0) / (x1 - x0) } else { y1 }
        })
    }

    /// Samples `f`, then makes it monotone within 0..=1 and fixes the ends.
    fn from_fn(f: impl Fn(f64) -> f64) -> Self {
        let mut table: Vec<f32> = (0..=STEPS).map(|i| f(i as f64 / STEPS as f64).clamp(0.0, 1.0) as f32).collect();
        table[0] = 0.0;
        for i in 1..=STEPS {
            table[i] = table[i].max(table[i - 1]);
        }
        table[STEPS] = 1.0;
        Self { table }
    }

    /// What a film coverage prints as.
    pub fn print(&self, film: f32) -> f32 {
        let at = film.clamp(0.0, 1.0) * STEPS as f32;
        let i = (at as usize).min(STEPS - 1);
        let f = at - i as f32;
        self.table[i] + (self.table[i + 1] - self.table[i]) * f
    }

    /// The least film coverage that prints as `printed`.
    pub fn film(&self, printed: f32) -> f32 {
        let printed = printed.clamp(0.0, 1.0);
        let right = self.table.partition_point(|&v| v < printed).clamp(1, STEPS);
        let (low, high) = (self.table[right - 1], self.table[right]);
        let f = if high > low { ((printed - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 };
        (right as f32 - 1.0 + f) / STEPS as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn curves() -> Vec<GainCurve> {
        let ruling = Lpi::new(45.0).unwrap();
        vec![
            GainCurve::identity(),
            DotGain::default().curve(ruling),
            DotGain::Edge { growth_um: 60.0 }.curve(ruling),
            DotGain::Measured {
                name: "wedge".into(),
                points: vec![(Coverage::new(0.5).unwrap(), Coverage::new(0.72).unwrap())],
            }
            .curve(ruling),
        ]
    }

    #[test]
    fn ends_are_fixed_and_the_inverse_gives_the_nominal_back() {
        for curve in curves() {
            assert_eq!(curve.print(0.0), 0.0);
            assert_eq!(curve.print(1.0), 1.0);
            for i in 0..=100 {
                let a = i as f32 / 100.0;
                assert_abs_diff_eq!(curve.print(curve.film(a)), a, epsilon = 2e-3);
                assert!(curve.print(a) >= a - 1e-4);
            }
        }
    }

    /// The lead to solid: every curve stays under it until the film is solid, so a compensated film
    /// has no leap. From 78 % printed at one half to solid the film must rise 2.3 points for a percent
    /// on average; none may be much more, nor may two neighbours differ much.
    #[test]
    fn a_compensated_film_comes_to_solid_without_a_leap() {
        let at = |v: f64| Coverage::new(v).unwrap();
        let ruling = Lpi::new(45.0).unwrap();
        let wedge = vec![
            (at(0.5), at(0.78)),
            (at(0.7), at(0.93)),
            (at(0.75), at(0.93)),
            (at(0.9), at(1.0)),
            (at(0.95), at(1.0)),
        ];
        for (gain, most) in [
            (DotGain::default(), 3.2),
            (DotGain::AtHalf { points: 15.0 }, 1.8),
            (DotGain::Edge { growth_um: 60.0 }, 3.2),
            (DotGain::Edge { growth_um: 500.0 }, 20.0),
            (DotGain::Measured { name: "wedge".into(), points: wedge }, 4.0),
        ] {
            let curve = gain.curve(ruling);
            for i in 0..STEPS {
                assert!(curve.table[i] < curve.table[i + 1], "{gain:?} at {i}");
            }
            let films: Vec<f32> = (0..=100).map(|percent| curve.film(percent as f32 / 100.0) * 100.0).collect();
            let steps: Vec<f32> = films.windows(2).map(|pair| pair[1] - pair[0]).collect();
            for (percent, step) in steps.iter().enumerate() {
                assert!(*step > 0.0 && *step < most, "{gain:?} from {percent} %: {step} points");
            }
            if !matches!(gain, DotGain::Measured { .. }) && most < 10.0 {
                // Dots turn to holes at one half, which is the sharpest bend.
                assert!(steps[60..].windows(2).all(|pair| (pair[1] - pair[0]).abs() < 0.9), "{gain:?}: {steps:?}");
            }
        }
    }

    #[test]
    fn gain_at_half_is_what_was_asked_and_grows_with_the_ruling() {
        let at = |g: &DotGain, lpi: f64| g.curve(Lpi::new(lpi).unwrap()).print(0.5);
        assert_abs_diff_eq!(at(&DotGain::AtHalf { points: 28.0 }, 45.0), 0.78, epsilon = 1e-3);
        let edge = DotGain::Edge { growth_um: 60.0 };
        // Trade numbers: 20 to 40 points at 50 % (screen_rules: a supplier assumes 30).
        assert!(at(&edge, 45.0) > 0.7 && at(&edge, 45.0) < 0.9);
        assert!(at(&edge, 65.0) > at(&edge, 45.0));
    }
}
