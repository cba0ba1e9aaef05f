//! What an instrument says of an ink: the solid over a white and over a black backing, and both
//! backings bare. From these four spectra the coat follows band by band, with nothing assumed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Coat;
use crate::color::{BANDS, Rgb8, Spectrum, linear_of_spectrum};
use crate::units::Opacity;

/// Four measured spectra of an ink.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct InkSpectra {
    /// The solid over the white backing.
    pub over_white: Spectrum,
    /// The solid over the black backing.
    pub over_black: Spectrum,
    /// The white backing.
    pub white: Spectrum,
    /// The black backing.
    pub black: Spectrum,
}

impl InkSpectra {
    /// The coat in each band, from its solid over the two backings.
    pub fn coat(&self) -> Coat<BANDS> {
        Coat::from_backings(self.over_white.0, self.over_black.0, self.white.0, self.black.0)
    }

    /// Colour of the solid over a perfect white.
    pub fn color_over_white(&self) -> Rgb8 {
        Rgb8::from_linear(self.linear().0)
    }

    /// Contrast ratio: luminance over a perfect black / luminance over a perfect white.
    pub fn opacity(&self) -> Opacity {
        let (white, black) = self.linear();
        let y = |c: [f32; 3]| f64::from(0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2]).max(1e-6);
        Opacity::new((y(black) / y(white)).clamp(0.0, 1.0)).unwrap_or_else(|_| unreachable!())
    }

    /// Linear light of the solid over a perfect white and over a perfect black.
    pub fn linear(&self) -> ([f32; 3], [f32; 3]) {
        let coat = self.coat();
        (linear_of_spectrum(&Spectrum(coat.over([1.0; BANDS]))), linear_of_spectrum(&Spectrum(coat.reflects)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// kubelka_munk.csv holds R over 0.00, 0.04 and 0.80 for 21 layers (Kubelka 1948, checked by
    /// integrating the differential equation). The coat made from two backings gives the third; the file has
    /// five digits.
    #[test]
    fn two_backings_predict_a_third_as_kubelka_and_munk_do() {
        let path = format!("{}/../../tests/fixtures/reference/kubelka_munk.csv", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let mut rows = 0;
        for line in text.lines().skip(2) {
            let v: Vec<f32> = line.rsplit(',').take(8).map(|v| v.parse().unwrap()).collect();
            let [_, over_80, over_04, over_00] = [v[0], v[1], v[2], v[3]];
            let flat = |r: f32| Spectrum([r; BANDS]);
            let ink =
                InkSpectra { over_white: flat(over_80), over_black: flat(over_00), white: flat(0.8), black: flat(0.0) };
            let coat = ink.coat();
            assert_abs_diff_eq!(coat.over([0.80; BANDS])[9], over_80, epsilon = 2e-5);
            assert_abs_diff_eq!(coat.over([0.04; BANDS])[9], over_04, epsilon = 2e-5);
            let from_grey = InkSpectra { over_black: flat(over_04), black: flat(0.04), ..ink };
            assert_abs_diff_eq!(from_grey.coat().over([0.0; BANDS])[9], over_00, epsilon = 3e-5);
            rows += 1;
        }
        assert_eq!(rows, 21);
    }
}
