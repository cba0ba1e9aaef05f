//! Tones too light for dots that hold, as fewer whole dots. Of the cells of the grid only as many print as the
//! tone needs, each with the smallest dot; which ones they are is spread evenly by a table of blue noise over the
//! cells. A cell decides once for all of its pixels, by the mean of the light pixels under it, so no dot is cut.
//!
//! Working it out costs a few nanoseconds a pixel, so it is done only where light tones lie: each line of the plane
//! is asked for them once, and most lines have none.

use std::ops::Range;

use super::blue_noise::coarse_threshold;
use super::grid::{DotGrid, RUN};
use super::shapes::{APART, REACH};
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
    /// The last lines looked at.
    light: Vec<Line>,
    near: Vec<bool>,
    spans: Vec<Range<usize>>,
    spans_of: Option<usize>,
}

/// Which pixels of a line are light tones, and whether one is.
#[derive(Debug, Default, Clone)]
struct Line {
    line: Option<usize>,
    pixels: Vec<bool>,
    some: bool,
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
                        known = (cell, self.decided(tone, source, cell, cursor));
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
    fn decided(&self, tone: &ToneTable, source: Turned<'_>, cell: [i32; 2], cursor: &mut ThinCursor) -> u16 {
        let [i, j] = cell.map(|at| at.rem_euclid(KEPT));
        let place = (j * KEPT + i) as usize;
        if cursor.decided[place].0 != cell {
            cursor.decided[place] = (cell, self.decide(tone, source, cell, cursor));
        }
        cursor.decided[place].1
    }

