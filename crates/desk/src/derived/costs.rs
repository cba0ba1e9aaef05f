//! What acts on the screens cost in colour, tried on the job as it stands.

use std::sync::Arc;

use strikeoff_core::Progress;
use strikeoff_core::job::{Costs, InkCost, Job, JobError, Level, Mixed, ScreenInputs, Trial};
use strikeoff_core::raster::Art;
use strikeoff_core::screens::ScreenName;

use super::slot::Outcome;
use crate::session::{Document, Same, Shop, Value};

/// What costs follow from: the art, the job, its screens at full size.
#[derive(Clone, PartialEq)]
pub struct CostsKey {
    /// The artwork.
    pub art: Same<Art>,
    /// Art and screens at full size.
    pub level: Same<Level>,
    /// The parts of the job that reach the screens.
    pub inputs: Value<ScreenInputs>,
}

impl CostsKey {
    /// Whether figures of another key are of the same artwork on the same garment: an earlier state of this
    /// job.
    pub fn is_of(&self, art: &Arc<Art>, job: &Job) -> bool {
        Arc::ptr_eq(&self.art.0, art) && self.inputs.ground.fabric == job.garment.color
    }
}

/// What other inks for a screen follow from.
pub type SwapsKey = (CostsKey, ScreenName, Same<Shop>);

/// Two screens in one mixed ink.
pub struct Mix {
    /// The screen that goes.
    pub from: ScreenName,
    /// The screen that stays.
    pub into: ScreenName,
    /// The ink and what it costs.
    pub mixed: Mixed,
}

/// Other inks for a screen, best first.
pub struct Swaps {
    /// Of the shelf.
    pub inks: Vec<InkCost>,
    /// Mixed, for this screen and another in one.
    pub mixes: Vec<Mix>,
}

/// Tries every drop and merge.
pub fn weigh(doc: &Document, key: &CostsKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<Costs> + use<> {
    let (job, key) = (doc.job.clone(), key.clone());
    move |(), progress| {
        outcome(progress, || {
            let Level { prepared, screens } = &*key.level;
            Trial::new(&job, &key.art.0, prepared, screens, progress)?.costs(progress)
        })
    }
}

/// Tries other inks for a screen, and mixed ones for it and another.
pub fn look_for_inks(doc: &Document, key: &SwapsKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<Swaps> + use<> {
    let (job, key) = (doc.job.clone(), key.clone());
    move |(), progress| outcome(progress, || swaps(&job, &key, progress))
}

fn swaps(job: &Job, (key, screen, shop): &SwapsKey, progress: &Progress) -> Result<Swaps, JobError> {
    let Level { prepared, screens } = &*key.level;
    let mut trial = Trial::new(job, &key.art.0, prepared, screens, progress)?;
    let inks = trial.inks(screen, &shop.shelf, &progress.part(0.0, 0.5))?;
    let own = screens.position(screen).unwrap_or(0);
    // The later of two goes, the earlier stays.
    let pair = |(at, other): (usize, &ScreenName)| match at < own {
        true => [screen.clone(), other.clone()],
        false => [other.clone(), screen.clone()],
    };
    let names: Vec<ScreenName> = screens.list.iter().map(|s| s.name.clone()).collect();
    let pairs: Vec<[ScreenName; 2]> = names.iter().enumerate().filter(|(at, _)| *at != own).map(pair).collect();
    let found = trial.mixes(&pairs, &shop.shelf, &progress.part(0.5, 1.0))?;
    let mix = |([from, into], mixed): ([ScreenName; 2], Option<Mixed>)| Some(Mix { from, into, mixed: mixed? });
    let mut mixes: Vec<Mix> = pairs.into_iter().zip(found).filter_map(mix).collect();
    mixes.sort_by(|a, b| a.mixed.again.total_cmp(&b.mixed.again));
    Ok(Swaps { inks, mixes })
}

/// Stopped work says nothing; everything else is said in its own sentence.
fn outcome<A>(progress: &Progress, work: impl FnOnce() -> Result<A, JobError>) -> Outcome<A> {
    let done = work();
    progress.step("", 1.0).ok()?;
    Some(done.map_err(|error| error.to_string()))
}
