//! A rotated grid of dots on the device grid. The phase of every 16th pixel of every row is
//! computed again in fixed point from the exact ruling and angle, so nothing drifts over the
//! film; the 16 thresholds that follow come from a bank of short runs, one for each start in a
//! 128 x 128 raster of the cell (256 x 256 for cells of more pixels). A start is thus off by at
//! most 1/256 of a cell, the same as with a 128 x 128 threshold table, at the price of one cache
//! line for 16 pixels.
//!
//! Where rows of dots run along the pixels (0, 45, 90 degrees and the like), edges of many dots meet
//! the pixels' middles together: a line 5.5 pixels wide is 5 or 6 for millimetres, a tint is off by
//! several percent and shows bands. Two cures: a cell of whole pixels is ranked by its own pixels, so
//! that it meets every level the device has; any other such grid is loosened, see [`Loose`].

use super::diffusion::scatter;
use super::{Cell, DotShape};
use crate::units::{Degrees, Dpi, Lpi};

/// Pixels of one run in the bank.
pub(super) const RUN: usize = 16;
/// Starts a side, as a power of two: 128, and 256 for cells of more pixels.
const START_BITS: [u32; 2] = [7, 8];
/// Where the film's corner lies in its cell: 2^-24 of a cell inside, so that no rounding carries the
/// places of a repeating grid that lie on the edge of two starts from one to the other.
const CORNER: u64 = 1 << 40;
/// The golden section as a 32-bit fraction: its multiples, whole parts left off, fill 0..1 as evenly
/// as any sequence does from wherever one begins to look.
const GOLDEN: u32 = 0x9E37_79B9;
/// How far one looks along rows of dots for a step of one pixel: a densitometer's aperture, in cells.
const APERTURE_CELLS: f64 = 7.0;

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
    /// A run of signed thresholds (threshold - 32768) for each start.
    bank: Vec<i16>,
    /// Starts a side, as a power of two.
    bits: u32,
    /// Cell fractions (2^32 = one cell) that one pixel across moves along u and v.
    across: [u64; 2],
    /// The same one row down.
    down: [u64; 2],
    loose: Option<Loose>,
    /// Cells along u and v that one pixel across moves, and one down.
    cells: [[f64; 2]; 2],
}

