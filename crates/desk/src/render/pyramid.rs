//! A full-size level and its halvings, so that any zoom draws from about as many pixels as the
//! canvas has. Coverage is halved by the mean (ink is conserved); the art in linear light with
//! its alpha as weight.

use std::sync::Arc;

use strikeoff_core::color::{encode_u16, linear_from_u16};
use strikeoff_core::job::{Screen, Screens};
use strikeoff_core::prep::Prepared;
use strikeoff_core::raster::{Picture, Plane, Rgba16};
use strikeoff_core::units::Ppi;
use strikeoff_core::{Cancelled, Progress};

use crate::chain::Level;

/// Levels from the finest on, each half the one before.
#[derive(Debug, Clone)]
pub struct Pyramid {
    /// Finest first.
    pub levels: Vec<Arc<Level>>,
    /// Mean coverage and histogram of each screen, in print order. Counted here, on a worker: the
    /// window's own thread must not wait for the pool that such sums run on.
    pub tones: Vec<Tones>,
}

/// How a screen's tones are spread.
#[derive(Debug, Clone, PartialEq)]
pub struct Tones {
    /// Mean coverage, 0..=1.
    pub mean: f64,
    /// Pixels by coverage, none to solid in equal steps.
    pub bins: [u32; TONE_BINS],
}

/// Steps of the histogram.
pub const TONE_BINS: usize = 48;

impl Tones {
    fn of(coverage: &Plane<u16>) -> Self {
        let mut bins = [0u32; TONE_BINS];
        for &v in coverage.data() {
            bins[usize::from(v) * TONE_BINS / 65_536] += 1;
        }
        Self { mean: coverage.mean_coverage(), bins }
    }
}

impl Pyramid {
    /// Halves `finest` until its longer side is at most `stop_px`.
    pub fn build(finest: Level, stop_px: usize, progress: &Progress) -> Result<Self, Cancelled> {
        let tones = finest.screens.list.iter().map(|screen| Tones::of(&screen.coverage)).collect();
        let mut levels = vec![Arc::new(finest)];
        loop {
            let last = &levels[levels.len() - 1];
            let [w, h] = last.size_px();
            if w.max(h) <= stop_px.max(2) {
                return Ok(Self { levels, tones });
            }
            progress.step("ready for zoom", 0.9)?;
            let next = halve(last, progress)?;
            levels.push(Arc::new(next));
        }
    }

    /// The coarsest level at least `px` wide, or the finest.
    pub fn for_width(&self, px: f32) -> &Arc<Level> {
        let at = self.levels.iter().rposition(|l| l.screens.width as f32 >= px * 0.95).unwrap_or(0);
        &self.levels[at]
    }

    /// The coarsest level with at least `ppi`, or the finest; with its place.
    pub fn for_ppi(&self, ppi: f64) -> (usize, &Arc<Level>) {
        let at = self.levels.iter().rposition(|l| l.screens.ppi.get() >= ppi).unwrap_or(0);
        (at, &self.levels[at])
    }
}

fn halve(level: &Level, progress: &Progress) -> Result<Level, Cancelled> {
    let [w, h] = level.size_px();
    let (width, height) = (w.div_ceil(2), h.div_ceil(2));
    let ppi = Ppi::new((level.screens.ppi.get() / 2.0).max(1.0)).unwrap_or(level.screens.ppi);
    let mut list = Vec::new();
    for screen in &level.screens.list {
        progress.step("ready for zoom", 0.9)?;
        list.push(Screen { coverage: halve_plane(&screen.coverage, width, height), ..head(screen) });
    }
    let picture = halve_picture(level.prepared.picture.pixels(), width, height);
    let prepared = Prepared { picture, ppi, ..shell(&level.prepared) };
    Ok(Level { prepared: Arc::new(prepared), screens: Arc::new(Screens { width, height, ppi, list }) })
}

/// A screen without its pixels.
fn head(screen: &Screen) -> Screen {
    Screen {
        name: screen.name.clone(),
        ink: screen.ink.clone(),
        hits: screen.hits,
        coverage: Plane::from_vec(0, 0, Vec::new()),
    }
}

/// Prepared art without its pixels.
fn shell(prepared: &Prepared) -> Prepared {
    Prepared {
        picture: Picture::new(Plane::from_vec(0, 0, Vec::new())),
        ppi: prepared.ppi,
        print_size_mm: prepared.print_size_mm,
        true_ppi: prepared.true_ppi,
    }
}

fn halve_plane(plane: &Plane<u16>, width: usize, height: usize) -> Plane<u16> {
    let (right, bottom) = (plane.width() - 1, plane.height() - 1);
    Plane::from_fn(width, height, |x, y| {
        let (x0, y0) = (2 * x, 2 * y);
        let (x1, y1) = ((x0 + 1).min(right), (y0 + 1).min(bottom));
        let sum: u32 = [(x0, y0), (x1, y0), (x0, y1), (x1, y1)].iter().map(|&(x, y)| u32::from(plane.get(x, y))).sum();
        ((sum + 2) / 4) as u16
    })
}

fn halve_picture(pixels: &Plane<Rgba16>, width: usize, height: usize) -> Picture {
    let (right, bottom) = (pixels.width() - 1, pixels.height() - 1);
    Picture::new(Plane::from_fn(width, height, |x, y| {
        let (x0, y0) = (2 * x, 2 * y);
        let (x1, y1) = ((x0 + 1).min(right), (y0 + 1).min(bottom));
        let (mut light, mut alpha) = ([0.0f32; 3], 0.0f32);
        for (x, y) in [(x0, y0), (x1, y0), (x0, y1), (x1, y1)] {
            let pixel = pixels.get(x, y);
            let a = f32::from(pixel[3]);
            let linear = linear_from_u16(&pixel);
            alpha += a;
            for i in 0..3 {
                light[i] += a * linear[i];
            }
        }
        if alpha == 0.0 {
            return [0; 4];
        }
        let [r, g, b] = encode_u16(light.map(|l| l / alpha));
        [r, g, b, (alpha / 4.0).round() as u16]
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halving_keeps_the_ink_and_flat_tones() {
        let plane = Plane::from_fn(64, 32, |x, y| ((x * 991 + y * 577) % 65_536) as u16);
        let half = halve_plane(&plane, 32, 16);
        assert!((plane.mean_coverage() - half.mean_coverage()).abs() < 1e-4);
        let flat = halve_plane(&Plane::filled(5, 3, 1234), 3, 2);
        assert!(flat.data().iter().all(|&v| v == 1234));
    }

    #[test]
    fn clear_pixels_do_not_darken_their_neighbours() {
        let mut pixels = Plane::filled(2, 2, [65_535, 30_000, 0, 65_535]);
        pixels.set(0, 0, [0, 0, 0, 0]);
        let half = halve_picture(&pixels, 1, 1);
        let [r, g, b, a] = half.pixels().get(0, 0);
        assert!(r.abs_diff(65_535) <= 1 && g.abs_diff(30_000) <= 1 && b == 0, "{r} {g} {b}");
        assert_eq!(a, 49_151);
    }
}
