//! One pass over the screens that facts, findings and previews share: exact histograms of coverage at full
//! resolution, and block means at about 50 ppi for maps, colour and overlaps. Twenty-one
//! megapixels of six screens are read once; everything after works on the small planes.

use crate::screens::ScreenName;
use rayon::prelude::*;

use crate::color::LinRgb;
use crate::halftone::ScreenDots;
use crate::job::Job;
use crate::moire::Tones;
use crate::prep::Prepared;
use crate::press::Optics;
use crate::raster::Plane;
use crate::screens::Screens;
use crate::units::{Lpi, MM_PER_INCH};
use crate::{Cancelled, Progress};

/// Bins of a coverage histogram: the top ten bits of a value.
pub(crate) const BINS: usize = 1024;

/// Coverage at which a screen counts as printing at all.
pub(crate) const INKED: f64 = 0.01;

/// Area in mm2 on a full front that a screen may be there for: a highlight (assumed).
pub(crate) const HIGHLIGHT_MM2: f64 = 20.0;

/// What facts, findings and previews read.
pub(crate) struct Survey<'a> {
    pub job: &'a Job,
    pub screens: &'a Screens,
    pub true_ppi: f64,
    pub print_mm: [f64; 2],
    /// Pixels of full size to a block side.
    pub block: usize,
    /// Width of a block in mm.
    pub mm_per_px: f64,
    /// Block means of coverage, a plane a screen.
    pub small: Vec<Plane<u16>>,
    /// Block means of the art in linear light, on the garment.
    pub target: Vec<LinRgb>,
    /// Exact histogram of each screen, `BINS` bins.
    pub histograms: Vec<Vec<u64>>,
    /// The print model of the job.
    pub optics: Optics,
    /// Limits of each screen's dots.
    pub dots: Vec<ScreenDots>,
    /// Gain that films carry or that the press adds.
    pub gain: crate::press::GainCurve,
}

impl<'a> Survey<'a> {
    pub fn new(
        job: &'a Job,
        prepared: &Prepared,
        screens: &'a Screens,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let ppi = screens.ppi.get();
        let block = ((ppi / 50.0).round() as usize).max(1);
        let mut small = Vec::with_capacity(screens.list.len());
        let mut histograms = Vec::with_capacity(screens.list.len());
        for (at, screen) in screens.list.iter().enumerate() {
            progress.step("survey", at as f32 / (screens.list.len() + 1) as f32)?;
            let (plane, histogram) = reduce(&screen.coverage, block);
            small.push(plane);
            histograms.push(histogram);
        }
        progress.step("survey", screens.list.len() as f32 / (screens.list.len() + 1) as f32)?;
        Ok(Self {
            job,
            screens,
            true_ppi: prepared.true_ppi,
            print_mm: [screens.width as f64 / ppi * MM_PER_INCH, screens.height as f64 / ppi * MM_PER_INCH],
            block,
            mm_per_px: block as f64 / ppi * MM_PER_INCH,
            small,
            target: reduce_art(prepared, screens, block, job.garment.reflectance()),
            histograms,
            optics: Optics::of_screens(&job.ground(), &screens.list),
            dots: screens.list.iter().map(|screen| job.dots_of(&screen.name)).collect(),
            gain: job.press.gain.curve(job.film.ruling),
        })
    }

    /// Number of screens.
    pub fn len(&self) -> usize {
        self.screens.list.len()
    }

    /// Name of a screen.
    pub fn name(&self, at: usize) -> &ScreenName {
        &self.screens.list[at].name
    }

    /// Ruling of a screen.
    pub fn ruling(&self, at: usize) -> Lpi {
        self.job.film.of_screen(self.name(at)).0
    }

    /// Whether a screen's dots stand on a grid of its ruling and angle; others have one size.
    pub fn on_grid(&self, at: usize) -> bool {
        self.job.film.of_screen(self.name(at)).2.size_mm().is_none()
    }

    /// Angle of a screen in degrees.
    pub fn angle(&self, at: usize) -> f64 {
        self.job.film.of_screen(self.name(at)).1.get()
    }

    /// Mean coverage of a screen's film that prints `a` (or is `a`, when films are not compensated), with the
    /// film's own limits on small and large dots.
    pub fn film(&self, at: usize, a: f64) -> f64 {
        self.film_with(&self.dots[at], a, &self.gain)
    }

