//! Tones too light for dots that hold, as fewer whole dots. Of the cells of the grid only as many print as the
//! tone needs, each with the smallest dot; which ones they are is spread evenly by a table of blue noise over the
//! cells. A cell decides once for all of its pixels, by the mean of the light pixels under it, so no dot is cut.
//!
//! Working it out costs a few nanoseconds a pixel, so it is done only where light tones lie: each line of the plane
//! is asked for them once, and most lines have none.

use std::ops::Range;

use super::blue_noise::coarse_threshold;
use super::grid::{DotGrid, RUN};
use super::tone::ToneTable;
use crate::raster::Plane;

/// What a thinned field needs to know of its grid and its tones.
#[derive(Debug)]
pub(super) struct Thinning {
    /// Thresholds under this are the smallest dot.
    smallest: u16,
    /// Coverages of the plane that are light: their film carries something, and not much over the smallest dot.
    light: Range<u16>,
    /// Cells along u and v of a film pixel across and down.
    cells: [[f64; 2]; 2],
    /// Film pixels of a cell along u and v.
    pixels: [[f64; 2]; 2],
    /// Film pixels of a source pixel, across and down.
    scale: [f64; 2],
    /// How far a cell reaches from its middle, in source pixels across and down.
    reach: [usize; 2],
}

/// Tones up to so many smallest dots are looked at cell by cell: with grain or noise a cell has both.
const LIGHT: f64 = 1.5;

/// A plane as the film reads it, along film rows and down film columns: upright, or turned clockwise.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turned<'a> {
    pub plane: &'a Plane<u16>,
    pub sideways: bool,
}

impl Turned<'_> {
    /// Pixels along a film row, and lines of them.
    pub fn size(self) -> [usize; 2] {
        let size = [self.plane.width(), self.plane.height()];
        if self.sideways { [size[1], size[0]] } else { size }
    }

    fn get(self, along: usize, line: usize) -> u16 {
        match self.sideways {
            true => self.plane.get(line, self.plane.height() - 1 - along),
            false => self.plane.get(along, line),
        }
    }
}

/// Decided cells and where light tones lie, one a thread and field.
#[derive(Debug, Default)]
pub(super) struct ThinCursor {
    /// Thresholds under which a cell prints, by the cell's place modulo a square.
    decided: Vec<([i32; 2], u16)>,
    /// For each of the last lines which of its pixels are light, and whether one is.
    light: Vec<(usize, Vec<bool>, bool)>,
    near: Vec<bool>,
    spans: Vec<Range<usize>>,
    spans_of: Option<usize>,
}

/// Side of the square of cells that are kept.
const KEPT: i32 = 64;

impl Thinning {
    /// For a plane of `source` pixels laid over `film` pixels; none if its tones are not thinned.
    pub fn new(grid: &DotGrid, tone: &ToneTable, source: [usize; 2], film: [usize; 2]) -> Option<Self> {
        let smallest = tone.thinned_to().filter(|&smallest| smallest > 0)?;
        let cells = grid.cells();
        let [[a, b], [c, d]] = cells;
        let det = a * d - b * c;
        let pixels = [[d / det, -b / det], [-c / det, a / det]];
        let scale = [0, 1].map(|axis| film[axis] as f64 / source[axis] as f64);
        let reach = [0, 1].map(|axis| {
            let half = 0.5 * (pixels[0][axis].abs() + pixels[1][axis].abs());
            (half / scale[axis]).ceil() as usize
        });
        let top = (f64::from(smallest) * LIGHT).min(65_535.0) as u16;
        Some(Self { smallest, light: tone.first_from(1)..tone.first_from(top), cells, pixels, scale, reach })
    }

