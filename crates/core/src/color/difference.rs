//! Perceptual spaces and the colour difference of the reports.

use palette::color_difference::Ciede2000;
use palette::white_point::D65;
use palette::{FromColor, LinSrgb};

use super::LinRgb;

/// CIELAB relative to D65, the white of the working space.
pub type Lab = palette::Lab<D65, f32>;
/// OKLab (Ottosson 2020).
pub type Oklab = palette::Oklab<f32>;

/// Linear light to CIELAB (D65).
pub fn lab_from_linear([r, g, b]: LinRgb) -> Lab {
    Lab::from_color(LinSrgb::new(r, g, b))
}

/// CIELAB (D65) to linear light, unclipped.
pub fn linear_from_lab(lab: Lab) -> LinRgb {
    let rgb = LinSrgb::from_color(lab);
    [rgb.red, rgb.green, rgb.blue]
}

/// Linear light to OKLab.
pub fn oklab_from_linear([r, g, b]: LinRgb) -> Oklab {
    Oklab::from_color(LinSrgb::new(r, g, b))
}

/// OKLab to linear light, unclipped.
pub fn linear_from_oklab(lab: Oklab) -> LinRgb {
    let rgb = LinSrgb::from_color(lab);
    [rgb.red, rgb.green, rgb.blue]
}

/// CIEDE2000 with unit weights (CIE 142-2001).
pub fn ciede2000(a: Lab, b: Lab) -> f32 {
    a.difference(b)
}
