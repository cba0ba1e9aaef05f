//! Every number, text and list of a job has a range in the published schema; what lies just outside is
//! refused in one sentence that names the field, its range and its unit, and what lies at an end is
//! evaluated, checked, proofed and written onto a sheet in bounded memory.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

use std::io::{Cursor, Read, Write};
use std::path::Path;
use std::sync::LazyLock;
use strikeoff_core::screens::ScreenName;
use strikeoff_tests::edits::{Material, every_edit as every_kind, glow};

use proptest::prelude::*;
use serde_json::{Map, Value, json};
use strikeoff_core::Progress;
use strikeoff_core::bounds::plain_number;
use strikeoff_core::color::{BANDS, Spectrum};
use strikeoff_core::findings::outlook;
use strikeoff_core::halftone::{DotShape, Linearisation, ScreenFilm};
use strikeoff_core::ink::{Garment, Ink, InkSpectra, Knit};
use strikeoff_core::job::Job;
use strikeoff_core::prep::{BackgroundSettings, CropBox, PrintArea, SpeckSettings};
use strikeoff_core::press::{DotGain, Stop, proof_from_screens};
use strikeoff_core::raster::{FULL, Picture, Plane};
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::tune::{Edit, EditEntry};
use strikeoff_core::units::{Coverage, Degrees, Dpi, Lpi, Mm, Ppi};
use strikeoff_files::job::{JobFile, JobFileError, job_schema, open_job, recover_job, save_job};
use strikeoff_files::sheet::{Content, press_sheet_html};
use strikeoff_files::shelf::house_shelf;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

static SCHEMA: LazyLock<Value> = LazyLock::new(job_schema);

fn c(v: f64) -> Coverage {
    Coverage::new(v).unwrap()
}

fn mm(v: f64) -> Mm {
    Mm::new(v).unwrap()
}

fn ink(name: &str) -> Ink {
    house_shelf().find(name).unwrap().clone()
}

/// A print of 20 x 13 mm with every optional part set, so that every field of the schema that is not an
/// edit's own stands in its JSON.
fn small_job() -> JobFile {
    let mut job = Job::new(Garment::of_color("#17171A".parse().unwrap()));
    job.garment.fabric = Some("cotton".into());
    job.garment.knit = Some(Knit::default());
    job.info.history = vec!["2026-11-02, 40 shirts".into()];
    let area = PrintArea { width_mm: mm(20.0), height_mm: mm(20.0) };
    job.prep.crop = Some(CropBox { left: 0.0, top: 0.0, width: 1.0, height: 1.0 });
    job.prep.content_margin_mm = Some(mm(0.5));
    job.prep.background = Some(BackgroundSettings::default());
    job.prep.specks = Some(SpeckSettings::default());
    (job.prep.max_width_mm, job.prep.max_height_mm) = (Some(mm(20.0)), Some(mm(20.0)));
    (job.prep.platen, job.prep.smallest_garment) = (Some(area), Some(area));
    job.prep.ppi = Ppi::new(60.0).unwrap();
    let mut teal = ink("Turquoise");
    let flat = |r: f32| Spectrum([r; BANDS]);
    teal.spectra = Some(Box::new(InkSpectra {
        over_white: flat(0.4),
        over_black: flat(0.3),
        white: flat(0.85),
        black: flat(0.05),
    }));
    job.separation = SeparationSettings::for_inks([ink("Base white"), teal, ink("Signal red")]);
    let screens: Vec<ScreenName> = job.separation.screens.iter().map(|s| s.name.clone()).collect();
    job.separation.underbase.under = Some(vec![screens[1].clone()]);
    job.press.stops.insert(screens[0].clone(), Stop::Flash);
    job.run.meshes.insert(screens[0].clone(), job.run.mesh.clone());
    job.run.ink.price_per_kg.insert(screens[0].clone(), 20.0);
    job.run.ink.weighed_g_per_shirt = Some(2.0);
    job.film.dpi_down = Some(Dpi::new(720.0).unwrap());
    job.film.printer_width = Some(mm(400.0));
    job.film.linearisation = Some(Linearisation { name: "wedge".into(), points: vec![(c(0.5), c(0.55))] });
    let own = ScreenFilm {
        ruling: Some(Lpi::new(55.0).unwrap()),
        angle: Some(Degrees::new(15.0).unwrap()),
        dot: Some(DotShape::usual_ellipse()),
    };
    job.film.screens.insert(screens[1].clone(), own);
    let art = Plane::from_fn(60, 40, |x, y| {
        let inside = (10..50).contains(&x) && (8..32).contains(&y);
        if inside { [(x * 900) as u16, 30_000, (y * 1500) as u16, FULL] } else { [FULL; 4] }
    });
    let png = strikeoff_files::picture::png_bytes(&Picture::new(art), Ppi::new(76.2).unwrap());
    JobFile::new(job, "heron.png", png)
}

