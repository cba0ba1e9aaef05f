//! Job files under bad conditions: killed saves, full disks, read-only folders, damage, and the
//! published format.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

mod disk;

use std::fs;
use std::io::{Cursor, Read, Write};
use std::path::Path;

use serde_json::{Value, json};
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::job::Job;
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::tune::{Edit, EditEntry, GreyPicture};
use strikeoff_core::units::{Opacity, Ppi};
use strikeoff_files::job::{JobFile, JobFileError, job_schema, open_job, read_grey, recover_job, save_job};
use strikeoff_tests::edits::Material;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

fn ink(name: &str) -> Ink {
    Ink {
        name: name.into(),
        over_white: "#2F6F77".parse().unwrap(),
        opacity: Opacity::new(0.6).unwrap(),
        role: InkRole::Color,
        measured: false,
        spectra: None,
    }
}

/// One edit of every kind.
fn every_edit() -> Vec<Edit> {
    let (ink, picture) = (ink("Plum"), glow());
    strikeoff_tests::edits::every_edit(&Material { screens: ["Teal", "Rose"], ink: &ink, picture: &picture })
}

/// A grey picture as it is brought in from a file.
fn glow() -> GreyPicture {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("glow.png");
    let plane = Plane::from_fn(31, 17, |x, y| (x * 1999 + y * 77) as u16);
    fs::write(&path, strikeoff_files::picture::film_png(&plane, Ppi::new(72.0).unwrap())).unwrap();
    let picture = read_grey(&path).unwrap();
    assert_eq!(picture.pixels().unwrap().data()[40], u16::MAX - plane.data()[40]);
    picture
}

/// A job whose parts all follow from `number`, so that a mixture of two shows.
fn numbered(number: u32) -> JobFile {
    let mut job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
    job.info.title = format!("Lantern fair {number}");
    job.info.quantity = number;
    job.edits = every_edit().into_iter().map(EditEntry::on).collect();
    let art: Vec<u8> = (0..60_000u32).map(|i| (i.wrapping_mul(number.wrapping_add(7)) >> 5) as u8).collect();
    let mut file = JobFile::new(job, "lantern.png", art);
    let coverage = Plane::from_fn(90, 70, |x, y| ((x * y) as u32).wrapping_mul(number + 3) as u16);
    let list = vec![Screen { name: "Teal".into(), ink: ink("Teal"), hits: 1, coverage }];
    file.keep_screens(Screens { width: 90, height: 70, ppi: Ppi::new(300.0).unwrap(), list });
    file
}

fn members(path: &Path) -> Vec<(String, Vec<u8>)> {
    let mut zip = ZipArchive::new(fs::File::open(path).unwrap()).unwrap();
    (0..zip.len())
        .map(|at| {
            let mut member = zip.by_index(at).unwrap();
            let mut bytes = Vec::new();
            member.read_to_end(&mut bytes).unwrap();
            (member.name().unwrap().into_owned(), bytes)
        })
        .collect()
}

/// Writes a container of these members, deflated.
fn pack(path: &Path, members: &[(String, Vec<u8>)]) {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    for (name, bytes) in members {
        zip.start_file(name, options).unwrap();
        zip.write_all(bytes).unwrap();
    }
    fs::write(path, zip.finish().unwrap().into_inner()).unwrap();
}

fn manifest(members: &[(String, Vec<u8>)]) -> Value {
    serde_json::from_slice(&members.iter().find(|(name, _)| name == "job.json").unwrap().1).unwrap()
}

/// The same container with a changed manifest.
fn with_manifest(path: &Path, to: &Path, change: impl FnOnce(&mut Value)) {
    let mut members = members(path);
    let mut value = manifest(&members);
    change(&mut value);
    members.iter_mut().find(|(name, _)| name == "job.json").unwrap().1 = serde_json::to_vec(&value).unwrap();
    pack(to, &members);
}

