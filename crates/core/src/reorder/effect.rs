//! What a change does to the print, in figures: the print that was made beside the one that would be made today.

use serde::Serialize;

use super::ShopState;
use super::shop::take_inks;
use crate::color::{ciede2000, lab_from_linear, linear_from_u16};
use crate::job::Job;
use crate::press::{DotGain, proof_from_screens};
use crate::raster::{Picture, Plane};
use crate::screens::{Screen, Screens};
use crate::units::Ppi;

/// How far a print moves from the one that was made.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Effect {
    /// CIEDE2000 over all that ink is on, mean.
    pub mean: f64,
    /// 95th percentile.
    pub p95: f64,
    /// The ink where it moves most; none where nothing moves.
    pub worst: Option<WorstInk>,
}

/// The ink where a print moves most.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WorstInk {
    /// The ink.
    pub ink: String,
    /// Mean CIEDE2000 where it prints, weighed by its coverage.
    pub mean: f64,
}

impl Effect {
    /// In words.
    pub fn words(&self) -> String {
        match &self.worst {
            None => "the print is the same".to_owned(),
            Some(worst) => format!(
                "the print moves by {:.2} on average, 95 % under {:.2} (CIEDE2000), most where {} prints: {:.2}",
                self.mean, self.p95, worst.ink, worst.mean
            ),
        }
    }
}

/// Longer side of the grid that prints are compared on.
const GRID: usize = 400;
/// Ink that counts as none.
const BARE: u16 = 655;
/// CIEDE2000 under which nothing has moved.
const STILL: f64 = 0.005;

/// What the press makes today of a job's screens: with the inks and the gain that the shop has changed since the job
/// was printed, where the job has them as they were. Films that were made stay as they are.
pub fn print_today(job: &Job, screens: &Screens, then: &ShopState, now: &ShopState) -> (Job, Screens) {
    let mut today = take_inks(job, then, now);
    let mut screens = screens.clone();
    for screen in &mut screens.list {
        let as_it_was = then.inks.contains(&screen.ink);
        if let Some(ink) = now.changed_ink(then, &screen.ink.name).filter(|_| as_it_was) {
            screen.ink = ink.clone();
        }
    }
    let old = then.gain.as_ref().filter(|old| **old == job.press.gain);
    if let (Some(old), Some(new)) = (old, now.changed_gain(then)) {
        if job.press.compensate {
            re_gain(job, &mut screens, old, new);
        }
        today.press.gain = new.clone();
    }
    (today, screens)
}

/// Films that carry the inverse of one gain print with another.
fn re_gain(job: &Job, screens: &mut Screens, old: &DotGain, new: &DotGain) {
    for screen in &mut screens.list {
        let ruling = job.film.gain_ruling(&screen.name);
        let (old, new) = (old.curve(ruling), new.curve(ruling));
        let table: Vec<u16> = (0..=u16::MAX)
            .map(|a| (new.print(old.film(f32::from(a) / 65535.0)).clamp(0.0, 1.0) * 65535.0).round() as u16)
            .collect();
        screen.coverage.apply(|a| table[usize::from(a)]);
    }
}

/// The figures, and the pictures of both prints; none where the prints differ in size, as then no place of one lies on
/// a place of the other.
pub fn effect(then: (&Job, &Screens), now: (&Job, &Screens)) -> (Option<Effect>, [Picture; 2]) {
    let grids = [then, now].map(|(_, screens)| on_grid(screens));
    let pictures =
        [(then.0, &grids[0]), (now.0, &grids[1])].map(|(job, s)| proof_from_screens(s, &job.ground(), |_| true));
    let mm = [then, now].map(|(_, s)| [s.width as f64 / s.ppi.get(), s.height as f64 / s.ppi.get()]);
    let close = (0..2).all(|side| (mm[0][side] - mm[1][side]).abs() <= 0.005 * mm[0][side]);
    let same_grid = (grids[0].width, grids[0].height) == (grids[1].width, grids[1].height);
    let figures = (close && same_grid).then(|| figures(&grids, &pictures));
    (figures, pictures)
}

fn figures(grids: &[Screens; 2], pictures: &[Picture; 2]) -> Effect {
    let inked = |at: usize| grids.iter().any(|grid| grid.list.iter().any(|s| s.coverage.data()[at] > BARE));
    let [a, b] = pictures.each_ref().map(|picture| picture.pixels().data());
    let lab = |pixel: &[u16; 4]| lab_from_linear(linear_from_u16(pixel));
    let apart: Vec<f64> = (a.iter().zip(b)).map(|(a, b)| f64::from(ciede2000(lab(a), lab(b)))).collect();
    let mut counted: Vec<f64> = apart.iter().enumerate().filter(|(at, _)| inked(*at)).map(|(_, d)| *d).collect();
    counted.sort_by(f64::total_cmp);
    let count = counted.len();
    if count == 0 {
        return Effect { mean: 0.0, p95: 0.0, worst: None };
    }
    let mean = counted.iter().sum::<f64>() / count as f64;
    let p95 = counted[((0.95 * count as f64) as usize).min(count - 1)];
    let worst = grids[1].list.iter().map(|screen| worst_of(screen, &apart)).max_by(|a, b| a.mean.total_cmp(&b.mean));
    Effect { mean, p95, worst: worst.filter(|worst| worst.mean > STILL) }
}

fn worst_of(screen: &Screen, apart: &[f64]) -> WorstInk {
    let (mut sum, mut weight) = (0.0, 0.0);
    for (&a, d) in screen.coverage.data().iter().zip(apart) {
        sum += f64::from(a) * d;
        weight += f64::from(a);
    }
    WorstInk { ink: screen.ink.name.clone(), mean: if weight > 0.0 { sum / weight } else { 0.0 } }
}

/// Means over the cells of a grid as long as [`GRID`].
fn on_grid(screens: &Screens) -> Screens {
    let longest = screens.width.max(screens.height).max(1);
    let scale = (GRID as f64 / longest as f64).min(1.0);
    let side = |px: usize| ((px as f64 * scale).round() as usize).max(1);
    let (width, height) = (side(screens.width), side(screens.height));
    let small = |s: &Screen| Screen {
        name: s.name.clone(),
        ink: s.ink.clone(),
        hits: s.hits,
        coverage: Plane::from_fn(width, height, |x, y| cell(&s.coverage, [x, y], [width, height])),
    };
    let ppi = Ppi::new((screens.ppi.get() * scale).max(1.0)).unwrap_or(screens.ppi);
    Screens { width, height, ppi, list: screens.list.iter().map(small).collect() }
}

fn cell(plane: &Plane<u16>, at: [usize; 2], of: [usize; 2]) -> u16 {
    let span = |side: usize, px: usize| {
        let from = at[side] * px / of[side];
        (from, ((at[side] + 1) * px / of[side]).max(from + 1).min(px))
    };
    let ((left, right), (top, bottom)) = (span(0, plane.width()), span(1, plane.height()));
    let sum: u64 = (top..bottom).flat_map(|y| &plane.row(y)[left..right]).map(|&v| u64::from(v)).sum();
    let count = ((right - left) * (bottom - top)).max(1) as u64;
    ((sum + count / 2) / count) as u16
}
