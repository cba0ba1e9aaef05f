//! One printed solid as an affine map of the light from beneath.

use crate::color::BANDS;
use crate::ink::Ink;

/// A solid layer: over a reflectance R it gives `scatter + through * R`, band by band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer<const BANDS: usize = 3> {
    /// Light that the ink itself sends back (its colour over black).
    pub scatter: [f32; BANDS],
    /// Share of the light from beneath that comes through, there and back.
    pub through: [f32; BANDS],
}

impl<const BANDS: usize> Layer<BANDS> {
    /// From the reflectance of a solid over a white card, the card's own reflectance, and the
    /// contrast ratio `opacity` (0..=1). `S = o R_w`, `T = (R_w - S) / R_card`, both held in
    /// 0..=1 with `S + T <= 1` in each band: a layer never sends back more light than falls on it.
    pub fn from_contrast_ratio(over_white: [f32; BANDS], opacity: f32, card: [f32; BANDS]) -> Self {
        let mut scatter = [0.0; BANDS];
        let mut through = [0.0; BANDS];
        for band in 0..BANDS {
            let s = (opacity * over_white[band]).clamp(0.0, 1.0);
            let t = ((over_white[band] - s) / card[band].max(1e-6)).clamp(0.0, 1.0);
            scatter[band] = s;
            through[band] = t.min(1.0 - s);
        }
        Self { scatter, through }
    }

    /// The layer over a reflectance.
    pub fn over(&self, beneath: [f32; BANDS]) -> [f32; BANDS] {
        std::array::from_fn(|b| self.scatter[b] + self.through[b] * beneath[b])
    }

    /// `hits` prints of the same screen, one on the other (one hit is the layer itself).
    /// Two hits: `S2 = S + T S`, `T2 = T T`.
    pub fn hits(self, hits: u8) -> Self {
        let mut out = self;
        for _ in 1..hits {
            out = Self {
                scatter: self.over(out.scatter),
                through: std::array::from_fn(|b| self.through[b] * out.through[b]),
            };
        }
        out
    }
}

impl Layer<3> {
    /// The ink as a solid on an ideal white card, its opacity scaled by `opacity_factor`
    /// (1 on a dry or flashed surface, the wet-on-wet factor otherwise).
    pub fn from_ink(ink: &Ink, opacity_factor: f32) -> Self {
        if let Some(spectra) = &ink.spectra {
            // Each channel has its own opacity: what it sends back over black of what it does
            // over white.
            let (white, black) = spectra.linear();
            let scatter: [f32; 3] = std::array::from_fn(|i| (black[i] * opacity_factor).clamp(0.0, 1.0));
            let through = std::array::from_fn(|i| (white[i].clamp(0.0, 1.0) - scatter[i]).max(0.0));
            return Self { scatter, through };
        }
        let opacity = (ink.opacity.get() as f32 * opacity_factor).clamp(0.0, 1.0);
        Self::from_contrast_ratio(ink.reflectance_over_white(), opacity, [1.0; 3])
    }
}

impl Layer<BANDS> {
    /// A measured ink band by band; none if it has no spectra.
    pub fn from_spectra(ink: &Ink, opacity_factor: f32) -> Option<Self> {
        let (scatter, through) = ink.spectra.as_ref()?.layer();
        let lost: [f32; BANDS] = scatter.map(|s| s * (1.0 - opacity_factor.clamp(0.0, 1.0)));
        // What a wet ground takes from the hiding comes through instead: over white nothing changes.
        Some(Self {
            scatter: std::array::from_fn(|b| scatter[b] - lost[b]),
            through: std::array::from_fn(|b| through[b] + lost[b]),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn over_its_card_a_layer_shows_the_color_it_was_made_from() {
        let layer = Layer::from_contrast_ratio([0.6, 0.1, 0.05], 0.7, [1.0; 3]);
        for (got, want) in layer.over([1.0; 3]).iter().zip([0.6, 0.1, 0.05]) {
            assert_abs_diff_eq!(*got, want, epsilon = 1e-6);
        }
        // ISO 6504-3: contrast ratio = luminance over black / luminance over white.
        assert_abs_diff_eq!(layer.over([0.0; 3])[0] / layer.over([1.0; 3])[0], 0.7, epsilon = 1e-6);
    }

    #[test]
    fn two_hits_follow_the_formula() {
        let layer = Layer { scatter: [0.3], through: [0.4] };
        let two = layer.hits(2);
        assert_abs_diff_eq!(two.scatter[0], 0.3 + 0.4 * 0.3, epsilon = 1e-6);
        assert_abs_diff_eq!(two.through[0], 0.16, epsilon = 1e-6);
        assert_eq!(layer.hits(1), layer);
    }
}
