//! The wanted colour, and the bands in which mixes are computed.

use crate::color::{BANDS, Lab, LinRgb, Spectrum, lab_from_linear, lab_of_shares, spectrum_of_linear, xyz_of_spectrum};
use crate::units::Opacity;

/// In what bands a room is computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bands {
    /// 36 bands from 380 to 730 nm: every component was measured.
    Spectral,
    /// Red, green and blue of linear light, an assumption: within each, a component is taken as even.
    Linear,
}

impl Bands {
    /// How many.
    pub fn count(self) -> usize {
        match self {
            Self::Spectral => BANDS,
            Self::Linear => 3,
        }
    }

    /// Reflectance of a colour; of a smooth spectrum that has it, where bands are spectral.
    pub fn of_linear(self, color: LinRgb) -> Vec<f64> {
        match self {
            Self::Spectral => spectrum_of_linear(color).0.iter().map(|r| f64::from(*r)).collect(),
            Self::Linear => color.iter().map(|c| f64::from(*c).clamp(0.0, 1.0)).collect(),
        }
    }

    /// What each band adds to X, Y and Z, as shares of the white's.
    pub(super) fn weights(self) -> Vec<[f64; 3]> {
        match self {
            Self::Spectral => {
                let white = xyz_of_spectrum(&Spectrum([1.0; BANDS]));
                let alone = |at| xyz_of_spectrum(&Spectrum(std::array::from_fn(|b| if b == at { 1.0 } else { 0.0 })));
                (0..BANDS).map(|b| std::array::from_fn(|i| alone(b)[i] / white[i])).collect()
            }
            // Columns of the matrix of IEC 61966-2-1, each row divided by its sum.
            Self::Linear => {
                let rows = [
                    [0.412_390_8, 0.357_584_3, 0.180_480_8],
                    [0.212_639_0, 0.715_168_7, 0.072_192_3],
                    [0.019_330_8, 0.119_194_8, 0.950_532_2],
                ];
                (0..3).map(|b| rows.map(|row: [f64; 3]| row[b] / row.iter().sum::<f64>())).collect()
            }
        }
    }

    /// CIELAB (D65) of a reflectance.
    pub fn lab(self, reflectance: &[f64]) -> [f64; 3] {
        let mut shares = [0.0; 3];
        for (r, weights) in reflectance.iter().zip(self.weights()) {
            for (share, weight) in shares.iter_mut().zip(weights) {
                *share += r * weight;
            }
        }
        lab_of_shares(shares)
    }
}

/// A wanted colour.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// CIELAB (D65).
    pub lab: [f64; 3],
    /// Its spectrum, if it was measured: of mixes of one colour, the one that keeps it under other lights is taken.
    pub spectrum: Option<Spectrum>,
    /// Least opacity of the mix: luminance over black / over white.
    pub opacity: Option<Opacity>,
}

impl Wanted {
    /// A colour and nothing else.
    pub fn of_linear(color: LinRgb) -> Self {
        Self::of_lab(lab_from_linear(color))
    }

    /// The same from CIELAB (D65).
    pub fn of_lab(lab: Lab) -> Self {
        Self { lab: [lab.l, lab.a, lab.b].map(f64::from), spectrum: None, opacity: None }
    }

    /// A measured sample.
    pub fn of_spectrum(spectrum: Spectrum) -> Self {
        let reflectance: Vec<f64> = spectrum.0.iter().map(|r| f64::from(*r)).collect();
        Self { lab: Bands::Spectral.lab(&reflectance), spectrum: Some(spectrum), opacity: None }
    }

    /// The same with a least opacity.
    pub fn with_opacity(self, opacity: Opacity) -> Self {
        Self { opacity: Some(opacity), ..self }
    }
}
