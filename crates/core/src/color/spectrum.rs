//! Reflectance spectra: 36 bands of 10 nm from 380 to 730 nm, what handheld instruments give, and
//! their colour under D65 for the 2 degree observer (CIE 015). Sums over the bands stand for the
//! integrals.

use std::sync::OnceLock;

use serde::{Deserialize, Serialize};

use super::LinRgb;

/// Bands of a spectrum.
pub const BANDS: usize = 36;
/// Wavelength of the first band in nm.
pub const FIRST_NM: u32 = 380;
/// Distance of bands in nm.
pub const STEP_NM: u32 = 10;

/// A reflectance spectrum, 0..1 a band.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<f32>", into = "Vec<f32>")]
pub struct Spectrum(pub [f32; BANDS]);

impl schemars::JsonSchema for Spectrum {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Spectrum".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        let mut reflectance = schemars::json_schema!({ "type": "number" });
        crate::bounds::table::REFLECTANCE.schema()(&mut reflectance);
        schemars::json_schema!({
            "type": "array", "minItems": BANDS, "maxItems": BANDS,
            "items": reflectance,
            "description": "Reflectance in 36 bands of 10 nm from 380 nm",
        })
    }
}

impl TryFrom<Vec<f32>> for Spectrum {
    type Error = String;

    fn try_from(bands: Vec<f32>) -> Result<Self, String> {
        let count = bands.len();
        let bands: [f32; BANDS] =
            bands.try_into().map_err(|_| format!("a spectrum has {BANDS} bands of 10 nm from 380 nm, not {count}"))?;
        // Fluorescent ink can pass 1; beyond 2 it is percent or an error.
        match bands.iter().find(|v| !(0.0..=2.0).contains(*v)) {
            Some(bad) => Err(format!("a reflectance is 0 to 1, not {bad}")),
            None => Ok(Self(bands)),
        }
    }
}

impl From<Spectrum> for Vec<f32> {
    fn from(spectrum: Spectrum) -> Self {
        spectrum.0.to_vec()
    }
}

/// CIE 1931 x, y, z and the power of D65 in each band (colour-science 0.4.7).
const OBSERVER: [[f64; 4]; BANDS] = [
    [0.001368, 0.000039, 0.006450, 49.9755],
    [0.004243, 0.000120, 0.020050, 54.6482],
    [0.014310, 0.000396, 0.067850, 82.7549],
    [0.043510, 0.001210, 0.207400, 91.4860],
    [0.134380, 0.004000, 0.645600, 93.4318],
    [0.283900, 0.011600, 1.385600, 86.6823],
    [0.348280, 0.023000, 1.747060, 104.8650],
    [0.336200, 0.038000, 1.772110, 117.0080],
    [0.290800, 0.060000, 1.669200, 117.8120],
    [0.195360, 0.090980, 1.287640, 114.8610],
    [0.095640, 0.139020, 0.812950, 115.9230],
    [0.032010, 0.208020, 0.465180, 108.8110],
    [0.004900, 0.323000, 0.272000, 109.3540],
    [0.009300, 0.503000, 0.158200, 107.8020],
    [0.063270, 0.710000, 0.078250, 104.7900],
    [0.165500, 0.862000, 0.042160, 107.6890],
    [0.290400, 0.954000, 0.020300, 104.4050],
    [0.433450, 0.994950, 0.008750, 104.0460],
    [0.594500, 0.995000, 0.003900, 100.0000],
    [0.762100, 0.952000, 0.002100, 96.3342],
    [0.916300, 0.870000, 0.001650, 95.7880],
    [1.026300, 0.757000, 0.001100, 88.6856],
    [1.062200, 0.631000, 0.000800, 90.0062],
    [1.002600, 0.503000, 0.000340, 89.5991],
    [0.854450, 0.381000, 0.000190, 87.6987],
    [0.642400, 0.265000, 0.000050, 83.2886],
    [0.447900, 0.175000, 0.000020, 83.6992],
    [0.283500, 0.107000, 0.000000, 80.0268],
    [0.164900, 0.061000, 0.000000, 80.2146],
    [0.087400, 0.032000, 0.000000, 82.2778],
    [0.046770, 0.017000, 0.000000, 78.2842],
    [0.022700, 0.008210, 0.000000, 69.7213],
    [0.011359, 0.004102, 0.000000, 71.6091],
    [0.005790, 0.002091, 0.000000, 74.3490],
    [0.002899, 0.001047, 0.000000, 61.6040],
    [0.001440, 0.000520, 0.000000, 69.8856],
];

/// XYZ of a reflectance under D65, Y of a perfect white 1.
pub fn xyz_of_spectrum(spectrum: &Spectrum) -> [f64; 3] {
    let mut sum = [0.0; 3];
    let mut white = 0.0;
    for (r, [x, y, z, power]) in spectrum.0.iter().zip(OBSERVER) {
        white += y * power;
        for (sum, cmf) in sum.iter_mut().zip([x, y, z]) {
            *sum += f64::from(*r) * cmf * power;
        }
    }
    sum.map(|s| s / white)
}

