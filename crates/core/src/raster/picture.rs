//! The picture in the working space: sRGB primaries and transfer (IEC 61966-2-1), 16 bits a
//! channel, straight (unassociated) alpha. Stages that blend neighbours (resample, blur) go
//! through linear light with premultiplied alpha and come back.

use super::Plane;

/// One pixel: red, green, blue (sRGB-encoded) and straight alpha, each 0..=65535.
pub type Rgba16 = [u16; 4];

/// A colour picture in the working space.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    pixels: Plane<Rgba16>,
}

impl Picture {
    /// Wraps pixels that are already in the working space.
    pub fn new(pixels: Plane<Rgba16>) -> Self {
        Self { pixels }
    }

    /// From 8-bit RGBA rows in the working space; 255 becomes 65535 exactly.
    ///
    /// # Panics
    /// If `rgba.len()` is not `width * height * 4`.
    pub fn from_rgba8(width: usize, height: usize, rgba: &[u8]) -> Self {
        assert_eq!(rgba.len(), width * height * 4, "picture data does not fit its size");
        let data = rgba.chunks_exact(4).map(|p| [wide(p[0]), wide(p[1]), wide(p[2]), wide(p[3])]).collect();
        Self::new(Plane::from_vec(width, height, data))
    }

    /// 8-bit RGBA rows, rounded.
    pub fn to_rgba8(&self) -> Vec<u8> {
        self.pixels.data().iter().flat_map(|p| p.map(narrow)).collect()
    }

    /// Pixels across.
    pub fn width(&self) -> usize {
        self.pixels.width()
    }

    /// Pixels down.
    pub fn height(&self) -> usize {
        self.pixels.height()
    }

    /// The pixels.
    pub fn pixels(&self) -> &Plane<Rgba16> {
        &self.pixels
    }

    /// The pixels, to change in place.
    pub fn pixels_mut(&mut self) -> &mut Plane<Rgba16> {
        &mut self.pixels
    }

    /// The pixels, given away.
    pub fn into_pixels(self) -> Plane<Rgba16> {
        self.pixels
    }

    /// Whether any pixel is less than fully opaque.
    pub fn has_alpha(&self) -> bool {
        self.pixels.data().iter().any(|p| p[3] != u16::MAX)
    }
}

/// 8 bits to 16, exact at both ends.
fn wide(value: u8) -> u16 {
    u16::from(value) * 257
}

/// 16 bits to 8, rounded to nearest.
fn narrow(value: u16) -> u8 {
    ((u32::from(value) + 128) / 257) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_bits_survive_the_round_trip() {
        let bytes: Vec<u8> = (0..=255).flat_map(|v| [v, 255 - v, v / 2, v]).collect();
        let picture = Picture::from_rgba8(16, 16, &bytes);
        assert_eq!(picture.to_rgba8(), bytes);
        assert!(picture.has_alpha());
    }
}
