//! The chain from art to screens.

use super::Job;
use crate::Progress;
use crate::bounds::OutOfBounds;
use crate::prep::{PrepError, Prepared, prepare};
use crate::raster::{Art, Detail};
use crate::screens::Screens;
use crate::separate::{SeparateError, separate};
use crate::tune::{TuneError, apply_edits, planned};

/// Version of the computation from art to screens. It goes up whenever the same job and art would
/// give other screens, so that a job file can say so and keep the screens that were printed.
pub const ALGORITHM_VERSION: u32 = 5;

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

/// Runs the chain from art to screens: the one way for window and verbs.
pub fn evaluate(job: &Job, art: &Art, detail: Detail, progress: &Progress) -> Result<Evaluated, JobError> {
    job.check()?;
    let prepared = prepare(art, &job.working_prep(), detail, progress)?;
    let ground = job.ground();
    let mut screens = separate(&prepared, &ground, &planned(&job.separation, &job.edits)?, progress)?;
    apply_edits(&mut screens, &prepared, &job.edits, &ground, progress)?;
    Ok(Evaluated { prepared, screens })
}