/// Pointers to every object in a JSON value.
fn objects(value: &Value, at: String, found: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            map.iter().for_each(|(key, value)| objects(value, format!("{at}/{key}"), found));
            found.push(at);
        }
        Value::Array(list) => list.iter().enumerate().for_each(|(i, v)| objects(v, format!("{at}/{i}"), found)),
        _ => {}
    }
}

/// The published schema is made from the program's own types. `REPLACE=1` renews the file, and
/// that run still fails.
#[test]
fn the_published_schema_is_current_and_strict() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/job.schema.json");
    let schema = job_schema();
    let made = format!("{schema:#}\n");
    if fs::read_to_string(&path).unwrap() != made {
        if std::env::var_os("REPLACE").is_some() {
            fs::write(&path, &made).unwrap();
        }
        panic!("docs/job.schema.json is not current; renew it with REPLACE=1 cargo test --test job_files schema");
    }
    // Every object says which keys it may have and refuses others.
    fn strict(value: &Value, at: &str, objects: &mut usize) {
        if let Some(map) = value.as_object() {
            if map.contains_key("properties") {
                *objects += 1;
                assert_eq!(map.get("additionalProperties"), Some(&json!(false)), "{at} takes any key");
            }
            map.iter().for_each(|(key, value)| strict(value, &format!("{at}/{key}"), objects));
        } else if let Some(list) = value.as_array() {
            list.iter().enumerate().for_each(|(i, value)| strict(value, &format!("{at}/{i}"), objects));
        }
    }
    let mut objects = 0;
    strict(&schema, "", &mut objects);
    assert!(objects > 50, "{objects}");
}

/// JSON Schema 2020-12, by the crate `jsonschema`.
#[test]
fn manifests_follow_the_published_schema() {
    let schema: Value = serde_json::from_str(include_str!("../../../docs/job.schema.json")).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a.strikeoff");
    let mut file = numbered(3);
    file.keep_version("Client proof 1", "", "").unwrap();
    save_job(&path, &file).unwrap();
    let value = manifest(&members(&path));
    let errors: Vec<String> = validator.iter_errors(&value).map(|e| format!("{e} at {}", e.instance_path())).collect();
    assert!(errors.is_empty(), "{errors:#?}");
    // An unknown key is refused in every object of the manifest, by the schema and by the program. Where
    // the keys are names of screens (stops, meshes, prices, film settings) the value is refused.
    let mut places = Vec::new();
    objects(&value, String::new(), &mut places);
    for place in &places {
        let mut bad = value.clone();
        bad.pointer_mut(place).unwrap()["unheard_of"] = json!(true);
        assert!(!validator.is_valid(&bad), "the schema takes any key at {place}");
        let to = dir.path().join("bad.strikeoff");
        with_manifest(&path, &to, |m| *m = bad);
        assert!(matches!(open_job(&to), Err(JobFileError::Settings { .. })), "the program takes any key at {place}");
    }
    assert!(places.len() > 60, "{}", places.len());
    // The schema and the program refuse the same nonsense.
    for (what, change) in [
        ("an unknown key", json!({"kind": "invert", "screen": "Teal", "more": 1})),
        ("an unknown edit", json!({"kind": "polish", "screen": "Teal"})),
        ("a coverage over 1", json!({"kind": "drop", "screen": 5})),
        ("a curve of one point", json!({"kind": "curve", "screen": "Teal", "curve": [[0, 0]]})),
        ("a negative length", json!({"kind": "choke", "screen": "Teal", "by_mm": -1})),
    ] {
        let mut bad = value.clone();
        bad["job"]["edits"][0]["edit"] = change.clone();
        assert!(!validator.is_valid(&bad), "{what}");
        let to = dir.path().join("bad.strikeoff");
        with_manifest(&path, &to, |m| m["job"]["edits"][0]["edit"] = change);
        assert!(matches!(open_job(&to), Err(JobFileError::Settings { .. })), "{what}");
    }
}

