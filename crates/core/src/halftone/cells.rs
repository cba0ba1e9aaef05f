//! Dots of one size on an upright grid that begins at the upper left corner of what is screened:
//! blue noise, error diffusion and index dots. A dot covers the device pixels from one rounded grid
//! line to the next, so nothing drifts, and a film that is turned sideways is the same film turned.

use std::sync::{Arc, Mutex, PoisonError};

use super::across::{ONE, between, mix};
use super::blue_noise::{BLUE_NOISE_SIDE, blue_noise_threshold};
use super::diffusion::diffuse;
use super::tone::ToneTable;
use super::{DeviceGrid, DotShape, fill_run};
use crate::raster::Plane;
use crate::units::MM_PER_INCH;

/// How a dot decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    BlueNoise,
    Diffusion,
    Index,
}

/// Dots of one size.
#[derive(Debug, Clone)]
pub(super) struct CellDots {
    way: Way,
    /// Device pixels of a dot across and down the film seen upright.
    size_px: [f64; 2],
    seed: u32,
    /// Error diffusion goes over all dots of a plane in one go, before the first of its rows is asked
    /// for, so rows come out alike in any order, by strips and on any thread. Here the last plane's dots
    /// are kept, with a number made of all that they depend on: whoever lays the same plane out again and
    /// again (a window that is moved about) need not wait each time; another plane is decided afresh.
    decided: Arc<Mutex<Option<(u64, Decided)>>>,
}

/// A bit a dot, in rows of words.
type Decided = Arc<Vec<u64>>;

impl CellDots {
    /// None for dots that grow.
    pub fn new(device: DeviceGrid, dot: &DotShape, seed: u32, sideways: bool) -> Option<Self> {
        let size_mm = dot.size_mm()?;
        let way = match dot {
            DotShape::BlueNoise { .. } => Way::BlueNoise,
            DotShape::Diffusion { .. } => Way::Diffusion,
            _ => Way::Index,
        };
        let mut size_px = [device.x_dpi, device.y_dpi].map(|dpi| size_mm.get() / MM_PER_INCH * dpi.get());
        if sideways {
            size_px.reverse();
        }
        Some(Self { way, size_px, seed, decided: Arc::default() })
    }
}

/// Where dots lie along one side: their edges in device pixels and their middles in the source.
#[derive(Debug, Clone)]
struct Along {
    edges: Vec<usize>,
    left: Vec<u32>,
    weight: Vec<i32>,
    under: Vec<u32>,
}

impl Along {
    fn new(size_px: f64, total_px: usize, source: usize) -> Self {
        let count = ((total_px as f64 / size_px - 1e-6).ceil() as usize).max(1);
        let mut edges: Vec<usize> =
            (0..=count).map(|k| ((k as f64 * size_px).round() as usize).min(total_px)).collect();
        edges[count] = total_px;
        let (mut left, mut weight, mut under) = (Vec::new(), Vec::new(), Vec::new());
        for k in 0..count {
            // Thousandths of a device pixel are fine enough to tell source pixels apart.
            let end = ((k + 1) as f64 * size_px).min(total_px as f64);
            let middle = (k as f64 * size_px + end) / 2.0 / total_px as f64 * source as f64;
            under.push((middle as usize).min(source - 1) as u32);
            let (l, w) = between((middle * 512.0) as usize, source, source * 512);
            left.push(l as u32);
            weight.push(w);
        }
        Self { edges, left, weight, under }
    }

    fn len(&self) -> usize {
        self.left.len()
    }

    /// The dot that a device pixel lies in.
    fn dot_at(&self, px: usize) -> usize {
        self.edges.partition_point(|&edge| edge <= px).saturating_sub(1)
    }
}

/// A number that differs when coverage, tone or size differ: FNV-1a over words.
fn fingerprint(plane: &Plane<u16>, tone: &ToneTable, size: [usize; 2]) -> u64 {
    let start = 0xCBF2_9CE4_8422_2325u64;
    let mix = |hash: u64, word: u64| (hash ^ word).wrapping_mul(0x0000_0100_0000_01B3).rotate_left(5);
    let sizes = [plane.width(), plane.height(), size[0], size[1]];
    let hash = sizes.iter().fold(start, |hash, &n| mix(hash, n as u64));
    let hash = (0..=u16::MAX).fold(hash, |hash, v| mix(hash, u64::from(tone.get(v))));
    plane
        .data()
        .chunks(4)
        .fold(hash, |hash, four| mix(hash, four.iter().fold(0u64, |word, &v| word << 16 | u64::from(v))))
}