    /// Decides the pixels of row `y` in which, or near which, light tones lie. `line` is the source line nearest
    /// to it.
    pub fn row(
        &self,
        (grid, tone, source): (&DotGrid, &ToneTable, Turned<'_>),
        [y, line]: [usize; 2],
        cursor: &mut ThinCursor,
        out: &mut [u64],
    ) {
        if cursor.spans_of != Some(line) {
            self.find_spans(source, line, cursor);
            cursor.spans_of = Some(line);
        }
        if cursor.decided.is_empty() {
            cursor.decided = vec![([i32::MIN; 2], 0); (KEPT * KEPT) as usize];
        }
        let width = (self.scale[0] * source.size()[0] as f64).round() as usize;
        let film = |at: usize| ((at as f64 * self.scale[0] - 0.5).ceil().max(0.0) as usize).min(width);
        for at in 0..cursor.spans.len() {
            let span = film(cursor.spans[at].start)..film(cursor.spans[at].end);
            let mut phase = grid.row_phase(y);
            phase.skip(span.start / RUN);
            let mut known = ([i32::MIN; 2], 0);
            for run in span.start / RUN..span.end.div_ceil(RUN) {
                let bank = phase.next_run();
                let thresholds = &grid.bank()[bank..bank + RUN];
                for x in (run * RUN).max(span.start)..((run + 1) * RUN).min(span.end) {
                    let cell = self.cell_of(x, y);
                    if known.0 != cell {
                        known = (cell, self.decided(tone, source, cell, &mut cursor.decided));
                    }
                    let threshold = (i32::from(thresholds[x % RUN]) + 32_768) as u16;
                    let bit = 1u64 << (x % 64);
                    if threshold < known.1 { out[x / 64] |= bit } else { out[x / 64] &= !bit }
                }
            }
        }
    }

    fn cell_of(&self, x: usize, y: usize) -> [i32; 2] {
        let [across, down] = self.cells;
        [0, 1].map(|axis| (across[axis] * x as f64 + down[axis] * y as f64).floor() as i32)
    }

    /// Thresholds under which a cell prints.
    fn decided(&self, tone: &ToneTable, source: Turned<'_>, cell: [i32; 2], kept: &mut [([i32; 2], u16)]) -> u16 {
        let [i, j] = cell.map(|at| at.rem_euclid(KEPT));
        let kept = &mut kept[(j * KEPT + i) as usize];
        if kept.0 != cell {
            *kept = (cell, self.decide(tone, source, cell));
        }
        kept.1
    }

    fn decide(&self, tone: &ToneTable, source: Turned<'_>, cell: [i32; 2]) -> u16 {
        let [u, v] = cell.map(|at| f64::from(at) + 0.5);
        let size = source.size();
        let span = |axis: usize| {
            let film = u * self.pixels[0][axis] + v * self.pixels[1][axis];
            let middle = ((film + 0.5) / self.scale[axis] - 0.5).round() as isize;
            let end = |at: isize| at.clamp(0, size[axis] as isize) as usize;
            end(middle - self.reach[axis] as isize)..end(middle + self.reach[axis] as isize + 1)
        };
        let (mut sum, mut count) = (0u64, 0u64);
        for line in span(1) {
            for along in span(0) {
                let value = source.get(along, line);
                if value < self.light.end {
                    sum += u64::from(tone.get(value));
                    count += 1;
                }
            }
        }
        let mean = sum.checked_div(count).unwrap_or(0);
        if mean >= u64::from(self.smallest) {
            return mean as u16;
        }
        let prints = u64::from(coarse_threshold(cell[0], cell[1])) * u64::from(self.smallest) < mean * 65_535;
        if prints { self.smallest } else { 0 }
    }

    /// Pixels of a line that are light or clear with light ones as near as a cell reaches.
    fn find_spans(&self, source: Turned<'_>, line: usize, cursor: &mut ThinCursor) {
        let [width, lines] = source.size();
        let [across, down] = self.reach;
        cursor.spans.clear();
        let about = line.saturating_sub(down)..(line + down + 1).min(lines);
        cursor.light.resize(2 * down + 1, (usize::MAX, Vec::new(), false));
        cursor.near.clear();
        cursor.near.resize(width, false);
        let mut some = false;
        for near in about {
            let slot = &mut cursor.light[near % (2 * down + 1)];
            if slot.0 != near {
                slot.0 = near;
                slot.1.clear();
                slot.1.extend((0..width).map(|along| self.light.contains(&source.get(along, near))));
                slot.2 = slot.1.contains(&true);
            }
            if slot.2 {
                some = true;
                cursor.near.iter_mut().zip(&slot.1).for_each(|(near, light)| *near |= light);
            }
        }
        if !some {
            return;
        }
        // Pixels up to which the last light one reaches; then which of them are not too full themselves.
        let mut reached = 0;
        let mut ahead = (0..across.min(width)).rev().find(|&at| cursor.near[at]).map_or(0, |at| at + across + 1);
        for along in 0..width {
            if along + across < width && cursor.near[along + across] {
                ahead = along + 2 * across + 1;
            }
            reached = reached.max(ahead);
            if along < reached && source.get(along, line) < self.light.end {
                match cursor.spans.last_mut() {
                    Some(last) if last.end == along => last.end = along + 1,
                    _ => cursor.spans.push(along..along + 1),
                }
            }
        }
    }
}
