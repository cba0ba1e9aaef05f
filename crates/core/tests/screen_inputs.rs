//! `Job::screen_inputs` against the chain itself: a job is changed at every place of its JSON and by
//! random lists of changes; equal inputs must give equal screens, bit for bit, and each part that
//! the inputs name must be able to change them.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail")]

use proptest::prelude::*;
use serde_json::Value;
use strikeoff_core::Progress;
use strikeoff_core::ink::{Garment, Ink, InkRole, Knit};
use strikeoff_core::job::{Job, evaluate};
use strikeoff_core::prep::{BackgroundSettings, CropBox, PrintArea, SpeckSettings};
use strikeoff_core::press::Stop;
use strikeoff_core::raster::{Art, Detail, Picture, Plane};
use strikeoff_core::screens::Screens;
use strikeoff_core::separate::{Method, SeparationSettings};
use strikeoff_core::tune::{Edit, EditEntry, edits};
use strikeoff_core::units::{Coverage, Mm, Opacity, Ppi};
use strikeoff_core::usage::Mesh;

fn ink(name: &str, color: &str, opacity: f64, role: InkRole) -> Ink {
    let (over_white, opacity) = (color.parse().unwrap(), Opacity::new(opacity).unwrap());
    Ink { name: name.into(), over_white, opacity, role, measured: false, spectra: None }
}

/// Hues and tones in flat fields and ramps, clear at the left.
fn art() -> Art {
    let pixels = Plane::from_fn(40, 32, |x, y| match (x, y) {
        (0..4, _) => [0; 4],
        (_, 0..8) => [52_000, 9_000, 10_500, u16::MAX],
        (_, 8..14) => [64_000, 48_000, 8_700, u16::MAX],
        _ => [(x * 1600) as u16, (y * 1900) as u16, ((x + y) * 700) as u16, u16::MAX],
    });
    Art { picture: Picture::new(pixels), ppi: Ppi::new(60.0).unwrap() }
}

/// A job with something in every part, on few pixels.
fn job() -> Job {
    let mm = |v| Mm::new(v).unwrap();
    let mut job = Job::new(Garment::of_color("#1C2A52".parse().unwrap()));
    job.garment.fabric = Some("cotton".into());
    job.garment.knit = Some(Knit::default());
    job.info.quantity = 80;
    job.separation = SeparationSettings::for_inks([
        ink("Base", "#F4F4F0", 0.86, InkRole::BaseWhite),
        ink("Gold", "#FBBE22", 0.62, InkRole::Color),
        ink("Red", "#D8232A", 0.72, InkRole::Color),
        ink("Black", "#17171A", 0.95, InkRole::Black),
        ink("White", "#FAFAF7", 0.82, InkRole::White),
    ]);
    job.prep.ppi = Ppi::new(60.0).unwrap();
    job.prep.crop = Some(CropBox { left: 0.0, top: 0.0, width: 1.0, height: 0.95 });
    job.prep.max_width_mm = Some(mm(16.0));
    job.prep.max_height_mm = Some(mm(40.0));
    job.prep.platen = Some(PrintArea { width_mm: mm(300.0), height_mm: mm(300.0) });
    job.prep.specks = Some(SpeckSettings::default());
    job.press.stops.insert("Base".into(), Stop::Flash);
    job.run.meshes.insert("Base".into(), Mesh::named("110/80").unwrap());
    job.run.ink.price_per_kg.insert("Red".into(), 14.0);
    job.run.ink.weighed_g_per_shirt = Some(9.0);
    job.film.change_own(&"Red".into(), |own| own.angle = strikeoff_core::units::Degrees::new(75.0).ok());
    job.give_angles();
    job.edits = vec![
        EditEntry::on(Edit::Choke(edits::Choke { screen: "Gold".into(), by_mm: mm(0.5) })),
        EditEntry { on: false, edit: Edit::Spread(edits::Spread { screen: "Red".into(), by_mm: mm(1.0) }) },
    ];
    job
}

