//! Which stored screens stand for a job: the fingerprint as `docs/job-format.md` describes it, computed
//! here from a saved file alone, and what may change in a job without losing them.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

use std::fs::File;
use std::path::Path;

use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use strikeoff_core::ink::Garment;
use strikeoff_core::job::{ALGORITHM_VERSION, Job};
use strikeoff_core::press::{DotGain, Stop};
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::tune::{Edit, EditEntry, edits};
use strikeoff_core::units::{Coverage, LengthUnit, Lpi, Mm, Ppi};
use strikeoff_core::usage::Mesh;
use strikeoff_files::job::{JobFile, ScreensFrom, open_job, same_screens, save_job};
use strikeoff_files::shelf::house_shelf;
use zip::ZipArchive;

/// A job with flashes, edits on and off, and screens that an earlier program made.
fn older() -> JobFile {
    let mut job = Job::new(Garment::of_color("#1C2A52".parse().unwrap()));
    let shelf = house_shelf();
    let inks: Vec<_> = shelf.inks.iter().take(3).cloned().collect();
    job.separation = SeparationSettings::for_inks(inks.clone());
    job.press.stops.insert(inks[1].name.as_str().into(), Stop::FlashAndCoolDown);
    job.press.stops.insert(inks[0].name.as_str().into(), Stop::Flash);
    let edit = |by| Edit::Choke(edits::Choke { screen: inks[2].name.as_str().into(), by_mm: Mm::new(by).unwrap() });
    job.give_angles();
    job.edits = vec![EditEntry::on(edit(0.2)), EditEntry { on: false, edit: edit(0.4) }];
    let plane = |at| Plane::from_fn(60, 40, move |x, y| ((x * 997 + y * 13) * (at + 1)) as u16);
    let screen = |(at, ink): (usize, &strikeoff_core::ink::Ink)| Screen {
        name: ink.name.as_str().into(),
        ink: ink.clone(),
        hits: 1,
        coverage: plane(at),
    };
    let list = inks.iter().enumerate().map(screen).collect();
    let mut file = JobFile::new(job, "heron.png", b"art as received".to_vec());
    file.keep_screens(Screens { width: 60, height: 40, ppi: Ppi::new(300.0).unwrap(), list });
    file.screens.as_mut().unwrap().algorithm_version = ALGORITHM_VERSION - 1;
    file
}

/// JSON without spaces, keys in alphabetical order.
fn canonical(value: &Value) -> String {
    match value {
        Value::Object(map) => {
            let mut keys: Vec<&String> = map.keys().collect();
            keys.sort();
            let parts = keys.iter().map(|key| format!("{}:{}", json!(key), canonical(&map[*key])));
            format!("{{{}}}", parts.collect::<Vec<_>>().join(","))
        }
        Value::Array(list) => format!("[{}]", list.iter().map(canonical).collect::<Vec<_>>().join(",")),
        plain => plain.to_string(),
    }
}

fn manifest(path: &Path) -> Value {
    let mut zip = ZipArchive::new(File::open(path).unwrap()).unwrap();
    serde_json::from_reader(zip.by_name("job.json").unwrap()).unwrap()
}

/// SHA-256 is FIPS 180-4, by the crate `sha2`.
#[test]
fn made_from_is_what_the_format_describes() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("heron.strikeoff");
    save_job(&path, &older()).unwrap();
    let manifest = manifest(&path);
    let job = &manifest["job"];
    let on = |entry: &&Value| entry["on"] == json!(true);
    let edits: Vec<&Value> = job["edits"].as_array().unwrap().iter().filter(on).map(|entry| &entry["edit"]).collect();
    let mut flashed: Vec<&String> = job["press"]["stops"].as_object().unwrap().keys().collect();
    flashed.sort();
    assert_eq!((edits.len(), flashed.len()), (1, 2));
    let parts = json!({
        "art": manifest["art"]["sha256"],
        "inputs": {
            "edits": edits,
            "ground": {
                "fabric": job["garment"]["color"],
                "flashed": flashed,
                "wet_on_wet": job["press"]["wet_on_wet"],
                "yule_nielsen": job["press"]["yule_nielsen"],
            },
            "prep": job["prep"],
            "separation": job["separation"],
        },
    });
    let digest = Sha256::digest(canonical(&parts).as_bytes());
    let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(manifest["screens"]["made_from"], json!(hex));
}

type Change = fn(&mut Job);

/// The screens that were printed stay, through saving and opening, until a change reaches them.
#[test]
fn older_screens_are_kept_until_a_change_reaches_them() {
    let keep: [(&str, Change); 12] = [
        ("inches to millimetres", |job| job.info.unit = LengthUnit::Mm),
        ("the title", |job| job.info.title = "Lantern fair".into()),
        ("one more head", |job| job.run.heads += 1),
        ("a mesh", |job| drop(job.run.meshes.insert("Black".into(), Mesh::named("305/34").unwrap()))),
        ("every mesh", |job| job.run.mesh = Mesh::named("156/64").unwrap()),
        ("the distance below the collar", |job| job.run.below_collar_mm = Mm::new(60.0).unwrap()),
        ("an ink price", |job| {
            job.run.ink.price_per_kg.insert("Black".into(), 21.0);
        }),
        ("the gain", |job| job.press.gain = DotGain::Edge { growth_um: 60.0 }),
        ("the ruling", |job| job.film.ruling = Lpi::new(65.0).unwrap()),
        ("the garment's name", |job| job.garment.name = "Night".into()),
        ("a cool-down", |job| job.press.stops.values_mut().for_each(|stop| *stop = Stop::FlashAndCoolDown)),
        ("an edit that is off", |job| drop(job.edits.pop())),
    ];
    let lose: [(&str, Change); 6] = [
        ("the fabric", |job| job.garment.color = "#A3202B".parse().unwrap()),
        ("the print's size", |job| job.prep.max_width_mm = Mm::new(120.0).ok()),
        ("the separation", |job| job.separation.black_strength = 0.9),
        ("an edit", |job| job.edits[1].on = true),
        ("a flash", |job| job.press.stops.clear()),
        ("wet on wet", |job| job.press.wet_on_wet = Coverage::new(0.5).unwrap()),
    ];
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("heron.strikeoff");
    let mut kept = older();
    let printed = kept.screens.clone();
    let by_other = ScreensFrom::StoredByOther { stored: ALGORITHM_VERSION - 1, program: ALGORITHM_VERSION };
    // One on the other: what stays must outlive all of them together.
    for (name, change) in keep {
        let before = kept.job.clone();
        change(&mut kept.job);
        assert_ne!(kept.job, before, "{name} changes nothing");
        assert!(same_screens(&kept.job, &before), "{name}");
        save_job(&path, &kept).unwrap();
        kept = open_job(&path).unwrap();
        assert_eq!(kept.screens_from(), by_other, "{name}");
        assert!(kept.screens == printed, "{name}");
    }
    for (name, change) in lose {
        let mut other = older();
        change(&mut other.job);
        assert!(!same_screens(&other.job, &older().job), "{name}");
        assert_eq!(other.screens_from(), ScreensFrom::Made, "{name}");
    }
    // Other art makes other screens of the same job.
    let mut other = older();
    other.art_bytes = b"another picture".to_vec().into();
    assert_eq!(other.screens_from(), ScreensFrom::Made);
}
