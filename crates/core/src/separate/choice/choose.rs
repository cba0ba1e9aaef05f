//! Which inks from the shelf, for how many screens.
//!
//! The picture is weighed into a few hundred colours; a set of inks is worth the mean CIEDE2000
//! that the print model leaves with it. The few best sets of every size grow by one ink each, and
//! inks are exchanged as long as an exchange helps; for the size requested, exchanges go on from
//! every set that is among the few best, since one exchange at a time stops short of some of the
//! best sets. A set's solutions start the next one's.

use std::collections::HashSet;

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::judge::{Judge, Solved, judged_colors};
use crate::ink::{Ink, Shelf, ShelfError, usual_order};
use crate::press::Ground;
use crate::raster::Picture;
use crate::separate::error::check;
use crate::separate::model::MAX_SCREENS;
use crate::separate::{PlannedScreen, Quality, SeparateError, SeparationSettings};
use crate::{Cancelled, Progress};

/// What the choice is to meet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct InkRequest {
    /// Screens to fill, an underbase counted. Default 6.
    pub screens: usize,
    /// Inks that must be in, by name.
    pub pinned: Vec<String>,
    /// Inks that must stay out, by name.
    pub banned: Vec<String>,
}

impl Default for InkRequest {
    fn default() -> Self {
        Self { screens: 6, pinned: Vec::new(), banned: Vec::new() }
    }
}

/// A set of inks and what it is worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Choice {
    /// In print order.
    pub inks: Vec<Ink>,
    /// Estimated on the weighed colours, each solved alone.
    pub quality: Quality,
}

