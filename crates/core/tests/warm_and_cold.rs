//! A warm cache gives bit for bit what a cold evaluation gives, whatever part of a job changed; and only
//! the parts that reach the screens count as reaching them.

#![allow(clippy::unwrap_used, reason = "a test")]

use std::sync::Arc;
use strikeoff_core::screens::ScreenName;

use proptest::prelude::*;
use strikeoff_core::Progress;
use strikeoff_core::color::Rgb8;
use strikeoff_core::halftone::{AngleRule, DotShape};
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::job::{Cache, Job, evaluate, evaluate_with};
use strikeoff_core::prep::{BackgroundSettings, CropBox, Enlarging, PrepSettings};
use strikeoff_core::press::Stop;
use strikeoff_core::raster::{Art, Detail, Picture};
use strikeoff_core::screens::Screens;
use strikeoff_core::separate::{Method, PlannedScreen};
use strikeoff_core::tune::{Curve, Edit, EditEntry, Place, edits};
use strikeoff_core::units::{Coverage, Degrees, Dpi, LengthUnit, Lpi, Mm, Opacity, Ppi};
use strikeoff_core::usage::Mesh;

fn ink(name: &str, color: [u8; 3], role: InkRole) -> Ink {
    let opacity = Opacity::new(0.8).unwrap();
    Ink { name: name.into(), over_white: Rgb8(color), opacity, role, measured: false, spectra: None }
}

/// Coal, brick, straw and a white: enough for every kind of screen.
fn inks() -> [Ink; 4] {
    [
        ink("Coal", [24, 24, 27], InkRole::Black),
        ink("Brick", [181, 51, 43], InkRole::Color),
        ink("Straw", [250, 200, 60], InkRole::Color),
        ink("Chalk", [250, 250, 248], InkRole::White),
    ]
}

/// Flat and soft areas, clear in one corner.
fn art() -> Arc<Art> {
    let (width, height) = (30, 24);
    let color = |x: usize, y: usize| match () {
        () if x < 5 && y < 5 => [0, 0, 0, 0],
        () if x > 18 => [181, 51, 43, 255],
        () => [(x * 8) as u8, (y * 10) as u8, 70, 255],
    };
    let rgba: Vec<u8> = (0..width * height).flat_map(|i| color(i % width, i / width)).collect();
    Arc::new(Art { picture: Picture::from_rgba8(width, height, &rgba), ppi: Ppi::new(20.0).unwrap() })
}

fn job() -> Job {
    let mut job = Job::new(Garment::of_color(Rgb8([30, 34, 60])));
    job.prep.ppi = Ppi::new(24.0).unwrap();
    job.separation.screens = inks().map(PlannedScreen::of_ink).to_vec();
    job.give_angles();
    job
}