#[test]
fn damage_is_an_error_or_a_recovery_with_a_list_and_never_a_panic() {
    let dir = tempfile::tempdir().unwrap();
    let good = dir.path().join("good.strikeoff");
    let original = numbered(5);
    save_job(&good, &original).unwrap();
    let bytes = fs::read(&good).unwrap();
    let bad = dir.path().join("bad.strikeoff");
    let (mut whole, mut partial, mut refused) = (0, 0, 0);
    let mut judge = |bytes: &[u8], what: &str| {
        fs::write(&bad, bytes).unwrap();
        match open_job(&bad) {
            // Damage may hit what does not matter: dates, or a cache, which is then named.
            Ok(job) if job.lost.is_empty() => {
                assert_eq!((&job.job, &job.art_bytes), (&original.job, &original.art_bytes), "{what}");
                assert!(job.screens.is_none() || job.screens == original.screens, "{what}");
                whole += 1;
            }
            Ok(job) => {
                assert_eq!((&job.job, &job.art_bytes), (&original.job, &original.art_bytes), "{what}");
                partial += 1;
            }
            Err(error) => {
                assert!(error.to_string().ends_with("bad.strikeoff"), "{what}: {error}");
                refused += 1;
                match recover_job(&bad) {
                    Ok(job) => assert!(!job.lost.is_empty(), "{what}"),
                    Err(error) => assert!(error.to_string().contains("bad.strikeoff"), "{what}: {error}"),
                }
            }
        }
    };
    let mut random = 88_172_645_463_325_252_u64;
    let mut next = |below: usize| {
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        (random % below as u64) as usize
    };
    for _ in 0..400 {
        let mut flipped = bytes.clone();
        for _ in 0..1 + next(3) {
            let at = next(flipped.len());
            flipped[at] ^= 1 << next(8);
        }
        judge(&flipped, "bit flips");
    }
    // Every bit of the table of contents, which is where a reader is led astray.
    let directory = bytes.len() - 400;
    for at in directory..bytes.len() {
        let mut flipped = bytes.clone();
        flipped[at] ^= 1 << next(8);
        judge(&flipped, "a flip in the table of contents");
    }
    for cut in (0..bytes.len()).step_by(bytes.len() / 60) {
        judge(&bytes[..cut], "cut");
    }
    assert!(partial > 10 && refused > 100, "{whole} {partial} {refused}");
}

#[test]
fn a_cut_job_gives_its_settings_and_art_back() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a.strikeoff");
    let original = numbered(5);
    save_job(&path, &original).unwrap();
    let bytes = fs::read(&path).unwrap();
    // Without the table of contents, as when a copy was broken off.
    fs::write(&path, &bytes[..bytes.len() - 700]).unwrap();
    assert!(matches!(open_job(&path), Err(JobFileError::Damaged { .. })));
    let back = recover_job(&path).unwrap();
    assert_eq!((&back.job, &back.art_bytes), (&original.job, &original.art_bytes));
    assert!(back.lost.iter().any(|l| l.contains("screens")), "{:?}", back.lost);
    fs::write(&path, &bytes[..10]).unwrap();
    assert!(recover_job(&path).is_err());
}

#[test]
fn wrong_types_are_named_and_the_rest_can_be_recovered() {
    let dir = tempfile::tempdir().unwrap();
    let (good, bad) = (dir.path().join("good.strikeoff"), dir.path().join("bad.strikeoff"));
    let original = numbered(5);
    save_job(&good, &original).unwrap();
    with_manifest(&good, &bad, |m| {
        m["job"]["film"]["ruling"] = json!("coarse");
        m["job"]["edits"][3] = json!({"on": true, "edit": {"kind": "polish"}});
    });
    let error = open_job(&bad).unwrap_err().to_string();
    assert!(error.contains("settings"), "{error}");
    let back = recover_job(&bad).unwrap();
    assert_eq!(back.job.edits.len(), original.job.edits.len() - 1);
    assert_eq!(back.job.separation, original.job.separation);
    assert!(back.lost.iter().any(|l| l.contains("film")), "{:?}", back.lost);
    assert!(back.lost.iter().any(|l| l.contains("edit 4")), "{:?}", back.lost);
}

