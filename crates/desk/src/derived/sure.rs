//! How sure the colours of the print are by the fingerprint of its press, and what using all that was measured would
//! change.

use std::sync::Arc;

use strikeoff_core::Progress;
use strikeoff_core::fingerprint::Fingerprint;
use strikeoff_core::job::{Cache, Job};
use strikeoff_core::raster::Detail;
use strikeoff_core::screens::Screens;
use strikeoff_core::sureness::{BandMap, Sureness, sureness, with_measured};

use super::evaluate::PROXY_PX;
use super::slot::Outcome;
use crate::render::Bands;
use crate::session::{Document, Evaluate, Same, Value};

/// What it follows from: screens of the proxy and the job.
pub type SureKey = (Same<Screens>, Value<Job>);
/// What an uptake follows from: the screens as they stand, the job, and the fingerprint.
pub type UptakeKey = (Same<Screens>, Value<Job>, Same<Fingerprint>);

/// How sure the colours are.
pub struct Sure {
    /// In figures, or why not; none without a fingerprint.
    pub says: Option<Result<Sureness, String>>,
    /// At each pixel.
    pub map: Option<Bands>,
}

/// What using all that a fingerprint measured would change.
pub struct Uptake {
    /// The job as it stands, told by that fingerprint.
    pub before: Result<Sureness, String>,
    /// And as it would be.
    pub after: Result<Sureness, String>,
    /// The job as it would be.
    pub job: Box<Job>,
}

/// Works out how sure.
pub fn how_sure(key: &SureKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<Sure> + use<> {
    let (screens, job) = key.clone();
    move |(), _| {
        let map = BandMap::of(&job, &screens).map(|map| Bands(Arc::new(map)));
        Some(Ok(Sure { says: sureness(&job, &screens), map }))
    }
}

/// Works out what an uptake would change, at the proxy's size: so it is found again when it is done.
pub fn uptake(doc: &Document, key: &UptakeKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<Uptake> + use<> {
    let (screens, job, print) = key.clone();
    let now = Evaluate::new(doc);
    move |(), progress| {
        let told = |job: &Job, screens: &Screens| {
            sureness(job, screens).unwrap_or_else(|| Err("the job has no fingerprint".to_owned()))
        };
        let mut before = (*job).clone();
        before.run.fingerprint = Some(Box::new(Fingerprint::clone(&print)));
        let after = match with_measured(&job, &print) {
            Ok(after) => after,
            Err(why) => return Some(Err(why)),
        };
        let detail = Detail::Proxy { longest_px: PROXY_PX };
        let level = now.with(after.clone()).level(&mut Cache::default(), detail, progress);
        progress.step("", 1.0).ok()?;
        let level = match level {
            Ok(level) => level,
            Err(error) => return Some(Err(error.to_string())),
        };
        let figures = told(&after, &level.screens);
        Some(Ok(Uptake { before: told(&before, &screens), after: figures, job: Box::new(after) }))
    }
}
