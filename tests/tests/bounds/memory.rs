//! What lies at the ends of its range is evaluated, checked, proofed and written onto a sheet in bounded
//! memory.

use serde_json::json;
use strikeoff_core::Progress;
use strikeoff_core::findings::outlook;
use strikeoff_core::press::proof_from_screens;
use strikeoff_files::job::JobFile;
use strikeoff_files::sheet::{Content, press_sheet_html};

use super::jobs::{Packed, all_jobs, opened};
use super::schema::numbers;

/// What `check`, `proof` and `sheet` do.
pub(super) fn work(file: &JobFile) -> Result<(), String> {
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