/// Dots laid over a plane.
#[derive(Debug)]
pub(super) struct CellField {
    way: Way,
    shift: [usize; 2],
    across: Along,
    down: Along,
    sideways: bool,
    decided: Decided,
}

impl CellField {
    /// `width_px` by `height_px` device pixels of the film printer.
    pub fn new(
        dots: &CellDots,
        plane: &Plane<u16>,
        tone: &ToneTable,
        [width_px, height_px]: [usize; 2],
        sideways: bool,
    ) -> Self {
        let (film_width, film_height) = if sideways { (height_px, width_px) } else { (width_px, height_px) };
        let across = Along::new(dots.size_px[0], film_width, plane.width());
        let down = Along::new(dots.size_px[1], film_height, plane.height());
        // The two halves of the seed move the table by any number of dots.
        let shift = [dots.seed as usize % BLUE_NOISE_SIDE, (dots.seed >> 16) as usize % BLUE_NOISE_SIDE];
        let mut field = Self { way: dots.way, shift, across, down, sideways, decided: Decided::default() };
        if dots.way == Way::Diffusion {
            let (width, height) = (field.across.len(), field.down.len());
            let key = fingerprint(plane, tone, [film_width, film_height]);
            let mut kept = dots.decided.lock().unwrap_or_else(PoisonError::into_inner);
            field.decided = match &*kept {
                Some((of, decided)) if *of == key => decided.clone(),
                _ => {
                    let coverage = |x, y| field.between_pixels(plane, tone, x, y);
                    let decided = Decided::new(diffuse(width, height, dots.seed, coverage));
                    *kept = Some((key, decided.clone()));
                    decided
                }
            };
        }
        field
    }

    /// Coverage at the middle of a dot, between the source's pixels.
    fn between_pixels(&self, plane: &Plane<u16>, tone: &ToneTable, x: usize, y: usize) -> u16 {
        let (left, weight) = (self.across.left[x] as usize, self.across.weight[x]);
        let (upper, lower_weight) = (self.down.left[y] as usize, self.down.weight[y]);
        let right = (left + 1).min(plane.width() - 1);
        let signed = |v: u16| (i32::from(tone.get(v)) - 32_768) as i16;
        let along = |y: usize| {
            let row = plane.row(y);
            mix(signed(row[left]), signed(row[right]), weight)
        };
        let lower = (upper + 1).min(plane.height() - 1);
        debug_assert!(weight <= ONE && lower_weight <= ONE);
        (i32::from(mix(along(upper), along(lower), lower_weight)) + 32_768) as u16
    }

    fn inked(&self, plane: &Plane<u16>, tone: &ToneTable, x: usize, y: usize) -> bool {
        let coverage = match self.way {
            Way::Diffusion => return self.decided[y * self.across.len().div_ceil(64) + x / 64] >> (x % 64) & 1 == 1,
            Way::BlueNoise => self.between_pixels(plane, tone, x, y),
            Way::Index => tone.get(plane.row(self.down.under[y] as usize)[self.across.under[x] as usize]),
        };
        coverage > blue_noise_threshold(x + self.shift[0], y + self.shift[1])
    }

    /// The line of dots that device row `y` lies in.
    pub fn line_of(&self, y: usize) -> usize {
        if self.sideways { self.across.dot_at(y) } else { self.down.dot_at(y) }
    }

    /// Draws a line of dots as one device row.
    pub fn draw_line(&self, line: usize, plane: &Plane<u16>, tone: &ToneTable, out: &mut [u64]) {
        out.fill(0);
        if self.sideways {
            // Turned clockwise, the film's rows run from right to left.
            let total = self.down.edges[self.down.len()];
            for y in 0..self.down.len() {
                if self.inked(plane, tone, line, y) {
                    fill_run(out, total - self.down.edges[y + 1], total - self.down.edges[y], true);
                }
            }
        } else {
            for x in 0..self.across.len() {
                if self.inked(plane, tone, x, line) {
                    fill_run(out, self.across.edges[x], self.across.edges[x + 1], true);
                }
            }
        }
    }
}