/// A change of a part of a job, and whether the part may reach the screens.
type Change = (&'static str, bool, fn(&mut Job, f64));

fn mm(value: f64) -> Mm {
    Mm::new(value).unwrap()
}

fn name(at: f64) -> ScreenName {
    inks()[(at * 3.999) as usize].name.as_str().into()
}

fn edit(job: &mut Job, edit: Edit) {
    job.edits.push(EditEntry::on(edit));
}

const CHANGES: &[Change] = &[
    ("resolution", true, |job, v| job.prep.ppi = Ppi::new(16.0 + (v * 3.0).floor() * 6.0).unwrap()),
    ("turn", true, |job, _| PrepSettings::turn_left(&mut job.prep)),
    ("crop", true, |job, v| {
        let crop = CropBox { left: 0.1, top: 0.2, width: 0.5 + v * 0.3, height: 0.7 };
        job.prep.crop = (v > 0.3).then_some(crop);
    }),
    ("sharpen", true, |job, v| job.prep.sharpen_amount = (v * 3.0).floor()),
    ("noise", true, |job, v| job.prep.denoise = (v * 2.0).floor() * 0.5),
    ("background", true, |job, v| job.prep.background = (v > 0.5).then(BackgroundSettings::default)),
    ("enlarging", true, |job, v| {
        job.prep.enlarging = [Enlarging::Edges, Enlarging::Plain, Enlarging::Repair][(v * 2.999) as usize];
    }),
    ("repair", true, |job, v| job.prep.repair = (v * 3.0).floor() / 3.0),
    ("height", true, |job, v| job.prep.max_height_mm = Some(mm(20.0 + (v * 3.0).floor() * 5.0))),
    ("unit", false, |job, v| job.info.unit = if v > 0.5 { LengthUnit::Inch } else { LengthUnit::Mm }),
    ("method", true, |job, v| {
        job.set_method([Method::SimulatedProcess, Method::SpotArt, Method::Index][(v * 2.999) as usize]);
    }),
    ("black", true, |job, v| job.separation.black_strength = (v * 3.0).floor() / 3.0),
    ("cleanliness", true, |job, v| job.separation.cleanliness = (v * 3.0).floor() / 3.0),
    ("limit", true, |job, v| job.separation.total_ink_limit = 1.0 + (v * 3.0).floor()),
    ("screens", true, |job, v| {
        let to = (v * 2.999) as usize;
        job.separation.screens.swap(0, to);
    }),
    ("garment", true, |job, v| {
        job.garment = Garment::of_color(Rgb8([[255; 3], [20; 3], [30, 60, 90]][(v * 2.999) as usize]));
    }),
    ("stops", true, |job, v| {
        if job.press.stops.remove(&name(v)).is_none() {
            job.press.stops.insert(name(v), Stop::Flash);
        }
    }),
    ("one angle or each its own", true, |job, v| {
        job.film.share_one_angle();
        if v > 0.5 {
            job.film.angles = AngleRule::Apart;
            job.give_angles();
        }
    }),
    ("wet on wet", true, |job, v| job.press.wet_on_wet = Coverage::new(0.7 + (v * 3.0).floor() * 0.1).unwrap()),
    ("compensate", true, |job, v| job.press.compensate = v > 0.5),
    ("n", true, |job, v| job.press.yule_nielsen = 1.0 + (v * 3.0).floor()),
    ("heads", false, |job, v| job.run.heads = 4 + (v * 6.0) as u8),
    ("mesh", false, |job, v| job.run.mesh = Mesh { threads_per_inch: 100.0 + v * 200.0, ..Mesh::default() }),
    ("a screen's mesh", false, |job, v| {
        job.run.meshes.insert(name(v), Mesh { threads_per_inch: 110.0, ..Mesh::default() });
    }),
    ("register", true, |job, v| job.run.register_mm = mm(v)),
    ("collar", false, |job, v| job.run.below_collar_mm = mm(50.0 + v * 50.0)),
    ("ink price", false, |job, v| {
        job.run.ink.price_per_kg.insert(name(v), v * 40.0);
    }),
    ("ruling", true, |job, v| job.film.ruling = Lpi::new(35.0 + (v * 3.0).floor() * 10.0).unwrap()),
    ("angle", false, |job, v| job.film.angle = Degrees::new(v * 45.0).unwrap()),
    ("film resolution", false, |job, v| job.film.dpi = Dpi::new(360.0 + (v * 2.0).floor() * 360.0).unwrap()),
    ("dot", false, |job, v| job.film.dot = if v > 0.5 { DotShape::Square } else { DotShape::Round }),
    ("margin", false, |job, v| job.film.margin = mm(v * 20.0)),
    ("title", false, |job, v| job.info.title = format!("Job {v}")),
    ("quantity", false, |job, v| job.info.quantity = (v * 500.0) as u32),
    ("curve", true, |job, v| {
        let curve = Curve::new(vec![[0.0, 0.0], [50.0, 20.0 + v * 60.0], [100.0, 100.0]]).unwrap();
        edit(job, Edit::Curve(edits::Curve { screen: name(v), curve }));
    }),
    ("density", true, |job, v| edit(job, Edit::Density(edits::Density { screen: name(v), factor: 0.5 + v }))),
    ("spread", true, |job, v| edit(job, Edit::Spread(edits::Spread { screen: name(v), by_mm: mm(0.5 + v) }))),
    ("trim", true, |job, v| edit(job, Edit::trim(name(v), Coverage::new(v * 0.3).unwrap(), false))),
    ("hits", true, |job, v| edit(job, Edit::Hits(edits::Hits { screen: name(v), hits: 2 }))),
    ("merge", true, |job, v| edit(job, Edit::merge(name(v), name(1.0 - v)))),
    ("drop", true, |job, v| edit(job, Edit::drop(name(v)))),
    ("drop and separate again", true, |job, v| {
        edit(job, Edit::Drop(edits::Drop { screen: name(v), separate_again: true }))
    }),
    ("re-ink", true, |job, v| {
        let ink = ink("Marsh", [20, 128, 138], InkRole::Color);
        edit(job, Edit::ReInk(edits::ReInk { screen: name(v), ink, separate_again: v > 0.5 }));
    }),
    ("add", true, |job, v| {
        let ink = ink("Olive", [120, 110, 40], InkRole::Color);
        edit(
            job,
            Edit::Add(edits::Add { name: ink.name.as_str().into(), ink, place: Place::Usual, keep_others: v <= 0.5 }),
        );
    }),
    ("switch an edit", true, |job, v| {
        let at = (v * job.edits.len() as f64) as usize;
        if let Some(entry) = job.edits.get_mut(at) {
            entry.on = !entry.on;
        }
    }),
    ("change an edit", true, |job, v| {
        let at = (v * job.edits.len() as f64) as usize;
        if let Some(entry) = job.edits.get_mut(at) {
            entry.edit = Edit::Density(edits::Density { screen: name(v), factor: 0.3 + v });
        }
    }),
    ("take the last edit out", true, |job, _| {
        job.edits.pop();
    }),
    ("take the first edit out", true, |job, _| {
        if !job.edits.is_empty() {
            job.edits.remove(0);
        }
    }),
    ("move an edit", true, |job, _| job.edits.reverse()),
];

/// What came of an evaluation, errors by their sentence.
type Outcome = Result<(strikeoff_core::prep::Prepared, Screens), String>;

fn cold(job: &Job, art: &Art, detail: Detail) -> Outcome {
    let made = evaluate(job, art, detail, &Progress::none()).map_err(|error| error.to_string())?;
    Ok((made.prepared, made.screens))
}

fn warm(cache: &mut Cache, job: &Job, art: &Arc<Art>, detail: Detail) -> Outcome {
    let made = evaluate_with(cache, job, art, detail, &Progress::none()).map_err(|error| error.to_string())?;
    Ok(((*made.prepared).clone(), (*made.screens).clone()))
}

const DETAILS: [Detail; 2] = [Detail::Full, Detail::Proxy { longest_px: 22 }];

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, max_shrink_iters: 60, ..ProptestConfig::default() })]

    /// As the window does it: a cache for each size, a job that changes part by part.
    #[test]
    fn a_warm_cache_gives_what_a_cold_evaluation_gives(
        steps in proptest::collection::vec((0..CHANGES.len(), 0.0..1.0f64), 1..14),
    ) {
        let (art, mut job) = (art(), job());
        let mut caches = [Cache::default(), Cache::default()];
        for (at, value) in steps {
            let (what, _, change) = CHANGES[at];
            change(&mut job, value);
            for (cache, detail) in caches.iter_mut().zip(DETAILS) {
                let (warm, cold) = (warm(cache, &job, &art, detail), cold(&job, &art, detail));
                prop_assert!(warm == cold, "after {what} {value} at {detail:?}: {:?} {:?}", warm.err(), cold.err());
            }
        }
    }

    /// Stages are told apart by their keys: whatever changes the screens changes the key.
    #[test]
    fn jobs_with_equal_keys_have_equal_screens(
        steps in proptest::collection::vec((0..CHANGES.len(), 0.0..1.0f64), 1..6),
        at in 0..CHANGES.len(),
        value in 0.0..1.0f64,
    ) {
        let (art, mut job) = (art(), job());
        for (at, value) in steps {
            CHANGES[at].2(&mut job, value);
        }
        let (key, before) = (job.screen_inputs(), cold(&job, &art, DETAILS[1]));
        let (what, reaches, change) = CHANGES[at];
        change(&mut job, value);
        let after = cold(&job, &art, DETAILS[1]);
        if job.screen_inputs() == key {
            prop_assert!(before == after, "{what} {value} changed the screens and not the key");
        }
        // Dots of an index separation belong to its screens too.
        if !reaches && job.separation.method != Method::Index {
            prop_assert!(job.screen_inputs() == key, "{what} is taken to reach the screens");
            prop_assert!(before == after, "{what} {value} changed the screens");
        }
    }
}

#[test]
fn another_artwork_starts_a_cache_over() {
    let (first, job) = (art(), job());
    let mut other = (*first).clone();
    other.picture = Picture::from_rgba8(2, 2, &[200; 16]);
    let other = Arc::new(other);
    let mut cache = Cache::default();
    for art in [&first, &other, &first] {
        assert!(warm(&mut cache, &job, art, Detail::Full) == cold(&job, art, Detail::Full));
    }
}
