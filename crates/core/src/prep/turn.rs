//! Quarter turns and mirroring: the eight ways a picture can lie. Pixels only change places.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::raster::{Picture, Plane};

/// Mirrored left to right first (if at all), then turned clockwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Turn {
    /// Mirror left to right. Default no.
    pub mirrored: bool,
    /// Quarter turns clockwise, 0..=3. Default 0.
    #[schemars(transform = table::QUARTERS.schema())]
    pub quarters: u8,
}

impl Turn {
    /// From an orientation of the Exif standard (CIPA DC-008, tag 274), which tells how to show
    /// a picture upright; anything but 1..=8 counts as 1.
    pub fn from_exif(orientation: u16) -> Self {
        let (mirrored, quarters) = match orientation {
            2 => (true, 0),
            3 => (false, 2),
            4 => (true, 2),
            5 => (true, 3),
            6 => (false, 1),
            7 => (true, 1),
            8 => (false, 3),
            _ => (false, 0),
        };
        Self { mirrored, quarters }
    }

    /// The picture so turned.
    pub fn apply(self, picture: Picture) -> Picture {
        let quarters = self.quarters % 4;
        if !self.mirrored && quarters == 0 {
            return picture;
        }
        let (width, height) = (picture.width(), picture.height());
        let (to_w, to_h) = if quarters.is_multiple_of(2) { (width, height) } else { (height, width) };
        let pixels = picture.pixels();
        Picture::new(Plane::from_fn(to_w, to_h, |x, y| {
            let (from_x, from_y) = match quarters {
                0 => (x, y),
                1 => (y, height - 1 - x),
                2 => (width - 1 - x, height - 1 - y),
                _ => (width - 1 - y, x),
            };
            pixels.get(if self.mirrored { width - 1 - from_x } else { from_x }, from_y)
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The Exif standard's own words: which corner of the picture pixel (0, 0) of the file is.
    #[test]
    fn exif_orientations_put_the_first_pixel_where_the_standard_says() {
        // Row 0 and column 0 of the file are: 1 top/left, 2 top/right, 3 bottom/right,
        // 4 bottom/left, 5 left/top, 6 right/top, 7 right/bottom, 8 left/bottom.
        let picture = Picture::new(Plane::from_fn(3, 2, |x, y| [x as u16, y as u16, 0, 1]));
        let corner = |o: u16| {
            let made = Turn::from_exif(o).apply(picture.clone());
            let (w, h) = (made.width() - 1, made.height() - 1);
            let at = |x, y| made.pixels().get(x, y);
            // Position of the file's first pixel, and of the last pixel of its first row.
            let find = |p: [u16; 4]| {
                [(0, 0), (w, 0), (0, h), (w, h)].into_iter().find(|&(x, y)| at(x, y) == p).map(|(x, y)| (x > 0, y > 0))
            };
            (find([0, 0, 0, 1]).unwrap(), find([2, 0, 0, 1]).unwrap())
        };
        // (right?, bottom?) of file (0,0) and of file (last column, row 0).
        let want = [
            ((false, false), (true, false)),
            ((true, false), (false, false)),
            ((true, true), (false, true)),
            ((false, true), (true, true)),
            ((false, false), (false, true)),
            ((true, false), (true, true)),
            ((true, true), (true, false)),
            ((false, true), (false, false)),
        ];
        for (i, want) in want.into_iter().enumerate() {
            assert_eq!(corner(i as u16 + 1), want, "orientation {}", i + 1);
        }
    }
}
