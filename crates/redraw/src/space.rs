//! The space in which pixels are compared and unmixed: encoded sRGB with premultiplied opacity, turned to
//! luma and two colour differences. An anti-aliased edge between two colours, or to clear, is a straight
//! line in it. Colour differences count less than luma: JPEG keeps them at half the resolution.

use std::ops::{Add, AddAssign, Mul, Sub};

use crate::Colour;

/// How much a step of colour difference counts against one of luma.
const CHROMA: f32 = 0.6;

/// A pixel: luma, two colour differences and opacity, each about -255..=255.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Sample(pub [f32; 4]);

impl Sample {
    pub fn from_rgba([r, g, b, a]: [u8; 4]) -> Self {
        let opacity = f32::from(a) / 255.0;
        let [r, g, b] = [r, g, b].map(|v| f32::from(v) * opacity);
        // BT.601, as JPEG has it.
        let luma = 0.299 * r + 0.587 * g + 0.114 * b;
        Self([luma, CHROMA * 0.564 * (b - luma), CHROMA * 0.713 * (r - luma), f32::from(a)])
    }

    pub fn of(colour: Colour) -> Self {
        let [r, g, b] = colour.rgb;
        Self::from_rgba([r, g, b, colour.opacity])
    }

    /// Encoded sRGB and opacity, 0..=255, not premultiplied.
    fn rgba(self) -> [f32; 4] {
        let [luma, blue, red, a] = self.0;
        let b = luma + blue / (CHROMA * 0.564);
        let r = luma + red / (CHROMA * 0.713);
        let g = (luma - 0.299 * r - 0.114 * b) / 0.587;
        let opacity = (a / 255.0).clamp(0.0, 1.0);
        if opacity < 1.0 / 510.0 {
            return [0.0; 4];
        }
        let [r, g, b] = [r, g, b].map(|v| (v / opacity).clamp(0.0, 255.0));
        [r, g, b, a]
    }

    pub fn colour(self) -> Colour {
        let [r, g, b, a] = self.rgba().map(|v| v.round() as u8);
        Colour { rgb: [r, g, b], opacity: a }
    }

    /// OKLab of the premultiplied colour, and opacity 0..=1.
    pub fn oklab(self) -> [f32; 4] {
        let [r, g, b, a] = self.rgba();
        let opacity = a / 255.0;
        let [r, g, b] = [r, g, b].map(|v| linear(v / 255.0));
        let l = (0.412_221_46 * r + 0.536_332_55 * g + 0.051_445_995 * b).cbrt();
        let m = (0.211_903_5 * r + 0.680_699_5 * g + 0.107_396_96 * b).cbrt();
        let s = (0.088_302_46 * r + 0.281_718_85 * g + 0.629_978_7 * b).cbrt();
        [
            opacity * (0.210_454_26 * l + 0.793_617_8 * m - 0.004_072_047 * s),
            opacity * (1.977_998_5 * l - 2.428_592_2 * m + 0.450_593_7 * s),
            opacity * (0.025_904_037 * l + 0.782_771_77 * m - 0.808_675_77 * s),
            opacity,
        ]
    }

    /// With colour differences counting less.
    pub fn less_coloured(self, keep: f32) -> Self {
        let [luma, blue, red, a] = self.0;
        Self([luma, blue * keep, red * keep, a])
    }

    pub fn dot(self, other: Self) -> f32 {
        (0..4).map(|c| self.0[c] * other.0[c]).sum()
    }

    pub fn norm(self) -> f32 {
        self.dot(self).sqrt()
    }

    pub fn distance(self, other: Self) -> f32 {
        (self - other).norm()
    }
}

/// Encoded sRGB to linear light, both 0..=1.
pub(crate) fn linear(v: f32) -> f32 {
    if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
}

/// Distance of two colours in OKLab; opacity counts as lightness does.
pub(crate) fn unlike(a: Sample, b: Sample) -> f32 {
    let (a, b) = (a.oklab(), b.oklab());
    (0..4).map(|c| (a[c] - b[c]).powi(2)).sum::<f32>().sqrt()
}

impl Add for Sample {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(std::array::from_fn(|c| self.0[c] + other.0[c]))
    }
}

impl AddAssign for Sample {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Sample {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(std::array::from_fn(|c| self.0[c] - other.0[c]))
    }
}

impl Mul<f32> for Sample {
    type Output = Self;
    fn mul(self, by: f32) -> Self {
        Self(self.0.map(|v| v * by))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_colour_comes_back_from_its_sample() {
        for rgb in [[0, 0, 0], [255, 255, 255], [200, 30, 90], [3, 250, 17]] {
            for opacity in [255, 128] {
                let colour = Colour { rgb, opacity };
                let back = Sample::of(colour).colour();
                assert!((0..3).all(|c| back.rgb[c].abs_diff(rgb[c]) <= 1), "{back:?} {rgb:?}");
                assert_eq!(back.opacity, opacity);
            }
        }
        assert_eq!(Sample::of(Colour::CLEAR).colour(), Colour::CLEAR);
    }

    /// Ottosson, "A perceptual color space for image processing", 2020: white, and sRGB red.
    #[test]
    fn oklab_is_as_published() {
        let white = Sample::from_rgba([255, 255, 255, 255]).oklab();
        assert!((white[0] - 1.0).abs() < 1e-3 && white[1].abs() < 1e-3 && white[2].abs() < 1e-3);
        let red = Sample::from_rgba([255, 0, 0, 255]).oklab();
        assert!((red[0] - 0.628).abs() < 1e-3 && (red[1] - 0.225).abs() < 1e-3 && (red[2] - 0.126).abs() < 1e-3);
    }
}
