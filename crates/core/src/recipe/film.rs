//! A film of ink in one band: how much it absorbs and scatters, and the light that it sends back over a ground.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What the surface of a film does to light (Saunderson 1942).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Surface {
    /// Share of light from outside that the surface throws back: 0.04 for ink of refractive index 1.5.
    pub outside: f64,
    /// Share of light from inside that it throws back: 0.4 to 0.6.
    pub inside: f64,
    /// Whether the instrument sees what the surface throws back: a sphere with gloss included does, 45/0 on a
    /// smooth film does not.
    #[serde(default)]
    pub gloss_seen: bool,
}

impl Surface {
    /// A smooth film under a 45/0 instrument.
    pub const SMOOTH: Self = Self { outside: 0.04, inside: 0.6, gloss_seen: false };
    /// Colours that were typed: the white of the screen is all light.
    pub const TYPED: Self = Self { outside: 0.0, inside: 0.6, gloss_seen: false };

    fn gloss(&self) -> f64 {
        if self.gloss_seen { self.outside } else { 0.0 }
    }

    /// What an instrument reads of a reflectance within.
    pub fn seen(&self, within: f64) -> f64 {
        self.gloss() + (1.0 - self.outside) * (1.0 - self.inside) * within / (1.0 - self.inside * within)
    }

    /// The reflectance within of what an instrument reads, held in 0..=1.
    pub fn within(&self, seen: f64) -> f64 {
        let u = (seen - self.gloss()) / ((1.0 - self.outside) * (1.0 - self.inside));
        (u / (1.0 + self.inside * u)).clamp(0.0, 1.0)
    }
}

/// Absorption and scatter in one band of a film as thick as a drawdown: Kubelka and Munk's K and S.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Film {
    /// Absorption.
    pub k: f64,
    /// Scatter.
    pub s: f64,
}

/// Least light of both kinds that a film is said to have: keeps its formula whole at either end.
const LEAST: f64 = 1e-7;

impl Film {
    /// Of what two grounds, bare and under the film, reflect within. With `R = R0 + T^2 G / (1 - R0 G)` for either
    /// ground G, R0 is linear in the four; K and S follow from R0 and T (Kubelka 1948). The second figure is how
    /// much light comes through: of a film that hides, nothing tells how strong it is.
    pub fn of_two_grounds(white: f64, black: f64, over_white: f64, over_black: f64) -> (Self, f64) {
        let apart = white - black + white * black * (over_black - over_white);
        let own = ((white * over_black - black * over_white) / apart.max(LEAST)).clamp(1e-6, 1.0 - 1e-6);
        let through = ((over_white - own) * (1.0 - own * white) / white.max(LEAST)).clamp(1e-8, (1.0 - own).powi(2));
        let a = ((1.0 + own * own - through) / (2.0 * own)).max(1.0 + 1e-9);
        let b = (a * a - 1.0).sqrt();
        let through = through.sqrt();
        let s = (b * own / through).asinh() / b;
        (Self { k: s * (a - 1.0), s }, through)
    }

    /// Reflectance within, over a ground of reflectance `ground`, of a film `thick` drawdowns thick
    /// (Kubelka 1948, the hyperbolic solution).
    pub fn over(&self, ground: f64, thick: f64) -> f64 {
        let s = self.s.max(LEAST);
        let a = 1.0 + self.k.max(0.0) / s;
        let b = (a * a - 1.0).max(1e-14).sqrt();
        let coth = 1.0 / (b * s * thick).tanh();
        (1.0 - ground * (a - b * coth)) / (a - ground + b * coth)
    }

    /// How the reflectance changes with K and with S.
    pub fn slopes(&self, ground: f64, thick: f64) -> [f64; 2] {
        let (dk, ds) = (1e-5 * (self.k + 1e-2), 1e-5 * (self.s + 1e-2));
        let of = |k, s| Self { k, s }.over(ground, thick);
        [(of(self.k + dk, self.s) - of(self.k, self.s)) / dk, (of(self.k, self.s + ds) - of(self.k, self.s)) / ds]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// kubelka_munk.csv (Kubelka 1948, each value checked there by integrating the differential equation): films of
    /// three thicknesses over three grounds, both ways. What hides or does not scatter leaves one of its constants open.
    #[test]
    fn published_films_come_out_over_every_ground_and_back() {
        let path = format!("{}/../../tests/fixtures/reference/kubelka_munk.csv", env!("CARGO_MANIFEST_DIR"));
        let mut rows = 0;
        for line in std::fs::read_to_string(path).unwrap().lines().skip(2) {
            let mut v: Vec<f64> = line.rsplit(',').take(8).map(|v| v.parse().unwrap()).collect();
            v.reverse();
            let [s, k, x, _, over_00, over_04, over_80, _] = v[..] else { panic!("{line}") };
            let film = Film { k, s };
            for (ground, want) in [(0.0, over_00), (0.04, over_04), (0.8, over_80)] {
                assert_abs_diff_eq!(film.over(ground, x), want, epsilon = 2e-6);
            }
            let (found, through) = Film::of_two_grounds(0.8, 0.0, over_80, over_00);
            assert_abs_diff_eq!(found.over(0.04, 1.0), over_04, epsilon = 2e-5);
            if through > 0.1 && s > 0.0 {
                assert!((found.s / (s * x) - 1.0).abs() < 1e-3, "{line}: {found:?}");
                assert_abs_diff_eq!(found.k, k * x, epsilon = 2e-3);
            }
            rows += 1;
        }
        assert_eq!(rows, 21);
    }

    #[test]
    fn what_the_surface_adds_it_takes_back() {
        for surface in [Surface::SMOOTH, Surface::TYPED, Surface { gloss_seen: true, ..Surface::SMOOTH }] {
            for at in 0..=20 {
                let within = f64::from(at) / 20.0;
                assert_abs_diff_eq!(surface.within(surface.seen(within)), within, epsilon = 1e-12);
            }
        }
    }
}
