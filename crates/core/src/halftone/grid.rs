//! A rotated grid of dots on the device grid. The phase of every 16th pixel of every row is
//! computed anew in fixed point from the exact ruling and angle, so nothing drifts over the
//! film; the 16 thresholds that follow come from a bank of short runs, one for each start in a
//! 128 x 128 raster of the cell. A start is thus off by at most 1/256 of a cell, the same as
//! with a 128 x 128 threshold table, at the price of one cache line for 16 pixels.

use super::{Cell, DotShape};
use crate::units::{Degrees, Dpi, Lpi};

/// Pixels of one run in the bank.
pub(super) const RUN: usize = 16;
/// Starts a side.
const STARTS: usize = 128;
const SHIFT: u32 = 32 - STARTS.trailing_zeros();
/// Where the film's corner lies in its cell: 2^-24 of a cell inside, so that no rounding carries the
/// places of a repeating grid that lie on the edge of two starts from one to the other.
const CORNER: u64 = 1 << 40;

/// Resolution of a film printer, across and down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeviceGrid {
    /// Pixels an inch across.
    pub x_dpi: Dpi,
    /// Pixels an inch down.
    pub y_dpi: Dpi,
}

impl DeviceGrid {
    /// The same both ways.
    pub fn square(dpi: Dpi) -> Self {
        Self { x_dpi: dpi, y_dpi: dpi }
    }
}

/// Thresholds for every device pixel.
#[derive(Debug, Clone)]
pub struct DotGrid {
    /// `STARTS * STARTS` runs of signed thresholds (threshold - 32768).
    bank: Vec<i16>,
    /// Cell fractions (2^32 = one cell) that one pixel across moves along u and v.
    across: [u64; 2],
    /// The same one row down.
    down: [u64; 2],
}

impl DotGrid {
    /// Prepares a screen. `angle` is counter-clockwise on the film seen right-reading.
    pub fn new(device: DeviceGrid, ruling: Lpi, angle: Degrees, dot: &DotShape) -> Self {
        Self::of_cell(device, ruling, angle, &Cell::new(dot))
    }

    /// The same from a threshold table.
    pub fn of_cell(device: DeviceGrid, ruling: Lpi, angle: Degrees, cell: &Cell) -> Self {
        let (sin, cos) = exact_sin_cos(angle.get());
        let (x, y) = (ruling.get() / device.x_dpi.get(), ruling.get() / device.y_dpi.get());
        // Rows run down while angles turn the mathematical way.
        let across = [fraction(x * cos), fraction(x * sin)];
        let down = [fraction(-y * sin), fraction(y * cos)];
        let mut bank = Vec::with_capacity(STARTS * STARTS * RUN);
        let middle = 1u32 << (SHIFT - 1);
        for start in 0..STARTS * STARTS {
            let mut u = ((start % STARTS) as u32) << SHIFT | middle;
            let mut v = ((start / STARTS) as u32) << SHIFT | middle;
            for _ in 0..RUN {
                bank.push((i32::from(cell.at(u, v)) - 32_768) as i16);
                u = u.wrapping_add((across[0] >> 32) as u32);
                v = v.wrapping_add((across[1] >> 32) as u32);
            }
        }
        spread_evenly(&mut bank);
        let mut grid = Self { bank, across, down };
        if let Some(period) = grid.short_period() {
            grid.rank_over(period);
        }
        grid
    }

    /// Pixels across and down after which the dots repeat exactly, where both are at most
    /// `STARTS`: right angles with a whole number of pixels a cell, and little else.
    fn short_period(&self) -> Option<(usize, usize)> {
        let find = |step: [u64; 2]| {
            (1..=STARTS).find(|&n| step.iter().all(|s| s.wrapping_mul(n as u64).cast_signed().unsigned_abs() < 1 << 20))
        };
        Some((find(self.across)?, find(self.down)?))
    }