/// One edit of every kind, on the small job's screens; a grey picture needs a file of its own.
fn every_edit() -> Vec<Edit> {
    let (ink, picture) = (ink("Lemon"), glow());
    let of = Material { screens: ["Turquoise", "Signal red"], ink: &ink, picture: &picture };
    every_kind(&of).into_iter().filter(|edit| edit.grey().is_none()).collect()
}

fn every_dot() -> [DotShape; 9] {
    DotShape::kinds()
}

/// A job file as saved, to change its manifest.
struct Packed {
    members: Vec<(String, Vec<u8>)>,
    manifest: Value,
}

impl Packed {
    fn of(file: &JobFile) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.strikeoff");
        save_job(&path, file).unwrap();
        let mut zip = ZipArchive::new(std::fs::File::open(&path).unwrap()).unwrap();
        let mut members = Vec::new();
        for at in 0..zip.len() {
            let mut member = zip.by_index(at).unwrap();
            let mut bytes = Vec::new();
            member.read_to_end(&mut bytes).unwrap();
            members.push((member.name().unwrap().into_owned(), bytes));
        }
        let at = members.iter().position(|(name, _)| name == "job.json").unwrap();
        let manifest = serde_json::from_slice(&members.remove(at).1).unwrap();
        Self { members, manifest }
    }

    fn write(&self, path: &Path, manifest: &Value) {
        self.write_bytes(path, &serde_json::to_vec(manifest).unwrap());
    }

    fn write_bytes(&self, path: &Path, manifest: &[u8]) {
        let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
        zip.start_file("job.json", SimpleFileOptions::default()).unwrap();
        zip.write_all(manifest).unwrap();
        for (name, bytes) in &self.members {
            zip.start_file(name, SimpleFileOptions::default()).unwrap();
            zip.write_all(bytes).unwrap();
        }
        std::fs::write(path, zip.finish().unwrap().into_inner()).unwrap();
    }
}

/// Jobs that have every field of the schema between them.
fn all_jobs() -> Vec<JobFile> {
    let mut jobs = Vec::new();
    let with = |change: &dyn Fn(&mut Job)| {
        let mut file = small_job();
        change(&mut file.job);
        file
    };
    jobs.push(with(&|_| {}));
    for edit in every_edit() {
        jobs.push(with(&|job| job.edits = vec![EditEntry::on(edit.clone())]));
    }
    for dot in every_dot() {
        jobs.push(with(&|job| job.film.dot = dot));
    }
    for gain in
        [DotGain::Edge { growth_um: 40.0 }, DotGain::Measured { name: "wedge".into(), points: vec![(c(0.5), c(0.7))] }]
    {
        jobs.push(with(&|job| job.press.gain = gain.clone()));
    }
    jobs
}

/// A number in a manifest: where it stands, and what the schema says of it.
#[derive(Debug, Clone)]
struct Field {
    pointer: String,
    /// Where its schema stands.
    schema: String,
    min: f64,
    max: f64,
    title: String,
    unit: String,
}

