//! What acts on the screens of a job cost in colour: to drop a screen, or to merge it into another, as the
//! screens stand or separated again. Every figure comes from doing the act to the job, with its edits, and
//! comparing the print with the art; whoever does the act then does the same. As the screens stand, the act is
//! done to pixels of the full print; separated again, to a small picture of the job.

use std::sync::Arc;

use serde::Serialize;

use super::{Cache, Evaluated, Job, JobError, Level, evaluate_with};
use crate::Progress;
use crate::color::Rgb8;
use crate::ink::{Ink, Shelf};
use crate::prep::Prepared;
use crate::raster::{Art, Detail, Picture, Plane};
use crate::screens::{Screen, ScreenName, Screens};
use crate::separate::{SeparateError, print_quality, screen_worth};
use crate::tune::{Edit, EditEntry, TuneError, apply_edits, edits, planned};

/// Longest side of the picture that is separated again.
const TRIED_PX: usize = 1000;
/// Pixels of the full print that acts are done to, about.
const SAMPLED: usize = 300_000;

/// An act whose cost is known before it is done.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// Take a screen out.
    Drop {
        /// The screen.
        screen: ScreenName,
        /// Separate the others again to make up for it.
        again: bool,
    },
    /// Multiply a screen into another and take it out.
    Merge {
        /// The screen that goes.
        from: ScreenName,
        /// The screen that stays.
        into: ScreenName,
    },
    /// One screen in place of two, in an ink of its own, all separated again.
    Mix {
        /// The screen that goes.
        from: ScreenName,
        /// The screen that stays, with the new ink.
        into: ScreenName,
        /// The ink.
        ink: Box<Ink>,
    },
}

impl Act {
    /// The job after it. Edits of a screen that the separation then never makes go with it.
    pub fn done(&self, job: &Job) -> Job {
        let mut job = job.clone();
        match self {
            Self::Drop { screen, again: false } => push(&mut job, Edit::drop(screen)),
            Self::Drop { screen, again: true } => separate_without(&mut job, screen),
            Self::Merge { from, into } => push(&mut job, Edit::merge(from, into)),
            Self::Mix { from, into, ink } => {
                let (screen, ink) = (into.clone(), (**ink).clone());
                push(&mut job, edits::ReInk { screen, ink, separate_again: true });
                separate_without(&mut job, from);
            }
        }
        job
    }
}

fn push(job: &mut Job, edit: impl Into<Edit>) {
    job.edits.push(EditEntry::on(edit));
}

fn separate_without(job: &mut Job, screen: &ScreenName) {
    for entry in &mut job.edits {
        if let Edit::Order(order) = &mut entry.edit {
            order.screens.retain(|name| name != screen);
        }
    }
    job.edits.retain(|entry| !entry.edit.needs().contains(&screen));
    push(job, edits::Drop { screen: screen.clone(), separate_again: true });
}

/// The print after an act, as mean CIEDE2000 against the art.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cost {
    /// With the other screens as they stand.
    pub as_is: f64,
    /// With the other screens separated again; none where the screen does not come from the separation.
    pub again: Option<f64>,
}

/// A screen, and the print without it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScreenCost {
    /// The screen.
    pub name: ScreenName,
    /// Its mean coverage.
    pub coverage: f64,
    /// The print without it; none for the only screen of a job.
    pub drop: Option<Cost>,
}

/// An ink mixed for two screens in one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mixed {
    /// Its colour over white.
    pub color: Rgb8,
    /// The print with it, all screens separated again.
    pub again: f64,
}

/// Two screens merged into one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MergeCost {
    /// The screen that goes.
    pub from: ScreenName,
    /// The screen that stays.
    pub into: ScreenName,
    /// The print after it, in the ink of the screen that stays.
    #[serde(flatten)]
    pub cost: Cost,
    /// The best ink that could be mixed for both; none where either does not come from the separation.
    pub mixed: Option<Mixed>,
}

/// What each screen of a job is worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Costs {
    /// The print as it is, as mean CIEDE2000 against the art.
    pub now: f64,
    /// One for each screen, in print order.
    pub screens: Vec<ScreenCost>,
    /// One for each screen into each other.
    pub merges: Vec<MergeCost>,
}

/// Pixels of the full print, evenly spread, as a small print of their own.
struct Sample {
    screens: Screens,
    prepared: Prepared,
}

impl Sample {
    fn of(print: &Evaluated) -> Self {
        let (width, height) = (print.screens.width, print.screens.height);
        let step = ((width * height) as f64 / SAMPLED as f64).sqrt().ceil().max(1.0) as usize;
        let (across, down) = (width.div_ceil(step), height.div_ceil(step));
        let list = print.screens.list.iter().map(|screen| Screen {
            name: screen.name.clone(),
            ink: screen.ink.clone(),
            hits: screen.hits,
            coverage: Plane::from_fn(across, down, |x, y| screen.coverage.get(x * step, y * step)),
        });
        let screens = Screens { width: across, height: down, ppi: print.screens.ppi, list: list.collect() };
        let art = print.prepared.picture.pixels();
        let picture = Picture::new(Plane::from_fn(across, down, |x, y| art.get(x * step, y * step)));
        let Prepared { ppi, print_size_mm, true_ppi, .. } = print.prepared;
        Self { screens, prepared: Prepared { picture, ppi, print_size_mm, true_ppi } }
    }