/// How a grid that runs along the pixels is loosened: each row is read up to half a pixel to the left
/// or right of where it lies, each run of 16 pixels up to half a pixel above or below, evenly spread
/// over their neighbours (further in cells of more than 256 pixels, whose runs begin coarser); each row's runs begin afresh, or their pattern would beat with the dots. An edge between two pixels so takes one or the other in the share that is
/// due; ruling, angle and the order of tones are untouched. The price is edges that are rough by half
/// a pixel, under a quarter of what a mesh holds. (All 32-bit fractions of a cell, signed.)
#[derive(Debug, Clone, Copy)]
struct Loose {
    across: [i32; 2],
    down: [i32; 2],
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
        let cell_px = [1.0 / x, 1.0 / y];
        let coarse = cell_px.iter().any(|px| *px > f64::from(1 << START_BITS[0]) + 0.5);
        let bits = START_BITS[usize::from(coarse)];
        let starts = 1u32 << bits;
        let mut bank = Vec::with_capacity((starts * starts) as usize * RUN);
        let place = |start: u32| (2 * start + 1) << (31 - bits);
        for start in 0..starts * starts {
            let (mut u, mut v) = (place(start % starts), place(start / starts));
            for _ in 0..RUN {
                bank.push((i32::from(cell.at(u, v)) - 32_768) as i16);
                u = u.wrapping_add((across[0] >> 32) as u32);
                v = v.wrapping_add((across[1] >> 32) as u32);
            }
        }
        spread_evenly(&mut bank);
        let cells = [[x * cos, x * sin], [-y * sin, y * cos]];
        let mut grid = Self { bank, bits, across, down, loose: None, cells };
        if let Some(period) = whole_cell(cell_px, angle) {
            grid.rank_over(period);
        } else if runs_along_pixels(cell_px, [sin, cos]) {
            // At least as far as the starts of runs lie apart.
            let wide = |px: f64| (px / f64::from(starts)).max(1.0);
            let short = |cells: f64, px: f64| (fraction(cells * wide(px)).cast_signed() >> 32) as i32;
            let [x_px, y_px] = cell_px;
            grid.loose = Some(Loose {
                across: [short(x * cos, x_px), short(x * sin, x_px)],
                down: [short(-y * sin, y_px), short(y * cos, y_px)],
            });
        }
        grid
    }

    /// Ranks the few places that a grid of whole cells ever visits among themselves. The table's ranks
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
        let mut at = self.down.map(|d| d.wrapping_mul(y as u64).wrapping_add(CORNER));
        let step = self.across.map(|d| d.wrapping_mul(RUN as u64));
        let Some(loose) = self.loose else {
            return RowPhase { at, step, bits: self.bits, down: [0; 2], off: 0 };
        };
        let off = (y as u32).wrapping_mul(GOLDEN).cast_signed();
        for (at, across) in at.iter_mut().zip(loose.across) {
            *at = at.wrapping_add((i64::from(across) * i64::from(off)).cast_unsigned());
        }
        RowPhase { at, step, bits: self.bits, down: loose.down.map(i64::from), off: scatter(0, y as u32, 0) }
    }

    /// The cells along u and v that one pixel across and one pixel down move.
    pub(super) fn cells(&self) -> [[f64; 2]; 2] {
        self.cells
    }

    /// Whether rows and runs are read beside their places, see [`Loose`].
    pub(super) fn is_loose(&self) -> bool {
        self.loose.is_some()
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

/// Device pixels of a cell across and down where they are whole and the grid stands upright.
fn whole_cell(cell_px: [f64; 2], angle: Degrees) -> Option<(usize, usize)> {
    let whole = cell_px.iter().all(|px| (px - px.round()).abs() < 1e-9 && *px < f64::from(1 << START_BITS[1]) + 0.5);
    (whole && angle.get() % 90.0 == 0.0).then(|| (cell_px[0].round() as usize, cell_px[1].round() as usize))
}

/// Whether dots stand in rows that stray from the pixels' rows or columns by less than a pixel over
/// an aperture. Rows count if they join a dot to one of the next five about it.
fn runs_along_pixels([x_px, y_px]: [f64; 2], [sin, cos]: [f64; 2]) -> bool {
    (-5i32..=5).flat_map(|m| (0..=5i32).map(move |n| (m, n))).any(|(m, n)| {
        let square = m * m + n * n;
        let (m, n) = (f64::from(m), f64::from(n));
        let way_px = [(m * cos - n * sin) * x_px, (m * sin + n * cos) * y_px];
        (1..=25).contains(&square) && way_px.iter().any(|px| px.abs() * APERTURE_CELLS < f64::from(square).sqrt())
    })
}

/// Walks along a row in steps of one run.
pub(super) struct RowPhase {
    at: [u64; 2],
    step: [u64; 2],
    bits: u32,
    /// Cells of a pixel down, to loosen runs by; zero where they are not.
    down: [i64; 2],
    /// How far down the next run is read, in 2^-32 of a pixel, signed.
    off: u32,
}

impl RowPhase {
    /// Passes over some runs.
    pub(super) fn skip(&mut self, runs: usize) {
        for (at, step) in self.at.iter_mut().zip(self.step) {
            *at = at.wrapping_add(step.wrapping_mul(runs as u64));
        }
        self.off = self.off.wrapping_add(GOLDEN.wrapping_mul(runs as u32));
    }

    /// Where the next run begins in the bank.
    pub(super) fn next_run(&mut self) -> usize {
        self.next_run_of::<true>()
    }

    /// The same; `LOOSE` may be false for a grid that is not loosened, which is faster.
    #[inline(always)]
    pub(super) fn next_run_of<const LOOSE: bool>(&mut self) -> usize {
        let [mut u, mut v] = self.at;
        if LOOSE {
            let off = i64::from(self.off.cast_signed());
            u = u.wrapping_add((self.down[0] * off).cast_unsigned());
            v = v.wrapping_add((self.down[1] * off).cast_unsigned());
        }
        let wide = 64 - self.bits;
        let run = (((v >> wide) << self.bits | u >> wide) as usize) * RUN;
        self.at[0] = self.at[0].wrapping_add(self.step[0]);
        self.at[1] = self.at[1].wrapping_add(self.step[1]);
        self.off = self.off.wrapping_add(GOLDEN);
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