/// Every number of a manifest, by the test's own walk over the schema. `found` has the pointers of the schema
/// nodes that were met.
fn numbers(manifest: &Value) -> Vec<Field> {
    fn resolve<'a>(schema: &'a Value, at: &str) -> (&'a Value, String) {
        match schema.get("$ref").and_then(Value::as_str) {
            Some(to) => (SCHEMA.pointer(&to[1..]).unwrap(), to[1..].to_owned()),
            None => (schema, at.to_owned()),
        }
    }
    /// The branch of a choice that `jsonschema` takes.
    fn branch<'a>(value: &Value, schema: &'a Value, at: &str) -> (&'a Value, String) {
        let (schema, at) = resolve(schema, at);
        for key in ["oneOf", "anyOf"] {
            for (i, option) in schema.get(key).and_then(Value::as_array).into_iter().flatten().enumerate() {
                let mut alone = option.clone();
                alone["$defs"] = SCHEMA["$defs"].clone();
                if jsonschema::is_valid(&alone, value) {
                    return branch(value, option, &format!("{at}/{key}/{i}"));
                }
            }
        }
        (schema, at)
    }
    fn walk(value: &Value, schema: &Value, at: &str, pointer: &str, found: &mut Vec<Field>) {
        if value.is_number() {
            // A field's own range counts before that of its type.
            let (typed, _) = branch(value, schema, at);
            let own = |key: &str| schema.get(key).or_else(|| typed.get(key));
            let number = |key: &str| own(key).and_then(Value::as_f64).unwrap_or(f64::NAN);
            let text = |key: &str| own(key).and_then(Value::as_str).unwrap_or("").to_owned();
            let unit =
                if schema.get("title").is_some() { schema["unit"].as_str().unwrap_or("").into() } else { text("unit") };
            found.push(Field {
                pointer: pointer.to_owned(),
                schema: at.to_owned(),
                min: number("minimum"),
                max: number("maximum"),
                title: text("title"),
                unit,
            });
            return;
        }
        let (schema, at) = branch(value, schema, at);
        match value {
            Value::Array(list) => list.iter().enumerate().for_each(|(i, value)| {
                let (item, place) = match schema.get("prefixItems") {
                    Some(tuple) => (&tuple[i], format!("{at}/prefixItems/{i}")),
                    None => (&schema["items"], format!("{at}/items")),
                };
                walk(value, item, &place, &format!("{pointer}/{i}"), found);
            }),
            Value::Object(map) => map.iter().for_each(|(key, value)| {
                let own = schema["properties"].get(key);
                let (field, place) = match own {
                    Some(field) => (field, format!("{at}/properties/{key}")),
                    None => (&schema["additionalProperties"], format!("{at}/additionalProperties")),
                };
                walk(value, field, &place, &format!("{pointer}/{key}"), found);
            }),
            _ => {}
        }
    }
    let mut found = Vec::new();
    walk(manifest, &SCHEMA, "", "", &mut found);
    found
}

/// Every node of the schema, with its pointer.
fn nodes(value: &Value, at: String, found: &mut Vec<(String, Map<String, Value>)>) {
    match value {
        Value::Object(map) => {
            found.push((at.clone(), map.clone()));
            for (key, value) in map.iter().filter(|(key, _)| *key != "default") {
                nodes(value, format!("{at}/{key}"), found);
            }
        }
        Value::Array(list) => list.iter().enumerate().for_each(|(i, value)| nodes(value, format!("{at}/{i}"), found)),
        _ => {}
    }
}

/// Fields whose numbers are not the user's, with the reason.
const NOT_OURS: [(&str, &str); 1] = [("/$defs/Mm", "the type of every length; each field has its own range")];

#[test]
fn every_number_text_and_list_of_the_schema_has_a_range() {
    let mut all = Vec::new();
    nodes(&SCHEMA, String::new(), &mut all);
    let (mut numbers, mut texts, mut lists, mut lengths) = (0, 0, 0, 0);
    for (at, node) in &all {
        let is = |name: &str| match node.get("type") {
            Some(Value::String(own)) => own == name,
            Some(Value::Array(list)) => list.contains(&json!(name)),
            _ => false,
        };
        let has = |key: &str| node.contains_key(key);
        if is("number") || is("integer") {
            numbers += 1;
            assert!(has("minimum") && has("maximum") && has("title"), "{at} has no range or name: {node:?}");
            let (min, max) = (node["minimum"].as_f64().unwrap(), node["maximum"].as_f64().unwrap());
            assert!(min <= max && max <= 10_000_000.0, "{at}: {min} to {max}");
        }
        if is("string") && !has("const") && !has("enum") {
            texts += 1;
            let bounded = has("maxLength") || node.get("pattern").is_some_and(|p| p.as_str().unwrap().contains("{6"));
            assert!(bounded, "{at} has no longest text");
        }
        if is("array") {
            lists += 1;
            assert!(has("maxItems"), "{at} has no longest list");
        }
        if node.get("additionalProperties").is_some_and(Value::is_object) {
            assert!(has("maxProperties") && has("propertyNames"), "{at} has no largest map");
        }
        // A length has a range of its own, narrower than that of its type.
        let of_mm = node.get("$ref") == Some(&json!("#/$defs/Mm"))
            || node.get("anyOf").and_then(|any| any.get(0)).is_some_and(|first| first["$ref"] == json!("#/$defs/Mm"));
        if of_mm && !at.contains("/anyOf/") {
            lengths += 1;
            assert!(has("maximum") && has("title"), "{at} has only the range of any length");
        }
    }
    assert_eq!(NOT_OURS.len(), 1);
    assert!(numbers > 80 && texts > 25 && lists > 15 && lengths > 25, "{numbers} {texts} {lists} {lengths}");
}