    /// The print after an act that changes every pixel by itself.
    fn print(&self, job: &Job, edit: Edit) -> Result<f64, JobError> {
        let mut screens = self.screens.clone();
        apply_edits(&mut screens, &self.prepared, &[EditEntry::on(edit)], &job.ground(), &Progress::none())?;
        Ok(print_quality(&screens, &self.prepared.picture, &job.ground()).mean)
    }
}

/// Separates a small picture of the job again. What a small picture shows less of (noise, fine detail) is
/// the same before an act and after it, so the difference holds for the print.
struct Trial<'a> {
    art: &'a Arc<Art>,
    cache: Cache,
    /// The print at full size against that of the small picture.
    offset: f64,
}

impl Trial<'_> {
    fn level(&mut self, job: &Job) -> Result<Level, JobError> {
        evaluate_with(&mut self.cache, job, self.art, Detail::Proxy { longest_px: TRIED_PX }, &Progress::none())
    }

    /// The print of a job; none if it cannot be made because a screen does not come from the separation.
    fn print(&mut self, job: &Job) -> Result<Option<f64>, JobError> {
        match self.level(job) {
            Ok(level) => Ok(Some(mean(&level, job) + self.offset)),
            Err(JobError::Tune(TuneError::NotPlanned { .. })) => Ok(None),
            Err(error) => Err(error),
        }
    }
}

fn mean(level: &Level, job: &Job) -> f64 {
    print_quality(&level.screens, &level.prepared.picture, &job.ground()).mean
}

/// The costs of every drop and merge. `print` is the job's own, at full size.
pub fn costs(
    job: &Job,
    art: &Arc<Art>,
    shelf: &Shelf,
    print: &Evaluated,
    progress: &Progress,
) -> Result<Costs, JobError> {
    let mut trial = Trial { art, cache: Cache::default(), offset: 0.0 };
    let level = trial.level(job)?;
    let now = print_quality(&print.screens, &print.prepared.picture, &job.ground()).mean;
    trial.offset = now - mean(&level, job);
    let sample = Sample::of(print);
    let list = &print.screens.list;
    let names: Vec<ScreenName> = list.iter().map(|s| s.name.clone()).collect();
    let pairs: Vec<(usize, usize)> = (0..names.len())
        .flat_map(|from| (0..names.len()).map(move |into| (from, into)))
        .filter(|(a, b)| a != b)
        .collect();
    let steps = (2 * names.len() + 3 * pairs.len()).max(1);
    let mut step = 0;
    let mut tell = || {
        step += 1;
        progress.step("try drops and merges", step as f32 / steps as f32).map_err(SeparateError::Cancelled)
    };
    let mut as_is = Vec::new();
    for name in &names {
        tell()?;
        as_is.push(if names.len() > 1 { Some(sample.print(job, Edit::drop(name))?) } else { None });
    }
    let mut merged = Vec::new();
    for &(from, into) in &pairs {
        tell()?;
        merged.push(sample.print(job, Edit::merge(&names[from], &names[into]))?);
    }
    let mut again = Vec::new();
    for name in &names {
        tell()?;
        let act = Act::Drop { screen: name.clone(), again: true };
        again.push(if names.len() > 1 { trial.print(&act.done(job))? } else { None });
    }
    // Colours to mix come from an estimate on the picture's weighed colours; what they cost is tried.
    let plan = planned(&job.separation, &job.edits)?;
    let worth = screen_worth(&level.prepared.picture, &job.ground(), shelf, &plan, progress)?;
    let mut merges = Vec::new();
    for (&(from, into), as_is) in pairs.iter().zip(merged) {
        tell()?;
        let pair = [&names[from], &names[into]];
        let tint = worth.merges.iter().find(|m| pair.iter().all(|name| m.screens.contains(name)));
        let mixed = match tint.filter(|_| again[from].is_some() && again[into].is_some()) {
            Some(tint) => mixed(&mut trial, job, pair, &tint.tint.0)?,
            None => None,
        };
        let (from_name, into_name) = (names[from].clone(), names[into].clone());
        merges.push(MergeCost { from: from_name, into: into_name, cost: Cost { as_is, again: again[from] }, mixed });
    }
    let screens = (list.iter().zip(as_is).zip(again))
        .map(|((screen, as_is), again)| ScreenCost {
            name: screen.name.clone(),
            coverage: screen.coverage.mean_coverage(),
            drop: as_is.map(|as_is| Cost { as_is, again }),
        })
        .collect();
    Ok(Costs { now, screens, merges })
}

/// The print with both screens in one of a mixed ink.
fn mixed(
    trial: &mut Trial<'_>,
    job: &Job,
    [from, into]: [&ScreenName; 2],
    ink: &Ink,
) -> Result<Option<Mixed>, JobError> {
    let act = Act::Mix { from: from.clone(), into: into.clone(), ink: Box::new(ink.clone()) };
    Ok(trial.print(&act.done(job))?.map(|again| Mixed { color: ink.over_white, again }))
}
