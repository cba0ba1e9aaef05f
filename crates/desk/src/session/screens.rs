//! From a document to its screens, by the function that the verbs use; and what they follow from.

use std::sync::Arc;

use strikeoff_core::job::{Cache, Job, JobError, Level, ScreenInputs, evaluate_with};
use strikeoff_core::prep::Prepared;
use strikeoff_core::raster::{Art, Detail};
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::tune::{TuneError, fitted};
use strikeoff_core::{Cancelled, Progress};
use strikeoff_files::limits::{Budget, check_evaluation};

use super::{Document, OlderScreens, Same, Value};

/// What the screens of a document follow from.
#[derive(Debug, Clone, PartialEq)]
pub struct ScreensKey {
    art: Same<Art>,
    /// The parts of the job that reach the screens.
    pub inputs: Value<ScreenInputs>,
    /// Which edits are switched on: errors name edits by their number.
    on: Vec<bool>,
    older: Option<OlderScreens>,
}

impl ScreensKey {
    /// That of a document.
    pub fn of(doc: &Document) -> Self {
        Self {
            art: Same(doc.art.clone()),
            inputs: Value::new(doc.job.screen_inputs()),
            on: doc.job.edits.iter().map(|entry| entry.on).collect(),
            older: doc.older_screens(),
        }
    }
}

/// A job and its art.
pub struct Evaluate {
    job: Job,
    art: Arc<Art>,
    older: Option<OlderScreens>,
}

impl Evaluate {
    /// That of a document.
    pub fn new(doc: &Document) -> Self {
        Self { job: doc.job.clone(), art: doc.art.clone(), older: doc.older_screens() }
    }

    /// The same art with another job.
    pub fn with(self, job: Job) -> Self {
        Self { job, ..self }
    }

    /// The job's screens at full size, from nothing.
    pub fn full(&self, progress: &Progress) -> Result<Arc<Screens>, JobError> {
        self.level(&mut Cache::default(), Detail::Full, progress).map(|level| level.screens)
    }

    /// Art to screens. Screens of an older algorithm that belong to the job stand for it as they are.
    pub fn level(&self, cache: &mut Cache, detail: Detail, progress: &Progress) -> Result<Level, JobError> {
        check_evaluation(&self.job, &self.art, detail, Budget::of_machine())?;
        let older = self.older.as_ref().and_then(|older| older.of(&self.job));
        let Some(kept) = older else { return evaluate_with(cache, &self.job, &self.art, detail, progress) };
        let prepared = cache.prepared(&self.job, &self.art, detail, progress)?;
        let screens = at_size(&kept.screens, &prepared, progress).map_err(TuneError::from)?;
        Ok(Level { prepared, screens: Arc::new(screens) })
    }
}

/// Stored screens at the size of the prepared art: themselves at full size, reduced for a proxy.
fn at_size(screens: &Screens, prepared: &Prepared, progress: &Progress) -> Result<Screens, Cancelled> {
    let (width, height) = (prepared.picture.width(), prepared.picture.height());
    let sized = |s: &Screen| Ok(Screen { coverage: fitted(&s.coverage, width, height, progress)?, ..s.clone() });
    let list = screens.list.iter().map(sized).collect::<Result<Vec<_>, Cancelled>>()?;
    Ok(Screens { width, height, ppi: prepared.ppi, list })
}
