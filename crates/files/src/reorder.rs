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
    Improved,
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
    pub improved: State,
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
    if what == Again::Improved {
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
    let improved = state(&again(file, &run, Again::Improved, profile)?)?;
    let (_, [printed, _]) = effect((&before.job, &was.screens), (&before.job, &was.screens));
    Ok(Reorder {
        in_job: settings_changed(&before.job, &file.job),
        in_shop: now.changes(&then),
        artwork: print_quality(&was.screens, &was.prepared.picture, &before.job.ground()),
        printed,
        now: state(file)?,
        same,
        improved,
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

#[cfg(test)]
mod tests {
    use strikeoff_core::color::Rgb8;
    use strikeoff_core::ink::Garment;
    use strikeoff_core::raster::Plane;
    use strikeoff_core::separate::SeparationSettings;
    use strikeoff_core::units::Mm;

    use super::*;
    use crate::shelf::house_shelf;

    /// A print of 30 mm in black and red on white, printed once by a shop as it comes.
    fn printed_job() -> (JobFile, ShopProfile) {
        let profile = ShopProfile::default();
        let mut job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
        let inks = ["Brick red", "Ink black"].map(|name| house_shelf().find(name).unwrap().clone());
        job.separation = SeparationSettings::for_inks(inks);
        (job.prep.max_width_mm, job.prep.max_height_mm) = (Some(Mm::new(30.0).unwrap()), Some(Mm::new(30.0).unwrap()));
        job.prep.ppi = Ppi::new(60.0).unwrap();
        profile.apply_to(&mut job);
        job.give_angles();
        let art = Plane::from_fn(70, 70, |x, y| [40_000 + x as u16 * 300, y as u16 * 700, y as u16 * 500, 65_535]);
        let png = crate::picture::png_bytes(&Picture::new(art), Ppi::new(60.0).unwrap());
        let mut file = JobFile::new(job, "heron.png", png);
        let screens = file.evaluated(&Progress::none()).unwrap().screens;
        file.keep_screens(screens);
        let shop = profile.state_for(&file.job);
        file.keep_run(RunRecord::new("2026-12-04".parse().unwrap(), 150), shop).unwrap();
        (file, profile)
    }

    fn with_new_red(profile: &ShopProfile) -> ShopProfile {
        let mut profile = profile.clone();
        let red = profile.shelf.inks.iter_mut().find(|ink| ink.name == "Brick red").unwrap();
        red.over_white = Rgb8([214, 60, 40]);
        profile
    }

    #[test]
    fn nothing_has_changed_and_everything_serves() {
        let (file, profile) = printed_job();
        let found = reorder(&file, None, &profile, &Progress::none()).unwrap();
        assert!(found.in_job.is_empty() && found.in_shop.is_empty());
        for state in [&found.now, &found.same, &found.improved] {
            assert_eq!(state.effect, Some(Effect { mean: 0.0, p95: 0.0, worst: None }));
            assert!(state.screens.iter().all(|screen| screen.burn.is_empty()), "{:?}", state.screens);
        }
        assert!(matches!(reorder(&file, Some(2), &profile, &Progress::none()), Err(ReorderError::NoRun(1, 2))));
    }

    /// What is shown before an act is what is there after it, figure for figure.
    #[test]
    fn figures_before_an_act_are_those_after_it() {
        let (mut file, profile) = printed_job();
        let profile = with_new_red(&profile);
        file.job.film.ruling = strikeoff_core::units::Lpi::new(55.0).unwrap();
        file.job.info.client = "Harbour fair".into();
        let before = reorder(&file, None, &profile, &Progress::none()).unwrap();
        assert_eq!(before.in_shop.len(), 1, "{:?}", before.in_shop);
        assert!(before.in_shop[0].starts_with("Brick red: colour was"), "{:?}", before.in_shop);
        assert_eq!(before.in_job.iter().map(|d| d.setting.as_str()).collect::<Vec<_>>(), ["film.ruling"]);
        // Another ruling needs other films; another ink none.
        assert!(
            before.now.screens.iter().all(|screen| screen.film[0].contains("45 lpi") && screen.film[0].contains("55"))
        );
        assert!(before.same.screens.iter().all(|screen| screen.film.is_empty() && screen.burn.is_empty()));
        let worst = before.same.effect.as_ref().unwrap().worst.clone().unwrap();
        assert_eq!(worst.ink, "Brick red");
        for what in [Again::Same, Again::Improved] {
            let after = again(&file, &before.run, what, &profile).unwrap();
            assert_eq!(after.job.info, file.job.info, "who it is for stays");
            let shown = if what == Again::Same { &before.same } else { &before.improved };
            let now = reorder(&after, None, &profile, &Progress::none()).unwrap().now;
            assert_eq!(
                (&now.effect, now.artwork, &now.screens),
                (&shown.effect, shown.artwork, &shown.screens),
                "{what:?}"
            );
            assert!(now.picture == shown.picture, "{what:?}");
        }
        // The new red printed with its own screens comes nearer to the artwork than with the old ones.
        assert!(before.improved.artwork.mean <= before.same.artwork.mean, "{:?}", before.improved.artwork);
    }

    /// Films that carry the inverse of 28 points print otherwise where the press gains 20: at 50 % meant, the film
    /// holds less than the new press needs, so the print is lighter; burned again for the new gain it is as it was.
    #[test]
    fn a_press_with_another_gain_prints_the_same_films_otherwise() {
        use strikeoff_core::press::DotGain;
        let (file, mut profile) = printed_job();
        profile.gain_curves = vec![DotGain::AtHalf { points: 20.0 }];
        profile.mesh.halftone_tpi = 305.0;
        let found = reorder(&file, None, &profile, &Progress::none()).unwrap();
        assert_eq!(found.in_shop.len(), 2, "{:?}", found.in_shop);
        let light = |picture: &Picture| picture.pixels().data().iter().map(|p| u64::from(p[1])).sum::<u64>();
        assert!(light(&found.same.picture) > light(&found.printed));
        let [same, improved] = [&found.same, &found.improved].map(|state| state.effect.as_ref().unwrap().mean);
        assert!(same > 1.0 && improved < 0.01, "{same} {improved}");
        assert!(
            found.improved.screens.iter().all(|s| s.film[0].contains("gain") && s.burn.last().unwrap().contains("305"))
        );
    }

    #[test]
    fn a_run_of_the_same_state_is_a_run_of_the_same_version() {
        let (mut file, profile) = printed_job();
        let shop = profile.state_for(&file.job);
        file.keep_run(RunRecord::new("2027-01-08".parse().unwrap(), 40), shop.clone()).unwrap();
        assert_eq!(file.versions.len(), 1);
        assert!(file.delete_version("Printed 4 Dec 2026").unwrap_err().to_string().contains("delete the run first"));
        file.job.film.ruling = strikeoff_core::units::Lpi::new(55.0).unwrap();
        file.keep_run(RunRecord::new("2026-12-04".parse().unwrap(), 40), shop).unwrap();
        let names: Vec<_> = file.versions.iter().map(|v| v.name.as_str()).collect();
        assert_eq!(names, ["Printed 4 Dec 2026", "Printed 4 Dec 2026, 2"]);
        let back = file.version("Printed 4 Dec 2026").unwrap();
        assert_eq!((back.job.info.runs.len(), back.job.film.ruling.get()), (3, 45.0));
    }
}
