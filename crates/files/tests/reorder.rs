//! Runs and reorders: what has changed, what it does to the print, and that figures before an act are those after it.

#![allow(clippy::unwrap_used, reason = "a test")]

use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::Garment;
use strikeoff_core::raster::Plane;
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::units::Mm;

use strikeoff_core::Progress;
use strikeoff_core::job::{Job, RunRecord};
use strikeoff_core::raster::Picture;
use strikeoff_core::reorder::Effect;
use strikeoff_core::units::Ppi;
use strikeoff_files::job::JobFile;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::reorder::{Again, ReorderError, again, reorder};
use strikeoff_files::shelf::house_shelf;

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
    let png = strikeoff_files::picture::png_bytes(&Picture::new(art), Ppi::new(60.0).unwrap());
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
    for state in [&found.now, &found.same, &found.updated] {
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
    assert!(before.now.screens.iter().all(|screen| screen.film[0].contains("45 lpi") && screen.film[0].contains("55")));
    assert!(before.same.screens.iter().all(|screen| screen.film.is_empty() && screen.burn.is_empty()));
    let worst = before.same.effect.as_ref().unwrap().worst.clone().unwrap();
    assert_eq!(worst.ink, "Brick red");
    for what in [Again::Same, Again::Updated] {
        let after = again(&file, &before.run, what, &profile).unwrap();
        assert_eq!(after.job.info, file.job.info, "who it is for stays");
        let shown = if what == Again::Same { &before.same } else { &before.updated };
        let now = reorder(&after, None, &profile, &Progress::none()).unwrap().now;
        assert_eq!(
            (&now.effect, now.artwork, &now.screens),
            (&shown.effect, shown.artwork, &shown.screens),
            "{what:?}"
        );
        assert!(now.picture == shown.picture, "{what:?}");
    }
    // The new red printed with its own screens comes nearer to the artwork than with the old ones.
    assert!(before.updated.artwork.mean <= before.same.artwork.mean, "{:?}", before.updated.artwork);
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
    let [same, updated] = [&found.same, &found.updated].map(|state| state.effect.as_ref().unwrap().mean);
    assert!(same > 1.0 && updated < 0.01, "{same} {updated}");
    assert!(found.updated.screens.iter().all(|s| s.film[0].contains("gain") && s.burn.last().unwrap().contains("305")));
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
