//! The choke of an underbase: it stays behind the edges of the colours over it, so that white does
//! not show where screens do not fall quite on each other.
//!
//! A grey-value erosion by a disc, let through where coverage really drops: fine texture inside a
//! tone (drops of less than about a fifth) is left alone, or a photograph would lose its light.

use rayon::prelude::*;

use crate::raster::{Plane, choke_from_border_in_place};
use crate::{Cancelled, Progress};

/// Drops up to the first are texture and kept, from the second on they are edges and choked.
const TEXTURE: (f32, f32) = (0.10, 0.35);

/// Chokes a plane by `radius_px`, which need not be whole. Outside the plane there is no print, so
/// its border is an edge.
pub(super) fn choke(plane: &mut Plane<u16>, radius_px: f64, progress: &Progress) -> Result<(), Cancelled> {
    let mut least = plane.clone();
    choke_from_border_in_place(&mut least, radius_px, progress)?;
    plane.data_mut().par_iter_mut().zip(least.data()).with_min_len(1 << 14).for_each(|(value, &least)| {
        let before = f32::from(*value);
        let drop = before - f32::from(least);
        let t = ((drop / 65535.0 - TEXTURE.0) / (TEXTURE.1 - TEXTURE.0)).clamp(0.0, 1.0);
        *value = (before - drop * t * t * (3.0 - 2.0 * t)).round() as u16;
    });
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_disc_loses_the_radius_and_texture_stays() {
        let disc = |r: f64| move |x: usize, y: usize| (x as f64 - 50.0).hypot(y as f64 - 50.0) <= r;
        let mut plane = Plane::from_fn(101, 101, |x, y| if disc(30.0)(x, y) { u16::MAX } else { 0 });
        choke(&mut plane, 3.0, &Progress::none()).unwrap();
        let area: usize = plane.data().iter().filter(|v| **v > 0).count();
        let want = std::f64::consts::PI * 27.0 * 27.0;
        assert!((area as f64 / want - 1.0).abs() < 0.03, "{area} against {want}");

        let texture = |x: usize, y: usize| if (x / 3 + y / 3).is_multiple_of(2) { 40_000 } else { 44_000 };
        let mut plane = Plane::from_fn(60, 60, texture);
        choke(&mut plane, 2.4, &Progress::none()).unwrap();
        for (x, y) in [(30, 30), (31, 33), (20, 40)] {
            assert_eq!(plane.get(x, y), texture(x, y));
        }
        assert_eq!(plane.get(0, 30), 0, "the border is an edge");
    }

    #[test]
    fn a_part_of_a_pixel_takes_a_part() {
        let mut plane = Plane::from_fn(40, 40, |x, _| if x < 20 { u16::MAX } else { 0 });
        choke(&mut plane, 2.5, &Progress::none()).unwrap();
        let row = plane.row(20);
        assert_eq!((row[16], row[18]), (u16::MAX, 0));
        assert!(row[17] > 0 && row[17] < u16::MAX, "{}", row[17]);
    }
}
