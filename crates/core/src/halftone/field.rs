//! A coverage plane laid over a rectangle of device pixels and screened row by row. Coverage is
//! interpolated from the screen's working resolution to the device's while it is screened.

use super::bits::words_for;
use super::grid::DotGrid;
use super::kernel::{self, Across};
use super::tone::ToneTable;
use crate::raster::Plane;

/// A screened rectangle of a film.
#[derive(Debug)]
pub struct Field<'a> {
    plane: &'a Plane<u16>,
    tone: &'a ToneTable,
    grid: &'a DotGrid,
    across: Across,
    width_px: usize,
    height_px: usize,
}

/// Working memory for walking through a field's rows, one a thread.
#[derive(Debug, Default)]
pub struct FieldCursor {
    rows: [Option<usize>; 2],
    toned: [Vec<i16>; 2],
    blended: Vec<i16>,
}

impl<'a> Field<'a> {
    /// Lays `plane` over `width_px` by `height_px` device pixels.
    ///
    /// # Panics
    /// If the plane is empty.
    pub fn new(
        plane: &'a Plane<u16>,
        tone: &'a ToneTable,
        grid: &'a DotGrid,
        width_px: usize,
        height_px: usize,
    ) -> Self {
        assert!(plane.width() > 0 && plane.height() > 0, "an empty plane cannot be screened");
        Self { plane, tone, grid, across: Across::new(plane.width(), width_px), width_px, height_px }
    }

    /// Device pixels across.
    pub fn width_px(&self) -> usize {
        self.width_px
    }

    /// Device pixels down.
    pub fn height_px(&self) -> usize {
        self.height_px
    }

    /// Words that [`Field::row`] fills.
    pub fn words(&self) -> usize {
        words_for(self.width_px)
    }

    /// Screens row `y` into `out`, which has [`Field::words`] words.
    pub fn row(&self, y: usize, cursor: &mut FieldCursor, out: &mut [u64]) {
        let (upper, weight) = kernel::between(y, self.plane.height(), self.height_px);
        let first = cursor.toned_row(self.plane, self.tone, upper);
        if weight > 0 {
            let second = cursor.toned_row(self.plane, self.tone, upper + 1);
            let FieldCursor { toned, blended, .. } = cursor;
            blended.resize(toned[first].len(), 0);
            kernel::blend_rows(&toned[first], &toned[second], weight, blended);
        }
        let source = if weight > 0 { &cursor.blended } else { &cursor.toned[first] };
        kernel::screen_row(self.grid, y, source, &self.across, out);
    }
}

impl FieldCursor {
    /// Brings a source row through the tone table into memory; rows alternate between two slots.
    fn toned_row(&mut self, plane: &Plane<u16>, tone: &ToneTable, y: usize) -> usize {
        let slot = y % 2;
        if self.rows[slot] != Some(y) {
            let row = &mut self.toned[slot];
            row.clear();
            row.extend(plane.row(y).iter().map(|&v| (i32::from(tone.get(v)) - 32_768) as i16));
            row.resize(plane.width() + kernel::SPARE, row[plane.width() - 1]);
            self.rows[slot] = Some(y);
        }
        slot
    }
}

#[cfg(test)]
mod tests {
    use super::super::{DeviceGrid, DotShape, count_ink};
    use super::*;
    use crate::units::{Degrees, Dpi, Lpi};

    fn ink_share(plane: &Plane<u16>, side_px: usize) -> f64 {
        let grid = DotGrid::new(
            DeviceGrid::square(Dpi::new(720.0).unwrap()),
            Lpi::new(45.0).unwrap(),
            Degrees::new(22.5).unwrap(),
            &DotShape::Round,
        );
        let tone = ToneTable::identity();
        let field = Field::new(plane, &tone, &grid, side_px, side_px);
        let mut cursor = FieldCursor::default();
        let mut row = vec![0; field.words()];
        let mut ink = 0;
        for y in 0..side_px {
            field.row(y, &mut cursor, &mut row);
            ink += count_ink(&row);
        }
        ink as f64 / (side_px * side_px) as f64
    }

    #[test]
    fn flat_tints_have_their_area_and_the_ends_are_clean() {
        for percent in [0u32, 2, 10, 50, 75, 98, 100] {
            let value = (65_535 * percent / 100) as u16;
            let share = ink_share(&Plane::filled(4, 4, value), 1024);
            let nominal = f64::from(percent) / 100.0;
            let allowed = if percent % 100 == 0 { 0.0 } else { 0.003 };
            assert!((share - nominal).abs() <= allowed, "{percent} %: {share}");
        }
    }

    #[test]
    fn a_ramp_keeps_its_mean_through_interpolation() {
        let plane = Plane::from_fn(64, 64, |x, y| ((x * 64 + y) * 65_535 / 4095) as u16);
        assert!((ink_share(&plane, 1000) - plane.mean_coverage()).abs() < 0.003);
    }
}
