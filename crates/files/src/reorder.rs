//! The reorder of a printed job: what was printed beside what would be printed now, the same again or with what the
//! shop has changed since, and which films and screens still serve. One way for window and verbs.

use strikeoff_core::Progress;
use strikeoff_core::job::{Evaluated, Job, RunRecord, SettingDifference, compare};
use strikeoff_core::names::same;
use strikeoff_core::raster::Picture;
use strikeoff_core::reorder::{Effect, Serves, ShopState, effect, print_today, serves, take_inks};
use strikeoff_core::screens::{ScreenName, Screens};
use strikeoff_core::separate::{Quality, print_quality};
use strikeoff_core::units::Ppi;

use crate::job::{EvaluateError, JobFile, VersionError};
use crate::profile::ShopProfile;

/// What is printed again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Again {
    /// What was printed: its settings and its very screens.
    Same,
    /// What was printed, with the inks, gain and meshes that the shop has changed since, separated again for them.
    Updated,
}

/// Why there is no reorder.
#[derive(Debug, thiserror::Error)]
pub enum ReorderError {
    /// It was never printed.
    #[error("no run of this job was written down; after the run say: strikeoff run JOB add --shirts NUMBER")]
    NotPrinted,
    /// There is no such run.
    #[error("the job has {0} runs; there is no run {1}")]
    NoRun(usize, usize),
    /// The version that was printed is gone.
    #[error(
        "the run of {0} names version \"{1}\", which the job does not have any more; restore an older copy of the job"
    )]
    Gone(String, String),
    /// Its screens cannot be had.
    #[error(transparent)]
    Version(#[from] VersionError),
    /// It cannot be evaluated.
    #[error(transparent)]
    Evaluate(#[from] EvaluateError),
}

/// A state of the job as it would be printed today.
pub struct State {
    /// Its settings.
    pub job: Job,
    /// How far its print lies from the one that was made; none where the print has another size.
    pub effect: Option<Effect>,
    /// How near its print comes to the artwork.
    pub artwork: Quality,
    /// What serves of each of its screens, in print order.
    pub screens: Vec<Serves>,
    /// Printed screens that it does not use.
    pub unused: Vec<ScreenName>,
    /// Its print.
    pub picture: Picture,
}

/// A reorder, looked at.
pub struct Reorder {
    /// The run.
    pub run: RunRecord,
    /// Settings of the job that were changed since, the ticket aside.
    pub in_job: Vec<SettingDifference>,
    /// What the shop has changed since, a line each.
    pub in_shop: Vec<String>,
    /// The print that was made.
    pub printed: Picture,
    /// How near it came to the artwork.
    pub artwork: Quality,
    /// The job as it stands.
    pub now: State,
    /// The same again.
    pub same: State,
    /// With what the shop has changed.
    pub updated: State,
}

/// The run that is reordered: the one of that number, from 1, or the latest.
pub fn run_of(job: &Job, number: Option<usize>) -> Result<&RunRecord, ReorderError> {
    let runs = &job.info.runs;
    match number {
        None => runs.last().ok_or(ReorderError::NotPrinted),
        Some(_) if runs.is_empty() => Err(ReorderError::NotPrinted),
        Some(number) => runs.get(number.wrapping_sub(1)).ok_or(ReorderError::NoRun(runs.len(), number)),
    }
}

/// What was printed, and what the shop had then.
fn printed(file: &JobFile, run: &RunRecord) -> Result<(JobFile, ShopState), ReorderError> {
    let gone = || ReorderError::Gone(run.date.words(), run.version.clone());
    let version = file.versions.iter().find(|v| same(&v.name, &run.version)).ok_or_else(gone)?;
    let shop = version.shop.as_deref().ok_or_else(gone)?.clone();
    Ok((file.version(&version.name)?, shop))
}

/// The job file as it is to be printed again. Who it is for stays as it is; screens of the same are those that were
/// printed, wherever the program has learnt something since.
pub fn again(file: &JobFile, run: &RunRecord, what: Again, profile: &ShopProfile) -> Result<JobFile, ReorderError> {
    let (mut before, then) = printed(file, run)?;
    let info = file.job.info.clone();
    if what == Again::Updated {
        let now = profile.state_for(&before.job);
        let mut job = take_inks(&before.job, &then, &now);
        if let Some(gain) = now.changed_gain(&then).filter(|_| then.gain.as_ref() == Some(&job.press.gain)) {
            job.press.gain = gain.clone();
        }
        profile.follow_mesh(&mut job, then.mesh);
        job.give_angles();
        before.job = job;
    }
    before.job.info = info;
    Ok(before)
}

/// Looks at the reorder of a run.
pub fn reorder(
    file: &JobFile,
    number: Option<usize>,
    profile: &ShopProfile,
    progress: &Progress,
) -> Result<Reorder, ReorderError> {
    let run = run_of(&file.job, number)?.clone();
    let (before, then) = printed(file, &run)?;
    let was = before.evaluated(progress)?;
    let now = profile.state_for(&before.job);
    let shop = [&then, &now];
    let state = |of: &JobFile| -> Result<State, ReorderError> {
        let done = of.evaluated(progress)?;
        Ok(state(&of.job, &done, (&before.job, &was.screens), shop))
    };
    let same = state(&again(file, &run, Again::Same, profile)?)?;
    let updated = state(&again(file, &run, Again::Updated, profile)?)?;
    let (_, [printed, _]) = effect((&before.job, &was.screens), (&before.job, &was.screens));
    Ok(Reorder {
        in_job: settings_changed(&before.job, &file.job),
        in_shop: now.changes(&then),
        artwork: print_quality(&was.screens, &was.prepared.picture, &before.job.ground()),
        printed,
        now: state(file)?,
        same,
        updated,
        run,
    })
}

fn state(job: &Job, done: &Evaluated, printed: (&Job, &Screens), [then, now]: [&ShopState; 2]) -> State {
    let (screens, unused) = serves(printed, (job, &done.screens));
    let (today, as_printed) = print_today(job, &done.screens, then, now);
    let (effect, [_, picture]) = effect(printed, (&today, &as_printed));
    let artwork = print_quality(&as_printed, &done.prepared.picture, &today.ground());
    State { job: job.clone(), effect, artwork, screens, unused, picture }
}

/// Settings that differ, the ticket aside.
fn settings_changed(before: &Job, now: &Job) -> Vec<SettingDifference> {
    let none =
        || Screens { width: 0, height: 0, ppi: Ppi::new(1.0).unwrap_or_else(|_| unreachable!()), list: Vec::new() };
    let mut settings = compare((before, &none()), (now, &none())).settings;
    settings.retain(|difference| !difference.setting.starts_with("info."));
    settings
}