    /// Ranks the few places that a repeating grid ever visits among themselves. The table's ranks
    /// are linear over the whole cell, but a handful of places can lie unevenly among them; so
    /// every level that the device has is met.
    fn rank_over(&mut self, (width, height): (usize, usize)) {
        let count = width * height;
        let mut order: Vec<(u16, usize)> = (0..count).map(|at| (self.threshold(at % width, at / width), at)).collect();
        order.sort_unstable();
        let mut ranked = vec![0i16; count];
        for (rank, &(_, at)) in order.iter().enumerate() {
            let threshold = (2 * rank as u64 + 1) * 65_535 / (2 * count as u64);
            ranked[at] = (threshold as i32 - 32_768) as i16;
        }
        for y in 0..height {
            let mut phase = self.row_phase(y);
            // Runs start at every multiple of 16; after `width` of them each start has come up.
            for run in 0..width {
                let at = phase.next_run();
                for (k, out) in self.bank[at..at + RUN].iter_mut().enumerate() {
                    *out = ranked[y * width + (run * RUN + k) % width];
                }
            }
        }
    }

    /// Phase at the first pixel of a row, and the step from run to run.
    pub(super) fn row_phase(&self, y: usize) -> RowPhase {
        RowPhase {
            at: self.down.map(|d| d.wrapping_mul(y as u64).wrapping_add(CORNER)),
            step: self.across.map(|d| d.wrapping_mul(RUN as u64)),
        }
    }

    /// The bank and its runs: see [`RowPhase::next_run`].
    pub(super) fn bank(&self) -> &[i16] {
        &self.bank
    }

    /// Threshold of one pixel, 0..=65534; the plain definition of the grid.
    pub fn threshold(&self, x: usize, y: usize) -> u16 {
        let mut phase = self.row_phase(y);
        phase.skip(x / RUN);
        let run = phase.next_run();
        (i32::from(self.bank[run + x % RUN]) + 32_768) as u16
    }
}

/// Replaces each threshold of the bank by the share of the bank that lies under it. The starts are a
/// coarser raster than the cell, and a straight side of a dot meets many of their pixels at once: without
/// this, square dots and lines missed the area by up to 0.7 % at some angles.
fn spread_evenly(bank: &mut [i16]) {
    let place = |signed: i16| (i32::from(signed) + 32_768) as usize;
    let mut under = vec![0u64; 65_536];
    for &signed in &*bank {
        under[place(signed)] += 1;
    }
    let mut sum = 0;
    for count in &mut under {
        sum += std::mem::replace(count, sum);
    }
    for signed in bank {
        *signed = ((under[place(*signed)] * 65_535 / sum) as i32 - 32_768) as i16;
    }
}

/// Walks along a row in steps of one run.
pub(super) struct RowPhase {
    at: [u64; 2],
    step: [u64; 2],
}

impl RowPhase {
    /// Passes over some runs.
    pub(super) fn skip(&mut self, runs: usize) {
        for (at, step) in self.at.iter_mut().zip(self.step) {
            *at = at.wrapping_add(step.wrapping_mul(runs as u64));
        }
    }

    /// Where the next run begins in the bank.
    #[inline(always)]
    pub(super) fn next_run(&mut self) -> usize {
        const WIDE: u32 = SHIFT + 32;
        let run = ((self.at[1] >> WIDE) as usize * STARTS + (self.at[0] >> WIDE) as usize) * RUN;
        self.at[0] = self.at[0].wrapping_add(self.step[0]);
        self.at[1] = self.at[1].wrapping_add(self.step[1]);
        run
    }
}

/// A number of cells as a 64-bit fraction of one cell; whole cells fall away.
fn fraction(cells: f64) -> u64 {
    let part = cells.rem_euclid(1.0);
    // 2^64 as f64; a part that rounds up to a whole cell becomes 0.
    (part * 18_446_744_073_709_551_616.0) as u128 as u64
}

/// Sine and cosine that are exact at the multiples of 90 degrees.
fn exact_sin_cos(degrees: f64) -> (f64, f64) {
    match degrees.rem_euclid(360.0) {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        turned => turned.to_radians().sin_cos(),
    }
}
