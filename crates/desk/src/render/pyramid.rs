//! A full-size level and its halvings, so that any zoom draws from about as many pixels as the
//! canvas has. Coverage is halved by the mean (ink is conserved); the art in linear light with
//! its alpha as weight.

use std::sync::Arc;

use egui::ColorImage;
use rayon::prelude::*;
use strikeoff_core::color::{encode_u16, linear_from_u16};
use strikeoff_core::job::Level;
use strikeoff_core::prep::Prepared;
use strikeoff_core::raster::{Picture, Plane, Rgba16};
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::units::Ppi;
use strikeoff_core::{Cancelled, Progress};

use super::look::{Look, PxRect, draw, draw_from_afar};

/// Levels from the finest on, each half the one before.
#[derive(Debug, Clone)]
pub struct Pyramid {
    /// Finest first.
    pub levels: Vec<Arc<Level>>,
    /// Mean coverage and histogram of each screen, in print order. Counted here, on a worker: the
    /// window's own thread must not wait for the pool that such sums run on.
    pub tones: Vec<Tones>,
    /// Whether the screens are dots already, none or solid everywhere. Dots that share no spot may not be
    /// averaged screen by screen: seen from afar, the light of their print is.
    pub of_dots: bool,
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
    /// Halves `finest` until its longer side is at most `stop_px`. Art that is that of `before` is
    /// not halved again.
    pub fn build(
        finest: Level,
        stop_px: usize,
        before: &[Arc<Prepared>],
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let tones = finest.screens.list.par_iter().map(|screen| Tones::of(&screen.coverage)).collect();
        let same = before.first().is_some_and(|art| Arc::ptr_eq(art, &finest.prepared));
        let of_dots = !finest.screens.list.is_empty() && finest.screens.list.par_iter().all(is_dots);
        let mut levels = vec![Arc::new(finest)];
        loop {
            let last = &levels[levels.len() - 1];
            let [w, h] = last.size_px();
            if w.max(h) <= stop_px.max(2) {
                return Ok(Self { levels, tones, of_dots });
            }
            progress.step("ready for zoom", 0.9)?;
            let next = halve(last, before.get(levels.len()).filter(|_| same), progress)?;
            levels.push(Arc::new(next));
        }
    }

    /// The coarsest level at least `px` wide, or the finest; with its place.
    pub fn for_width(&self, px: f32) -> (usize, &Arc<Level>) {
        let at = self.levels.iter().rposition(|l| l.screens.width as f32 >= px * 0.95).unwrap_or(0);
        (at, &self.levels[at])
    }

    /// Draws the pixels of `window`, which must lie inside the level at a place.
    pub fn draw(&self, at: usize, look: &Look, window: PxRect) -> ColorImage {
        let level = &self.levels[at];
        if at == 0 || !self.of_dots {
            return draw(level, look, window);
        }
        draw_from_afar(&self.levels[0], level, 1 << at, look, window)
    }

    /// The coarsest level with at least `ppi`, or the finest; with its place.
    pub fn for_ppi(&self, ppi: f64) -> (usize, &Arc<Level>) {
        let at = self.levels.iter().rposition(|l| l.screens.ppi.get() >= ppi).unwrap_or(0);
        (at, &self.levels[at])
    }
}

fn is_dots(screen: &Screen) -> bool {
    screen.coverage.data().par_iter().with_min_len(1 << 16).all(|&v| v == 0 || v == u16::MAX)
}

