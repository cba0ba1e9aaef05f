//! The chain from art to screens with its stages kept: only what a change reaches is computed again.
//! Each stage is kept with the parts of the job that it depends on, compared by value; the art counts as
//! the same while it is the same object. A result from a warm cache is bit for bit that of a cold one.

use std::sync::Arc;

use super::{GroundInputs, Job, JobError};
use crate::Progress;
use crate::prep::{PrepSettings, Prepared, prepare};
use crate::raster::{Art, Detail};
use crate::screens::Screens;
use crate::separate::{SeparationSettings, separate_on};
use crate::tune::{EditEntry, apply_edits_in, planned};

/// Art and screens at one resolution: what every view is drawn from.
#[derive(Debug, Clone)]
pub struct Level {
    /// The art at print size.
    pub prepared: Arc<Prepared>,
    /// The screens in print order.
    pub screens: Arc<Screens>,
}

impl Level {
    /// Pixels across and down.
    pub fn size_px(&self) -> [usize; 2] {
        [self.screens.width, self.screens.height]
    }
}

/// Screens and the edits that led to them.
#[derive(Clone)]
struct Tuned {
    edits: Vec<EditEntry>,
    screens: Arc<Screens>,
}

impl Tuned {
    /// Whether what was done so far is also the beginning of `edits`.
    fn begins(&self, edits: &[EditEntry]) -> bool {
        edits.starts_with(&self.edits)
    }
}

/// What a cache holds on to.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Keep {
    /// Nothing: for a single evaluation, which then copies no screens.
    Nothing,
    /// Every stage.
    Stages,
}

/// Remembers the last result of each stage. One cache serves one detail at a time; another detail
/// starts it over.
pub struct Cache {
    keep: Keep,
    /// Held, so that its address stays its own as long as it is compared.
    art: Option<Arc<Art>>,
    prepared: Option<((PrepSettings, Detail), Arc<Prepared>)>,
    separated: Option<((GroundInputs, SeparationSettings), Arc<Screens>)>,
    /// The last result, and the screens before the edit that changes now: a drag of a late edit does
    /// not apply the earlier ones again. Kept for proxies alone: at full size a second set of screens
    /// costs more memory than the edits cost time.
    tuned: Option<Tuned>,
    before: Option<Tuned>,
}

impl Default for Cache {
    fn default() -> Self {
        Self::new(Keep::Stages)
    }
}

impl Cache {
    fn new(keep: Keep) -> Self {
        Self { keep, art: None, prepared: None, separated: None, tuned: None, before: None }
    }

    /// Keeps nothing of another artwork.
    fn hold(&mut self, art: &Arc<Art>) {
        if self.art.as_ref().is_none_or(|old| !Arc::ptr_eq(old, art)) {
            *self = Self { art: Some(art.clone()), ..Self::new(self.keep) };
        }
    }

    /// The art at print size.
    pub fn prepared(
        &mut self,
        job: &Job,
        art: &Arc<Art>,
        detail: Detail,
        progress: &Progress,
    ) -> Result<Arc<Prepared>, JobError> {
        self.hold(art);
        self.prepare(job, art, detail, progress)
    }

    fn prepare(
        &mut self,
        job: &Job,
        art: &Art,
        detail: Detail,
        progress: &Progress,
    ) -> Result<Arc<Prepared>, JobError> {
        let key = (job.working_prep(), detail);
        if let Some((old, prepared)) = &self.prepared
            && *old == key
        {
            return Ok(prepared.clone());
        }
        self.forget_screens();
        self.prepared = None;
        let prepared = Arc::new(prepare(art, &key.0, detail, progress)?);
        if self.keep == Keep::Stages {
            self.prepared = Some((key, prepared.clone()));
        }
        Ok(prepared)
    }

    fn separate(&mut self, job: &Job, prepared: &Prepared, progress: &Progress) -> Result<Arc<Screens>, JobError> {
        let key = (GroundInputs::of(job), planned(&job.separation, &job.edits)?);
        if let Some((old, screens)) = &self.separated
            && *old == key
        {
            return Ok(screens.clone());
        }
        self.forget_screens();
        let screens = separate_on(prepared, &job.printings(), &key.1, progress)?;
        let screens = Arc::new(screens);
        if self.keep == Keep::Stages {
            self.separated = Some((key, screens.clone()));
        }
        Ok(screens)
    }

    fn tune(
        &mut self,
        job: &Job,
        prepared: &Prepared,
        separated: Arc<Screens>,
        detail: Detail,
        progress: &Progress,
    ) -> Result<Arc<Screens>, JobError> {
        let edits = &job.edits;
        let apply = |screens: Arc<Screens>, from: usize, to: usize| {
            if from == to {
                return Ok(screens);
            }
            // Copied only where the cache keeps them.
            let mut screens = Arc::unwrap_or_clone(screens);
            apply_edits_in(&mut screens, prepared, edits, from..to, &job.ground(), progress)?;
            Ok::<_, JobError>(Arc::new(screens))
        };
        if self.keep == Keep::Nothing || detail == Detail::Full {
            return apply(separated, 0, edits.len());
        }
        let start = [&self.tuned, &self.before].into_iter().flatten().filter(|kept| kept.begins(edits));
        let start = start.max_by_key(|kept| kept.edits.len()).cloned();
        let start = start.unwrap_or(Tuned { edits: Vec::new(), screens: separated });
        // As far as the last evaluation had the same edits, the next one likely will too.
        let common = self
            .tuned
            .as_ref()
            .map_or(0, |last| last.edits.iter().zip(edits).take_while(|(old, new)| old == new).count());
        let middle = common.max(start.edits.len());
        let screens = apply(start.screens, start.edits.len(), middle)?;
        let before = Tuned { edits: edits[..middle].to_vec(), screens: screens.clone() };
        let screens = apply(screens, middle, edits.len())?;
        self.before = Some(before);
        self.tuned = Some(Tuned { edits: edits.clone(), screens: screens.clone() });
        Ok(screens)
    }

    fn forget_screens(&mut self) {
        (self.separated, self.tuned, self.before) = (None, None, None);
    }
}

/// As [`super::evaluate`], computing again only what has changed since the last call with this cache.
pub fn evaluate_with(
    cache: &mut Cache,
    job: &Job,
    art: &Arc<Art>,
    detail: Detail,
    progress: &Progress,
) -> Result<Level, JobError> {
    cache.hold(art);
    chain(cache, job, art, detail, progress)
}

/// One evaluation that keeps nothing.
pub(super) fn evaluate_once(job: &Job, art: &Art, detail: Detail, progress: &Progress) -> Result<Level, JobError> {
    chain(&mut Cache::new(Keep::Nothing), job, art, detail, progress)
}

/// The chain itself.
fn chain(cache: &mut Cache, job: &Job, art: &Art, detail: Detail, progress: &Progress) -> Result<Level, JobError> {
    job.check()?;
    let prepared = cache.prepare(job, art, detail, progress)?;
    let separated = cache.separate(job, &prepared, progress)?;
    let screens = cache.tune(job, &prepared, separated, detail, progress)?;
    Ok(Level { prepared, screens })
}