/// The table of ranges in `docs/job-format.md` is made from the schema. `REPLACE=1` renews it, and that run
/// still fails.
#[test]
fn the_published_ranges_are_those_of_the_schema() {
    let mut all = Vec::new();
    nodes(&SCHEMA, String::new(), &mut all);
    let text = |node: &Map<String, Value>, key: &str| node.get(key).and_then(Value::as_str).unwrap_or("").to_owned();
    let mut rows = std::collections::BTreeSet::new();
    for (_, node) in &all {
        let title = text(node, "title");
        if let (Some(min), Some(max)) = (node.get("minimum"), node.get("maximum")) {
            rows.insert(format!("| {title} | {min} to {max} | {} |", text(node, "unit")));
        }
        if let (Some(most), Some(_)) = (node.get("maxLength"), node.get("title")) {
            rows.insert(format!("| {title} | at most {most} | letters |"));
        }
        if let Some(most) = node.get("maxItems").or_else(|| node.get("maxProperties")).filter(|_| !title.is_empty()) {
            rows.insert(format!("| {title} | at most {most} | entries |"));
        }
    }
    let rows = rows.into_iter().collect::<Vec<_>>().join("\n");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/job-format.md");
    let doc = std::fs::read_to_string(&path).unwrap();
    let head = "| what | range | unit |\n|---|---|---|\n";
    let (before, rest) = doc.split_once(head).unwrap();
    let (old, after) = rest.split_once("\n\n").unwrap();
    if old != rows {
        if std::env::var_os("REPLACE").is_some() {
            std::fs::write(&path, format!("{before}{head}{rows}\n\n{after}")).unwrap();
        }
        panic!(
            "the ranges in docs/job-format.md are not current; renew them with REPLACE=1 cargo test --test bounds ranges"
        );
    }
}

/// What a file with this manifest gives when it is opened.
fn opened(packed: &Packed, manifest: &Value, dir: &Path) -> Result<JobFile, JobFileError> {
    let path = dir.join("changed.strikeoff");
    packed.write(&path, manifest);
    open_job(&path)
}

#[test]
fn a_number_just_outside_is_refused_with_its_name_range_and_unit() {
    let dir = tempfile::tempdir().unwrap();
    let validator = jsonschema::validator_for(&SCHEMA).unwrap();
    let mut seen = std::collections::BTreeSet::new();
    for file in all_jobs() {
        let packed = Packed::of(&file);
        for field in numbers(&packed.manifest) {
            if !seen.insert(field.schema.clone()) {
                continue;
            }
            assert!(field.min <= field.max && !field.title.is_empty(), "{field:?}");
            let whole = packed.manifest.pointer(&field.pointer).unwrap().is_u64() && field.unit != "mm";
            let step = if whole { 1.0 } else { (field.max - field.min).max(1.0) * 1e-6 };
            for beyond in [field.min - step, field.max + step, 1e308, -1e308] {
                let mut bad = packed.manifest.clone();
                *bad.pointer_mut(&field.pointer).unwrap() = json!(beyond);
                let said = opened(&packed, &bad, dir.path()).unwrap_err().to_string();
                if field.pointer == "/schema_version" {
                    continue;
                }
                assert!(!validator.is_valid(&bad), "the schema takes {beyond} for {field:?}");
                let blank = if field.unit.is_empty() { "" } else { " " };
                let (min, max) = (plain_number(field.min), plain_number(field.max));
                let wants = format!("{} must be {min} to {max}{blank}{}, not ", field.title, field.unit);
                assert!(said.contains(&wants), "{field:?} {beyond}: {said}");
                assert!(said.len() < 600 && !said.contains('\n'), "{said}");
                // What can be saved of it leaves the part out and says so.
                let saved = recover_job(&dir.path().join("changed.strikeoff")).unwrap();
                saved.job.check().unwrap();
            }
        }
    }
    // The walk met every number of the schema that a job can have.
    assert!(seen.len() > 120, "{}", seen.len());
    let mut all = Vec::new();
    nodes(&SCHEMA, String::new(), &mut all);
    for (at, node) in all {
        let ty = node.get("type");
        let number = [json!("number"), json!("integer"), json!(["number", "null"]), json!(["integer", "null"])];
        let in_job = !at.starts_with("/properties/") && !at.contains("ScreensEntry") && !at.contains("ScreenEntry");
        if ty.is_some_and(|ty| number.contains(ty)) && in_job && at.contains("/properties/") {
            assert!(seen.contains(&at), "no job has the number at {at}");
        }
    }
}

