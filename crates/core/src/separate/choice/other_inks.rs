//! Inks for planned screens in place of their own: mixed for two in one, or others of the shelf. Judged on the
//! picture's weighed colours; what they cost in the end is tried on the job.

use rayon::prelude::*;

use super::judge::{Judge, Solved, judged_colors};
use crate::Progress;
use crate::color::{Rgb8, color_words};
use crate::ink::{Ink, InkRole, Shelf};
use crate::press::Ground;
use crate::raster::Picture;
use crate::separate::error::check;
use crate::separate::{PlannedScreen, Quality, SeparateError, SeparationSettings};

/// Colours that the costs are judged on.
const COLORS: usize = 64;
/// Shelf inks tried for a pair: the nearest to the pair's colours.
const NEAREST: usize = 8;
/// A mixed ink is no purer than this in each encoded channel: pigments never are.
const TINT: (i16, i16) = (22, 250);

/// The best ink that could be mixed for each of some pairs of planned screens, by their places.
pub fn mixed_inks(
    picture: &Picture,
    ground: &Ground<'_>,
    shelf: &Shelf,
    settings: &SeparationSettings,
    pairs: &[(usize, usize)],
    progress: &Progress,
) -> Result<Vec<Ink>, SeparateError> {
    check(settings)?;
    let [colors] = judged_colors(picture, ground.garment, settings, [COLORS])?;
    let judge = Judge { colors, ground: *ground, settings };
    let now = judge.solve(settings.screens.clone(), None);
    let mut inks = Vec::with_capacity(pairs.len());
    for (done, part) in pairs.chunks(4).enumerate() {
        progress.step("mix inks", (done * 4) as f32 / pairs.len() as f32)?;
        let mix =
            |&(a, b): &(usize, usize)| Pair { judge: &judge, now: &now, places: [a.min(b), a.max(b)] }.best(shelf);
        inks.par_extend(part.par_iter().map(mix));
    }
    Ok(inks)
}

/// An estimate of the print with each of some inks on one planned screen, all solved again.
pub fn inks_tried(
    picture: &Picture,
    ground: &Ground<'_>,
    inks: &[&Ink],
    settings: &SeparationSettings,
    at: usize,
    progress: &Progress,
) -> Result<Vec<Quality>, SeparateError> {
    check(settings)?;
    let [colors] = judged_colors(picture, ground.garment, settings, [COLORS])?;
    let judge = Judge { colors, ground: *ground, settings };
    let now = judge.solve(settings.screens.clone(), None);
    progress.step("try inks", 0.2)?;
    let with = |ink: &&Ink| {
        let mut screens = now.screens.clone();
        screens[at].ink = (*ink).clone();
        judge.solve(screens, Some(&now)).quality
    };
    Ok(inks.par_iter().map(with).collect())
}

/// Two screens of a judged set that are to be one, in the earlier one's place.
struct Pair<'a> {
    judge: &'a Judge<'a>,
    now: &'a Solved,
    places: [usize; 2],
}

impl Pair<'_> {
    fn inks(&self) -> [&Ink; 2] {
        self.places.map(|at| &self.now.screens[at].ink)
    }

    /// The print with one ink for both.
    fn with(&self, ink: &Ink) -> Quality {
        let [a, b] = self.places;
        let [first, second] = [&self.now.screens[a], &self.now.screens[b]];
        let mut screens = self.now.screens.clone();
        screens.remove(b);
        // The pair's part is settled again from the shared ink.
        screens[a] = PlannedScreen { hits: first.hits, ..PlannedScreen::of_ink(ink.clone()) };
        screens[a].name = format!("{} + {}", first.name, second.name).into();
        self.judge.solve(screens, Some(self.now)).quality
    }

    /// The best ink of the shelf, of the nearest to the two and to what lies between them.
    fn of_shelf(&self, shelf: &Shelf) -> Option<(Ink, Quality)> {
        let others = self.now.screens.iter().enumerate().filter(|(at, _)| !self.places.contains(at));
        let used: Vec<&str> = others.map(|(_, s)| s.ink.name.as_str()).collect();
        let [ca, cb] = self.inks().map(Ink::reflectance_over_white);
        let away = |ink: &Ink| {
            let c = ink.reflectance_over_white();
            let d = |o: [f32; 3]| (0..3).map(|i| (c[i].sqrt() - o[i].sqrt()).powi(2)).sum::<f32>();
            d(ca).min(d(cb)).min(2.0 * d(std::array::from_fn(|i| 0.5 * (ca[i] + cb[i]))))
        };
        let mut near: Vec<&Ink> = shelf.inks.iter().filter(|i| !used.contains(&i.name.as_str())).collect();
        near.sort_by(|x, y| away(x).total_cmp(&away(y)));
        let tried = near.into_iter().take(NEAREST).map(|ink| (ink.clone(), self.with(ink)));
        tried.min_by(|x, y| x.1.mean.total_cmp(&y.1.mean))
    }

    /// An ink mixed of the two, of a colour over white.
    fn mixed(&self, color: [u8; 3]) -> Ink {
        let [first, second] = self.inks();
        let opacity = if first.opacity > second.opacity { first.opacity } else { second.opacity };
        Ink {
            name: format!("Mixed {}", color_words(Rgb8(color))),
            over_white: Rgb8(color),
            opacity,
            role: if first.role == second.role { first.role } else { InkRole::Color },
            measured: false,
            spectra: None,
        }
    }

    /// The best ink for both: mixed, or one of the shelf.
    fn best(&self, shelf: &Shelf) -> Ink {
        let (ink, mixed) = self.best_mixed();
        self.of_shelf(shelf).filter(|(_, quality)| quality.mean < mixed.mean).map_or(ink, |(ink, _)| ink)
    }

    /// The best mixed ink: from both inks and the way between them, then a pattern search on the encoded
    /// channels with falling steps.
    fn best_mixed(&self) -> (Ink, Quality) {
        let [ca, cb] = self.inks().map(Ink::reflectance_over_white);
        let between = |t: f32| Rgb8::from_linear(std::array::from_fn(|i| ca[i] + t * (cb[i] - ca[i]))).0;
        let tried = |color: [u8; 3]| (color, self.with(&self.mixed(color)));
        let lower = |x: &([u8; 3], Quality), y: &([u8; 3], Quality)| x.1.mean.total_cmp(&y.1.mean);
        let start = [0.0, 0.35, 0.65, 1.0].map(|t| tried(between(t)));
        let mut best = start.into_iter().min_by(lower).unwrap_or(([0; 3], self.now.quality));
        for step in [40i16, 16, 7] {
            for channel in 0..3 {
                for sign in [-1, 1] {
                    let mut color = best.0;
                    color[channel] = (i16::from(color[channel]) + sign * step).clamp(TINT.0, TINT.1) as u8;
                    let now = tried(color);
                    if now.1.mean < best.1.mean {
                        best = now;
                    }
                }
            }
        }
        (self.mixed(best.0), best.1)
    }
}