    /// The same with other limits, and the gain of another ruling.
    pub fn film_with(&self, dots: &ScreenDots, a: f64, gain: &crate::press::GainCurve) -> f64 {
        f64::from(dots.film(a as f32, self.job.press.compensate.then_some(gain)))
    }

    /// Coverage of the dots that a screen's film has for `a`: the smallest where lighter tones are thinned.
    pub fn dot(&self, at: usize, a: f64) -> f64 {
        f64::from(self.dots[at].dot(self.film(at, a) as f32))
    }

    /// What `a` of a screen prints as.
    pub fn printed(&self, at: usize, a: f64) -> f64 {
        f64::from(self.dots[at].printed(self.film(at, a) as f32, &self.gain))
    }

    /// Whether a screen prints next to nothing: no highlight to speak of and no tint either.
    pub fn is_empty(&self, at: usize) -> bool {
        self.area_mm2(at, 0.05) < HIGHLIGHT_MM2 && self.area_mm2(at, INKED) < 400.0
    }

    /// Area of the whole print.
    pub fn print_mm2(&self) -> f64 {
        self.print_mm[0] * self.print_mm[1]
    }

    /// Area in mm2 on which a screen covers `from` (0..=1) and more.
    pub fn area_mm2(&self, at: usize, from: f64) -> f64 {
        self.mean(at, |a| f64::from(u8::from(a >= from))) * self.print_mm2()
    }

    /// Every so many blocks, so that at most about `most` are looked at.
    pub fn every(&self, most: usize) -> Vec<usize> {
        (0..self.blocks()).step_by(self.blocks().div_ceil(most).max(1)).collect()
    }

    /// Mean coverage that `value` gives over a screen's histogram, as a share of all pixels.
    pub fn mean(&self, at: usize, value: impl Fn(f64) -> f64) -> f64 {
        let histogram = &self.histograms[at];
        let total: u64 = histogram.iter().sum();
        if total == 0 {
            return 0.0;
        }
        histogram.iter().enumerate().map(|(bin, &n)| n as f64 * value(bin_coverage(bin))).sum::<f64>() / total as f64
    }

    /// Share of the print on which a screen prints at all.
    pub fn inked(&self, at: usize) -> f64 {
        self.mean(at, |a| f64::from(u8::from(a >= INKED)))
    }

    /// Share of the print on which a screen prints neither nothing nor solid.
    pub fn tonal(&self, at: usize) -> f64 {
        self.mean(at, |a| f64::from(u8::from((INKED..0.97).contains(&a))))
    }

    /// Whether a screen prints a picture and not flat art: half of its area and more is in halftones
    /// (assumed). A picture's inks are meant to mix, wet, and its edges are soft.
    pub fn is_picture(&self, at: usize) -> bool {
        self.tonal(at) >= 0.5 * self.inked(at).max(1e-9)
    }

    /// Film tones of a screen, for the swing of its harmonics.
    pub fn tones(&self, at: usize) -> Tones {
        let total: u64 = self.histograms[at].iter().sum::<u64>().max(1);
        let share = |bin: usize| self.histograms[at][bin] as f64 / total as f64;
        Tones::binned((0..BINS).map(|bin| (self.film(at, bin_coverage(bin)), share(bin))))
    }

    /// Coverage of a screen at a block, 0..=1.
    pub fn at(&self, screen: usize, block: usize) -> f64 {
        f64::from(self.small[screen].data()[block]) / 65535.0
    }

    /// Coverages of all screens at a block, as the print model takes them.
    pub fn coverages(&self, at: usize, into: &mut [f32]) {
        for (a, plane) in into.iter_mut().zip(&self.small) {
            *a = f32::from(plane.data()[at]) / 65535.0;
        }
    }

    /// Blocks in all.
    pub fn blocks(&self) -> usize {
        self.target.len()
    }

    /// A map over the blocks, 0..1 to 0..255.
    pub fn map(&self, value: impl Fn(usize) -> f64 + Sync) -> Plane<u8> {
        let (w, h) = self.small.first().map_or((1, 1), |p| (p.width(), p.height()));
        Plane::from_fn(w, h, |x, y| (value(y * w + x).clamp(0.0, 1.0) * 255.0).round() as u8)
    }
}

/// Middle of a histogram bin, with both ends exact.
pub(crate) fn bin_coverage(bin: usize) -> f64 {
    bin as f64 / (BINS - 1) as f64
}