/// What `check`, `proof` and `sheet` do.
fn work(file: &JobFile) -> Result<(), String> {
    let quiet = Progress::none();
    let done = file.evaluated(&quiet).map_err(|e| e.to_string())?;
    let look = outlook(&file.job, &done.prepared, &done.screens, &quiet).map_err(|e| e.to_string())?;
    let job = &file.job;
    let proof = proof_from_screens(&done.screens, &job.ground(), |_| true);
    assert_eq!(proof.width(), done.screens.width);
    let html = press_sheet_html(&Content::new(job, &done.prepared, &done.screens, &look));
    assert!(html.len() > 1000);
    Ok(())
}

#[cfg(target_os = "linux")]
fn peak_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|l| l.starts_with("VmHWM")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap() / 1024
}

/// Each number at both of its ends. A combination that makes no print may be refused in a sentence.
#[cfg(target_os = "linux")]
#[test]
fn at_the_ends_check_proof_and_sheet_stay_in_memory() {
    let dir = tempfile::tempdir().unwrap();
    let mut seen = std::collections::BTreeSet::new();
    let (mut done, mut refused) = (0, Vec::new());
    for file in all_jobs() {
        let packed = Packed::of(&file);
        for field in numbers(&packed.manifest) {
            if !field.pointer.starts_with("/job/") || !seen.insert(field.schema.clone()) {
                continue;
            }
            for end in [field.min, field.max] {
                let whole = packed.manifest.pointer(&field.pointer).unwrap().is_u64();
                let mut at_end = packed.manifest.clone();
                *at_end.pointer_mut(&field.pointer).unwrap() = if whole { json!(end as u64) } else { json!(end) };
                let opened = opened(&packed, &at_end, dir.path()).map_err(|e| e.to_string());
                match opened.and_then(|file| work(&file)) {
                    Ok(()) => done += 1,
                    Err(said) => refused.push(format!("{} = {end}: {said}", field.pointer)),
                }
                let peak = peak_mb();
                assert!(peak < 1500, "{} = {end}: {peak} MB", field.pointer);
            }
        }
    }
    assert!(done > 200, "{done}; refused: {refused:#?}");
    assert!(refused.len() < 30, "{refused:#?}");
    assert!(refused.iter().all(|said| !said.contains('\n') && said.len() < 600), "{refused:#?}");
}

/// Every reach at its end on a fine print, where it is thousands of pixels: memory follows the print, not the
/// square of the reach.
#[cfg(target_os = "linux")]
#[test]
fn the_longest_reaches_stay_in_memory_on_a_fine_print() {
    let dir = tempfile::tempdir().unwrap();
    let mut seen = std::collections::BTreeSet::new();
    for file in all_jobs() {
        let packed = Packed::of(&file);
        for field in numbers(&packed.manifest).into_iter().filter(|f| f.unit == "mm" && f.pointer.starts_with("/job/"))
        {
            if !seen.insert(field.schema.clone()) {
                continue;
            }
            let mut at_end = packed.manifest.clone();
            at_end["job"]["prep"]["ppi"] = json!(600);
            *at_end.pointer_mut(&field.pointer).unwrap() = json!(field.max);
            let opened = opened(&packed, &at_end, dir.path()).map_err(|e| e.to_string());
            if let Err(said) = opened.and_then(|file| work(&file)) {
                assert!(!said.contains('\n') && said.len() < 600, "{said}");
            }
            let peak = peak_mb();
            assert!(peak < 1500, "{} = {}: {peak} MB", field.pointer, field.max);
        }
    }
    assert!(seen.len() > 25, "{}", seen.len());
}