/// Linear sRGB of a reflectance under D65, scaled so that a perfect white is (1, 1, 1); saturated
/// colours may lie outside 0..=1.
pub fn linear_of_spectrum(spectrum: &Spectrum) -> LinRgb {
    // What each band adds to red, green and blue: the sum is then one multiplication a band.
    static SHARES: OnceLock<[[f64; 3]; BANDS]> = OnceLock::new();
    let shares = SHARES.get_or_init(|| {
        let rgb = |xyz: [f64; 3]| {
            let [x, y, z] = xyz;
            // IEC 61966-2-1, from its primaries and white point.
            [
                3.240_970 * x - 1.537_383 * y - 0.498_611 * z,
                -0.969_244 * x + 1.875_968 * y + 0.041_555 * z,
                0.055_630 * x - 0.203_977 * y + 1.056_972 * z,
            ]
        };
        let white = rgb(xyz_of_spectrum(&Spectrum([1.0; BANDS])));
        std::array::from_fn(|at| {
            let alone = rgb(xyz_of_spectrum(&Spectrum(std::array::from_fn(|b| f32::from(u8::from(b == at))))));
            std::array::from_fn(|i| alone[i] / white[i])
        })
    });
    let mut sum = [0.0f64; 3];
    for (r, share) in spectrum.0.iter().zip(shares) {
        for (sum, share) in sum.iter_mut().zip(share) {
            *sum += f64::from(*r) * share;
        }
    }
    sum.map(|s| s as f32)
}

/// A smooth spectrum of a linear colour: three broad bands, which add up to 1 everywhere, mixed so
/// that the colour comes back. Where a mix would leave 0..=1 it is held there, and the colour with it.
pub fn spectrum_of_linear(color: LinRgb) -> Spectrum {
    let edge = |nm: f64, at: f64| 1.0 / (1.0 + (-(nm - at) / 12.0).exp());
    let nm = |b: usize| f64::from(FIRST_NM) + f64::from(STEP_NM) * b as f64;
    let bands: [[f32; BANDS]; 3] = [
        std::array::from_fn(|b| edge(nm(b), 585.0) as f32),
        std::array::from_fn(|b| (edge(nm(b), 490.0) - edge(nm(b), 585.0)) as f32),
        std::array::from_fn(|b| (1.0 - edge(nm(b), 490.0)) as f32),
    ];
    // Columns: the colour of each band. Three equations by Cramer's rule.
    let m = bands.map(|b| linear_of_spectrum(&Spectrum(b)).map(f64::from));
    let det = |c: [[f64; 3]; 3]| {
        c[0][0] * (c[1][1] * c[2][2] - c[1][2] * c[2][1]) - c[1][0] * (c[0][1] * c[2][2] - c[0][2] * c[2][1])
            + c[2][0] * (c[0][1] * c[1][2] - c[0][2] * c[1][1])
    };
    let whole = det(m);
    let mix: [f64; 3] = std::array::from_fn(|i| {
        let mut own = m;
        own[i] = color.map(f64::from);
        det(own) / whole
    });
    Spectrum(std::array::from_fn(|b| (0..3).map(|i| mix[i] as f32 * bands[i][b]).sum::<f32>().clamp(0.0, 1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_perfect_white_is_white_and_a_grey_is_grey() {
        assert_abs_diff_eq!(xyz_of_spectrum(&Spectrum([1.0; BANDS]))[1], 1.0, epsilon = 1e-12);
        for c in linear_of_spectrum(&Spectrum([0.4; BANDS])) {
            assert_abs_diff_eq!(c, 0.4, epsilon = 1e-6);
        }
    }

    #[test]
    fn a_garment_keeps_its_color_as_a_spectrum() {
        for color in [[0.02, 0.02, 0.02], [0.9, 0.9, 0.9], [0.4, 0.1, 0.12], [0.05, 0.08, 0.3], [0.2, 0.35, 0.2]] {
            let back = linear_of_spectrum(&spectrum_of_linear(color));
            for (got, want) in back.iter().zip(color) {
                assert_abs_diff_eq!(*got, want, epsilon = 2e-3);
            }
        }
    }

    /// The 24 patches of the colour checker (colour-science 0.4.7, "ColorChecker N Ohta" spectra),
    /// XYZ by that library's own summation; made by tests/fixtures/reference/make_spectra.py.
    #[test]
    fn checker_patches_match_an_independent_library() {
        let path = format!("{}/../../tests/fixtures/reference/spectra_xyz.csv", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let mut rows = 0;
        for line in text.lines().skip(2) {
            let cells: Vec<&str> = line.split(',').collect();
            let v: Vec<f64> = cells[1..].iter().map(|v| v.parse().unwrap()).collect();
            let spectrum = Spectrum::try_from(v[3..].iter().map(|&v| v as f32).collect::<Vec<_>>()).unwrap();
            for (got, want) in xyz_of_spectrum(&spectrum).iter().zip(&v[..3]) {
                assert_abs_diff_eq!(*got, *want, epsilon = 2e-5);
            }
            rows += 1;
        }
        assert_eq!(rows, 24);
    }
}