fn screens(job: &Job) -> Result<Screens, String> {
    let done = evaluate(job, &art(), Detail::Full, &Progress::none());
    done.map(|done| done.screens).map_err(|error| error.to_string())
}

/// Every leaf of a JSON value, by its path.
fn leaves(value: &Value, path: &str, out: &mut Vec<String>) {
    match value {
        Value::Object(map) => map.iter().for_each(|(key, value)| leaves(value, &format!("{path}/{key}"), out)),
        Value::Array(list) => {
            list.iter().enumerate().for_each(|(at, value)| leaves(value, &format!("{path}/{at}"), out));
        }
        _ => out.push(path.to_owned()),
    }
}

/// Other values that a leaf could have; the job's own types say which of them it can.
fn others(value: &Value, refused: impl Fn(Value) -> Option<String>) -> Vec<Value> {
    match value {
        Value::Bool(on) => vec![(!on).into()],
        Value::Number(n) => {
            let n = n.as_f64().unwrap();
            let whole = |v: f64| if v.fract() == 0.0 { (v as i64).into() } else { v.into() };
            [n * 0.5, n * 1.25 + 0.01, n + 1.0, n - 1.0].map(whole).to_vec()
        }
        Value::String(text) if text.starts_with('#') => vec!["#7A5230".into()],
        // An enum names its variants when it meets a stranger.
        Value::String(_) => match refused("a name of no kind".into()) {
            Some(error) => error.split('`').skip(1).step_by(2).map(Value::from).collect(),
            None => vec!["another".into()],
        },
        _ => Vec::new(),
    }
}

/// The job with one leaf changed, in all the ways that the job's types take.
fn changed_at(whole: &Value, path: &str) -> Vec<Job> {
    let with = |value: Value| {
        let mut other = whole.clone();
        *other.pointer_mut(path).unwrap() = value;
        serde_json::from_value::<Job>(other)
    };
    let leaf = whole.pointer(path).unwrap();
    let candidates = others(leaf, |value| with(value).err().map(|error| error.to_string()));
    let made = candidates.into_iter().filter(|other| other != leaf).filter_map(|other| with(other).ok());
    // A value out of its range is refused before anything is made.
    made.filter(|job| job.check().is_ok()).collect()
}

/// Every leaf, whatever it is called: a setting that is added later is held to this too.
#[test]
fn no_leaf_changes_the_screens_past_the_inputs() {
    let job = job();
    let (inputs, before) = (job.screen_inputs(), screens(&job).unwrap());
    let whole = serde_json::to_value(&job).unwrap();
    let mut paths = Vec::new();
    leaves(&whole, "", &mut paths);
    let (mut kept, mut moved) = (0, 0);
    for path in paths {
        for other in changed_at(&whole, &path) {
            if other.screen_inputs() == inputs {
                assert!(screens(&other).as_ref() == Ok(&before), "{path} changes screens past the inputs");
                kept += 1;
            } else {
                moved += 1;
            }
        }
    }
    assert!(kept > 60 && moved > 60, "{kept} changes kept the inputs, {moved} did not");
}

type Change = fn(&mut Job);

/// What is said to change no screen.
const KEEP: [(&str, Change); 15] = [
    ("the ticket", |job| job.info.set_sizes("S 20, M 60").unwrap()),
    ("inches to mm", |job| job.info.unit = strikeoff_core::units::LengthUnit::Mm),
    ("the client", |job| job.info.client = "Heron & Sons".into()),
    ("a head more", |job| job.run.heads += 1),
    ("a mesh", |job| drop(job.run.meshes.insert("Red".into(), Mesh::named("305/34").unwrap()))),
    ("every mesh", |job| job.run.mesh = Mesh::named("156/64").unwrap()),
    ("the distance below the collar", |job| job.run.below_collar_mm = Mm::new(60.0).unwrap()),
    ("the register", |job| job.run.register_mm = Mm::new(0.4).unwrap()),
    ("a price", |job| {
        job.run.ink.price_per_kg.insert("Gold".into(), 21.0);
    }),
    ("the gain", |job| job.press.gain = strikeoff_core::press::DotGain::Edge { growth_um: 60.0 }),
    ("compensation", |job| job.press.compensate = !job.press.compensate),
    ("the ruling", |job| job.film.ruling = strikeoff_core::units::Lpi::new(65.0).unwrap()),
    ("the garment's name and cloth", |job| (job.garment.name, job.garment.fabric) = ("Night".into(), None)),
    ("a longer stop", |job| {
        job.press.stops.insert("Base".into(), Stop::FlashAndCoolDown);
    }),
    ("an edit that is off", |job| job.edits.retain(|edit| edit.on)),
];

