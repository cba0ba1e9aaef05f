//! The art as received, checked, and as samples.

use rayon::prelude::*;

use crate::RedrawError;
use crate::space::Sample;

/// Sides longer than this are refused: flat art that large needs no redraw.
pub(crate) const MAX_SIDE_PX: usize = 16_384;
/// More pixels than this are refused.
pub(crate) const MAX_PIXELS: usize = 64_000_000;

/// A picture in encoded sRGB with opacity, not premultiplied, 4 bytes a pixel, top row first.
#[derive(Debug, Clone, Copy)]
pub struct Art<'a> {
    width: usize,
    height: usize,
    rgba: &'a [u8],
}

impl<'a> Art<'a> {
    /// # Errors
    /// A side of no pixels, more pixels than can be redrawn, or a count of bytes that does not fit the size.
    pub fn new(width: usize, height: usize, rgba: &'a [u8]) -> Result<Self, RedrawError> {
        if width == 0 || height == 0 || width > MAX_SIDE_PX || height > MAX_SIDE_PX || width * height > MAX_PIXELS {
            return Err(RedrawError::Size { width, height });
        }
        if rgba.len() != width * height * 4 {
            return Err(RedrawError::Bytes { width, height, bytes: rgba.len() });
        }
        Ok(Self { width, height, rgba })
    }

    /// Pixels across.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    pub fn height(&self) -> usize {
        self.height
    }

    pub(crate) fn field(&self) -> Field {
        let (pixels, _) = self.rgba.as_chunks::<4>();
        let data = pixels.par_iter().map(|&p| Sample::from_rgba(p)).collect();
        Field { width: self.width, height: self.height, data }
    }
}

/// Samples of a picture, top row first.
#[derive(Debug, Clone)]
pub(crate) struct Field {
    pub width: usize,
    pub height: usize,
    pub data: Vec<Sample>,
}

impl Field {
    pub fn new(width: usize, height: usize) -> Self {
        Self { width, height, data: vec![Sample::default(); width * height] }
    }

    /// The nine pixels about `at`, those outside being the nearest inside.
    pub fn around(&self, at: usize) -> [usize; 9] {
        around(self.width, self.height, at)
    }

    /// What lies along `way` between pixel centres, straight from one to the next.
    pub fn between(&self, x: f64, y: f64, way: Sample) -> f32 {
        let (x, y) = ((x - 0.5).clamp(0.0, (self.width - 1) as f64), (y - 0.5).clamp(0.0, (self.height - 1) as f64));
        let (left, top) = (x as usize, y as usize);
        let (right, below) = ((left + 1).min(self.width - 1), (top + 1).min(self.height - 1));
        let (u, v) = ((x - left as f64) as f32, (y - top as f64) as f32);
        let at = |x: usize, y: usize| self.data[y * self.width + x].dot(way);
        (at(left, top) * (1.0 - u) + at(right, top) * u) * (1.0 - v)
            + (at(left, below) * (1.0 - u) + at(right, below) * u) * v
    }
}

/// The nine places about `at` in a picture, those outside being the nearest inside.
pub(crate) fn around(width: usize, height: usize, at: usize) -> [usize; 9] {
    let (x, y) = (at % width, at / width);
    let xs = [x.saturating_sub(1), x, (x + 1).min(width - 1)];
    let ys = [y.saturating_sub(1), y, (y + 1).min(height - 1)];
    std::array::from_fn(|i| ys[i / 3] * width + xs[i % 3])
}
