//! Pixels of a field.

use strikeoff_core::color::linear_from_u16;
use strikeoff_core::raster::Picture;

use super::curve::Curve;
use super::frame::Frame;

/// Samples across a field.
const ACROSS: usize = 20;

/// A field's pixels, row by row.
pub(super) struct Sample {
    /// Its middle, from -1 to 1 over the longer side of the picture.
    pub at: [f64; 2],
    pixels: Vec<[u16; 3]>,
}

impl Sample {
    /// Of a square of a sheet, by its middle and half its side in mm. What lies outside the picture is its rim.
    pub fn of(picture: &Picture, frame: &Frame, middle: [f64; 2], half: f64) -> Self {
        let (w, h) = (picture.width(), picture.height());
        let pixel = |i: usize| {
            let by = [i % ACROSS, i / ACROSS].map(|k| ((k as f64 + 0.5) / ACROSS as f64 * 2.0 - 1.0) * half);
            let [x, y] = frame.at([middle[0] + by[0], middle[1] + by[1]]).map(|v| v.max(0.0) as usize);
            let [r, g, b, _] = picture.pixels().get(x.min(w - 1), y.min(h - 1));
            [r, g, b]
        };
        let [x, y] = frame.at(middle);
        let long = w.max(h) as f64;
        let at = [(2.0 * x - w as f64) / long, (2.0 * y - h as f64) / long];
        Self { at, pixels: (0..ACROSS * ACROSS).map(pixel).collect() }
    }

    /// Mean linear light by curves.
    pub fn light(&self, curves: &[Curve; 3]) -> [f64; 3] {
        std::array::from_fn(|c| self.pixels.iter().map(|p| curves[c].at(p[c])).sum::<f64>() / self.pixels.len() as f64)
    }

    /// Mean linear light of a channel as if the picture were sRGB.
    pub fn mean_plain(&self, channel: usize) -> f64 {
        let sum: f64 = self.pixels.iter().map(|p| f64::from(linear_from_u16(p)[channel])).sum();
        sum / self.pixels.len() as f64
    }

    /// Share of pixels at the upper end of the scale in some channel.
    pub fn clipped(&self) -> f64 {
        let clipped = self.pixels.iter().filter(|p| p.iter().any(|v| *v >= 65_200)).count();
        clipped as f64 / self.pixels.len() as f64
    }

    /// How far apart the four quarters are, in encoded light of the channel where they are most.
    pub fn quarters(&self) -> f64 {
        let mean = |right: usize, low: usize, c: usize| {
            let half = ACROSS / 2;
            let of = |i: usize| self.pixels[(low * half + i / half) * ACROSS + right * half + i % half][c];
            (0..half * half).map(|i| f64::from(of(i)) / 65535.0).sum::<f64>() / (half * half) as f64
        };
        let spread = |c: usize| {
            let four = [mean(0, 0, c), mean(1, 0, c), mean(0, 1, c), mean(1, 1, c)];
            four.iter().copied().fold(f64::MIN, f64::max) - four.iter().copied().fold(f64::MAX, f64::min)
        };
        (0..3).map(spread).fold(0.0, f64::max)
    }
}

/// The mean of the channels at a place between pixels.
pub(super) fn smooth(picture: &Picture, [x, y]: [f64; 2]) -> f64 {
    let (w, h) = (picture.width(), picture.height());
    let (x, y) = ((x - 0.5).clamp(0.0, w as f64 - 1.001), (y - 0.5).clamp(0.0, h as f64 - 1.001));
    let (i, j) = (x as usize, y as usize);
    let (u, v) = (x - i as f64, y - j as f64);
    let at = |i: usize, j: usize| {
        let [r, g, b, _] = picture.pixels().get(i.min(w - 1), j.min(h - 1));
        f64::from(u32::from(r) + u32::from(g) + u32::from(b)) / 196_605.0
    };
    (1.0 - v) * ((1.0 - u) * at(i, j) + u * at(i + 1, j)) + v * ((1.0 - u) * at(i, j + 1) + u * at(i + 1, j + 1))
}
