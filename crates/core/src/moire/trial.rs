//! Film sets tried with their real dots. For a few dozen spots of the print, each screen is screened at the
//! spot's coverage over a patch by the code that films are made with; the patches are laid over each other
//! with the layers of the print model, in a few set-ups that are out of register as screens wander. What comes
//! of it is held against the model, against itself, and looked at through a blur.

use rayon::prelude::*;
use serde::Serialize;

use crate::color::{Lab, LinRgb, ciede2000, encode_u16, lab_from_linear};
use crate::halftone::{Dots, Field, FieldCursor, FilmSettings, ToneTable, words_for};
use crate::job::Job;
use crate::press::{Optics, Stack};
use crate::raster::{FULL, Picture, Plane, Rgba16, spread_places};
use crate::screens::Screens;
use crate::units::{Dpi, MM_PER_INCH};
use crate::{Cancelled, Progress};

/// Side of a patch: sixteen dots of 45 lpi.
const PATCH_MM: f64 = 9.0;
/// Film pixels an inch of a patch: as fine as a film has it, and the same for all jobs.
const DPI: f64 = 720.0;
/// How far screens can be moved on a patch.
const MOST_MM: f64 = 0.6;
/// Set-ups.
const SET_UPS: usize = 9;
/// Spots of the print that are looked at.
const SPOTS: usize = 64;
/// Standard deviation of the blur through which texture is looked at: about what an eye resolves at arm's
/// length, on the broad side (assumed).
const BLUR_MM: f64 = 0.5;
/// A coverage this near to none or solid has no dots.
const NO_DOTS: f32 = 0.004;

/// What real dots make of a film set, in CIEDE2000 and CIELAB lightness.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DotTrial {
    /// Mean over the print of the difference between the model and the mean of the set-ups.
    pub miss: f64,
    /// Its 95th percentile.
    pub miss_p95: f64,
    /// Steadiness: mean difference of a set-up from the mean of the set-ups.
    pub moves: f64,
    /// Its 95th percentile.
    pub moves_p95: f64,
    /// Root mean square of lightness over a patch, seen through a blur of half a millimetre; the mean over the
    /// print.
    pub texture: f64,
}

/// A spot of the print: coverages in print order.
type Spot = Vec<f32>;

/// Spots spread evenly over what is printed.
pub(super) fn spots(screens: &Screens) -> Vec<Spot> {
    let (width, height) = (screens.width, screens.height);
    let at = |x: usize, y: usize| -> Spot {
        screens.list.iter().map(|s| f32::from(s.coverage.get(x, y)) / 65_535.0).collect()
    };
    let all = spread_places(width, height).take(SPOTS * 40).map(|(x, y)| at(x, y));
    all.filter(|spot| spot.iter().any(|&a| a > 0.02)).take(SPOTS).collect()
}

