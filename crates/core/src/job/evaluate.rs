//! The chain from art to screens.

use std::sync::Arc;

use super::Job;
use super::cache::{Level, evaluate_once};
use crate::Progress;
use crate::bounds::OutOfBounds;
use crate::prep::{PrepError, Prepared};
use crate::raster::{Art, Detail};
use crate::screens::Screens;
use crate::separate::SeparateError;
use crate::tune::TuneError;

/// Version of the computation from art to screens. It goes up whenever the same job and art would
/// give other screens, so that a job file can say so and keep the screens that were printed.
pub const ALGORITHM_VERSION: u32 = 10;

/// What a job gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluated {
    /// The art at print size.
    pub prepared: Prepared,
    /// The screens in print order.
    pub screens: Screens,
}

/// Why a job cannot be evaluated.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// A setting beyond its range.
    #[error(transparent)]
    Bounds(#[from] OutOfBounds),
    /// In preparation.
    #[error(transparent)]
    Prep(#[from] PrepError),
    /// In separation.
    #[error(transparent)]
    Separate(#[from] SeparateError),
    /// In an edit.
    #[error(transparent)]
    Tune(#[from] TuneError),
    /// More memory than may be used; says so in one sentence.
    #[error("{0}")]
    Memory(String),
}

/// Runs the chain from art to screens: the one way for window and verbs. [`super::evaluate_with`] is the
/// same with a cache.
pub fn evaluate(job: &Job, art: &Art, detail: Detail, progress: &Progress) -> Result<Evaluated, JobError> {
    let Level { prepared, screens } = evaluate_once(job, art, detail, progress)?;
    // Nobody else holds them.
    Ok(Evaluated { prepared: Arc::unwrap_or_clone(prepared), screens: Arc::unwrap_or_clone(screens) })
}
