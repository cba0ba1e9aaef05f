//! A screen read from the art itself: its lightness, a range of colour, or its edges.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::soften::blur;
use super::tone::smooth;
use crate::bounds::{self, table};
use crate::color::{Rgb8, lab_from_linear, linear_from_u16, oklab_from_linear};
use crate::prep::Prepared;
use crate::raster::{FULL, Plane, Rgba16};
use crate::units::Mm;
use crate::{Cancelled, Progress};

/// What of the art makes ink. Clear art makes none.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "from", deny_unknown_fields)]
pub enum Source {
    /// CIELAB lightness: none at white, solid at black, even steps of L* between.
    Lightness {
        /// Whether light art makes ink instead: solid at white. Default false.
        #[serde(default)]
        light: bool,
    },
    /// Nearness to a colour, as a distance in OKLab.
    ColorRange {
        /// The colour.
        color: Rgb8,
        /// Up to this distance ink is solid. Default 0.06.
        #[schemars(transform = table::COLOR_REACH.schema())]
        #[serde(default = "near")]
        reach: f64,
        /// Over this further distance it fades out. Default 0.08.
        #[schemars(transform = table::COLOR_FADE.schema())]
        #[serde(default = "fade")]
        soft: f64,
    },
    /// Steps of lightness.
    Edges {
        /// Width of the lines on the print.
        #[schemars(transform = table::EDGE_WIDTH.schema())]
        width_mm: Mm,
        /// Strength: at 1, a step from black to white makes solid ink. Default 2.
        #[schemars(transform = table::EDGE_STRENGTH.schema())]
        #[serde(default = "twice")]
        strength: f64,
    },
    /// What a black is for: shadows, and the dark side of edges.
    Shadows {
        /// CIELAB L* under which shadows begin to print. Default 45.
        #[schemars(transform = table::SHADOW_START.schema())]
        #[serde(default = "shadow_start")]
        starts_at_l: f64,
        /// L* under which they are solid. Default 12.
        #[schemars(transform = table::SHADOW_SOLID.schema())]
        #[serde(default = "shadow_solid")]
        solid_at_l: f64,
        /// Strength of edges, 0 none. Default 1.
        #[schemars(transform = table::EDGE_STRENGTH.schema())]
        #[serde(default = "plain")]
        edges: f64,
        /// Width of the dark side of an edge on the print. Default 0.4 mm.
        #[schemars(transform = table::EDGE_WIDTH.schema())]
        #[serde(default = "edge_width")]
        edge_mm: Mm,
    },
}

fn shadow_start() -> f64 {
    45.0
}

fn shadow_solid() -> f64 {
    12.0
}

fn plain() -> f64 {
    1.0
}

fn edge_width() -> Mm {
    Mm::new(0.4).unwrap_or_else(|_| unreachable!())
}

fn near() -> f64 {
    0.06
}

fn fade() -> f64 {
    0.08
}

fn twice() -> f64 {
    2.0
}

impl Source {
    /// Shadows and edges with everything at its default.
    pub fn shadows() -> Self {
        let (starts_at_l, solid_at_l) = (shadow_start(), shadow_solid());
        Self::Shadows { starts_at_l, solid_at_l, edges: plain(), edge_mm: edge_width() }
    }

    /// Whether its numbers make sense; if not, which one and why.
    pub fn check(&self) -> Result<(), String> {
        bounds::check(self).map_err(|e| e.what().to_owned())?;
        match self {
            Self::Shadows { starts_at_l, solid_at_l, .. } if solid_at_l >= starts_at_l => {
                Err("shadows must be solid at a lower lightness than they begin at".to_owned())
            }
            _ => Ok(()),
        }
    }

    /// The plane, at the size of the art.
    pub(super) fn read(&self, prepared: &Prepared, progress: &Progress) -> Result<Plane<u16>, Cancelled> {
        let picture = &prepared.picture;
        progress.step("screen from art", 0.0)?;
        let lightness = |p: Rgba16| f64::from(lab_from_linear(linear_from_u16(&p)).l) / 100.0;
        let mut plane = match self {
            Self::Lightness { light: false } => picture.pixels().map(|p| scale(1.0 - lightness(p))),
            Self::Lightness { light: true } => picture.pixels().map(|p| scale(lightness(p))),
            Self::ColorRange { color, reach, soft } => {
                let aim = oklab_from_linear(color.linear());
                let soft = soft.max(1e-6);
                picture.pixels().map(|p| {
                    let lab = oklab_from_linear(linear_from_u16(&p));
                    let (l, a, b) = (lab.l - aim.l, lab.a - aim.a, lab.b - aim.b);
                    scale(1.0 - smooth((f64::from((l * l + a * a + b * b).sqrt()) - reach) / soft))
                })
            }
            Self::Edges { width_mm, strength } => {
                let sigma = (width_mm.px(prepared.ppi.get()) / 2.0).max(0.5);
                let light = blur(&picture.pixels().map(|p| scale(lightness(p))), sigma, progress)?;
                slopes(&light, sigma, *strength)
            }
            Self::Shadows { starts_at_l, solid_at_l, edges, edge_mm } => {
                let light = picture.pixels().map(|p| scale(lightness(p)));
                let around = blur(&light, edge_mm.px(prepared.ppi.get()).max(0.5), progress)?;
                let span = (starts_at_l - solid_at_l).max(1e-6);
                let mut out = light;
                out.data_mut().par_iter_mut().zip(around.data()).with_min_len(1 << 14).for_each(|(v, &around)| {
                    let (l, around) = (f64::from(*v) / f64::from(FULL), f64::from(around) / f64::from(FULL));
                    let shadow = smooth((starts_at_l - 100.0 * l) / span);
                    // At a step the dark side is up to half of it darker than its surroundings: two thirds of
                    // the whole range make solid ink. The light side of an edge is no place for black.
                    let edge = smooth(3.0 * edges * (around - l)) * smooth((0.7 - l) / 0.4);
                    *v = scale(1.0 - (1.0 - shadow) * (1.0 - edge));
                });
                out
            }
        };
        plane.data_mut().par_iter_mut().zip(picture.pixels().data()).with_min_len(1 << 14).for_each(|(v, p)| {
            if p[3] != FULL {
                *v = super::multiply_film(*v, p[3]);
            }
        });
        Ok(plane)
    }
}