    fn decide(&self, tone: &ToneTable, source: Turned<'_>, cell: [i32; 2], cursor: &mut ThinCursor) -> u16 {
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
            let light = &self.line(source, line, cursor).pixels;
            for along in span(0) {
                // Clear pixels count, light ones, and no others.
                let value = source.get(along, line);
                if light[along] {
                    sum += u64::from(tone.get(value));
                }
                count += u64::from(light[along] || value < self.light.start);
            }
        }
        let mean = sum.checked_div(count).unwrap_or(0);
        if mean >= u64::from(self.smallest) {
            return mean as u16;
        }
        let prints = u64::from(coarse_threshold(cell[0], cell[1])) * u64::from(self.smallest) < mean * 65_535;
        if prints { self.smallest } else { 0 }
    }

    /// Lines that are kept: those of all cells that a line lies in.
    fn lines(&self) -> usize {
        4 * self.reach[1] + 3
    }

    /// The light tones of a line. Beside a contrast a light pixel is the edge of something and no tone.
    fn line<'c>(&self, source: Turned<'_>, line: usize, cursor: &'c mut ThinCursor) -> &'c Line {
        cursor.light.resize_with(self.lines(), Line::default);
        let slot = &mut cursor.light[line % self.lines()];
        if slot.line != Some(line) {
            let [width, lines] = source.size();
            slot.line = Some(line);
            slot.pixels.clear();
            slot.pixels.extend((0..width).map(|along| self.light.contains(&source.get(along, line))));
            if slot.pixels.contains(&true) {
                let about = line.saturating_sub(REACH)..(line + REACH + 1).min(lines);
                let mut highest = vec![0u16; width];
                for near in about {
                    highest
                        .iter_mut()
                        .enumerate()
                        .for_each(|(along, most)| *most = (*most).max(source.get(along, near)));
                }
                for along in (0..width).filter(|&along| slot.pixels[along]).collect::<Vec<_>>() {
                    let columns = along.saturating_sub(REACH)..(along + REACH + 1).min(width);
                    slot.pixels[along] = highest[columns].iter().all(|&most| most < APART);
                }
            }
            slot.some = slot.pixels.contains(&true);
        }
        slot
    }

    /// Pixels of a line that are light or clear with light ones as near as a cell reaches.
    fn find_spans(&self, source: Turned<'_>, line: usize, cursor: &mut ThinCursor) {
        let [width, lines] = source.size();
        let [across, down] = self.reach;
        cursor.spans.clear();
        let about = line.saturating_sub(down)..(line + down + 1).min(lines);
        let mut near = std::mem::take(&mut cursor.near);
        near.clear();
        near.resize(width, false);
        let mut some = false;
        for line in about {
            let light = self.line(source, line, cursor);
            some |= light.some;
            if light.some {
                near.iter_mut().zip(&light.pixels).for_each(|(near, light)| *near |= light);
            }
        }
        cursor.near = near;
        if !some {
            return;
        }
        self.line(source, line, cursor);
        let own = &cursor.light[line % self.lines()].pixels;
        // Pixels up to which the last light one reaches; then which of them are not too full themselves.
        let mut reached = 0;
        let mut ahead = (0..across.min(width)).rev().find(|&at| cursor.near[at]).map_or(0, |at| at + across + 1);
        for (along, &light) in own.iter().enumerate() {
            if along + across < width && cursor.near[along + across] {
                ahead = along + 2 * across + 1;
            }
            reached = reached.max(ahead);
            if along < reached && (light || source.get(along, line) < self.light.start) {
                match cursor.spans.last_mut() {
                    Some(last) if last.end == along => last.end = along + 1,
                    _ => cursor.spans.push(along..along + 1),
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::diffusion::scatter;
    use super::super::{DotShape, Dots, Field, FilmSettings, ScreenDots, count_ink};
    use super::*;

    /// Sizes in pixels of the connected spots of ink, corners counting as connected.
    fn spots(rows: &[Vec<u64>], width: usize) -> Vec<usize> {
        let mut left: Vec<Vec<bool>> =
            rows.iter().map(|row| (0..width).map(|x| row[x / 64] >> (x % 64) & 1 == 1).collect()).collect();
        let mut sizes = Vec::new();
        for y in 0..left.len() {
            for x in 0..width {
                let (mut stack, mut size) = (vec![[x, y]], 0);
                while let Some([x, y]) = stack.pop() {
                    if !std::mem::take(&mut left[y][x]) {
                        continue;
                    }
                    size += 1;
                    for ny in y.saturating_sub(1)..(y + 2).min(left.len()) {
                        stack.extend((x.saturating_sub(1)..(x + 2).min(width)).map(|nx| [nx, ny]));
                    }
                }
                if size > 0 {
                    sizes.push(size);
                }
            }
        }
        sizes
    }

    /// Light tints are fewer dots of the smallest size, upright and sideways, and keep their area. A noisy ramp
    /// from none to a dark tone has no dot under half of the smallest but at the film's edges.
    #[test]
    fn light_tones_are_whole_dots_and_keep_their_area() {
        let film = FilmSettings::default();
        let limits = ScreenDots { smallest: 0.05, ..film.limits.of_screen(0.05, DotShape::Round) };
        let tone = ToneTable::for_film(None, &limits, None);
        let side = 1440;
        let least = 0.05 * (720.0f64 / 45.0).powi(2);
        for sideways in [false, true] {
            let dots = Dots::of_screen(&film, &"Gold".into(), sideways);
            for percent in [0.5, 1.0, 2.5, 4.0, 6.0] {
                let plane = Plane::filled(600, 600, (percent / 100.0 * 65_535.0) as u16);
                let rows = Field::new(&plane, &tone, &dots, side, side).rows();
                let ink: u64 = rows.iter().map(|row| count_ink(row)).sum();
                let share = ink as f64 / (side * side) as f64 * 100.0;
                assert!((share - percent).abs() < 0.04 * percent + 0.02, "{percent} %: {share}");
                let small = spots(&rows, side).iter().filter(|size| (**size as f64) < 0.7 * least).count();
                // The film's edge cuts dots along it.
                assert!(small < 160, "{percent} %: {small} small");
            }
            let noise = |x: usize, y: usize| f64::from(scatter(x as u32, y as u32, 7)) / 4_294_967_296.0;
            let plane = Plane::from_fn(600, 600, |x, y| {
                ((x as f64 / 600.0 * 0.2 + (noise(x, y) - 0.5) * 0.04).max(0.0) * 65_535.0) as u16
            });
            let rows = Field::new(&plane, &tone, &dots, side, side).rows();
            let small = spots(&rows, side).iter().filter(|size| (**size as f64) < 0.5 * least).count();
            assert!(small < 120, "{small} small");
            let ink: u64 = rows.iter().map(|row| count_ink(row)).sum();
            let share = ink as f64 / (side * side) as f64;
            assert!((share - plane.mean_coverage()).abs() < 0.002, "{share} {}", plane.mean_coverage());
            println!("sideways {sideways}: {small} small dots in the ramp");
        }
    }
}