impl Choice {
    /// Its screens, planned with everything at its default.
    pub fn screens(&self) -> Vec<PlannedScreen> {
        self.inks.iter().cloned().map(PlannedScreen::of_ink).collect()
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suggestion {
    /// The set for the screens requested (or as many as the shelf gives).
    pub chosen: Choice,
    /// The best set found for 1, 2, 3 .. screens, up to two more than requested.
    pub curve: Vec<Choice>,
}

/// Why no inks can be suggested.
#[derive(Debug, thiserror::Error)]
pub enum SuggestError {
    /// The shelf, or a name.
    #[error(transparent)]
    Shelf(#[from] ShelfError),
    /// More pins than screens.
    #[error("{pinned} inks are pinned but only {screens} screens are requested; unpin some or add screens")]
    TooManyPins {
        /// Pinned inks.
        pinned: usize,
        /// Screens requested.
        screens: usize,
    },
    /// Pinned and banned.
    #[error("\"{0}\" is both pinned and banned; choose one")]
    PinnedAndBanned(String),
    /// Every ink is banned.
    #[error("every ink on the shelf is banned; allow some")]
    NothingLeft,
    /// Zero or too many screens.
    #[error("ask for 1 to {MAX_SCREENS} screens, not {0}")]
    Screens(usize),
    /// Settings.
    #[error(transparent)]
    Separate(#[from] SeparateError),
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Colours that a choice is judged on.
const COLORS: usize = 160;
/// Colours that all sets are compared on.
const FEW_COLORS: usize = 40;
/// Sets of each comparison that are judged on all colours.
const FINALISTS: usize = 8;
/// Sets of each size that are gone on from.
const BEAM: usize = 4;
/// Most sets of the size requested whose exchanges are tried.
const MOST_EXCHANGED: usize = 12;

/// Chooses inks for a picture from a shelf. Whites that lie under the colours are taken to be
/// flashed; `separation` gives the controls (its screens are not used).
pub fn suggest(
    picture: &Picture,
    ground: &Ground<'_>,
    shelf: &Shelf,
    request: &InkRequest,
    separation: &SeparationSettings,
    progress: &Progress,
) -> Result<Suggestion, SuggestError> {
    shelf.check()?;
    check(&SeparationSettings { screens: vec![PlannedScreen::of_ink(shelf.inks[0].clone())], ..separation.clone() })?;
    if !(1..=MAX_SCREENS).contains(&request.screens) {
        return Err(SuggestError::Screens(request.screens));
    }
    let place = |name: &String| -> Result<usize, SuggestError> {
        let ink = shelf.find(name)?;
        Ok(shelf.inks.iter().position(|other| other.name == ink.name).unwrap_or(0))
    };
    let mut pinned: Vec<usize> = request.pinned.iter().map(place).collect::<Result<_, _>>()?;
    pinned.sort_unstable();
    pinned.dedup();
    let banned: Vec<usize> = request.banned.iter().map(place).collect::<Result<_, _>>()?;
    if let Some(&both) = pinned.iter().find(|p| banned.contains(p)) {
        return Err(SuggestError::PinnedAndBanned(shelf.inks[both].name.clone()));
    }
    if pinned.len() > request.screens {
        return Err(SuggestError::TooManyPins { pinned: pinned.len(), screens: request.screens });
    }
    let allowed: Vec<usize> = (0..shelf.inks.len()).filter(|i| !banned.contains(i)).collect();
    if allowed.is_empty() {
        return Err(SuggestError::NothingLeft);
    }
    progress.step("weigh colours", 0.0)?;
    let [few, many] = judged_colors(picture, ground.garment, separation, [FEW_COLORS, COLORS])?.map(|colors| Judge {
        colors,
        ground: *ground,
        settings: separation,
    });
    Search { few, many, shelf, allowed, pinned }.run(request.screens, progress)
}

/// A set of places on the shelf, in the shelf's order, with its solutions on few and on many
/// colours.
struct Standing {
    set: Vec<usize>,
    few: Solved,
    many: Solved,
    /// Whether its exchanges were tried.
    exchanged: bool,
}

/// The search: all sets are compared on few colours, the best of those on many.
struct Search<'a> {
    few: Judge<'a>,
    many: Judge<'a>,
    shelf: &'a Shelf,
    allowed: Vec<usize>,
    pinned: Vec<usize>,
}

impl Search<'_> {
    fn planned(&self, set: &[usize]) -> Vec<PlannedScreen> {
        let mut inks: Vec<Ink> = set.iter().map(|&i| self.shelf.inks[i].clone()).collect();
        usual_order(&mut inks, self.many.ground.garment);
        inks.into_iter().map(PlannedScreen::of_ink).collect()
    }

    /// The best of many sets, best first; of equals the first.
    fn best(&self, sets: Vec<Vec<usize>>, before: &Standing) -> Vec<Standing> {
        let solve = |judge: &Judge<'_>, set: &[usize], before: &Solved| judge.solve(self.planned(set), Some(before));
        let mut few: Vec<(Vec<usize>, Solved)> = sets
            .into_par_iter()
            .map(|set| {
                let solved = solve(&self.few, &set, &before.few);
                (set, solved)
            })
            .collect();
        few.sort_by(|a, b| a.1.quality.mean.total_cmp(&b.1.quality.mean));
        few.truncate(FINALISTS);
        let mut many: Vec<Standing> = few
            .into_par_iter()
            .map(|(set, few)| {
                let many = solve(&self.many, &set, &before.many);
                Standing { set, few, many, exchanged: false }
            })
            .collect();
        many.sort_by(by_mean);
        many
    }

    fn run(&self, requested: usize, progress: &Progress) -> Result<Suggestion, SuggestError> {
        let most = (requested + 2).min(MAX_SCREENS).min(self.allowed.len());
        let planned = self.planned(&self.pinned);
        let mut beam = vec![Standing {
            set: self.pinned.clone(),
            few: self.few.solve(planned.clone(), None),
            many: self.many.solve(planned, None),
            exchanged: false,
        }];
        let mut curve: Vec<Choice> = Vec::new();
        if !self.pinned.is_empty() {
            curve.push(self.choice(&beam));
        }
        let mut size = self.pinned.len();
        while size < most {
            progress.step("choose inks", size as f32 / most as f32)?;
            let mut seen = HashSet::new();
            let mut longer: Vec<Standing> = Vec::new();
            for now in &beam {
                let others = self.allowed.iter().filter(|i| !now.set.contains(i));
                let sets =
                    others.map(|&i| sorted([&now.set[..], &[i]].concat())).filter(|set| seen.insert(set.clone()));
                longer.extend(self.best(sets.collect(), now));
            }
            if longer.is_empty() {
                break;
            }
            longer.sort_by(by_mean);
            longer.truncate(BEAM);
            beam = longer;
            size += 1;
            for _ in 0..if size == requested { MOST_EXCHANGED } else { usize::from(size < requested) } {
                progress.step("choose inks", size as f32 / most as f32)?;
                // Other sizes are only on the way: their best set alone is looked into.
                let among = if size == requested { beam.len() } else { 1 };
                let Some(at) = beam[..among].iter().position(|s| !s.exchanged) else { break };
                beam[at].exchanged = true;
                let sets = self.exchanges(&beam[at].set).into_iter().filter(|set| seen.insert(set.clone()));
                let found = self.best(sets.collect(), &beam[at]);
                beam.extend(found);
                beam.sort_by(by_mean);
                beam.truncate(BEAM);
            }
            curve.push(self.choice(if size == requested { &beam } else { &beam[..1] }));
        }
        let chosen = curve.iter().find(|c| c.inks.len() >= requested).or(curve.last()).cloned();
        let chosen = chosen.ok_or(SuggestError::NothingLeft)?;
        progress.step("choose inks", 1.0)?;
        Ok(Suggestion { chosen, curve })
    }

    /// All sets that differ in one ink which is not pinned.
    fn exchanges(&self, set: &[usize]) -> Vec<Vec<usize>> {
        let mut sets = Vec::new();
        for at in (0..set.len()).filter(|&at| !self.pinned.contains(&set[at])) {
            for &other in self.allowed.iter().filter(|i| !set.contains(i)) {
                let mut swapped = set.to_vec();
                swapped[at] = other;
                sets.push(sorted(swapped));
            }
        }
        sets
    }

    /// The best of some sets, its figures solved again from all starts.
    fn choice(&self, beam: &[Standing]) -> Choice {
        let figures = |standing: &Standing| {
            let found = &standing.many;
            let fresh = self.many.solve(found.screens.clone(), None);
            if fresh.quality.mean < found.quality.mean { fresh.quality } else { found.quality }
        };
        let judged: Vec<Quality> = beam.par_iter().map(figures).collect();
        let best = judged.iter().zip(beam).min_by(|a, b| a.0.mean.total_cmp(&b.0.mean));
        let Some((&quality, standing)) = best else { return Choice { inks: Vec::new(), quality: Quality::default() } };
        Choice { inks: standing.many.screens.iter().map(|s| s.ink.clone()).collect(), quality }
    }
}

fn by_mean(a: &Standing, b: &Standing) -> std::cmp::Ordering {
    a.many.quality.mean.total_cmp(&b.many.quality.mean)
}

fn sorted(mut set: Vec<usize>) -> Vec<usize> {
    set.sort_unstable();
    set
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::Garment;
    use crate::ink::InkRole;
    use crate::press::PrintModel;
    use crate::raster::Plane;
    use crate::units::{Lpi, Opacity};

    fn shelf() -> Shelf {
        let ink = |name: &str, color: &str, opacity, role| Ink {
            name: name.into(),
            over_white: color.parse().unwrap(),
            opacity: Opacity::new(opacity).unwrap(),
            role,
            measured: false,
            spectra: None,
        };
        Shelf {
            inks: vec![
                ink("grass", "#3F9B45", 0.7, InkRole::Color),
                ink("black", "#17171A", 0.95, InkRole::Black),
                ink("red", "#D8232A", 0.7, InkRole::Color),
                ink("base", "#F4F4F0", 0.9, InkRole::BaseWhite),
                ink("sun", "#FBBE22", 0.6, InkRole::Color),
            ],
        }
    }

    /// A red and black picture, a tenth of it yellow.
    fn picture() -> Picture {
        Picture::new(Plane::from_fn(40, 40, |x, y| match (x, y) {
            (_, 36..) => [64_500, 48_800, 8_700, u16::MAX],
            (0..20, _) => [55_000, 9_500, 11_000, u16::MAX],
            _ => [6_000, 6_000, 6_700, u16::MAX],
        }))
    }

    fn ask(on: &str, request: &InkRequest) -> Result<Suggestion, SuggestError> {
        let (settings, press) = (SeparationSettings::default(), PrintModel::default());
        let garment = Garment::of_color(on.parse().unwrap());
        let ground = Ground { garment: &garment, press: &press, ruling: Lpi::new(45.0).unwrap() };
        suggest(&picture(), &ground, &shelf(), request, &settings, &Progress::none())
    }

    fn names(choice: &Choice) -> Vec<&str> {
        choice.inks.iter().map(|i| i.name.as_str()).collect()
    }

    #[test]
    fn inks_follow_the_picture_and_the_garment() {
        let on_white = ask("#FFFFFF", &InkRequest { screens: 3, ..Default::default() }).unwrap();
        assert_eq!(names(&on_white.chosen), ["sun", "red", "black"]);
        let on_black = ask("#17171A", &InkRequest { screens: 3, ..Default::default() }).unwrap();
        assert_eq!(names(&on_black.chosen), ["base", "sun", "red"]);
        for pair in on_white.curve.windows(2) {
            assert!(pair[1].quality.mean <= pair[0].quality.mean * 1.001, "more screens are not worse");
        }
    }

    #[test]
    fn pins_and_bans_hold_and_contradictions_are_refused() {
        let pinned = InkRequest { screens: 2, pinned: vec!["Grass".into()], banned: vec!["red".into()] };
        let found = ask("#FFFFFF", &pinned).unwrap();
        assert!(names(&found.chosen).contains(&"grass") && !names(&found.chosen).contains(&"red"));
        let both = InkRequest { screens: 2, pinned: vec!["red".into()], banned: vec!["red".into()] };
        assert!(ask("#FFFFFF", &both).unwrap_err().to_string().contains("both pinned and banned"));
        let unknown = InkRequest { pinned: vec!["rad".into()], ..Default::default() };
        assert!(ask("#FFFFFF", &unknown).unwrap_err().to_string().contains("\"red\""));
    }
}