/// One change for each part of the inputs.
const MOVE: [(&str, Change); 9] = [
    ("the fabric", |job| job.garment.color = "#A3202B".parse().unwrap()),
    ("the preparation", |job| job.prep.max_width_mm = Mm::new(12.0).ok()),
    ("the background", |job| {
        // The red field at the top, which the picture's edge touches.
        let color = Some(strikeoff_core::color::Rgb8([203, 35, 41]));
        job.prep.background = Some(BackgroundSettings { color, tolerance: 0.2, ..Default::default() });
    }),
    ("the separation", |job| job.separation.black_strength = 0.9),
    ("the method", |job| job.set_method(Method::Index)),
    ("an edit", |job| job.edits[0].on = false),
    ("a flash", |job| {
        job.press.stops.insert("Gold".into(), Stop::Flash);
    }),
    ("wet on wet", |job| job.press.wet_on_wet = Coverage::new(0.5).unwrap()),
    ("Yule-Nielsen's n", |job| job.press.yule_nielsen = 1.7),
];

#[test]
fn each_part_of_the_inputs_changes_the_screens() {
    let job = job();
    let before = screens(&job).unwrap();
    // At one angle register and ruling reach the screens too, so it is no part of the random lists below.
    let one_angle: (&str, Change) = ("one angle for all", |job| job.film.share_one_angle());
    for (name, change) in MOVE.into_iter().chain([one_angle]) {
        let mut other = job.clone();
        change(&mut other);
        assert_ne!(other.screen_inputs(), job.screen_inputs(), "{name}");
        assert!(screens(&other).unwrap() != before, "{name} changes no screen");
    }
    // Every part of the inputs is moved by one of these.
    let parts = |job: &Job| {
        let mut parts = serde_json::to_value(job.screen_inputs()).unwrap();
        let ground = parts.as_object_mut().unwrap().remove("ground").unwrap();
        parts.as_object_mut().unwrap().extend(ground.as_object().unwrap().clone());
        parts
    };
    let moved = |part: &String| {
        MOVE.iter().any(|(_, change)| {
            let mut other = job.clone();
            change(&mut other);
            parts(&other)[part] != parts(&job)[part]
        })
    };
    let names: Vec<String> = parts(&job).as_object().unwrap().keys().cloned().collect();
    assert_eq!(names.len(), 7, "{names:?}");
    assert!(names.iter().all(moved), "{names:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    /// Any number of changes that are no inputs, on a job that was changed at random before.
    #[test]
    fn other_parts_never_change_the_screens(
        first in proptest::collection::vec(0..MOVE.len(), 0..3),
        then in proptest::collection::vec(0..KEEP.len(), 1..6),
    ) {
        let mut job = job();
        first.iter().for_each(|&at| MOVE[at].1(&mut job));
        let mut other = job.clone();
        for &at in &then {
            KEEP[at].1(&mut other);
        }
        let names: Vec<&str> = then.iter().map(|&at| KEEP[at].0).collect();
        prop_assert_eq!(other.screen_inputs(), job.screen_inputs(), "{:?}", &names);
        prop_assert!(screens(&other) == screens(&job), "{:?}", names);
    }
}