/// Block means and histogram of a plane. Blocks at the right and lower edge may be smaller.
fn reduce(plane: &Plane<u16>, block: usize) -> (Plane<u16>, Vec<u64>) {
    let (w, h) = (plane.width(), plane.height());
    let (bw, bh) = (w.div_ceil(block).max(1), h.div_ceil(block).max(1));
    let rows: Vec<(Vec<u16>, Vec<u32>)> = (0..bh)
        .into_par_iter()
        .map(|by| {
            let mut sums = vec![0u64; bw];
            // Four tables, so that runs of one value do not wait for each other.
            let mut bins = vec![0u32; 4 * BINS];
            let lines = by * block..((by + 1) * block).min(h);
            let tall = lines.len() as u64;
            for y in lines {
                for (part, sum) in plane.row(y).chunks(block).zip(&mut sums) {
                    for (i, &v) in part.iter().enumerate() {
                        *sum += u64::from(v);
                        // Rounded to the nearest bin with both ends exact.
                        let bin = (u32::from(v) * 1023 + 32767) / 65535;
                        bins[(i & 3) * BINS + bin as usize] += 1;
                    }
                }
            }
            let means = sums
                .iter()
                .enumerate()
                .map(|(bx, &sum)| {
                    let wide = (((bx + 1) * block).min(w) - (bx * block).min(w)) as u64;
                    let n = (wide * tall).max(1);
                    ((sum + n / 2) / n) as u16
                })
                .collect();
            (means, bins)
        })
        .collect();
    let mut histogram = vec![0u64; BINS];
    let mut data = Vec::with_capacity(bw * bh);
    for (means, bins) in rows {
        data.extend(means);
        for (at, n) in bins.into_iter().enumerate() {
            histogram[at % BINS] += u64::from(n);
        }
    }
    (Plane::from_vec(bw, bh, data), histogram)
}

/// The art on the garment in linear light, sampled once in every ninth of a block.
fn reduce_art(prepared: &Prepared, screens: &Screens, block: usize, under: LinRgb) -> Vec<LinRgb> {
    let (bw, bh) = (screens.width.div_ceil(block).max(1), screens.height.div_ceil(block).max(1));
    let pixels = prepared.picture.pixels();
    let (w, h) = (pixels.width(), pixels.height());
    if w == 0 || h == 0 {
        return vec![under; bw * bh];
    }
    (0..bw * bh)
        .into_par_iter()
        .map(|at| {
            let (bx, by) = (at % bw, at / bw);
            let mut sum = [0.0f32; 3];
            for sub in 0..9 {
                // The prepared picture and the screens have one size; ratios keep other sizes right.
                let fx = (bx as f64 + (sub % 3) as f64 / 3.0 + 1.0 / 6.0) * block as f64 / screens.width as f64;
                let fy = (by as f64 + (sub / 3) as f64 / 3.0 + 1.0 / 6.0) * block as f64 / screens.height as f64;
                let p = pixels.get(((fx * w as f64) as usize).min(w - 1), ((fy * h as f64) as usize).min(h - 1));
                let alpha = f32::from(p[3]) / 65535.0;
                let over = crate::color::linear_from_u16(&p);
                for i in 0..3 {
                    sum[i] += under[i] + alpha * (over[i] - under[i]);
                }
            }
            sum.map(|s| s / 9.0)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_and_histogram_agree_with_the_plane() {
        let plane = Plane::from_fn(37, 23, |x, y| ((x * 1771 + y * 977) % 65536) as u16);
        let (small, histogram) = reduce(&plane, 6);
        assert_eq!((small.width(), small.height()), (7, 4));
        assert_eq!(histogram.iter().sum::<u64>(), 37 * 23);
        let block: Vec<u64> =
            (18..23).flat_map(|y| (36..37).map(move |x| (x, y))).map(|(x, y)| u64::from(plane.get(x, y))).collect();
        let mean = (block.iter().sum::<u64>() + 2) / 5;
        assert_eq!(u64::from(small.get(6, 3)), mean);
        let by_bins: f64 =
            histogram.iter().enumerate().map(|(b, &n)| bin_coverage(b) * n as f64).sum::<f64>() / (37.0 * 23.0);
        assert!((by_bins - plane.mean_coverage()).abs() < 1e-3);
    }
}