#[test]
fn a_later_format_a_foreign_zip_and_missing_members_are_named() {
    let dir = tempfile::tempdir().unwrap();
    let (good, bad) = (dir.path().join("good.strikeoff"), dir.path().join("bad.strikeoff"));
    save_job(&good, &numbered(5)).unwrap();
    with_manifest(&good, &bad, |m| m["schema_version"] = json!(9));
    let error = open_job(&bad).unwrap_err();
    assert!(matches!(error, JobFileError::Future { found: 9, .. }), "{error}");
    pack(&bad, &[("hello.txt".into(), b"hello".to_vec())]);
    assert!(matches!(open_job(&bad), Err(JobFileError::NotAJob { .. })));
    fs::write(&bad, b"not a zip at all").unwrap();
    assert!(matches!(open_job(&bad), Err(JobFileError::NotAJob { .. })));
    fs::write(&bad, b"").unwrap();
    assert!(matches!(open_job(&bad), Err(JobFileError::Empty { .. })));
    assert!(open_job(&dir.path().join("none.strikeoff")).unwrap_err().to_string().contains("cannot read"));
    let all = members(&good);
    let without = |part: &str| all.iter().filter(|(name, _)| !name.starts_with(part)).cloned().collect::<Vec<_>>();
    pack(&bad, &without("art/"));
    let error = open_job(&bad).unwrap_err().to_string();
    assert!(error.contains("the art: it is missing"), "{error}");
    // A grey picture that was brought in comes back, or its loss is named.
    let picture = |job: &JobFile| job.job.edits.iter().find_map(|e| e.edit.grey()).unwrap().pixels().cloned();
    assert_eq!(picture(&open_job(&good).unwrap()), glow().pixels().cloned());
    pack(&bad, &without("pictures/"));
    let job = open_job(&bad).unwrap();
    assert!(picture(&job).is_none());
    assert!(job.lost[0].contains("the grey picture glow.png was lost"), "{:?}", job.lost);
    pack(&bad, &without("screens/"));
    let job = open_job(&bad).unwrap();
    assert_eq!(job.screens, None);
    assert!(job.lost[0].contains("made again"), "{:?}", job.lost);
}

#[test]
fn bombs_and_names_that_lead_out_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let (good, bad) = (dir.path().join("good.strikeoff"), dir.path().join("bad.strikeoff"));
    save_job(&good, &numbered(5)).unwrap();
    let mut bomb = members(&good);
    bomb.iter_mut().find(|(name, _)| name.starts_with("art/")).unwrap().1 = vec![0; 300 << 20];
    pack(&bad, &bomb);
    let error = open_job(&bad).unwrap_err();
    assert!(matches!(error, JobFileError::Unsafe { .. }), "{error}");
    for name in ["../outside.png", "/tmp/outside.png", "art\\..\\..\\outside.png", "c:outside.png"] {
        let mut away = members(&good);
        let at = away.iter().position(|(name, _)| name.starts_with("art/")).unwrap();
        away[at].0 = name.to_owned();
        let mut value = manifest(&away);
        value["art"]["file"] = json!(name);
        away[0].1 = serde_json::to_vec(&value).unwrap();
        pack(&bad, &away);
        let error = open_job(&bad).unwrap_err();
        assert!(matches!(error, JobFileError::Unsafe { .. }), "{name}: {error}");
        let _ = recover_job(&bad);
    }
    // A screen that claims to be enormous is a cache that is left out.
    with_manifest(&good, &bad, |m| m["screens"]["width_px"] = json!(4_000_000_000u64));
    assert!(open_job(&bad).unwrap().lost[0].contains("4000000000"));
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2, "nothing was written");
}
