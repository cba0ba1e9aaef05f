//! The choke of an underbase: it stays behind the edges of the colours over it, so that white does
//! not show where screens do not fall quite on each other.
//!
//! A grey-value erosion by a disc, let through where coverage really drops: fine texture inside a
//! tone (drops of less than about a fifth) is left alone, or a photograph would lose its light.

use rayon::prelude::*;

use crate::raster::Plane;

/// Drops up to the first are texture and kept, from the second on they are edges and choked.
const TEXTURE: (f32, f32) = (0.10, 0.35);

/// Chokes a plane by `radius_px`, which need not be whole: between whole radii the results are
/// blended. Outside the plane there is no print, so its border is an edge.
pub(super) fn choke(plane: &mut Plane<u16>, radius_px: f64) {
    if radius_px <= 0.0 || plane.width() == 0 || plane.height() == 0 {
        return;
    }
    let whole = radius_px.floor();
    let part = (radius_px - whole) as f32;
    let inner = eroded(plane, whole as usize);
    let outer = if part > 0.0 { Some(eroded(plane, whole as usize + 1)) } else { None };
    let width = plane.width();
    plane.data_mut().par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, value) in row.iter_mut().enumerate() {
            let before = f32::from(*value);
            let mut least = f32::from(inner.get(x, y));
            if let Some(outer) = &outer {
                least += part * (f32::from(outer.get(x, y)) - least);
            }
            let drop = before - least;
            let t = ((drop / 65535.0 - TEXTURE.0) / (TEXTURE.1 - TEXTURE.0)).clamp(0.0, 1.0);
            *value = (before - drop * t * t * (3.0 - 2.0 * t)).round() as u16;
        }
    });
}

/// The least value within a disc, `radius` whole pixels.
fn eroded(plane: &Plane<u16>, radius: usize) -> Plane<u16> {
    let (width, height) = (plane.width(), plane.height());
    if radius == 0 {
        return plane.clone();
    }
    let r2 = (radius as f64 + 0.5).powi(2);
    let half_widths: Vec<usize> = (0..=radius).map(|dy| (r2 - (dy * dy) as f64).sqrt() as usize).collect();
    let mut out = Plane::filled(width, height, 0u16);
    out.data_mut().par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        if y < radius || y + radius >= height {
            return; // No print beyond the border.
        }
        out.fill(u16::MAX);
        let mut line = vec![0u16; width];
        for (dy, &half) in half_widths.iter().enumerate() {
            for from in if dy == 0 { [y, y] } else { [y - dy, y + dy] } {
                least_in_window(plane.row(from), half, &mut line);
                out.iter_mut().zip(&line).for_each(|(out, &v)| *out = (*out).min(v));
            }
        }
    });
    out
}

/// The least value from `half` before to `half` after; beyond the ends there is none. Windows are
/// doubled, then two of them overlap to the exact width.
fn least_in_window(row: &[u16], half: usize, out: &mut [u16]) {
    let width = row.len();
    out.fill(0);
    let span = 2 * half + 1;
    if width < span {
        return;
    }
    let mut least = row.to_vec();
    let mut reach = 1;
    while reach * 2 <= span {
        for x in 0..width - reach {
            least[x] = least[x].min(least[x + reach]);
        }
        reach *= 2;
    }
    for x in half..width - half {
        out[x] = least[x - half].min(least[x + half + 1 - reach]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_disc_loses_the_radius_and_texture_stays() {
        let disc = |r: f64| move |x: usize, y: usize| (x as f64 - 50.0).hypot(y as f64 - 50.0) <= r;
        let mut plane = Plane::from_fn(101, 101, |x, y| if disc(30.0)(x, y) { u16::MAX } else { 0 });
        choke(&mut plane, 3.0);
        let area: usize = plane.data().iter().filter(|v| **v > 0).count();
        let want = std::f64::consts::PI * 27.0 * 27.0;
        assert!((area as f64 / want - 1.0).abs() < 0.03, "{area} against {want}");

        let texture = |x: usize, y: usize| if (x / 3 + y / 3).is_multiple_of(2) { 40_000 } else { 44_000 };
        let mut plane = Plane::from_fn(60, 60, texture);
        choke(&mut plane, 2.4);
        for (x, y) in [(30, 30), (31, 33), (20, 40)] {
            assert_eq!(plane.get(x, y), texture(x, y));
        }
        assert_eq!(plane.get(0, 30), 0, "the border is an edge");
    }

    #[test]
    fn a_part_of_a_pixel_takes_a_part() {
        let mut plane = Plane::from_fn(40, 40, |x, _| if x < 20 { u16::MAX } else { 0 });
        choke(&mut plane, 2.5);
        let row = plane.row(20);
        assert_eq!((row[16], row[18]), (u16::MAX, 0));
        assert!(row[17] > 0 && row[17] < u16::MAX, "{}", row[17]);
    }
}