/// Steepness of a plane that was softened by `sigma`: a step from none to solid has, at its
/// middle, a slope of `1 / (sigma sqrt(2 pi))` a pixel, which makes solid at strength 1.
fn slopes(light: &Plane<u16>, sigma: f64, strength: f64) -> Plane<u16> {
    let (w, h) = (light.width(), light.height());
    let unit = strength * sigma * std::f64::consts::TAU.sqrt() / (2.0 * f64::from(FULL));
    Plane::from_fn(w, h, |x, y| {
        let at = |x: usize, y: usize| f64::from(light.get(x.min(w - 1), y.min(h - 1)));
        let dx = at(x + 1, y) - at(x.saturating_sub(1), y);
        let dy = at(x, y + 1) - at(x, y.saturating_sub(1));
        scale(dx.hypot(dy) * unit)
    })
}

fn scale(v: f64) -> u16 {
    (v.clamp(0.0, 1.0) * f64::from(FULL)).round() as u16
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Picture;
    use crate::units::Ppi;

    fn prepared(f: impl Fn(usize, usize) -> Rgba16 + Sync) -> Prepared {
        let picture = Picture::new(Plane::from_fn(60, 20, f));
        Prepared { picture, ppi: Ppi::new(100.0).unwrap(), print_size_mm: [15.24, 5.08], true_ppi: 100.0 }
    }

    #[test]
    fn lightness_follows_cielab() {
        // sRGB grey 119 has CIELAB L* 50.0 (to 0.1), a handbook pair.
        let grey = 119 * 257;
        let art = prepared(|x, _| [[0, 0, 0, FULL], [grey, grey, grey, FULL], [FULL; 4], [0; 4]][x % 4]);
        let plane = Source::Lightness { light: false }.read(&art, &Progress::none()).unwrap();
        let row: Vec<f64> = plane.row(0)[..4].iter().map(|&v| f64::from(v) / 65_535.0).collect();
        assert!((row[0] - 1.0).abs() < 1e-3 && row[2] < 1e-3);
        assert!((row[1] - 0.5).abs() < 2e-3, "{row:?}");
        assert_eq!(row[3], 0.0, "clear art makes no ink");
    }

    #[test]
    fn a_colour_range_is_solid_near_and_none_far() {
        let red: Rgb8 = "#C03020".parse().unwrap();
        let art = prepared(|x, _| if x < 30 { [0xC0 * 257, 0x30 * 257, 0x20 * 257, FULL] } else { [FULL; 4] });
        let source = Source::ColorRange { color: red, reach: near(), soft: fade() };
        let plane = source.read(&art, &Progress::none()).unwrap();
        assert_eq!((plane.get(5, 5), plane.get(50, 5)), (FULL, 0));
    }

    /// A photograph's black: solid in shadows, a line along the dark side of an edge, nothing in the
    /// lights.
    #[test]
    fn shadows_are_solid_and_dark_sides_of_edges_are_drawn() {
        let grey = |v: u16| [v * 257, v * 257, v * 257, FULL];
        // sRGB grey 119 has CIELAB L* 50.0 (a handbook pair): above where shadows begin.
        let art = prepared(|x, _| match x {
            0..15 => grey(20),
            15..40 => grey(119),
            _ => grey(235),
        });
        let plane = Source::shadows().read(&art, &Progress::none()).unwrap();
        assert!(plane.get(3, 10) > 65_000, "shadow {}", plane.get(3, 10));
        assert!(plane.get(27, 10) < 700, "middle {}", plane.get(27, 10));
        assert!(plane.get(39, 10) > 12_000, "dark side {}", plane.get(39, 10));
        assert!(plane.get(40, 10) < 700 && plane.get(55, 10) < 700, "light side {}", plane.get(40, 10));
        let wrong = Source::Shadows { starts_at_l: 10.0, solid_at_l: 30.0, edges: 1.0, edge_mm: edge_width() };
        assert!(wrong.check().unwrap_err().contains("lower lightness"));
    }

    #[test]
    fn edges_mark_the_step_and_nothing_else() {
        let art = prepared(|x, _| if x < 30 { [0, 0, 0, FULL] } else { [FULL; 4] });
        let source = Source::Edges { width_mm: Mm::new(0.8).unwrap(), strength: 1.0 };
        let plane = source.read(&art, &Progress::none()).unwrap();
        // The step lies between two pixels, so both see a little less than its full slope.
        assert!(plane.get(29, 10) > 58_000 && plane.get(30, 10) > 58_000, "{}", plane.get(30, 10));
        assert_eq!((plane.get(5, 10), plane.get(55, 10)), (0, 0));
    }
}