#[test]
fn names_that_are_too_long_or_hold_control_codes_are_refused_in_one_line() {
    let dir = tempfile::tempdir().unwrap();
    let packed = Packed::of(&small_job());
    let long = "n".repeat(100_000);
    let texts = [
        "/job/info/title",
        "/job/info/client",
        "/job/info/version",
        "/job/info/date",
        "/job/info/sizes",
        "/job/info/history/0",
        "/job/garment/name",
        "/job/garment/fabric",
        "/job/separation/screens/0/name",
        "/job/separation/screens/0/ink/name",
        "/job/separation/underbase/under/0",
        "/job/run/mesh/name",
        "/job/run/mesh/source",
        "/job/film/linearisation/name",
        "/art/name",
        "/written_by",
    ];
    for text in texts {
        for bad in [long.as_str(), "a\nb", "a\u{1b}[31mb", "a\u{2028}b", "a\u{0}b", "a\u{9b}b"] {
            let mut manifest = packed.manifest.clone();
            *manifest.pointer_mut(text).unwrap_or_else(|| panic!("{text}")) = json!(bad);
            let said = opened(&packed, &manifest, dir.path()).unwrap_err().to_string();
            assert!(said.contains("letters") && said.len() < 600, "{text}: {said}");
            assert!(!said.chars().any(char::is_control), "{text}: {said:?}");
        }
    }
    // Names of screens as keys of maps.
    for (map, value) in [
        ("/job/press/stops", json!("flash")),
        ("/job/run/meshes", packed.manifest["job"]["run"]["mesh"].clone()),
        ("/job/run/ink/price_per_kg", json!(2.0)),
        ("/job/film/screens", json!({})),
    ] {
        let mut manifest = packed.manifest.clone();
        manifest.pointer_mut(map).unwrap()[&long] = value;
        let said = opened(&packed, &manifest, dir.path()).unwrap_err().to_string();
        assert!(
            said.contains("the name of a screen can have at most 120 letters") && said.len() < 600,
            "{map}: {said}"
        );
    }
    // And none is saved.
    let mut file = small_job();
    file.job.info.title = long.clone();
    let said = save_job(&dir.path().join("long.strikeoff"), &file).unwrap_err().to_string();
    assert!(
        said.contains("the job's title can have at most 120 letters") && !dir.path().join("long.strikeoff").exists()
    );
    let mut file = small_job();
    for (name, note, date) in [(long.as_str(), "", ""), ("proof 1", long.as_str(), ""), ("proof 1", "", "a\nb")] {
        assert!(file.keep_version(name, note, date).unwrap_err().to_string().contains("letters"));
    }
    file.keep_version("Proof 1", "with \u{e9}", "2026-11-29").unwrap();
    assert!(file.keep_version("proof-1", "", "").unwrap_err().to_string().contains("already has"));
}

#[test]
fn names_of_art_come_in_clean() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a.strikeoff");
    let mut file = small_job();
    file = JobFile::new(file.job, format!("he\nron{}.png", "n".repeat(300)), file.art_bytes);
    save_job(&path, &file).unwrap();
    let name = open_job(&path).unwrap().art_name;
    assert!(name.starts_with("he ronnn") && name.chars().count() == 255, "{name}");
}

/// Numbers as JSON may write them.
fn any_number() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("1e308".to_owned()),
        Just("-1e308".to_owned()),
        Just("1e-308".to_owned()),
        Just("5e-324".to_owned()),
        Just("-0".to_owned()),
        Just("-0.0".to_owned()),
        Just("0".to_owned()),
        Just("18446744073709551615".to_owned()),
        Just("-9223372036854775808".to_owned()),
        Just("99999999999999999999999".to_owned()),
        any::<i32>().prop_map(|v| v.to_string()),
        any::<u64>().prop_map(|v| v.to_string()),
        (-1.0f64..2.0).prop_map(|v| v.to_string()),
        (0.0f64..100.0).prop_map(|v| v.to_string()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    /// Any number in any field: the file opens and its job can be evaluated, or one sentence says why not.
    #[test]
    fn any_number_in_any_field_ends_in_a_result(which in any::<prop::sample::Index>(), at in any::<prop::sample::Index>(), number in any_number()) {
        static JOBS: LazyLock<Vec<(Packed, Vec<Field>)>> = LazyLock::new(|| {
            all_jobs().iter().map(Packed::of).map(|packed| {
                let fields = numbers(&packed.manifest);
                (packed, fields)
            }).collect()
        });
        let (packed, fields) = &JOBS[which.index(JOBS.len())];
        let field = &fields[at.index(fields.len())];
        let mut manifest = packed.manifest.clone();
        *manifest.pointer_mut(&field.pointer).unwrap() = json!("@@");
        let text = manifest.to_string().replace("\"@@\"", &number);
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.strikeoff");
        packed.write_bytes(&path, text.as_bytes());
        let said = match open_job(&path) {
            Ok(file) => work(&file).err(),
            Err(error) => Some(error.to_string()),
        };
        if let Some(said) = said {
            prop_assert!(!said.is_empty() && said.len() < 700 && !said.contains('\n'), "{} = {}: {}", field.pointer, number, said);
        }
    }
}