/// Shifts in film pixels of every screen in every set-up, the first in register. Normal errors by a fixed
/// sequence, so that film sets are compared in the same set-ups.
fn set_ups(screens: usize, register_mm: f64) -> Vec<Vec<[i32; 2]>> {
    let px = DPI / MM_PER_INCH;
    let most = (MOST_MM * px) as i32;
    let mut state = 0x9E37_79B9_7F4A_7C15u64;
    let mut uniform = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        ((state >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    };
    // Box and Muller 1958.
    let mut normal = || (-2.0 * uniform().ln()).sqrt() * (std::f64::consts::TAU * uniform()).cos();
    let shift = |normal: &mut dyn FnMut() -> f64| {
        [(); 2].map(|()| ((normal() * register_mm * px).round() as i32).clamp(-most, most))
    };
    (0..SET_UPS).map(|_| (0..screens).map(|_| shift(&mut normal)).collect()).collect()
}

/// Tries the dots that `job`'s films would have on these screens.
pub(super) fn try_dots(
    job: &Job,
    screens: &Screens,
    spots: &[Spot],
    progress: &Progress,
) -> Result<DotTrial, Cancelled> {
    let bench = Bench::new(job, screens);
    let tried = spots.par_iter().map(|spot| {
        progress.step("dots", 0.5)?;
        Ok(bench.spot(spot))
    });
    let tried = tried.collect::<Result<Vec<Tried>, Cancelled>>()?;
    let mut misses: Vec<f64> = tried.iter().map(|t| t.miss).collect();
    let mut moves: Vec<f64> = tried.iter().flat_map(|t| t.moves.iter().copied()).collect();
    let mean = |list: &[f64]| list.iter().sum::<f64>() / list.len().max(1) as f64;
    let p95 = |list: &mut Vec<f64>| {
        list.sort_by(f64::total_cmp);
        list.get(list.len() * 95 / 100).copied().unwrap_or(0.0)
    };
    Ok(DotTrial {
        miss: mean(&misses),
        miss_p95: p95(&mut misses),
        moves: mean(&moves),
        moves_p95: p95(&mut moves),
        texture: tried.iter().map(|t| t.texture).sum::<f64>() / tried.len().max(1) as f64,
    })
}

/// Side of a close-up: eight dots of 45 lpi.
const CLOSE_UP_MM: f64 = 4.5;

/// The real dots of the spot where most of them meet, laid over each other as in the first set-up.
pub(super) fn close_up(job: &Job, screens: &Screens, spots: &[Spot]) -> Picture {
    let side = (CLOSE_UP_MM / MM_PER_INCH * DPI) as usize;
    let bench = Bench { side, ..Bench::new(job, screens) };
    let busy = |spot: &Spot| spot.iter().map(|a| a * (1.0 - a)).sum::<f32>();
    let bare = vec![0.0; screens.list.len()];
    let spot = spots.iter().max_by(|a, b| busy(a).total_cmp(&busy(b))).unwrap_or(&bare);
    let dotted = dotted(spot);
    let patches: Vec<Vec<u8>> = dotted.iter().enumerate().map(|(bit, &i)| bench.patch(i, spot[i], 1 << bit)).collect();
    let shifts: Vec<[i32; 2]> = dotted.iter().map(|&i| bench.set_ups[0][i]).collect();
    let colors: Vec<Rgba16> =
        bench.solids(spot, &dotted).into_iter().map(encode_u16).map(|[r, g, b]| [r, g, b, FULL]).collect();
    let mut pixels = Vec::with_capacity(side * side);
    bench.lay(&patches, &shifts, |prints| pixels.push(colors[usize::from(prints)]));
    Picture::new(Plane::from_fn(side, side, |x, y| pixels[y * side + x]))
}

/// The screens that have dots on a spot: only they differ from place to place. At most as many as a byte has bits.
fn dotted(spot: &[f32]) -> Vec<usize> {
    let mut dotted: Vec<usize> = (0..spot.len()).filter(|&i| (NO_DOTS..1.0 - NO_DOTS).contains(&spot[i])).collect();
    dotted.sort_by(|&a, &b| (spot[a] - 0.5).abs().total_cmp(&(spot[b] - 0.5).abs()));
    dotted.truncate(8);
    dotted.sort_unstable();
    dotted
}

/// Dots of every screen at the patch's resolution.
fn dots(film: &FilmSettings, screens: &Screens) -> Vec<Dots> {
    let dpi = Dpi::new(DPI).unwrap_or(film.dpi);
    let film = FilmSettings { dpi, dpi_down: None, ..film.clone() };
    screens.list.iter().map(|s| Dots::of_screen(&film, &s.name, false)).collect()
}

struct Bench {
    model: Optics,
    stack: Stack,
    dots: Vec<Dots>,
    set_ups: Vec<Vec<[i32; 2]>>,
    side: usize,
    margin: usize,
}

struct Tried {
    miss: f64,
    moves: Vec<f64>,
    texture: f64,
}

impl Bench {
    fn new(job: &Job, screens: &Screens) -> Self {
        let ground = job.ground();
        Self {
            model: Optics::of_screens(&ground, &screens.list).without_gain(),
            stack: Stack::of_screens(&ground, &screens.list),
            dots: dots(&job.film, screens),
            set_ups: set_ups(screens.list.len(), job.run.usual_register_mm()),
            side: (PATCH_MM / MM_PER_INCH * DPI) as usize,
            margin: (MOST_MM / MM_PER_INCH * DPI) as usize + 1,
        }
    }

    fn spot(&self, spot: &[f32]) -> Tried {
        let dotted = dotted(spot);
        let solids = self.solids(spot, &dotted);
        let patches: Vec<Vec<u8>> =
            dotted.iter().enumerate().map(|(bit, &i)| self.patch(i, spot[i], 1 << bit)).collect();
        let shifts = |set_up: &Vec<[i32; 2]>| -> Vec<[i32; 2]> { dotted.iter().map(|&i| set_up[i]).collect() };
        let labs: Vec<LinRgb> = self
            .set_ups
            .iter()
            .map(|set_up| {
                let mut count = vec![0u32; solids.len()];
                self.lay(&patches, &shifts(set_up), |prints| count[usize::from(prints)] += 1);
                let all = (self.side * self.side) as f32;
                let add = |sum: LinRgb, (r, &n): (&LinRgb, &u32)| -> LinRgb {
                    std::array::from_fn(|band| sum[band] + r[band] * n as f32 / all)
                };
                solids.iter().zip(&count).fold([0.0; 3], add)
            })
            .collect();
        let mean: LinRgb = std::array::from_fn(|band| labs.iter().map(|r| r[band]).sum::<f32>() / labs.len() as f32);
        let (lab, mean) = (|r: &LinRgb| lab_from_linear(*r), lab_from_linear(mean));
        Tried {
            miss: f64::from(ciede2000(lab_from_linear(self.model.reflectance(spot)), mean)),
            moves: labs.iter().map(|r| f64::from(ciede2000(lab(r), mean))).collect(),
            texture: self.texture(&patches, &shifts(&self.set_ups[0]), &solids),
        }
    }

    /// Colours of all overprints of the screens with dots; the others print in their share, as by chance.
    fn solids(&self, spot: &[f32], dotted: &[usize]) -> Vec<LinRgb> {
        let stack = Stack { meetings: Vec::new(), gain: Vec::new(), ..self.stack.clone() };
        let color = |set: usize| {
            let mut a = spot.to_vec();
            for (bit, &i) in dotted.iter().enumerate() {
                a[i] = (set >> bit & 1) as f32;
            }
            stack.reflectance(&a)
        };
        (0..1usize << dotted.len()).map(color).collect()
    }

    /// A patch of one screen, `bit` where it prints.
    fn patch(&self, screen: usize, a: f32, bit: u8) -> Vec<u8> {
        let side = self.side + 2 * self.margin;
        let plane = Plane::filled(2, 2, (a * 65_535.0).round() as u16);
        let tone = ToneTable::identity();
        let field = Field::new(&plane, &tone, &self.dots[screen], side, side);
        let (mut cursor, mut row) = (FieldCursor::default(), vec![0u64; words_for(side)]);
        let mut out = Vec::with_capacity(side * side);
        for y in 0..side {
            field.row(y, &mut cursor, &mut row);
            out.extend((0..side).map(|x| if row[x / 64] >> (x % 64) & 1 == 1 { bit } else { 0 }));
        }
        out
    }

    /// Lays the patches over each other, row by row.
    fn lay(&self, patches: &[Vec<u8>], shifts: &[[i32; 2]], mut each: impl FnMut(u8)) {
        let (side, margin) = (self.side, self.margin as i32);
        let wide = side + 2 * self.margin;
        let mut line = vec![0u8; side];
        for y in 0..side {
            line.fill(0);
            for (patch, [dx, dy]) in patches.iter().zip(shifts) {
                let from = (y as i32 + margin - dy) as usize * wide + (margin - dx) as usize;
                for (out, prints) in line.iter_mut().zip(&patch[from..from + side]) {
                    *out |= prints;
                }
            }
            line.iter().for_each(|&prints| each(prints));
        }
    }

    fn texture(&self, patches: &[Vec<u8>], shifts: &[[i32; 2]], solids: &[LinRgb]) -> f64 {
        let light: Vec<f32> = solids.iter().map(|&r| luminance(r)).collect();
        let mut image = Vec::with_capacity(self.side * self.side);
        self.lay(patches, shifts, |prints| image.push(light[usize::from(prints)]));
        let radius = (BLUR_MM / MM_PER_INCH * DPI) as usize;
        // Three boxes are nearly a Gaussian; a box of 2 r + 1 has a variance of r (r + 1) / 3.
        for _ in 0..3 {
            boxed(&mut image, self.side, radius);
        }
        let edge = 3 * radius;
        let inner = |at: &usize| {
            (edge..self.side - edge).contains(&(at % self.side)) && (edge..self.side - edge).contains(&(at / self.side))
        };
        let lights: Vec<f64> = (0..image.len()).filter(inner).map(|at| lightness(image[at])).collect();
        let mean = lights.iter().sum::<f64>() / lights.len().max(1) as f64;
        (lights.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / lights.len().max(1) as f64).sqrt()
    }
}

fn luminance([r, g, b]: LinRgb) -> f32 {
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

fn lightness(y: f32) -> f64 {
    let Lab { l, .. } = lab_from_linear([y; 3]);
    f64::from(l)
}

/// Means over boxes, along rows and down columns; at the edges over what there is.
fn boxed(image: &mut [f32], side: usize, radius: usize) {
    let mut line = vec![0.0f32; side];
    for direction in 0..2 {
        let index =
            |along: usize, across: usize| if direction == 0 { across * side + along } else { along * side + across };
        for across in 0..side {
            let (mut sum, mut count) = (0.0f32, 0.0f32);
            for along in 0..side + radius {
                if along < side {
                    sum += image[index(along, across)];
                    count += 1.0;
                }
                if along > 2 * radius {
                    sum -= image[index(along - 2 * radius - 1, across)];
                    count -= 1.0;
                }
                if along >= radius {
                    line[along - radius] = sum / count;
                }
            }
            for (along, &value) in line.iter().enumerate() {
                image[index(along, across)] = value;
            }
        }
    }
}
