//! Every number, text and list of a job has a range in the published schema; what lies just outside is
//! refused in one sentence that names the field, its range and its unit, and what lies at an end is
//! evaluated, checked, proofed and written onto a sheet in bounded memory.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

mod jobs;
mod memory;
mod schema;

use std::path::Path;
use std::sync::LazyLock;

use proptest::prelude::*;
use serde_json::{Map, Value, json};
use strikeoff_core::bounds::plain_number;
use strikeoff_files::job::{JobFile, open_job, recover_job, save_job};

use self::jobs::{Packed, all_jobs, opened, small_job};
use self::memory::work;
use self::schema::{Field, SCHEMA, nodes, numbers};

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
            assert!(min <= max && max <= 100_000_000.0, "{at}: {min} to {max}");
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
        "/job/info/order",
        "/job/info/placement",
        "/job/info/note",
        "/job/info/sizes/0/size",
        "/job/info/sizes/1/garment",
        "/job/info/runs/0/changed/squeegee",
        "/job/press/wet_pairs/0/above",
        "/job/garment/name",
        "/job/garment/fabric",
        "/job/separation/screens/0/name",
        "/job/separation/screens/0/ink/name",
        "/job/separation/underbase/under/0",
        "/job/also_on/0/garment/name",
        "/job/also_on/0/leaves_out/0",
        "/job/run/meshes_at_hand/0/name",
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
