//! Art to screens, by the function that the verbs use, with its stages kept warm on the lane; and the
//! pictures that the table is drawn from. A new look (garment, show, hide) does not come here at all.

use std::sync::Arc;

use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use strikeoff_core::job::{Art, Cache, Detail, Job, JobError, Level, Screen, Screens, StageKeys, evaluate_with};
use strikeoff_core::prep::Prepared;
use strikeoff_core::tune::{TuneError, fitted};
use strikeoff_core::{Cancelled, Progress};

use super::keys::{Same, Value};
use super::slot::{Outcome, Slot};
use crate::render::Pyramid;
use crate::session::{Document, OlderScreens};

/// Longest side of the proxy in pixels: sharp on the table at first sight, evaluated in a moment.
pub const PROXY_PX: usize = 1400;
/// Longest side of the proxy's coarsest level.
const SMALL_PX: usize = 350;

/// What the screens of a document follow from.
#[derive(Debug, Clone, PartialEq)]
pub struct ScreensKey {
    art: Same<Art>,
    /// The parts of the job that reach the screens.
    pub inputs: Value<StageKeys>,
    older: Option<OlderScreens>,
}

impl ScreensKey {
    /// That of a document.
    pub fn of(doc: &Document) -> Self {
        Self { art: Same(doc.art.clone()), inputs: Value::new(StageKeys::of(&doc.job)), older: doc.older_screens() }
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

    /// The job's screens at full size, from nothing.
    pub fn full(&self, progress: &Progress) -> Result<Arc<Screens>, JobError> {
        self.level(&mut Cache::default(), Detail::Full, progress).map(|level| level.screens)
    }

    /// Art to screens. Screens of an older algorithm that belong to the job stand for it as they are.
    fn level(&self, cache: &mut Cache, detail: Detail, progress: &Progress) -> Result<Level, JobError> {
        let older = self.older.as_ref().and_then(|older| older.of(&self.job));
        let Some(kept) = older else { return evaluate_with(cache, &self.job, &self.art, detail, progress) };
        let prepared = cache.prepared(&self.job, &self.art, detail, progress)?;
        let screens = at_size(&kept.screens, &prepared, progress).map_err(TuneError::from)?;
        Ok(Level { prepared, screens: Arc::new(screens) })
    }
}

/// Pictures of one state of the job.
pub struct Evaluated {
    /// What every view is drawn from.
    pub pyramid: Arc<Pyramid>,
    /// The prepared artwork, small; for the proxy alone.
    pub thumbnail: Option<TextureHandle>,
}

/// The slot of an evaluation.
pub type Evaluation = Slot<ScreensKey, Evaluated, Warm>;

/// What the lane keeps from one evaluation to the next.
#[derive(Default)]
pub struct Warm {
    cache: Cache,
    halved: Vec<Arc<Prepared>>,
    thumbnail: Option<(Arc<Prepared>, TextureHandle)>,
}

/// Evaluates a document at proxy size.
pub fn proxy(doc: &Document, ctx: &Context) -> impl FnOnce(&mut Warm, &Progress) -> Outcome<Evaluated> + use<> {
    let (request, ctx) = (Evaluate::new(doc), ctx.clone());
    move |warm, progress| {
        let pyramid = evaluated(&request, Detail::Proxy { longest_px: PROXY_PX }, SMALL_PX, warm, progress)?;
        Some(pyramid.map(|pyramid| {
            let thumbnail = pyramid.levels.last().map(|level| thumbnail(&level.prepared, &ctx, warm));
            Evaluated { pyramid: Arc::new(pyramid), thumbnail }
        }))
    }
}

/// Evaluates a document at full size.
pub fn full(doc: &Document) -> impl FnOnce(&mut Warm, &Progress) -> Outcome<Evaluated> + use<> {
    let request = Evaluate::new(doc);
    move |warm, progress| {
        let pyramid = evaluated(&request, Detail::Full, PROXY_PX, warm, progress)?;
        Some(pyramid.map(|pyramid| Evaluated { pyramid: Arc::new(pyramid), thumbnail: None }))
    }
}

fn evaluated(
    request: &Evaluate,
    detail: Detail,
    stop_px: usize,
    warm: &mut Warm,
    progress: &Progress,
) -> Outcome<Pyramid> {
    let level = request.level(&mut warm.cache, detail, progress);
    // Stopped work says nothing; everything else is said in its own sentence.
    progress.step("", 1.0).ok()?;
    match level {
        Ok(level) => {
            let pyramid = Pyramid::build(level, stop_px, &warm.halved, progress).ok()?;
            warm.halved = pyramid.levels.iter().map(|level| level.prepared.clone()).collect();
            Some(Ok(pyramid))
        }
        Err(error) => Some(Err(error.to_string())),
    }
}

/// The prepared picture on the graphics card; made once for the same picture.
fn thumbnail(prepared: &Arc<Prepared>, ctx: &Context, warm: &mut Warm) -> TextureHandle {
    if let Some((of, texture)) = &warm.thumbnail
        && Arc::ptr_eq(of, prepared)
    {
        return texture.clone();
    }
    let picture = &prepared.picture;
    let image = ColorImage::from_rgba_unmultiplied([picture.width(), picture.height()], &picture.to_rgba8());
    let texture = ctx.load_texture("artwork", image, TextureOptions::LINEAR);
    warm.thumbnail = Some((prepared.clone(), texture.clone()));
    texture
}

/// Stored screens at the size of the prepared art: themselves at full size, reduced for a proxy.
fn at_size(screens: &Screens, prepared: &Prepared, progress: &Progress) -> Result<Screens, Cancelled> {
    let (width, height) = (prepared.picture.width(), prepared.picture.height());
    let sized = |s: &Screen| Ok(Screen { coverage: fitted(&s.coverage, width, height, progress)?, ..s.clone() });
    let list = screens.list.iter().map(sized).collect::<Result<Vec<_>, Cancelled>>()?;
    Ok(Screens { width, height, ppi: prepared.ppi, list })
}
