//! Where the content of a picture lies: what is neither clear nor of the plain background.

use rayon::prelude::*;

use super::CropBox;
use super::background::{alike, find_background};
use crate::raster::Picture;

/// Alpha under which a pixel is clear.
const CLEAR: u16 = 655;

/// The smallest box that holds all content, as fractions of the picture; `None` where there is
/// none. `tolerance` is that of the background (see `BackgroundSettings`).
pub fn find_content(picture: &Picture, tolerance: f64) -> Option<CropBox> {
    let (w, h) = (picture.width(), picture.height());
    let plain = find_background(picture, tolerance).map(|found| alike(picture, found.color, tolerance));
    let spans: Vec<Option<(usize, usize)>> = (0..h)
        .into_par_iter()
        .map(|y| {
            let row = picture.pixels().row(y);
            let content = |&x: &usize| row[x][3] >= CLEAR && plain.as_ref().is_none_or(|p| !p[y * w + x]);
            Some(((0..w).find(content)?, (0..w).rev().find(content)?))
        })
        .collect();
    let top = spans.iter().position(Option::is_some)?;
    let bottom = spans.iter().rposition(Option::is_some)?;
    let left = spans.iter().flatten().map(|s| s.0).min()?;
    let right = spans.iter().flatten().map(|s| s.1).max()?;
    let (w, h) = (w as f64, h as f64);
    Some(CropBox {
        left: left as f64 / w,
        top: top as f64 / h,
        width: (right + 1 - left) as f64 / w,
        height: (bottom + 1 - top) as f64 / h,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    #[test]
    fn content_is_boxed_on_clear_and_on_plain_ground() {
        for ground in [[0; 4], [60000, 60000, 60000, 65535]] {
            let picture = Picture::new(Plane::from_fn(100, 50, |x, y| {
                if (20..70).contains(&x) && (10..25).contains(&y) { [100, 200, 30000, 65535] } else { ground }
            }));
            let found = find_content(&picture, 0.06).unwrap();
            assert_eq!(found, CropBox { left: 0.2, top: 0.2, width: 0.5, height: 0.3 });
        }
        assert_eq!(find_content(&Picture::new(Plane::filled(5, 5, [0; 4])), 0.06), None);
    }
}
