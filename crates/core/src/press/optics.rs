//! The print model of a job's screens in one: band by band on spectra where every ink was
//! measured, on three bands of linear light where one was not. Proof, findings and the report of
//! quality read colours here. The separation's solver, the window's quick proof and the preview in
//! a composite PDF always take the three bands, which for a measured ink are made from its spectra.

use super::{Ground, Layer, Stack};
use crate::color::{BANDS, LinRgb, Spectrum, linear_of_spectrum};
use crate::ink::Ink;
use crate::screens::Screen;

/// A stack of screens on a garment, on as many bands as its inks were measured on.
#[derive(Debug, Clone, PartialEq)]
pub enum Optics {
    /// Linear light in red, green and blue.
    ThreeBands(Stack),
    /// Reflectance in 36 bands from 380 to 730 nm.
    Spectral(Box<Stack<BANDS>>),
}

impl Optics {
    /// The optics of a job's screens; see [`Stack::of_screens`].
    pub fn of_screens(ground: &Ground<'_>, screens: &[Screen]) -> Self {
        Self::of_inks(ground, screens.iter().map(|s| (s.name.as_str(), &s.ink, s.hits)))
    }

    /// The same from names, inks and hits in print order.
    pub fn of_inks<'a>(ground: &Ground<'_>, inks: impl IntoIterator<Item = (&'a str, &'a Ink, u8)>) -> Self {
        let inks: Vec<(&str, &Ink, u8)> = inks.into_iter().collect();
        match Stack::of_spectra(ground, inks.iter().copied()) {
            Some(stack) if !inks.is_empty() => Self::Spectral(Box::new(stack)),
            _ => Self::ThreeBands(Stack::of_inks(ground, inks)),
        }
    }

    /// Expected colour at coverages, one a screen; see [`Stack::reflectance`].
    pub fn reflectance(&self, a: &[f32]) -> LinRgb {
        match self {
            Self::ThreeBands(stack) => stack.reflectance(a),
            Self::Spectral(stack) => linear_of_spectrum(&Spectrum(stack.reflectance(a))),
        }
    }

    /// The look that coverages mean, before the press adds its gain.
    pub fn without_gain(&self) -> Self {
        let mut other = self.clone();
        match &mut other {
            Self::ThreeBands(stack) => stack.gain.clear(),
            Self::Spectral(stack) => stack.gain.clear(),
        }
        other
    }

    /// The layer at `above` dulled by another: `mix` gives band by band what the two solids over
    /// white, the layer's and the one's at `below`, make together.
    pub fn dulled(&self, above: usize, below: usize, mix: impl Fn(f32, f32) -> f32) -> Self {
        fn dull<const N: usize>(layers: &mut [Layer<N>], above: usize, below: usize, mix: impl Fn(f32, f32) -> f32) {
            let other = layers[below].over([1.0; N]);
            let layer = &mut layers[above];
            let own = layer.over([1.0; N]);
            for band in 0..N {
                let factor = mix(own[band], other[band]) / own[band].clamp(0.01, 1.0);
                layer.scatter[band] = (layer.scatter[band] * factor).min(1.0);
                layer.through[band] = (layer.through[band] * factor).min(1.0 - layer.scatter[band]);
            }
        }
        let mut other = self.clone();
        match &mut other {
            Self::ThreeBands(stack) => dull(&mut stack.layers, above, below, mix),
            Self::Spectral(stack) => dull(&mut stack.layers, above, below, mix),
        }
        other
    }

    /// On what bands a job's colours are computed, and which inks were measured, in a sentence.
    pub fn describe<'a>(inks: impl IntoIterator<Item = &'a Ink>) -> String {
        let inks: Vec<&Ink> = inks.into_iter().collect();
        let names = |list: Vec<&str>| list.join(", ");
        let spectral: Vec<&str> = inks.iter().filter(|i| i.spectra.is_some()).map(|i| i.name.as_str()).collect();
        let typed = inks.iter().filter(|i| i.measured && i.spectra.is_none()).map(|i| i.name.as_str());
        let typed: Vec<&str> = typed.collect();
        if !inks.is_empty() && spectral.len() == inks.len() {
            return format!("Colours computed on {BANDS} spectral bands: every ink was measured.");
        }
        let measured = match (spectral.is_empty(), typed.is_empty()) {
            (true, true) => "no ink was measured, all are assumed".to_owned(),
            (true, false) => format!("measured as colours: {}; the rest assumed", names(typed)),
            (false, true) => format!("measured as spectra: {}; the rest assumed", names(spectral)),
            (false, false) => {
                format!("measured as spectra: {}; as colours: {}; the rest assumed", names(spectral), names(typed))
            }
        };
        format!("Colours computed on three bands (red, green, blue): {measured}.")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::{ciede2000, lab_from_linear};
    use crate::ink::{Garment, InkSpectra};
    use crate::press::PrintModel;
    use crate::units::Lpi;
    use approx::assert_abs_diff_eq;

    fn measured(name: &str, over_white: [f32; BANDS], over_black: [f32; BANDS]) -> Ink {
        let spectra = InkSpectra {
            over_white: Spectrum(over_white),
            over_black: Spectrum(over_black),
            white: Spectrum([0.9; BANDS]),
            black: Spectrum([0.03; BANDS]),
        };
        Ink {
            name: name.into(),
            over_white: spectra.color_over_white(),
            opacity: spectra.opacity(),
            role: crate::ink::InkRole::Color,
            measured: true,
            spectra: Some(Box::new(spectra)),
        }
    }

    /// Two inks whose colours alone would not tell what they make together: where one passes light
    /// in a narrow part of the spectrum, the product of spectra is not the product of three bands.
    #[test]
    fn measured_inks_are_computed_on_spectra_and_one_assumed_ink_takes_three_bands() {
        let band = |from: usize, to: usize| std::array::from_fn(|b| if (from..to).contains(&b) { 0.8 } else { 0.06 });
        let (green, yellow) =
            (measured("Green", band(12, 18), [0.02; BANDS]), measured("Yellow", band(17, 36), [0.02; BANDS]));
        let garment = Garment::of_color("#FFFFFF".parse().unwrap());
        let press = PrintModel::default();
        let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).unwrap());
        let list = || [("Green", &green, 1u8), ("Yellow", &yellow, 1)];
        let optics = Optics::of_inks(&ground, list());
        assert!(matches!(optics, Optics::Spectral(_)));
        // One solid alone is what was measured, on either model.
        let three = Optics::ThreeBands(Stack::of_inks(&ground, list()));
        for a in [[1.0, 0.0], [0.0, 1.0]] {
            for (spectral, rgb) in optics.reflectance(&a).iter().zip(three.reflectance(&a)) {
                // These solids lie outside sRGB, where three bands must hold scatter at 0: 0.026 off.
                assert_abs_diff_eq!(spectral.clamp(0.0, 1.0), rgb, epsilon = 0.03);
            }
        }
        let lab = |optics: &Optics| lab_from_linear(optics.reflectance(&[1.0, 1.0]));
        assert!(ciede2000(lab(&optics), lab(&three)) > 2.0);
        let mut assumed = yellow.clone();
        assumed.spectra = None;
        let mixed = Optics::of_inks(&ground, [("Green", &green, 1), ("Yellow", &assumed, 1)]);
        assert!(matches!(mixed, Optics::ThreeBands(_)));
        assert!(Optics::describe([&green, &yellow]).contains("36 spectral bands"));
        let words = Optics::describe([&green, &assumed]);
        assert!(words.contains("three bands") && words.contains("spectra: Green; as colours: Yellow"), "{words}");
        // An ink that carries nothing of the other stays.
        let pure = three.dulled(1, 0, |own, _| own.clamp(0.01, 1.0));
        for (got, want) in pure.reflectance(&[0.4, 0.7]).iter().zip(three.reflectance(&[0.4, 0.7])) {
            assert_abs_diff_eq!(*got, want, epsilon = 1e-5);
        }
    }
}
