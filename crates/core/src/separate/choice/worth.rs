//! What each screen of a job is worth: the print without it, and the print with two screens
//! merged into one, the rest solved again.

use crate::screens::ScreenName;
use rayon::prelude::*;
use serde::Serialize;

use super::judge::{Judge, Solved, judged_colors};
use crate::Progress;
use crate::color::Rgb8;
use crate::ink::{Ink, InkRole, Shelf};
use crate::press::Ground;
use crate::raster::Picture;
use crate::separate::error::check;
use crate::separate::{PlannedScreen, Quality, SeparateError, SeparationSettings};

/// The print without a screen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DropCost {
    /// The screen.
    pub screen: ScreenName,
    /// The print without it.
    pub quality: Quality,
}

/// The print with two screens merged into one, in the earlier one's place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MergeCost {
    /// The two screens, in print order.
    pub screens: [ScreenName; 2],
    /// The best shared ink of the shelf and the print with it; none if the shelf is empty.
    pub shelf_ink: Option<(Ink, Quality)>,
    /// The best ink that could be mixed (colour over white, opacity between the two) and the
    /// print with it.
    pub tint: (Ink, Quality),
}

/// Worth of all screens of a job, estimated on the picture's weighed colours.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Worth {
    /// The print as it is.
    pub now: Quality,
    /// One a screen, in print order.
    pub drops: Vec<DropCost>,
    /// One a pair of screens.
    pub merges: Vec<MergeCost>,
}

/// Colours that the costs are judged on.
const COLORS: usize = 64;
/// Shelf inks tried for a pair: the nearest to the pair's colours.
const NEAREST: usize = 8;
/// A mixed ink is no purer than this in each encoded channel: pigments never are.
const TINT: (i16, i16) = (22, 250);

/// Drop and merge costs of planned screens. All figures come from the same estimate, so they
/// compare with each other; the finished separation's own figure may differ by some tenths.
pub fn screen_worth(
    picture: &Picture,
    ground: &Ground<'_>,
    shelf: &Shelf,
    settings: &SeparationSettings,
    progress: &Progress,
) -> Result<Worth, SeparateError> {
    check(settings)?;
    let [colors] = judged_colors(picture, ground.garment, settings, [COLORS])?;
    let judge = Judge { colors, ground: *ground, settings };
    let now = judge.solve(settings.screens.clone(), None);
    progress.step("weigh screens", 0.1)?;
    let drops = (0..settings.screens.len())
        .into_par_iter()
        .map(|at| {
            let mut screens = settings.screens.clone();
            let screen = screens.remove(at).name;
            DropCost { screen, quality: judge.solve(screens, Some(&now)).quality }
        })
        .collect();
    progress.step("weigh screens", 0.25)?;
    let count = settings.screens.len();
    let pairs: Vec<(usize, usize)> = (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b))).collect();
    let mut merges = Vec::with_capacity(pairs.len());
    for (done, part) in pairs.chunks(4).enumerate() {
        progress.step("weigh screens", 0.25 + 0.75 * (done * 4) as f32 / pairs.len() as f32)?;
        merges.par_extend(part.par_iter().map(|&(a, b)| merge_cost(&judge, shelf, &now, a, b)));
    }
    progress.step("weigh screens", 1.0)?;
    Ok(Worth { now: now.quality, drops, merges })
}

fn merge_cost(judge: &Judge<'_>, shelf: &Shelf, now: &Solved, a: usize, b: usize) -> MergeCost {
    let (first, second) = (&now.screens[a], &now.screens[b]);
    let with = |ink: &Ink| {
        let mut screens = now.screens.clone();
        screens.remove(b);
        // The pair's part is settled again from the shared ink.
        screens[a] = PlannedScreen { hits: first.hits, ..PlannedScreen::of_ink(ink.clone()) };
        screens[a].name = format!("{} + {}", first.name, second.name).into();
        judge.solve(screens, Some(now)).quality
    };
    let used: Vec<&str> =
        now.screens.iter().enumerate().filter(|(i, _)| *i != a && *i != b).map(|(_, s)| s.ink.name.as_str()).collect();
    let [ca, cb] = [&first.ink, &second.ink].map(Ink::reflectance_over_white);
    let away = |ink: &Ink| {
        let c = ink.reflectance_over_white();
        let d = |o: [f32; 3]| (0..3).map(|i| (c[i].sqrt() - o[i].sqrt()).powi(2)).sum::<f32>();
        d(ca).min(d(cb)).min(2.0 * d(std::array::from_fn(|i| 0.5 * (ca[i] + cb[i]))))
    };
    let mut near: Vec<&Ink> = shelf.inks.iter().filter(|i| !used.contains(&i.name.as_str())).collect();
    near.sort_by(|x, y| away(x).total_cmp(&away(y)));
    let tried = near.into_iter().take(NEAREST).map(|ink| (ink.clone(), with(ink)));
    let shelf_ink = tried.min_by(|x, y| x.1.mean.total_cmp(&y.1.mean));

    // The free tint: from both inks and the way between them, then a pattern search on the encoded
    // channels with falling steps.
    let opacity = [&first.ink, &second.ink].map(|i| i.opacity);
    let opacity = if opacity[0] > opacity[1] { opacity[0] } else { opacity[1] };
    let tint = |color: [u8; 3]| Ink {
        name: format!("Tint {}", Rgb8(color)),
        over_white: Rgb8(color),
        opacity,
        role: if first.ink.role == second.ink.role { first.ink.role } else { InkRole::Color },
        measured: false,
        spectra: None,
    };
    let between = |t: f32| Rgb8::from_linear(std::array::from_fn(|i| ca[i] + t * (cb[i] - ca[i]))).0;
    let start = [0.0, 0.35, 0.65, 1.0].map(|t| {
        let color = between(t);
        (color, with(&tint(color)))
    });
    let lower = |x: &([u8; 3], Quality), y: &([u8; 3], Quality)| x.1.mean.total_cmp(&y.1.mean);
    let mut best = start.into_iter().min_by(lower).unwrap_or(([0; 3], now.quality));
    for step in [40i16, 16, 7] {
        for channel in 0..3 {
            for sign in [-1, 1] {
                let mut color = best.0;
                color[channel] = (i16::from(color[channel]) + sign * step).clamp(TINT.0, TINT.1) as u8;
                let quality = with(&tint(color));
                if quality.mean < best.1.mean {
                    best = (color, quality);
                }
            }
        }
    }
    // A mixed ink can always be one of the shelf.
    if let Some((ink, quality)) = &shelf_ink
        && quality.mean < best.1.mean
    {
        return MergeCost {
            screens: [first.name.clone(), second.name.clone()],
            tint: (ink.clone(), *quality),
            shelf_ink,
        };
    }
    MergeCost { screens: [first.name.clone(), second.name.clone()], shelf_ink, tint: (tint(best.0), best.1) }
}
