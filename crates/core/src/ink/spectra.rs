//! What an instrument says of an ink: the solid over a white and over a black backing, and both
//! backings bare. From these four spectra the layer follows band by band, with nothing assumed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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
    /// Scatter and transmission of the layer in each band: `T = (R_w - R_k) / (W - K)` and
    /// `S = R_k - T K`, held in 0..=1 with `S + T <= 1` where noise would leave it. Bands in which
    /// the backings do not differ tell nothing of T and count as hiding.
    pub fn layer(&self) -> ([f32; BANDS], [f32; BANDS]) {
        let mut scatter = [0.0f32; BANDS];
        let mut through = [0.0f32; BANDS];
        for b in 0..BANDS {
            let (w, k) = (self.white.0[b], self.black.0[b]);
            let (rw, rk) = (self.over_white.0[b], self.over_black.0[b]);
            let t = if w - k > 0.05 { ((rw - rk) / (w - k)).clamp(0.0, 1.0) } else { 0.0 };
            let s = (rk - t * k).clamp(0.0, 1.0);
            scatter[b] = s;
            through[b] = t.min(1.0 - s);
        }
        (scatter, through)
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
        let (s, t) = self.layer();
        let over: [f32; BANDS] = std::array::from_fn(|b| s[b] + t[b]);
        (linear_of_spectrum(&Spectrum(over)), linear_of_spectrum(&Spectrum(s)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// kubelka_munk.csv holds R over 0.00, 0.04 and 0.80 for 21 layers (Kubelka 1948, checked by
    /// integrating the differential equation). The affine layer made from two backings gives the
    /// third: exactly where light does not bounce between ink and ground, and within 0.011 in the
    /// worst case, a thin white.
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
            let (s, t) = ink.layer();
            assert_abs_diff_eq!(s[9] + t[9] * 0.80, over_80, epsilon = 1e-5);
            let tolerance = if line.starts_with("process-like dye") { 1e-5 } else { 0.011 };
            assert_abs_diff_eq!(s[9] + t[9] * 0.04, over_04, epsilon = tolerance);
            rows += 1;
        }
        assert_eq!(rows, 21);
    }
}
