//! Where the art's background is: what is clear, and what joins the picture's edge in the
//! edge's own even colour. Holes that do not join the edge are not background, so the white of
//! an eye stays.

use rayon::prelude::*;

use crate::prep::{alike, edge_color, flood};
use crate::raster::{Picture, Plane, Rgba16};

/// How far from the edge's colour still counts as the same, as a distance in OKLab. An
/// assumption of ours: wide enough for JPEG noise and paper shading, narrower than a pastel.
const SAME: f64 = 0.045;
/// Least share of the edge that must have one colour for it to be called a background. Less than the
/// preparation asks for: a design may touch the edge of a picture whose ground is meant all the same.
const EVEN_SHARE: f64 = 0.35;

/// The background as a mask, `true` inside; none if nothing is clear and the edge has no even
/// colour.
pub fn background(picture: &Picture) -> Option<Plane<bool>> {
    background_within(picture, SAME)
}

/// The same with the distance in OKLab that still counts as the edge's colour.
pub(super) fn background_within(picture: &Picture, tolerance: f64) -> Option<Plane<bool>> {
    let (w, h) = (picture.width(), picture.height());
    let clear = |p: &Rgba16| p[3] < 0x8000;
    let mut mask: Vec<bool> = picture.pixels().data().par_iter().with_min_len(1 << 14).map(clear).collect();
    match edge_color(picture, SAME, EVEN_SHARE) {
        Some(even) => {
            let mut may = alike(picture, even.color, tolerance);
            may.iter_mut().zip(&mask).for_each(|(may, clear)| *may |= clear);
            mask.iter_mut().zip(flood(&may, w, h)).for_each(|(mask, joined)| *mask |= joined);
        }
        None if !mask.contains(&true) => return None,
        None => {}
    }
    Some(Plane::from_vec(w, h, mask))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::FULL;

    fn art(f: impl Fn(usize, usize) -> Rgba16 + Sync) -> Picture {
        Picture::new(Plane::from_fn(40, 30, f))
    }

    #[test]
    fn white_round_a_ring_is_background_and_the_hole_in_it_is_not() {
        let white = [FULL; 4];
        let picture = art(|x, y| {
            let r = ((x as f64 - 20.0).powi(2) + (y as f64 - 15.0).powi(2)).sqrt();
            if (6.0..10.0).contains(&r) { [9000, 2000, 2000, FULL] } else { white }
        });
        let mask = background(&picture).unwrap();
        assert!(mask.get(0, 0) && mask.get(39, 29) && mask.get(20, 2));
        assert!(!mask.get(20, 15), "the hole does not join the edge");
        assert!(!mask.get(28, 15), "the ring itself");
    }

    #[test]
    fn clear_pixels_are_background_and_a_busy_edge_is_none() {
        let clear = art(|x, _| if x < 10 { [0; 4] } else { [(x * 1600) as u16, 0, (40 - x) as u16 * 1600, FULL] });
        let mask = background(&clear).unwrap();
        assert!(mask.get(3, 10) && !mask.get(25, 10));
        let busy = art(|x, y| [((x * 7919) % 40 * 1600) as u16, (y * 2100) as u16, ((x + y) % 9 * 7000) as u16, FULL]);
        assert_eq!(background(&busy), None);
    }
}
