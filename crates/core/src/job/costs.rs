//! What acts on the screens of a job cost in colour: to drop a screen, to merge it into another, to print it
//! with another ink, as the screens stand or separated again. Every figure comes from doing the act to the
//! job, with its edits, and comparing the print with the art; whoever does the act then does the same. As the
//! screens stand, the act is done to pixels of the full print; separated again, to a small picture of the job.

use std::sync::Arc;

use serde::Serialize;

use super::{Act, Cache, Job, JobError, Level, evaluate_with};
use crate::color::Rgb8;
use crate::ink::{Ink, Shelf};
use crate::prep::Prepared;
use crate::raster::{Art, Detail, Picture, Plane};
use crate::screens::{Screen, ScreenName, Screens};
use crate::separate::{OverDays, SeparateError, inks_tried, mixed_inks, over_days};
use crate::tune::{Edit, EditEntry, TuneError, apply_edits, planned};
use crate::{Cancelled, Progress};

/// Longest side of the picture that is separated again.
const TRIED_PX: usize = 1000;
/// Pixels of the full print that acts are done to, about.
const SAMPLED: usize = 300_000;
/// Inks of the shelf that a screen is separated again for: the best by an estimate.
const INKS_TRIED: usize = 4;

/// The print after an act, as mean CIEDE2000 against the art.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
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
    /// The ink.
    #[serde(skip)]
    pub ink: Ink,
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
    /// The best ink that could be mixed for both, printed in the earlier one's place: for the later of two
    /// screens into the earlier. None where either does not come from the separation, or where it was not
    /// looked for.
    pub mixed: Option<Mixed>,
}

/// What each screen of a job is worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Costs {
    /// The print as it is, as mean CIEDE2000 against the art; of a job on several garments the mean of them.
    pub now: f64,
    /// The same over the days to come.
    pub over_days: OverDays,
    /// One for each screen, in print order.
    pub screens: Vec<ScreenCost>,
    /// One for each screen into each other.
    pub merges: Vec<MergeCost>,
}

impl Costs {
    /// A screen's.
    pub fn of(&self, screen: &ScreenName) -> Option<&ScreenCost> {
        self.screens.iter().find(|s| s.name == *screen)
    }

    /// Merges of a screen into others, cheapest first.
    pub fn merges_of(&self, screen: &ScreenName) -> Vec<&MergeCost> {
        let mut merges: Vec<&MergeCost> = self.merges.iter().filter(|m| m.from == *screen).collect();
        merges.sort_by(|a, b| a.cost.as_is.total_cmp(&b.cost.as_is));
        merges
    }
}

/// A screen printed with another ink of the shelf.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InkCost {
    /// The ink.
    #[serde(serialize_with = "by_name")]
    pub ink: Ink,
    /// The print with it.
    #[serde(flatten)]
    pub cost: Cost,
}

fn by_name<S: serde::Serializer>(ink: &Ink, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(&ink.name)
}

/// Pixels of the full print, evenly spread, as a small print of their own.
struct Sample {
    screens: Screens,
    prepared: Prepared,
}

impl Sample {
    fn of(prepared: &Prepared, screens: &Screens) -> Self {
        let (width, height) = (screens.width, screens.height);
        let step = ((width * height) as f64 / SAMPLED as f64).sqrt().ceil().max(1.0) as usize;
        let (across, down) = (width.div_ceil(step), height.div_ceil(step));
        let list = screens.list.iter().map(|screen| Screen {
            name: screen.name.clone(),
            ink: screen.ink.clone(),
            hits: screen.hits,
            coverage: Plane::from_fn(across, down, |x, y| screen.coverage.get(x * step, y * step)),
        });
        let screens = Screens { width: across, height: down, ppi: screens.ppi, list: list.collect() };
        let art = prepared.picture.pixels();
        let picture = Picture::new(Plane::from_fn(across, down, |x, y| art.get(x * step, y * step)));
        let Prepared { ppi, print_size_mm, true_ppi, .. } = *prepared;
        Self { screens, prepared: Prepared { picture, ppi, print_size_mm, true_ppi } }
    }

    /// The print after an act that changes every pixel by itself.
    fn print(&self, job: &Job, edit: Edit) -> Result<f64, JobError> {
        let mut screens = self.screens.clone();
        apply_edits(&mut screens, &self.prepared, &[EditEntry::on(edit)], &job.ground(), &Progress::none())?;
        Ok(job.difference(&screens, &self.prepared.picture))
    }
}

