//! From a job file to its screens: stored ones where they fit, made anew where not.

use strikeoff_core::Progress;
use strikeoff_core::job::{Art, Detail, Evaluated, JobError, Screens, evaluate};
use strikeoff_core::prep::prepare;

use super::JobFile;
use crate::art::{ArtError, ReadOptions, Received, receive_bytes};

/// Why a job file gives no screens.
#[derive(Debug, thiserror::Error)]
pub enum EvaluateError {
    /// Its art cannot be decoded.
    #[error(transparent)]
    Art(#[from] ArtError),
    /// The chain cannot be run.
    #[error(transparent)]
    Job(#[from] JobError),
}

impl JobFile {
    /// Decodes the art.
    pub fn art(&self) -> Result<Art, ArtError> {
        self.received().map(|received| received.art)
    }

    /// Decodes the art, the page that the job uses, with the facts of its file.
    pub fn received(&self) -> Result<Received, ArtError> {
        receive_bytes(&self.art_name, &self.art_bytes, ReadOptions { page: self.job.prep.page })
    }

    /// The art at print size and the screens at the full working resolution. Stored screens are
    /// taken if they fit ([`JobFile::screens_from`]).
    pub fn evaluated(&self, progress: &Progress) -> Result<Evaluated, EvaluateError> {
        Ok(self.evaluated_on(&self.art()?, progress)?)
    }

    /// Like [`JobFile::evaluated`], for a caller that has decoded the art of this file already.
    pub fn evaluated_on(&self, art: &Art, progress: &Progress) -> Result<Evaluated, JobError> {
        let Some(kept) = self.fitting_screens() else {
            return evaluate(&self.job, art, Detail::Full, progress);
        };
        let prepared = prepare(art, &self.job.prep, Detail::Full, progress)?;
        let Screens { width, height, .. } = kept.screens;
        if (width, height) != (prepared.picture.width(), prepared.picture.height()) {
            return evaluate(&self.job, art, Detail::Full, progress);
        }
        Ok(Evaluated { prepared, screens: kept.screens.clone() })
    }
}
