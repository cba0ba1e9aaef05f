//! Art to screens, by the function that the verbs use, with its stages kept warm on the lane; and the
//! pictures that the table is drawn from. A new look (garment, show, hide) does not come here at all.

use std::sync::Arc;

use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use strikeoff_core::Progress;
use strikeoff_core::job::Cache;
use strikeoff_core::prep::Prepared;
use strikeoff_core::raster::Detail;

use super::slot::{Outcome, Slot};
use crate::render::Pyramid;
use crate::session::{Document, Evaluate, ScreensKey};

/// Longest side of the proxy in pixels: sharp on the table at first sight, evaluated in a moment.
pub const PROXY_PX: usize = 1400;
/// Longest side of the proxy's coarsest level.
const SMALL_PX: usize = 350;

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
