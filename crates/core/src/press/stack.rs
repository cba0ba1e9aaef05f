//! Screens on a garment as one optical stack, and the expected reflectance of a spot.

use super::{GainCurve, Ground, Layer, neugebauer};
use crate::color::{BANDS, LinRgb, spectrum_of_linear};
use crate::ink::Ink;
use crate::screens::Screen;
use crate::screens::ScreenName;

/// Layers in print order on a garment. Coverages handed to it are film coverages where `gain`
/// is set and coverages on the shirt otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Stack<const BANDS: usize = 3> {
    /// Reflectance of the garment.
    pub garment: [f32; BANDS],
    /// First down first.
    pub layers: Vec<Layer<BANDS>>,
    /// Gain of each layer, if coverages are film coverages; empty for none.
    pub gain: Vec<GainCurve>,
    /// Yule-Nielsen's n; 1 means reflectances add up plainly.
    pub yule_nielsen: f32,
}

impl<const BANDS: usize> Stack<BANDS> {
    /// Expected reflectance at film coverages `a` (0..=1, one a layer), dots of the screens lying
    /// independently of each other (Demichel 1924). For n = 1 the sum over all overprints
    /// (Neugebauer 1937) collapses to `R <- R + a (S + T R - R)` in print order, since layers are
    /// affine; otherwise the 2^layers overprints are summed in `R^(1/n)` (Yule & Nielsen 1951).
    pub fn reflectance(&self, a: &[f32]) -> [f32; BANDS] {
        let printed = |i: usize| match self.gain.get(i) {
            Some(curve) => curve.print(a[i]),
            None => a[i],
        };
        if self.yule_nielsen == 1.0 {
            let mut r = self.garment;
            for (i, layer) in self.layers.iter().enumerate() {
                let a = printed(i);
                let solid = layer.over(r);
                for band in 0..BANDS {
                    r[band] += a * (solid[band] - r[band]);
                }
            }
            return r;
        }
        self.neugebauer(&(0..self.layers.len()).map(printed).collect::<Vec<_>>())
    }

    /// The full sum over overprints at printed coverages; the plain reference for
    /// [`Stack::reflectance`] and the only way where n is not 1.
    pub fn neugebauer(&self, printed: &[f32]) -> [f32; BANDS] {
        let a: Vec<f64> = printed.iter().map(|&a| f64::from(a)).collect();
        let overprint = |k: usize| {
            let printed = self.layers.iter().enumerate().filter(|(i, _)| k >> i & 1 == 1);
            printed.fold(self.garment, |r, (_, layer)| layer.over(r)).map(f64::from)
        };
        neugebauer(&a, f64::from(self.yule_nielsen), overprint).map(|r| r as f32)
    }
}

impl Stack<3> {
    /// The stack of a job's screens. A screen on unflashed ink keeps `wet_on_wet` of its opacity;
    /// the first screen and every screen after a flash print dry. With compensation on, the film
    /// undoes the gain, so coverages are those on the shirt.
    pub fn of_screens(ground: &Ground<'_>, screens: &[Screen]) -> Self {
        Self::of_inks(ground, screens.iter().map(|s| (s.name.as_str(), &s.ink, s.hits)))
    }

    /// The same from names, inks and hits in print order.
    pub fn of_inks<'a>(ground: &Ground<'_>, inks: impl IntoIterator<Item = (&'a str, &'a Ink, u8)>) -> Self {
        let Ground { garment, press, ruling } = *ground;
        let mut wet = false;
        let mut layers = Vec::new();
        for (name, ink, hits) in inks {
            let factor = if wet { press.wet_on_wet.get() as f32 } else { 1.0 };
            layers.push(Layer::from_ink(ink, factor).hits(hits));
            wet = !press.stops.contains_key(&ScreenName::from(name));
        }
        let gain = if press.compensate { Vec::new() } else { vec![press.gain.curve(ruling); layers.len()] };
        Self { garment: LinRgb::from(garment.reflectance()), layers, gain, yule_nielsen: press.yule_nielsen as f32 }
    }
}

impl Stack<BANDS> {
    /// The stack of a job whose inks were all measured, band by band; none if one was not. The
    /// garment's spectrum is the smoothest mix of three broad bands that gives its colour, an
    /// assumption that is exact for whites, greys and blacks.
    pub fn of_spectra<'a>(ground: &Ground<'_>, inks: impl IntoIterator<Item = (&'a str, &'a Ink, u8)>) -> Option<Self> {
        let Ground { garment, press, ruling } = *ground;
        let mut wet = false;
        let mut layers = Vec::new();
        for (name, ink, hits) in inks {
            let factor = if wet { press.wet_on_wet.get() as f32 } else { 1.0 };
            layers.push(Layer::from_spectra(ink, factor)?.hits(hits));
            wet = !press.stops.contains_key(&ScreenName::from(name));
        }
        let gain = if press.compensate { Vec::new() } else { vec![press.gain.curve(ruling); layers.len()] };
        let fabric = spectrum_of_linear(garment.reflectance()).0;
        Some(Self { garment: fabric, layers, gain, yule_nielsen: press.yule_nielsen as f32 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    proptest! {
        /// The affine recurrence equals the sum over all 2^n overprints (print-model.md asks for n <= 6).
        #[test]
        fn recurrence_equals_neugebauer(
            seed in proptest::collection::vec((0.0f32..1.0, 0.0f32..1.0, 0.0f32..1.0), 1..=6),
            garment in 0.0f32..1.0,
        ) {
            let layers = seed.iter().map(|&(r, o, _)| Layer::from_contrast_ratio([r], o, [1.0])).collect();
            let stack = Stack { garment: [garment], layers, gain: vec![], yule_nielsen: 1.0 };
            let a: Vec<f32> = seed.iter().map(|s| s.2).collect();
            assert_abs_diff_eq!(stack.reflectance(&a)[0], stack.neugebauer(&a)[0], epsilon = 1e-5);
        }
    }
}
