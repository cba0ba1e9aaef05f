//! Coverages of a pixel from the table by tetrahedral interpolation, all in integers: the cell and
//! a 15-bit position in it, four corners weighed, weights adding up to exactly one.

use rayon::prelude::*;

use super::table::{SIDE, Table, wanted};
use crate::raster::{Picture, Plane, Rgba16};

/// Steps across one cell.
pub(super) const CELL: u32 = 1 << 15;

/// A 16-bit channel on the table's axis, in units of 1/32768 cell: 0 and 65535 fall on nodes.
pub(super) fn axis_position(value: u16) -> u32 {
    let v = u32::from(value);
    // (SIDE - 1) * CELL / 65535 is 16 + 16/65535; exact at both ends, within one step between.
    v * 16 + ((v + 0x800) >> 12)
}

/// The four corners (node indices) and their weights, which sum to [`CELL`].
pub(super) fn corners(color: [u16; 3]) -> [(usize, u32); 4] {
    let position = color.map(axis_position);
    let mut base = 0;
    let mut axes = [0u32; 3];
    let strides = [SIDE * SIDE, SIDE, 1];
    for k in 0..3 {
        // The far face belongs to the last cell, at a full step.
        let cell = (position[k] / CELL).min(SIDE as u32 - 2);
        base += cell as usize * strides[k];
        axes[k] = position[k] - cell * CELL;
    }
    // Walk from the base corner along the axes in falling order of position.
    let mut order = [(axes[0], strides[0]), (axes[1], strides[1]), (axes[2], strides[2])];
    order.sort_by_key(|axis| std::cmp::Reverse(axis.0));
    let [(f1, s1), (f2, s2), (f3, s3)] = order;
    [(base, CELL - f1), (base + s1, f1 - f2), (base + s1 + s2, f2 - f3), (base + s1 + s2 + s3, f3)]
}

/// Coverages of one colour.
pub(super) fn look_up(table: &Table, color: [u16; 3], out: &mut [u16]) {
    let corners = corners(color);
    for (i, out) in out.iter_mut().enumerate().take(table.screens) {
        let sum: u32 =
            corners.iter().map(|&(node, weight)| weight * u32::from(table.data[node * table.lanes + i])).sum();
        *out = ((sum + CELL / 2) / CELL) as u16;
    }
}

/// Alpha under which coverage fades to none, so that a clear pixel takes no ink on any screen.
const FADE: u32 = 65535 / 8;

/// One row, the plain way.
pub(super) fn look_up_row(table: &Table, garment: [f32; 3], pixels: &[Rgba16], out: &mut [&mut [u16]]) {
    let mut coverage = [0u16; super::model::MAX_SCREENS];
    for (x, pixel) in pixels.iter().enumerate() {
        if pixel[3] == 0 {
            out.iter_mut().for_each(|row| row[x] = 0);
            continue;
        }
        look_up(table, wanted(pixel, garment), &mut coverage);
        let alpha = u32::from(pixel[3]);
        for (row, &a) in out.iter_mut().zip(&coverage) {
            row[x] = if alpha < FADE { (u32::from(a) * alpha / FADE) as u16 } else { a };
        }
    }
}

/// The planes of all screens, rows in parallel.
pub(super) fn planes(table: &Table, garment: [f32; 3], picture: &Picture) -> Vec<Plane<u16>> {
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
    bands.into_par_iter().zip(picture.pixels().data().par_chunks(ROWS * width)).for_each(|(mut band, pixels)| {
        look_up_row(table, garment, pixels, &mut band);
    });
    planes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_weigh_one_and_nodes_are_hit_exactly() {
        assert_eq!(axis_position(0), 0);
        assert_eq!(axis_position(65535), 32 * CELL);
        for color in [[0, 0, 0], [65535; 3], [123, 45_000, 65_535], [30_000, 30_000, 7]] {
            let corners = corners(color);
            assert_eq!(corners.iter().map(|c| c.1).sum::<u32>(), CELL);
            assert!(corners.iter().all(|c| c.0 < SIDE * SIDE * SIDE));
        }
    }

    /// Tetrahedral interpolation gives every affine function of the colour back.
    #[test]
    fn affine_tables_come_back_exactly() {
        let lanes = 8;
        let mut data = vec![0u16; SIDE * SIDE * SIDE * lanes];
        for r in 0..SIDE {
            for g in 0..SIDE {
                for b in 0..SIDE {
                    data[((r * SIDE + g) * SIDE + b) * lanes] = (r * 1000 + g * 300 + b * 700) as u16;
                }
            }
        }
        let table = Table { data, lanes, screens: 1 };
        for color in [[0u16, 0, 0], [65535, 65535, 65535], [1000, 50_000, 33_333], [40_000, 12_345, 54_321]] {
            let mut out = [0u16];
            look_up(&table, color, &mut out);
            let at = color.map(|v| f64::from(v) * 32.0 / 65535.0);
            let want = at[0] * 1000.0 + at[1] * 300.0 + at[2] * 700.0;
            assert!((f64::from(out[0]) - want).abs() <= 1.0, "{color:?}: {} against {want}", out[0]);
        }
    }
}
