//! Advice that takes a while: which inks would print this picture, and what each screen is worth.
//! Both look at a small picture.

use std::sync::Arc;

use egui::{Context, TextureHandle, TextureOptions};
use strikeoff_core::Progress;
use strikeoff_core::job::{Job, Level, ScreenInputs};
use strikeoff_core::separate::{Choice, InkRequest, SeparationSettings, Worth, screen_worth, separate, suggest};
use strikeoff_core::tune::planned;

use super::slot::Outcome;
use crate::render::View;
use crate::render::{Look, PxRect, draw};
use crate::session::Shop;
use crate::session::{Same, Value};

/// What ink sets follow from: the picture, the job, what is to be chosen for, the shelf.
pub type InksKey = (Same<Level>, Value<ScreenInputs>, InkRequest, Same<Shop>);
/// What the worth of screens follows from.
pub type WorthKey = (Same<Level>, Value<ScreenInputs>);

/// A set of inks on offer.
pub struct Offer {
    /// The inks and their figures.
    pub choice: Choice,
    /// A small proof on the job's garment.
    pub proof: TextureHandle,
}

/// Looks for ink sets, from one screen up.
pub fn suggest_inks(
    job: &Job,
    key: &InksKey,
    ctx: &Context,
) -> impl FnOnce(&mut (), &Progress) -> Outcome<Vec<Offer>> + use<> {
    let (job, key, ctx) = (job.clone(), key.clone(), ctx.clone());
    move |(), progress| {
        let found = ink_sets(&job, &key, &ctx, progress);
        progress.step("", 1.0).ok()?;
        Some(found)
    }
}

fn ink_sets(job: &Job, key: &InksKey, ctx: &Context, progress: &Progress) -> Result<Vec<Offer>, String> {
    let (level, _, request, shop) = key;
    let picture = &level.prepared.picture;
    let ground = job.ground();
    let found = suggest(picture, &ground, &shop.shelf, request, &job.separation, progress)
        .map_err(|error| error.to_string())?;
    let mut offers = Vec::new();
    for choice in found.curve {
        let settings = SeparationSettings { screens: choice.screens(), ..job.separation.clone() };
        let screens = separate(&level.prepared, &ground, &settings, progress).map_err(|error| error.to_string())?;
        let small = Level { prepared: level.prepared.clone(), screens: Arc::new(screens) };
        let look = Look {
            view: View::Print,
            garment: job.garment.clone(),
            press: job.press.clone(),
            film: job.film.clone(),
            hidden: Default::default(),
            screen: None,
            drifts: Default::default(),
        };
        let [width, height] = small.size_px();
        let proof = draw(&small, &look, PxRect { x: 0, y: 0, width, height });
        offers.push(Offer { choice, proof: ctx.load_texture("ink set", proof, TextureOptions::LINEAR) });
    }
    Ok(offers)
}

/// Weighs the screens: what dropping or merging each would cost.
pub fn weigh_screens(
    job: &Job,
    level: &Arc<Level>,
    shop: &Arc<Shop>,
) -> impl FnOnce(&mut (), &Progress) -> Outcome<Worth> + use<> {
    let (job, level, shop) = (job.clone(), level.clone(), shop.clone());
    move |(), progress| {
        let plan = planned(&job.separation, &job.edits).ok()?;
        let picture = &level.prepared.picture;
        screen_worth(picture, &job.ground(), &shop.shelf, &plan, progress).ok().map(Ok)
    }
}
