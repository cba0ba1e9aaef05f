//! What the bench knows of methods: which one suits the artwork and why, and what each flat colour
//! of spot art is printed with. Found while the separation is in sight.

use std::sync::Arc;

use strikeoff_core::Progress;
use strikeoff_core::color::Rgb8;
use strikeoff_core::job::{Job, ScreenInputs};
use strikeoff_core::prep::Prepared;
use strikeoff_core::separate::{Method, MethodAdvice, SpotColor, advise_method, spot_colors};
use strikeoff_core::tune::planned;

use super::slot::Outcome;
use super::unmet::unmet_color;
use crate::session::{Same, Value};

/// The prepared art and what the job makes of it.
pub type MethodKey = (Same<Prepared>, Value<ScreenInputs>);

/// What came of it.
pub struct MethodStudy {
    /// The method that suits the artwork.
    pub advice: MethodAdvice,
    /// The artwork's colour that is farthest from all inks of the job.
    pub unmet: Option<Rgb8>,
    /// For spot art: the flat colours and what prints each.
    pub spots: Vec<SpotColor>,
}

/// Looks at methods for a job.
pub fn look_at_methods(
    job: &Job,
    prepared: &Arc<Prepared>,
) -> impl FnOnce(&mut (), &Progress) -> Outcome<MethodStudy> + use<> {
    let (job, prepared) = (job.clone(), prepared.clone());
    move |(), progress| {
        let picture = &prepared.picture;
        let advice = advise_method(picture);
        progress.step("look at methods", 0.5).ok()?;
        let plan = planned(&job.separation, &job.edits).unwrap_or_else(|_| job.separation.clone());
        let spots = match plan.method {
            Method::SpotArt => spot_colors(picture, &job.ground(), &plan),
            _ => Ok(Vec::new()),
        };
        let inks = plan.screens.iter().map(|screen| screen.ink.over_white);
        let unmet = unmet_color(picture, &inks.chain([job.garment.color]).collect::<Vec<_>>());
        // What cannot be separated says so where the proof would be.
        Some(Ok(MethodStudy { advice, unmet, spots: spots.unwrap_or_default() }))
    }
}
