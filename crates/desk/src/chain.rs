//! The chain from art to screens with its stages kept: only what a change touches is done again.
//! Gives the same as `job::evaluate`, which a test holds it to; a new look (garment, show, hide)
//! does not come here at all, and an edit starts from the separated screens.

use std::sync::Arc;

use strikeoff_core::ink::Garment;
use strikeoff_core::job::{Job, JobError};
use strikeoff_core::prep::{PrepSettings, Prepared, prepare};
use strikeoff_core::press::PrintModel;
use strikeoff_core::raster::{Art, Detail};
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::separate::{SeparationSettings, separate};
use strikeoff_core::tune::{TuneError, apply_edits, fitted, planned};
use strikeoff_core::units::Lpi;
use strikeoff_core::{Cancelled, Progress};
use strikeoff_files::job::KeptScreens;
use strikeoff_files::limits::{Budget, check_evaluation};

/// Art and screens at one resolution: what every view is drawn from.
#[derive(Debug, Clone)]
pub struct Level {
    /// The art at print size.
    pub prepared: Arc<Prepared>,
    /// The screens in print order.
    pub screens: Arc<Screens>,
}

impl Level {
    /// Pixels across and down.
    pub fn size_px(&self) -> [usize; 2] {
        [self.screens.width, self.screens.height]
    }
}

/// What the preparation hangs on.
#[derive(PartialEq)]
struct PrepKey {
    art: usize,
    settings: PrepSettings,
    detail: Detail,
}

/// What the separation hangs on, besides the prepared picture.
#[derive(PartialEq)]
struct SeparationKey {
    garment: Garment,
    settings: SeparationSettings,
    press: PrintModel,
    ruling: Lpi,
}

/// Remembers the last outcome of each stage.
#[derive(Default)]
pub struct Chain {
    art: Option<Arc<Art>>,
    prepared: Option<(PrepKey, Arc<Prepared>)>,
    separated: Option<(SeparationKey, Arc<Screens>)>,
}

impl Chain {
    /// Art to screens, doing again only what changed since the last call. Screens in `stored` stand
    /// for the job as they are.
    pub fn evaluate(
        &mut self,
        job: &Job,
        art: &Arc<Art>,
        detail: Detail,
        stored: Option<&KeptScreens>,
        go: &Progress,
    ) -> Result<Level, JobError> {
        // The art is held, so its address stays its own as long as the key is compared.
        let key = PrepKey { art: Arc::as_ptr(art) as usize, settings: job.working_prep(), detail };
        let prepared = match &self.prepared {
            Some((old, prepared)) if *old == key => prepared.clone(),
            _ => {
                check_evaluation(job, art, detail, Budget::of_machine())?;
                self.separated = None;
                let prepared = Arc::new(prepare(art, &key.settings, detail, go)?);
                self.art = Some(art.clone());
                self.prepared = Some((key, prepared.clone()));
                prepared
            }
        };
        if let Some(kept) = stored {
            let screens = at_size(&kept.screens, &prepared, go).map_err(TuneError::from)?;
            return Ok(Level { prepared, screens: Arc::new(screens) });
        }
        let settings = planned(&job.separation, &job.edits)?;
        let key = SeparationKey {
            garment: job.garment.clone(),
            settings: settings.clone(),
            press: job.press.clone(),
            ruling: job.film.ruling,
        };
        let separated = match &self.separated {
            Some((old, screens)) if *old == key => screens.clone(),
            _ => {
                let screens = separate(&prepared, &job.ground(), &settings, go)?;
                let screens = Arc::new(screens);
                self.separated = Some((key, screens.clone()));
                screens
            }
        };
        let mut screens = Screens::clone(&separated);
        apply_edits(&mut screens, &prepared, &job.edits, &job.ground(), go)?;
        Ok(Level { prepared, screens: Arc::new(screens) })
    }
}

/// Stored screens at the size of the prepared art: themselves at full size, reduced for a proxy.
fn at_size(screens: &Screens, prepared: &Prepared, go: &Progress) -> Result<Screens, Cancelled> {
    let (width, height) = (prepared.picture.width(), prepared.picture.height());
    let sized = |s: &Screen| Ok(Screen { coverage: fitted(&s.coverage, width, height, go)?, ..s.clone() });
    let list = screens.list.iter().map(sized).collect::<Result<Vec<_>, Cancelled>>()?;
    Ok(Screens { width, height, ppi: prepared.ppi, list })
}
