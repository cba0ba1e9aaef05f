//! Sets of inks for a job, each tried on it: what is said of a set is what the job prints with it.

use std::sync::Arc;

use super::{Act, Cache, Job, JobError, Level, evaluate_with};
use crate::Progress;
use crate::ink::Shelf;
use crate::prep::Prepared;
use crate::raster::{Art, Detail};
use crate::screens::Screens;
use crate::separate::{Choice, InkRequest, Quality, SuggestError, earns, print_quality, suggest};

/// Longest side of the picture that sets are tried on.
const TRIED_PX: usize = 1000;

/// A set of inks on offer.
#[derive(Debug, Clone)]
pub struct InkSet {
    /// Its inks, with the reason for each.
    pub choice: Choice,
    /// The job's print with it.
    pub quality: Quality,
    /// Art and screens, small.
    pub level: Level,
}

impl InkSet {
    /// Taking it.
    pub fn act(&self) -> Act {
        Act::Inks { screens: self.choice.screens() }
    }
}

/// Sets of inks, fewest screens first; each brings more than is asked of a screen over the one before.
#[derive(Debug, Clone)]
pub struct InkSets {
    /// The sets.
    pub sets: Vec<InkSet>,
    /// The place of the one for the screens requested, or of the largest that is worth its screens.
    pub chosen: usize,
    /// The most screens that were tried.
    pub tried: usize,
}

/// Why there are no sets.
#[derive(Debug, thiserror::Error)]
pub enum InkSetsError {
    /// In choosing.
    #[error(transparent)]
    Suggest(#[from] SuggestError),
    /// In trying a set on the job.
    #[error(transparent)]
    Job(#[from] JobError),
}

/// Looks for sets of inks from the shelf and tries each on the job. `print` is the job's own at full size,
/// where it is at hand: figures of the small picture are then set right by what it shows less of.
pub fn ink_sets(
    job: &Job,
    art: &Arc<Art>,
    shelf: &Shelf,
    request: &InkRequest,
    print: Option<(&Prepared, &Screens)>,
    progress: &Progress,
) -> Result<InkSets, InkSetsError> {
    let mut cache = Cache::default();
    let small = Detail::Proxy { longest_px: TRIED_PX };
    let prepared = cache.prepared(job, art, small, &progress.quiet())?;
    let searching = progress.part(0.0, 0.5);
    let found = suggest(&prepared.picture, &job.ground_for_new_screens(), shelf, request, &job.separation, &searching)?;
    let offset = match print {
        None => 0.0,
        Some((full, screens)) => {
            let level = evaluate_with(&mut cache, job, art, small, &progress.quiet())?;
            let mean = |art: &Prepared, screens: &Screens| print_quality(screens, &art.picture, &job.ground()).mean;
            mean(full, screens) - mean(&level.prepared, &level.screens)
        }
    };
    let count = found.curve.len().max(1) as f32;
    let mut sets: Vec<InkSet> = Vec::new();
    for (at, choice) in found.curve.into_iter().enumerate() {
        progress.step("try sets of inks", 0.5 + 0.5 * at as f32 / count).map_err(SuggestError::from)?;
        let tried = Act::Inks { screens: choice.screens() }.done(job);
        let level = evaluate_with(&mut cache, &tried, art, small, &progress.quiet())?;
        let mut quality = print_quality(&level.screens, &level.prepared.picture, &tried.ground());
        quality.mean += offset;
        if sets.last().is_none_or(|before| earns(quality, before.quality)) {
            sets.push(InkSet { choice, quality, level });
        }
    }
    let within = |set: &InkSet| set.choice.inks.len() <= request.screens;
    let chosen = sets.iter().rposition(within).unwrap_or(0);
    Ok(InkSets { sets, chosen, tried: found.tried })
}
