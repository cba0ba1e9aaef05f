//! From a job file to its screens: stored ones where they fit, made again where not.

use strikeoff_core::Progress;
use strikeoff_core::job::{Evaluated, JobError, evaluate};
use strikeoff_core::prep::{Prepared, prepare};
use strikeoff_core::raster::{Art, Detail};
use strikeoff_core::screens::Screens;
use strikeoff_core::units::MM_PER_INCH;

use super::JobFile;
use crate::art::{ArtError, ReadOptions, Received, receive_bytes_watched};
use crate::limits::{Budget, check_evaluation};

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
        self.art_watched(&Progress::none())
    }

    /// Decodes the art, the page that the job uses, with the facts of its file.
    pub fn received(&self) -> Result<Received, ArtError> {
        self.received_watched(&Progress::none())
    }

    /// Like [`JobFile::received`]; cancelling `progress` ends the drawing of an SVG or PDF.
    pub fn received_watched(&self, progress: &Progress) -> Result<Received, ArtError> {
        receive_bytes_watched(&self.art_name, &self.art_bytes, ReadOptions { page: self.job.prep.page }, progress)
    }

    fn art_watched(&self, progress: &Progress) -> Result<Art, ArtError> {
        self.received_watched(progress).map(|received| received.art)
    }

    /// The art at print size and the screens at the full working resolution. Stored screens are
    /// taken if they fit ([`JobFile::screens_from`]).
    pub fn evaluated(&self, progress: &Progress) -> Result<Evaluated, EvaluateError> {
        Ok(self.evaluated_on(&self.art_watched(progress)?, progress)?)
    }

    /// Like [`JobFile::evaluated`], for a caller that has decoded the art of this file already.
    pub fn evaluated_on(&self, art: &Art, progress: &Progress) -> Result<Evaluated, JobError> {
        if let Some(kept) = self.fitting_screens()
            && let Some(prepared) = self.beside(&kept.screens, art, Detail::Full, progress)?
        {
            return Ok(Evaluated { prepared, screens: kept.screens.clone() });
        }
        self.made(art, progress)
    }

    /// The screens made from the art, if that fits into memory beside the file itself.
    fn made(&self, art: &Art, progress: &Progress) -> Result<Evaluated, JobError> {
        let budget = Budget::of_machine().less(self.art_bytes.len() as u64);
        check_evaluation(&self.job, art, Detail::Full, budget)?;
        evaluate(&self.job, art, Detail::Full, progress)
    }

    /// Like [`JobFile::evaluated`], for findings and sheets: they read the screens at the full working
    /// resolution, and the art only as a picture of some hundred thousand spots to hold beside them.
    /// Where stored screens fit they are taken out of the file, and the art is prepared with at most
    /// 1600 pixels on its longer side.
    pub fn evaluated_for_press(&mut self, progress: &Progress) -> Result<Evaluated, EvaluateError> {
        let art = self.art_watched(progress)?;
        let fitting = self.fitting_screens().is_some();
        if let Some(kept) = self.screens.take().filter(|_| fitting)
            && let Some(prepared) = self.beside(&kept.screens, &art, Detail::Proxy { longest_px: 1600 }, progress)?
        {
            return Ok(Evaluated { prepared, screens: kept.screens });
        }
        Ok(self.made(&art, progress)?)
    }

    /// The art for screens that were made from it; none if it would be of another size at the full
    /// working resolution.
    fn beside(
        &self,
        screens: &Screens,
        art: &Art,
        detail: Detail,
        progress: &Progress,
    ) -> Result<Option<Prepared>, JobError> {
        let settings = self.job.working_prep();
        let prepared = prepare(art, &settings, detail, progress)?;
        let px = prepared.print_size_mm.map(|mm| ((mm / MM_PER_INCH * settings.ppi.get()).round() as usize).max(1));
        Ok(([screens.width, screens.height] == px).then_some(prepared))
    }
}
