//! Small figures beside the controls that they belong to: what films would be written, how a screen
//! beats with its mesh, what differs from a named version.

use std::sync::Arc;

use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use strikeoff_core::screens::ScreenName;

use strikeoff_core::Progress;
use strikeoff_core::halftone::DotShape;
use strikeoff_core::job::{Job, SettingDifference, compare};
use strikeoff_core::moire::{FilmSet, film_sets, mesh_risk};
use strikeoff_core::screens::Screens;
use strikeoff_core::units::{Degrees, Lpi, Ppi};
use strikeoff_core::usage::Mesh;
use strikeoff_files::film::{FilmOptions, FilmPlan, plan_films};

use super::slot::Outcome;
use crate::session::{Same, Value};

/// What a plan of films follows from.
pub type FilmsKey = (Same<Screens>, Value<Job>, FilmOptions);
/// What film sets follow from.
pub type FilmSetsKey = (Same<Screens>, Value<Job>);
/// Dots and the mesh that they are printed through.
pub type RiskKey = (Lpi, Degrees, DotShape, Mesh);
/// A version's job and the present one.
pub type DifferencesKey = (Value<Job>, Value<Job>);

/// Plans the films.
pub fn plan(key: &FilmsKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<FilmPlan> + use<> {
    let (screens, job, options) = key.clone();
    move |(), _| Some(plan_films(&job, &screens, &options).map_err(|error| error.to_string()))
}

/// A film set, with its dots on the screen.
pub struct FilmSetShown {
    /// The set.
    pub set: FilmSet,
    /// Its close-up.
    pub close_up: TextureHandle,
}

/// Tries film sets.
pub fn try_film_sets(
    key: &FilmSetsKey,
    ctx: &Context,
) -> impl FnOnce(&mut (), &Progress) -> Outcome<Arc<Vec<FilmSetShown>>> + use<> {
    let ((screens, job), ctx) = (key.clone(), ctx.clone());
    move |(), progress| {
        let shown = |set: FilmSet| {
            let size = [set.close_up.width(), set.close_up.height()];
            let image = ColorImage::from_rgba_unmultiplied(size, &set.close_up.to_rgba8());
            FilmSetShown { close_up: ctx.load_texture("dots of a film set", image, TextureOptions::LINEAR), set }
        };
        Some(Ok(Arc::new(film_sets(&job, &screens, progress).ok()?.into_iter().map(shown).collect())))
    }
}

/// What a screen's moire with its mesh follows from.
pub fn risk_key(job: &Job, screen: &ScreenName) -> RiskKey {
    let (ruling, angle, dot) = job.film.of_screen(screen);
    (ruling, angle, dot, job.run.mesh_of(screen).clone())
}

/// How visibly a screen beats with its mesh, 0..=1.
pub fn beat_risk(job: &Job, screen: &ScreenName) -> impl FnOnce(&mut (), &Progress) -> Outcome<f64> + use<> {
    let (job, screen) = (job.clone(), screen.to_owned());
    move |(), _| Some(Ok(mesh_risk(&job, &screen)))
}

/// What differs between a version and the job as it is, in settings: a line each.
pub fn differences(key: &DifferencesKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<Arc<Vec<String>>> + use<> {
    let (version, now) = key.clone();
    move |(), _| {
        let ppi = Ppi::new(1.0).unwrap_or_else(|_| unreachable!());
        let none = Screens { width: 0, height: 0, ppi, list: Vec::new() };
        let found = compare((&version, &none), (&now, &none));
        Some(Ok(Arc::new(found.settings.iter().map(SettingDifference::words).collect())))
    }
}