/// Tries acts on a job. Begin with one, then ask.
pub struct Trial<'a> {
    job: &'a Job,
    art: &'a Arc<Art>,
    sample: Sample,
    /// The job's own screens of the small picture.
    level: Level,
    cache: Cache,
    /// The print as it is, and over the days to come.
    now: f64,
    over_days: OverDays,
    /// The print at full size against that of the small picture: what a small picture shows less of (noise,
    /// fine detail) is the same before an act and after it.
    offset: f64,
}

impl<'a> Trial<'a> {
    /// Makes ready. `prepared` and `screens` are the job's own, at full size.
    pub fn new(
        job: &'a Job,
        art: &'a Arc<Art>,
        prepared: &Prepared,
        screens: &Screens,
        progress: &Progress,
    ) -> Result<Self, JobError> {
        let mut cache = Cache::default();
        let level = small(&mut cache, job, art, &progress.quiet())?;
        let now = job.difference(screens, &prepared.picture);
        let offset = now - mean(&level, job);
        let over_days = over_days(screens, &prepared.picture, &job.ground());
        Ok(Self { job, art, sample: Sample::of(prepared, screens), level, cache, now, over_days, offset })
    }

    /// The print after an act that has screens separated again; none if it cannot be done because a screen
    /// does not come from the separation.
    fn again(&mut self, act: &Act, progress: &Progress) -> Result<Option<f64>, JobError> {
        let job = act.done(self.job);
        match small(&mut self.cache, &job, self.art, &progress.quiet()) {
            Ok(level) => Ok(Some(mean(&level, &job) + self.offset)),
            Err(JobError::Tune(TuneError::NotPlanned { .. })) => Ok(None),
            Err(error) => Err(error),
        }
    }

    fn names(&self) -> Vec<ScreenName> {
        self.sample.screens.list.iter().map(|s| s.name.clone()).collect()
    }

    /// What it costs to drop each screen, and to merge each into each other.
    pub fn costs(&mut self, progress: &Progress) -> Result<Costs, JobError> {
        let names = self.names();
        let several = names.len() > 1;
        let steps = Steps::new("try drops and merges", names.len() * (names.len() + 1), progress);
        let mut screens: Vec<ScreenCost> = Vec::new();
        for (screen, name) in self.sample.screens.list.iter().zip(&names) {
            steps.next()?;
            let as_is = if several { Some(self.sample.print(self.job, Edit::drop(name))?) } else { None };
            let drop = as_is.map(|as_is| Cost { as_is, again: None });
            screens.push(ScreenCost { name: name.clone(), coverage: screen.coverage.mean_coverage(), drop });
        }
        for screen in &mut screens {
            steps.next()?;
            if let Some(drop) = &mut screen.drop {
                drop.again = self.again(&Act::Drop { screen: screen.name.clone(), again: true }, progress)?;
            }
        }
        let mut merges = Vec::new();
        for from in &screens {
            for into in names.iter().filter(|into| **into != from.name) {
                steps.next()?;
                let as_is = self.sample.print(self.job, Edit::merge(&from.name, into))?;
                let cost = Cost { as_is, again: from.drop.and_then(|drop| drop.again) };
                merges.push(MergeCost { from: from.name.clone(), into: into.clone(), cost, mixed: None });
            }
        }
        Ok(Costs { now: self.now, over_days: self.over_days, screens, merges })
    }

    /// The best ink that could be mixed for two screens in one, for each pair (the screen that goes, the screen
    /// that stays); none where a screen does not come from the separation. The colour comes from an estimate on the picture's weighed colours; what it
    /// costs is tried.
    pub fn mixes(
        &mut self,
        pairs: &[[ScreenName; 2]],
        shelf: &Shelf,
        progress: &Progress,
    ) -> Result<Vec<Option<Mixed>>, JobError> {
        let plan = planned(&self.job.separation, &self.job.edits)?;
        let at = |name: &ScreenName| plan.screens.iter().position(|s| s.name == *name);
        let places: Vec<Option<(usize, usize)>> = pairs.iter().map(|[a, b]| Some((at(a)?, at(b)?))).collect();
        let planned: Vec<(usize, usize)> = places.iter().flatten().copied().collect();
        let picture = &self.level.prepared.picture;
        let found = mixed_inks(picture, &self.job.ground(), shelf, &plan, &planned, &progress.part(0.0, 0.5))?;
        let mut found = found.into_iter();
        let steps = Steps::new("try mixed inks", pairs.len(), progress);
        let mut mixes = Vec::new();
        for (pair, place) in pairs.iter().zip(places) {
            steps.next()?;
            let Some(ink) = place.and_then(|_| found.next()) else {
                mixes.push(None);
                continue;
            };
            let act = Act::Mix { from: pair[0].clone(), into: pair[1].clone(), ink: Box::new(ink.clone()) };
            let again = self.again(&act, progress)?;
            mixes.push(again.map(|again| Mixed { color: ink.over_white, again, ink }));
        }
        Ok(mixes)
    }

