//! From a job file to its screens: stored ones where they fit, made anew where not.

use strikeoff_core::Progress;
use strikeoff_core::job::{Art, Detail, Evaluated, JobError, Screens, evaluate};
use strikeoff_core::prep::prepare;

use super::JobFile;

impl JobFile {
    /// The art at print size and the screens at the full working resolution, `art` being the
    /// decoded art of this file. Stored screens are taken if they fit ([`JobFile::screens_from`]).
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
