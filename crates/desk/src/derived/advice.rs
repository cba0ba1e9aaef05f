//! Advice that takes a while: which inks would print this picture. Sets are looked for on a small picture;
//! what each is worth is tried on the job.

use egui::{Context, TextureHandle, TextureOptions};
use strikeoff_core::Progress;
use strikeoff_core::job::{InkSet, InkSetsError, Job, Level, ScreenInputs, ink_sets};
use strikeoff_core::raster::Art;
use strikeoff_core::separate::InkRequest;

use super::slot::Outcome;
use crate::render::View;
use crate::render::{Look, PxRect, draw};
use crate::session::{Document, Same, Shop, Value};

/// What ink sets follow from: the art, the job, what is to be chosen for, the shelf.
#[derive(Clone, PartialEq)]
pub struct InksKey {
    /// The artwork.
    pub art: Same<Art>,
    /// The parts of the job that reach the screens.
    pub inputs: Value<ScreenInputs>,
    /// What is to be chosen for.
    pub request: InkRequest,
    /// The shop's shelf.
    pub shop: Same<Shop>,
}

/// A set of inks on offer.
pub struct Offer {
    /// The inks and their figures.
    pub set: InkSet,
    /// A small proof on the job's garment.
    pub proof: TextureHandle,
}

/// Sets of inks on offer.
pub struct Offers {
    /// The sets, fewest screens first.
    pub sets: Vec<Offer>,
    /// The place of the one that is recommended.
    pub chosen: usize,
    /// The most screens that were tried.
    pub tried: usize,
}

/// Looks for ink sets, from one screen up. `full` is the job's own print at full size, where it is at hand.
pub fn suggest_inks(
    doc: &Document,
    key: &InksKey,
    full: Option<Level>,
    ctx: &Context,
) -> impl FnOnce(&mut (), &Progress) -> Outcome<Offers> + use<> {
    let (job, key, ctx) = (doc.job.clone(), key.clone(), ctx.clone());
    move |(), progress| {
        let found = offers(&job, &key, full.as_ref(), &ctx, progress);
        progress.step("", 1.0).ok()?;
        Some(found.map_err(|error| error.to_string()))
    }
}

fn offers(
    job: &Job,
    key: &InksKey,
    full: Option<&Level>,
    ctx: &Context,
    progress: &Progress,
) -> Result<Offers, InkSetsError> {
    let print = full.map(|level| (&*level.prepared, &*level.screens));
    let found = ink_sets(job, &key.art.0, &key.shop.shelf, &key.request, print, progress)?;
    let offer = |set: InkSet| {
        let done = set.act().done(job);
        let look = Look {
            view: View::Print,
            garment: done.garment,
            left_out: std::collections::BTreeSet::new(),
            press: done.press,
            run: done.run,
            film: done.film,
            hidden: Default::default(),
            screen: None,
            drifts: Default::default(),
            bands: None,
        };
        let [width, height] = set.level.size_px();
        let proof = draw(&set.level, &look, PxRect { x: 0, y: 0, width, height });
        Offer { proof: ctx.load_texture("ink set", proof, TextureOptions::LINEAR), set }
    };
    Ok(Offers { sets: found.sets.into_iter().map(offer).collect(), chosen: found.chosen, tried: found.tried })
}