    /// The print with each ink of the shelf that the job does not use yet on a screen, best first; separated
    /// again for the few that promise most.
    pub fn inks(&mut self, screen: &ScreenName, shelf: &Shelf, progress: &Progress) -> Result<Vec<InkCost>, JobError> {
        let used: Vec<&str> = self.sample.screens.list.iter().map(|s| s.ink.name.as_str()).collect();
        let inks: Vec<&Ink> = shelf.inks.iter().filter(|ink| !used.contains(&ink.name.as_str())).collect();
        let steps = Steps::new("try inks", inks.len() + INKS_TRIED, progress);
        let mut costs = Vec::new();
        for ink in &inks {
            steps.next()?;
            let as_is = self.sample.print(self.job, Edit::re_ink(screen, (*ink).clone()))?;
            costs.push(InkCost { ink: (*ink).clone(), cost: Cost { as_is, again: None } });
        }
        let plan = planned(&self.job.separation, &self.job.edits)?;
        if let Some(at) = plan.screens.iter().position(|s| s.name == *screen) {
            let picture = &self.level.prepared.picture;
            let estimates = inks_tried(picture, &self.job.ground(), &inks, &plan, at, &progress.quiet())?;
            let mut order: Vec<usize> = (0..inks.len()).collect();
            order.sort_by(|a, b| estimates[*a].mean.total_cmp(&estimates[*b].mean));
            for at in order.into_iter().take(INKS_TRIED) {
                steps.next()?;
                let act = Act::ReInk { screen: screen.clone(), ink: Box::new(costs[at].ink.clone()), again: true };
                costs[at].cost.again = self.again(&act, progress)?;
            }
        }
        costs.sort_by(|a, b| a.cost.as_is.total_cmp(&b.cost.as_is));
        Ok(costs)
    }
}

/// Each step of a trial, told.
struct Steps<'a> {
    what: &'static str,
    count: usize,
    done: std::cell::Cell<usize>,
    progress: &'a Progress,
}

impl<'a> Steps<'a> {
    fn new(what: &'static str, count: usize, progress: &'a Progress) -> Self {
        Self { what, count: count.max(1), done: std::cell::Cell::new(0), progress }
    }

    fn next(&self) -> Result<(), SeparateError> {
        self.done.set(self.done.get() + 1);
        let told: Result<(), Cancelled> = self.progress.step(self.what, self.done.get() as f32 / self.count as f32);
        told.map_err(SeparateError::Cancelled)
    }
}

fn small(cache: &mut Cache, job: &Job, art: &Arc<Art>, progress: &Progress) -> Result<Level, JobError> {
    evaluate_with(cache, job, art, Detail::Proxy { longest_px: TRIED_PX }, progress)
}

fn mean(level: &Level, job: &Job) -> f64 {
    job.difference(&level.screens, &level.prepared.picture)
}

/// The costs of every drop and merge, mixed inks included. `prepared` and `screens` are the job's own, at
/// full size.
pub fn costs(
    job: &Job,
    art: &Arc<Art>,
    shelf: &Shelf,
    (prepared, screens): (&Prepared, &Screens),
    progress: &Progress,
) -> Result<Costs, JobError> {
    let mut trial = Trial::new(job, art, prepared, screens, progress)?;
    let mut found = trial.costs(&progress.part(0.0, 0.4))?;
    let names = trial.names();
    let pairs = (0..names.len()).flat_map(|late| (0..late).map(move |early| [late, early]));
    let pairs: Vec<[ScreenName; 2]> = pairs.map(|pair| pair.map(|at| names[at].clone())).collect();
    let mixes = trial.mixes(&pairs, shelf, &progress.part(0.4, 1.0))?;
    for ([from, into], mixed) in pairs.iter().zip(mixes) {
        if let Some(merge) = found.merges.iter_mut().find(|m| m.from == *from && m.into == *into) {
            merge.mixed = mixed;
        }
    }
    Ok(found)
}
