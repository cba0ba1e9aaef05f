//! Mixes computed: what comes of components in given shares, over the ground, and how far that is from what is
//! wanted, with slopes.

use super::{Bands, Film, InkRoom, RoomError, Surface, Wanted};
use crate::color::{LinRgb, difference, difference_steps, lab_of_shares};

/// Steps of colour that 0.01 of reflectance counts where a spectrum is wanted.
const SPECTRUM_STEPS: f64 = 10.0;
/// Steps of colour that a missing unit of opacity counts: 0.02 too little is as bad as a CIEDE2000 of 1.
const OPACITY_STEPS: f64 = 50.0;

/// An ink room made ready to compute mixes over one ground.
#[derive(Debug, Clone)]
pub struct Bench {
    bands: Bands,
    surface: Surface,
    weights: Vec<[f64; 3]>,
    /// Component, band.
    films: Vec<Vec<Film>>,
    /// The ground within, band by band.
    ground: Vec<f64>,
    thick: f64,
    /// What a measured mix read more than was computed, in X, Y and Z.
    pub(super) carried: [f64; 3],
}

/// Misses and their slopes, one a component.
pub(super) struct Misses {
    pub values: Vec<f64>,
    pub slopes: Vec<Vec<f64>>,
}

/// Reflectance over a ground as an instrument sees it, with the slope of each band for each component.
struct Light {
    seen: Vec<f64>,
    slopes: Vec<Vec<f64>>,
}

impl Bench {
    /// A room over a ground (a garment, an underbase, or a card), films `thick` drawdowns thick.
    pub fn new(room: &InkRoom, ground: LinRgb, thick: f64) -> Result<Self, RoomError> {
        let (bands, surface) = (room.bands(), room.surface());
        let ground = bands.of_linear(ground).into_iter().map(|seen| surface.within(seen)).collect();
        let films = room.films()?;
        Ok(Self { bands, surface, weights: bands.weights(), films, ground, thick, carried: [1.0; 3] })
    }

    /// In what bands it computes.
    pub fn bands(&self) -> Bands {
        self.bands
    }

    /// Components.
    pub fn components(&self) -> usize {
        self.films.len()
    }

    fn light(&self, parts: &[(usize, f64)], ground: impl Fn(usize) -> f64, slopes: bool) -> Light {
        let bands = self.bands.count();
        let mut light = Light { seen: vec![0.0; bands], slopes: vec![vec![0.0; bands]; parts.len()] };
        for band in 0..bands {
            let mix = parts.iter().fold(Film::default(), |sum, &(at, share)| {
                let film = &self.films[at][band];
                Film { k: sum.k + share * film.k, s: sum.s + share * film.s }
            });
            let within = mix.over(ground(band), self.thick);
            light.seen[band] = self.surface.seen(within);
            if slopes {
                let outward = (self.surface.seen(within + 1e-6) - light.seen[band]) / 1e-6;
                let [by_k, by_s] = mix.slopes(ground(band), self.thick);
                for (&(at, _), slopes) in parts.iter().zip(&mut light.slopes) {
                    let film = &self.films[at][band];
                    slopes[band] = outward * (by_k * film.k + by_s * film.s);
                }
            }
        }
        light
    }

    /// Reflectance of a mix over the ground; `parts` are components and their shares, which add up to 1.
    pub fn reflectance(&self, parts: &[(usize, f64)]) -> Vec<f64> {
        self.light(parts, |band| self.ground[band], false).seen
    }

    fn xyz(&self, reflectance: &[f64]) -> [f64; 3] {
        let mut sum = [0.0; 3];
        for (r, weights) in reflectance.iter().zip(&self.weights) {
            for (sum, weight) in sum.iter_mut().zip(weights) {
                *sum += r * weight;
            }
        }
        sum
    }

    /// Shares of the white's XYZ, with what a measured mix taught.
    pub(super) fn shares(&self, reflectance: &[f64]) -> [f64; 3] {
        let xyz = self.xyz(reflectance);
        std::array::from_fn(|i| xyz[i] * self.carried[i])
    }

    /// CIELAB (D65) of a mix over the ground.
    pub fn lab(&self, parts: &[(usize, f64)]) -> [f64; 3] {
        lab_of_shares(self.shares(&self.reflectance(parts)))
    }

    /// Opacity of a mix: luminance over a perfect black / over a perfect white.
    pub fn opacity(&self, parts: &[(usize, f64)]) -> f64 {
        let y = |ground: f64| self.xyz(&self.light(parts, |_| ground, false).seen)[1];
        y(0.0) / y(1.0).max(1e-9)
    }

    /// CIEDE2000 of a mix to what is wanted.
    pub fn miss(&self, wanted: &Wanted, parts: &[(usize, f64)]) -> f64 {
        difference(wanted.lab, self.lab(parts))
    }

    /// The misses of a mix: three steps of colour, and where they are wanted opacity and spectrum.
    pub(super) fn misses(&self, wanted: &Wanted, parts: &[(usize, f64)]) -> Misses {
        let light = self.light(parts, |band| self.ground[band], true);
        let shares = self.shares(&light.seen);
        let steps = |shares| difference_steps(wanted.lab, lab_of_shares(shares));
        let mut values = steps(shares).to_vec();
        let by_share: [[f64; 3]; 3] = std::array::from_fn(|i| {
            let step = 1e-6 * (shares[i] + 1e-3);
            let mut moved = shares;
            moved[i] += step;
            let moved = steps(moved);
            std::array::from_fn(|j| (moved[j] - values[j]) / step)
        });
        let mut slopes: Vec<Vec<f64>> = (light.slopes.iter())
            .map(|bands| {
                let xyz = self.shares(bands);
                (0..3).map(|j| (0..3).map(|i| xyz[i] * by_share[i][j]).sum()).collect()
            })
            .collect();
        if let Some(opacity) = wanted.opacity {
            self.add_opacity(opacity.get(), parts, &mut values, &mut slopes);
        }
        if let (Some(spectrum), Bands::Spectral) = (&wanted.spectrum, self.bands) {
            let count = SPECTRUM_STEPS / (self.bands.count() as f64).sqrt();
            for (band, want) in spectrum.0.iter().enumerate() {
                values.push(count * (light.seen[band] - f64::from(*want)));
                for (slopes, bands) in slopes.iter_mut().zip(&light.slopes) {
                    slopes.push(count * bands[band]);
                }
            }
        }
        Misses { values, slopes }
    }

    fn add_opacity(&self, least: f64, parts: &[(usize, f64)], values: &mut Vec<f64>, slopes: &mut [Vec<f64>]) {
        let now = self.opacity(parts);
        let short = (least - now).max(0.0);
        values.push(OPACITY_STEPS * short);
        for (at, slopes) in slopes.iter_mut().enumerate() {
            if short == 0.0 {
                slopes.push(0.0);
                continue;
            }
            let mut moved = parts.to_vec();
            let step = 1e-6 * (moved[at].1 + 1e-3);
            moved[at].1 += step;
            slopes.push(-OPACITY_STEPS * (self.opacity(&moved) - now) / step);
        }
    }
}
