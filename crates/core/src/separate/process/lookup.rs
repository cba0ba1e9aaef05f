//! Coverages of a picture from the table by tetrahedral interpolation, all in integers: pixel by pixel, which
//! is the definition, and opaque runs by vectors (`lookup_rows.rs`).

use fearless_simd::Level;
use rayon::prelude::*;

use super::corners::{CELL, corners};
use super::lookup_rows;
use super::table::{Table, target_color};
use crate::raster::{Picture, Plane, Rgba16};
use crate::simd;

/// Coverages of one colour.
pub(super) fn look_up(table: &Table, color: [u16; 3], out: &mut [u16]) {
    let corners = corners(table.side, color);
    for (i, out) in out.iter_mut().enumerate().take(table.screens) {
        let sum: u32 =
            corners.iter().map(|&(node, weight)| weight * u32::from(table.data[node * table.lanes + i])).sum();
        *out = ((sum + CELL / 2) / CELL) as u16;
    }
}

/// Alpha under which coverage fades to none, so that a clear pixel takes no ink on any screen.
const FADE: u32 = 65535 / 8;

/// Pixels one by one, the plain way.
fn look_up_row(table: &Table, garment: [f32; 3], pixels: &[Rgba16], out: &mut [&mut [u16]], from: usize) {
    let mut coverage = [0u16; crate::separate::model::MAX_SCREENS];
    for (x, pixel) in pixels.iter().enumerate() {
        if pixel[3] == 0 {
            out.iter_mut().for_each(|row| row[from + x] = 0);
            continue;
        }
        look_up(table, target_color(pixel, garment), &mut coverage);
        let alpha = u32::from(pixel[3]);
        for (row, &a) in out.iter_mut().zip(&coverage) {
            row[from + x] = if alpha < FADE { (u32::from(a) * alpha / FADE) as u16 } else { a };
        }
    }
}

/// Opaque runs by vectors, the rest pixel by pixel.
fn look_up_row_fast(
    level: Level,
    table: &Table,
    signed: &[i16],
    garment: [f32; 3],
    pixels: &[Rgba16],
    out: &mut [&mut [u16]],
) {
    let mut at = 0;
    while at < pixels.len() {
        let opaque = pixels[at..].iter().take_while(|p| p[3] == u16::MAX).count();
        at += lookup_rows::row(level, table, signed, &pixels[at..at + opaque], out, at);
        let some = (pixels.len() - at).min(8);
        look_up_row(table, garment, &pixels[at..at + some], out, at);
        at += some;
    }
}

/// The planes of all screens, rows in parallel.
pub(super) fn planes(table: &Table, garment: [f32; 3], picture: &Picture) -> Vec<Plane<u16>> {
    planes_at(Some(simd::level()), table, garment, picture)
}

/// The same by the definition alone; for tests and benches.
pub(super) fn planes_plainly(table: &Table, garment: [f32; 3], picture: &Picture) -> Vec<Plane<u16>> {
    planes_at(None, table, garment, picture)
}

/// By vectors of a level, or plainly.
fn planes_at(level: Option<Level>, table: &Table, garment: [f32; 3], picture: &Picture) -> Vec<Plane<u16>> {
    let (width, height) = (picture.width(), picture.height());
    let mut planes: Vec<Plane<u16>> = (0..table.screens).map(|_| Plane::filled(width, height, 0u16)).collect();
    if width == 0 || height == 0 {
        return planes;
    }
    const ROWS: usize = 16;
    let mut bands: Vec<Vec<&mut [u16]>> = (0..height.div_ceil(ROWS)).map(|_| Vec::new()).collect();
    for plane in &mut planes {
        for (band, rows) in bands.iter_mut().zip(plane.data_mut().chunks_mut(ROWS * width)) {
            band.push(rows);
        }
    }
    let signed: Vec<i16> = level.map_or_else(Vec::new, |_| table.data.iter().map(|&v| (v ^ 0x8000) as i16).collect());
    bands.into_par_iter().zip(picture.pixels().data().par_chunks(ROWS * width)).for_each(|(mut band, pixels)| {
        match level {
            Some(level) => look_up_row_fast(level, table, &signed, garment, pixels, &mut band),
            None => look_up_row(table, garment, pixels, &mut band, 0),
        }
    });
    planes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::separate::process::corners::SIDE;

    const SIDES: [usize; 2] = [SIDE, 2 * SIDE - 1];

    /// Tetrahedral interpolation gives every affine function of the colour back.
    #[test]
    fn affine_tables_come_back_exactly() {
        let lanes = 8;
        for side in SIDES {
            let mut data = vec![0u16; side * side * side * lanes];
            for (node, values) in data.chunks_exact_mut(lanes).enumerate() {
                let [r, g, b] = [node / (side * side), node / side % side, node % side];
                values[0] = (r * 500 + g * 150 + b * 350) as u16;
            }
            let table = Table { side, data, lanes, screens: 1 };
            for color in [[0u16, 0, 0], [65535, 65535, 65535], [1000, 50_000, 33_333], [40_000, 12_345, 54_321]] {
                let mut out = [0u16];
                look_up(&table, color, &mut out);
                let at = color.map(|v| f64::from(v) * (side - 1) as f64 / 65535.0);
                let want = at[0] * 500.0 + at[1] * 150.0 + at[2] * 350.0;
                assert!((f64::from(out[0]) - want).abs() <= 1.0, "{color:?}: {} against {want}", out[0]);
            }
        }
    }

    /// Every level gives the plain integers, for one and two blocks of eight screens,
    /// both table sizes, clear and half-clear pixels among opaque ones, and every order of the
    /// channels.
    #[test]
    fn fast_and_plain_agree_to_the_last_bit() {
        for (screens, side) in [(3usize, SIDES[0]), (6, SIDES[0]), (6, SIDES[1]), (8, SIDES[1]), (11, SIDES[0])] {
            let lanes = screens.div_ceil(8) * 8;
            let mut state = 12345u32;
            let mut next = || {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 16) as u16
            };
            let data = (0..side * side * side * lanes).map(|_| next()).collect();
            let table = Table { side, data, lanes, screens };
            let special = [0u16, 65535, 2047, 2048, 32767, 65534];
            let mut pixels: Vec<Rgba16> = Vec::new();
            for r in special {
                for g in special {
                    pixels.extend(special.map(|b| [r, g, b, u16::MAX]));
                }
            }
            while pixels.len() < 61 * 50 {
                let alpha = if next() < 3000 { next() } else { u16::MAX };
                pixels.push([next(), next(), next(), if alpha < 9000 { 0 } else { alpha }]);
            }
            let picture = Picture::new(Plane::from_vec(61, 50, pixels));
            let garment = [0.1, 0.02, 0.03];
            let plain = planes_plainly(&table, garment, &picture);
            for (level, token) in simd::each() {
                assert!(planes_at(Some(token), &table, garment, &picture) == plain, "{level:?}, {screens} screens");
            }
        }
    }
}