/// `art` is the level's art already halved, if it is there.
fn halve(level: &Level, art: Option<&Arc<Prepared>>, progress: &Progress) -> Result<Level, Cancelled> {
    let [w, h] = level.size_px();
    let (width, height) = (w.div_ceil(2), h.div_ceil(2));
    let ppi = Ppi::new((level.screens.ppi.get() / 2.0).max(1.0)).unwrap_or(level.screens.ppi);
    let half = |screen: &Screen| {
        progress.step("ready for zoom", 0.9)?;
        Ok(Screen { coverage: halve_plane(&screen.coverage, width, height), ..head(screen) })
    };
    let list = level.screens.list.iter().map(half).collect::<Result<_, Cancelled>>()?;
    let prepared = art.cloned().unwrap_or_else(|| {
        let picture = halve_picture(level.prepared.picture.pixels(), width, height);
        Arc::new(Prepared { picture, ppi, ..shell(&level.prepared) })
    });
    Ok(Level { prepared, screens: Arc::new(Screens { width, height, ppi, list }) })
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
    let mean = |four: [u16; 4]| ((four.iter().map(|&v| u32::from(v)).sum::<u32>() + 2) / 4) as u16;
    halve_rows(plane, width, height, 0, mean)
}

fn halve_picture(pixels: &Plane<Rgba16>, width: usize, height: usize) -> Picture {
    let mean = |four: [Rgba16; 4]| {
        let (mut light, mut alpha) = ([0.0f32; 3], 0.0f32);
        for pixel in four {
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
    };
    Picture::new(halve_rows(pixels, width, height, [0; 4], mean))
}

/// Makes one pixel of each four; a last odd column or row stands for its missing neighbour.
fn halve_rows<T: Copy + Send + Sync>(
    plane: &Plane<T>,
    width: usize,
    height: usize,
    none: T,
    mean: impl Fn([T; 4]) -> T + Sync,
) -> Plane<T> {
    let mut data = vec![none; width * height];
    data.par_chunks_mut(width.max(1)).with_min_len(16).enumerate().for_each(|(y, out)| {
        let (upper, lower) = (plane.row(2 * y), plane.row((2 * y + 1).min(plane.height() - 1)));
        let ((pairs, odd), (pairs_below, odd_below)) = (upper.as_chunks::<2>(), lower.as_chunks::<2>());
        for ((out, &[a, b]), &[c, d]) in out.iter_mut().zip(pairs).zip(pairs_below) {
            *out = mean([a, b, c, d]);
        }
        if let (Some(last), Some(&a), Some(&b)) = (out.last_mut(), odd.first(), odd_below.first()) {
            *last = mean([a, a, b, b]);
        }
    });
    Plane::from_vec(width, height, data)
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
    fn odd_sides_stand_for_their_missing_neighbours() {
        let half = halve_plane(&Plane::from_fn(7, 5, |x, y| (x * 9_000 + y * 1_000) as u16), 4, 3);
        assert_eq!(half.get(0, 0), 5_000);
        assert_eq!(half.get(3, 0), 6 * 9_000 + 500);
        assert_eq!(half.get(3, 2), 6 * 9_000 + 4_000);
    }

    #[test]
    fn art_halved_before_serves_again_for_the_same_art_alone() {
        let prepared = |red: u16| {
            let pixels = Plane::from_fn(40, 31, |x, y| [red, (x * 900) as u16, (y * 900) as u16, 65_535]);
            let ppi = Ppi::new(75.0).unwrap();
            Arc::new(Prepared { picture: Picture::new(pixels), ppi, print_size_mm: [13.5, 10.5], true_ppi: 75.0 })
        };
        let build = |art: &Arc<Prepared>, before: &[Arc<Prepared>]| {
            let screens = Screens { width: 40, height: 31, ppi: art.ppi, list: Vec::new() };
            let level = Level { prepared: art.clone(), screens: Arc::new(screens) };
            let pyramid = Pyramid::build(level, 10, before, &Progress::none()).unwrap();
            pyramid.levels.iter().map(|level| level.prepared.clone()).collect::<Vec<_>>()
        };
        let (art, other) = (prepared(0), prepared(50_000));
        let first = build(&art, &[]);
        assert_eq!(first.len(), 3);
        assert!(build(&art, &first).iter().zip(&first).all(|(a, b)| Arc::ptr_eq(a, b)));
        let again = build(&other, &first);
        assert!(again.iter().zip(&first).all(|(a, b)| !Arc::ptr_eq(a, b)));
        assert_eq!(again[1].picture.pixels().get(3, 3)[0], 50_000);
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
