//! A printed coat of ink: light goes back and forth between it and what lies under it.

use super::Ink;
use crate::color::BANDS;

/// A solid coat in two fluxes of light (Kubelka and Munk 1931), alike from both sides. Over a reflectance `G` it
/// gives `R + P G / (1 - R G)` (Kubelka 1948), band by band: light that came through may be thrown down again by
/// the coat's own scatter. What the surface throws back is in the readings and stays in `R`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coat<const BANDS: usize = 3> {
    /// `R`: what it sends back over black, 0..1.
    pub reflects: [f32; BANDS],
    /// `P`: what comes through, there and back, of light that is not thrown down again; at most `(1 - R)^2`.
    pub passes: [f32; BANDS],
}

/// Backings nearer than this tell nothing of what comes through.
const BACKINGS_APART: f32 = 0.05;

impl<const BANDS: usize> Coat<BANDS> {
    /// From the solid over a white and over a black backing and both backings bare, reflectances. Held to what
    /// a coat can do where noise would leave it; bands in which the backings do not differ count as hiding.
    pub fn from_backings(
        over_white: [f32; BANDS],
        over_black: [f32; BANDS],
        white: [f32; BANDS],
        black: [f32; BANDS],
    ) -> Self {
        let mut coat = Self { reflects: [0.0; BANDS], passes: [0.0; BANDS] };
        for band in 0..BANDS {
            let (w, k, rw, rk) = (white[band], black[band], over_white[band], over_black[band]);
            // The two equations over the backings, freed of P, leave one that is linear in R.
            let reflects = if w - k > BACKINGS_APART { (w * rk - k * rw) / (w - k + w * k * (rk - rw)) } else { rk };
            let reflects = reflects.clamp(0.0, 0.999);
            let passes = if w - k > BACKINGS_APART { (rw - reflects) * (1.0 - reflects * w) / w } else { 0.0 };
            coat.reflects[band] = reflects;
            coat.passes[band] = passes.clamp(0.0, (1.0 - reflects).powi(2));
        }
        coat
    }

    /// From the reflectance of a solid over an ideal white and its contrast ratio `opacity`, 0..=1
    /// (ISO 6504-3: over black / over white), taken as even over the bands.
    pub fn from_contrast_ratio(over_white: [f32; BANDS], opacity: f32) -> Self {
        Self::from_backings(over_white, over_white.map(|r| opacity.clamp(0.0, 1.0) * r), [1.0; BANDS], [0.0; BANDS])
    }

    /// The coat over a reflectance.
    pub fn over(&self, beneath: [f32; BANDS]) -> [f32; BANDS] {
        std::array::from_fn(|b| {
            let beneath = beneath[b].clamp(0.0, 1.0);
            self.reflects[b] + self.passes[b] * beneath / (1.0 - self.reflects[b] * beneath).max(1e-3)
        })
    }

    /// The coat with a share of its opacity, as on wet ink: over an ideal white nothing changes.
    pub fn keeping(&self, share: f32) -> Self {
        let over_black = self.reflects.map(|r| r * share.clamp(0.0, 1.0));
        Self::from_backings(self.over([1.0; BANDS]), over_black, [1.0; BANDS], [0.0; BANDS])
    }

    /// `hits` prints of the same screen, one on the other (one hit is the coat itself).
    pub fn hits(self, hits: u8) -> Self {
        let mut out = self;
        for _ in 1..hits {
            let between: [f32; BANDS] = std::array::from_fn(|b| 1.0 - self.reflects[b] * out.reflects[b]);
            out = Self {
                reflects: self.over(out.reflects),
                passes: std::array::from_fn(|b| self.passes[b] * out.passes[b] / between[b].powi(2)),
            };
        }
        out
    }
}

impl Coat<3> {
    /// Of an ink, in linear light. A measured ink has its own opacity in each of the three.
    pub fn from_ink(ink: &Ink) -> Self {
        match &ink.spectra {
            Some(spectra) => {
                let (white, black) = spectra.linear();
                let within = |c: [f32; 3]| c.map(|v| v.clamp(0.0, 1.0));
                Self::from_backings(within(white), within(black), [1.0; 3], [0.0; 3])
            }
            None => Self::from_contrast_ratio(ink.reflectance_over_white(), ink.opacity.get() as f32),
        }
    }
}

impl Coat<BANDS> {
    /// A measured ink band by band; none if it has no spectra.
    pub fn from_spectra(ink: &Ink) -> Option<Self> {
        ink.spectra.as_ref().map(|spectra| spectra.coat())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn over_its_card_a_coat_shows_the_color_it_was_made_from() {
        let coat = Coat::from_contrast_ratio([0.6, 0.1, 0.05], 0.7);
        for (got, want) in coat.over([1.0; 3]).iter().zip([0.6, 0.1, 0.05]) {
            assert_abs_diff_eq!(*got, want, epsilon = 1e-6);
        }
        // ISO 6504-3: contrast ratio = luminance over black / luminance over white.
        assert_abs_diff_eq!(coat.over([0.0; 3])[0] / coat.over([1.0; 3])[0], 0.7, epsilon = 1e-6);
        let thinner = coat.keeping(0.85);
        assert_abs_diff_eq!(thinner.over([1.0; 3])[0], 0.6, epsilon = 1e-6);
        assert_abs_diff_eq!(thinner.reflects[0], 0.85 * 0.42, epsilon = 1e-6);
    }

    /// A layer twice as thick by Kubelka and Munk's own solution, `R = sinh(bSx) / (a sinh(bSx) + b cosh(bSx))` and
    /// `T = b / (..)` with `a = 1 + K/S`, `b = sqrt(a^2 - 1)` (Kubelka 1948), is two hits of the single one.
    #[test]
    fn two_hits_are_a_layer_twice_as_thick() {
        for (absorbs, scatters) in [(0.3f64, 1.2f64), (2.0, 0.4), (0.02, 3.0)] {
            let film = |x: f64| {
                let a = 1.0 + absorbs / scatters;
                let b = (a * a - 1.0).sqrt();
                let (sinh, cosh) = ((b * scatters * x).sinh(), (b * scatters * x).cosh());
                let whole = a * sinh + b * cosh;
                Coat { reflects: [(sinh / whole) as f32], passes: [(b / whole).powi(2) as f32] }
            };
            let (two, thick) = (film(0.5).hits(2), film(1.0));
            assert_abs_diff_eq!(two.reflects[0], thick.reflects[0], epsilon = 1e-5);
            assert_abs_diff_eq!(two.passes[0], thick.passes[0], epsilon = 1e-5);
            assert_eq!(film(0.5).hits(1), film(0.5));
        }
    }
}
