//! Jobs that claim more than any machine has: small files, made here, of which nothing large may ever be
//! unpacked. What can be done without is left out and named; the rest is refused in one sentence.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::job::Job;
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::tune::{Edit, EditEntry, GreyPicture, edits};
use strikeoff_core::units::{Opacity, Ppi};

use super::open::open_within;
use super::salvage::recover_within;
use super::{JobFile, JobFileError, save_job};
use crate::art::generated::png::chunk;
use crate::limits::{Budget, MAX_JOB_EDITS, MAX_JOB_SCREENS, MAX_JOB_VERSIONS};

/// What a machine of 400 MB may use.
const SMALL: u64 = 200_000_000;

fn ink() -> Ink {
    Ink {
        name: "Marsh green".into(),
        over_white: "#3E6B4F".parse().unwrap(),
        opacity: Opacity::new(0.7).unwrap(),
        role: InkRole::Color,
        measured: false,
        spectra: None,
    }
}

/// A sound job with one screen, saved in a folder.
fn saved() -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("heron.strikeoff");
    let job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
    let mut file = JobFile::new(job, "heron.png", b"not really a picture".to_vec());
    let coverage = Plane::from_fn(64, 48, |x, y| (x * 997 + y * 13) as u16);
    let list = vec![Screen { name: "Marsh green".into(), ink: ink(), hits: 1, coverage }];
    file.keep_screens(Screens { width: 64, height: 48, ppi: Ppi::new(300.0).unwrap(), list });
    file.thumbnail = None;
    save_job(&path, &file).unwrap();
    (dir, path)
}

/// Writes the job at `path` again with its manifest changed and members added.
fn changed(path: &Path, change: impl FnOnce(&mut Value), more: &[(String, Vec<u8>)]) {
    let mut zip = zip::ZipArchive::new(File::open(path).unwrap()).unwrap();
    let mut members = Vec::new();
    for at in 0..zip.len() {
        let mut member = zip.by_index(at).unwrap();
        let mut bytes = Vec::new();
        std::io::Read::read_to_end(&mut member, &mut bytes).unwrap();
        members.push((member.name().unwrap().into_owned(), bytes));
    }
    let mut manifest: Value = serde_json::from_slice(&members[0].1).unwrap();
    change(&mut manifest);
    members[0].1 = serde_json::to_vec(&manifest).unwrap();
    let mut out = zip::ZipWriter::new(File::create(path).unwrap());
    let how = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
    for (name, bytes) in members.iter().chain(more) {
        out.start_file(name.as_str(), how).unwrap();
        out.write_all(bytes).unwrap();
    }
    out.finish().unwrap();
}

/// A 16-bit grey PNG whose header says that it is so large; there is no picture in it.
fn claims(width: u32, height: u32) -> Vec<u8> {
    let mut file = b"\x89PNG\r\n\x1a\n".to_vec();
    chunk(&mut file, b"IHDR", &[&width.to_be_bytes()[..], &height.to_be_bytes(), &[16, 0, 0, 0, 0]].concat());
    chunk(&mut file, b"IDAT", &[0x78, 0x01, 0x03, 0x00, 0x00, 0x00, 0x00, 0x01]);
    chunk(&mut file, b"IEND", &[]);
    file
}

/// The manifest with `count` screens of that size, which name the members that `member` says.
fn screens(manifest: &mut Value, count: usize, side: usize, member: impl Fn(usize) -> String) {
    let first = manifest["screens"]["list"][0].clone();
    let one = |at: usize| {
        let mut screen = first.clone();
        screen["name"] = format!("screen {at}").into();
        screen["file"] = member(at).into();
        screen
    };
    manifest["screens"]["list"] = (0..count).map(one).collect();
    manifest["screens"]["width_px"] = side.into();
    manifest["screens"]["height_px"] = side.into();
}

/// What was left out on opening, and that it was the screens.
fn left_out(path: &Path, budget: u64) -> String {
    let file = open_within(path, Budget::of_bytes(budget)).unwrap();
    assert!(file.screens.is_none());
    assert_eq!(file.lost.len(), 1, "{:?}", file.lost);
    assert!(!file.lost[0].contains('\n'));
    file.lost[0].clone()
}

#[test]
fn many_screens_of_one_member_are_left_out() {
    let (_dir, path) = saved();
    let member = "screens/large.png".to_owned();
    let large = [(member.clone(), claims(14_000, 14_000))];
    changed(&path, |m| screens(m, 64, 14_000, |_| member.clone()), &large);
    let said = left_out(&path, u64::MAX);
    assert!(said.contains("64 screens") && said.contains("32"), "{said}");
    changed(&path, |m| screens(m, 8, 14_000, |_| member.clone()), &[]);
    let said = left_out(&path, u64::MAX);
    assert!(said.contains("the same picture screens/large.png"), "{said}");
    changed(&path, |m| screens(m, 1, 20_000, |_| member.clone()), &[]);
    let said = left_out(&path, u64::MAX);
    assert!(said.contains("20000 x 20000"), "{said}");
}

#[test]
fn the_pixels_of_all_screens_are_bounded_together() {
    let (_dir, path) = saved();
    let member = |at: usize| format!("screens/large{at}.png");
    let large: Vec<_> = (0..12).map(|at| (member(at), claims(3000, 3000))).collect();
    // One alone would do: 18 MB.
    changed(&path, |m| screens(m, 12, 3000, member), &large);
    let said = left_out(&path, SMALL);
    assert!(said.contains("12 screens of 3000 x 3000") && said.contains("200 MB may be used"), "{said}");
}

#[test]
fn thousands_of_screens_versions_or_edits_are_refused() {
    let (_dir, path) = saved();
    changed(&path, |m| screens(m, 4000, 64, |at| format!("screens/{at}.png")), &[]);
    let said = left_out(&path, u64::MAX);
    assert!(said.contains("4000 screens") && said.contains(&MAX_JOB_SCREENS.to_string()), "{said}");

    let refused = |change: &dyn Fn(&mut Value)| {
        let (_dir, path) = saved();
        changed(&path, change, &[]);
        let error = open_within(&path, Budget::of_bytes(u64::MAX)).unwrap_err();
        assert!(matches!(error, JobFileError::Unsafe { .. }), "{error}");
        error.to_string()
    };
    let version = |job: &Value, at: usize| json!({ "name": format!("proof {at}"), "job": job });
    let said = refused(&|m: &mut Value| {
        let job = m["job"].clone();
        m["versions"] = (0..=MAX_JOB_VERSIONS).map(|at| version(&job, at)).collect();
    });
    assert!(said.contains("1001 versions, more than 1000"), "{said}");
    let edit = json!(EditEntry::on(Edit::Drop(edits::Drop { screen: "Marsh green".into(), separate_again: false })));
    let said = refused(&|m: &mut Value| m["job"]["edits"] = vec![edit.clone(); MAX_JOB_EDITS + 1].into());
    assert!(said.contains("2001 edits, more than 2000"), "{said}");
    // Names, notes and all else together.
    let said = refused(&|m: &mut Value| m["job"]["info"]["title"] = "heron ".repeat(1_500_000).into());
    assert!(said.contains("job.json: it unpacks to more than"), "{said}");
}

#[test]
fn a_job_that_could_not_be_opened_again_is_not_saved() {
    let (_dir, path) = saved();
    let before = fs::read(&path).unwrap();
    let mut file = open_within(&path, Budget::of_bytes(u64::MAX)).unwrap();
    let edit = EditEntry::on(Edit::Drop(edits::Drop { screen: "Marsh green".into(), separate_again: false }));
    file.job.edits = vec![edit; MAX_JOB_EDITS + 1];
    let error = save_job(&path, &file).unwrap_err();
    assert!(matches!(error, JobFileError::TooMuch { .. }), "{error}");
    file.job.edits.clear();
    let mut run = strikeoff_core::job::RunRecord::new("2026-12-04".parse().unwrap(), 1);
    run.note = "heron ".repeat(100_000);
    file.job.info.runs = vec![run; 20];
    let error = save_job(&path, &file).unwrap_err();
    assert!(error.to_string().contains("8 MB"), "{error}");
    assert!(fs::read(&path).unwrap() == before);
}

#[test]
fn members_are_bounded_together_and_art_that_does_not_fit_is_refused() {
    let (_dir, path) = saved();
    let error = open_within(&path, Budget::of_bytes(2000)).unwrap_err().to_string();
    assert!(error.contains("would need about") && error.contains("1 MB may be used"), "{error}");
    // Versions keep their screens packed: twenty of 2 MB each, of which the first nine fit.
    let member = |at: usize| format!("versions/{at}/01.png");
    let mut dice = crate::art::generated::Dice::new(7);
    let noise: Vec<u8> = (0..2_000_000 / 8).flat_map(|_| dice.next().to_le_bytes()).collect();
    let more: Vec<_> = (0..20).map(|at| (member(at), noise.clone())).collect();
    let change = |m: &mut Value| {
        screens(m, 1, 4000, |_| "screens/01.png".to_owned());
        let (job, kept) = (m["job"].clone(), m["screens"].take());
        let version = |at: usize| {
            let mut kept = kept.clone();
            kept["list"][0]["file"] = member(at).into();
            json!({ "name": format!("proof {at}"), "job": job, "screens": kept })
        };
        m["versions"] = (0..20).map(version).collect();
        m.as_object_mut().unwrap().remove("screens");
    };
    changed(&path, change, &more);
    let file = open_within(&path, Budget::of_bytes(20_000_000)).unwrap();
    let kept = file.versions.iter().filter(|v| v.screens.is_some()).count();
    assert_eq!((kept, file.lost.len()), (9, 11), "{:?}", file.lost);
    assert!(file.lost[0].contains("proof 9") && file.lost[0].contains("20 MB may be used"), "{}", file.lost[0]);
}

#[test]
fn grey_pictures_are_bounded_together() {
    let (_dir, path) = saved();
    let id = |at: usize| format!("{at:032x}");
    let more: Vec<_> = (0..3).map(|at| (format!("pictures/{}.png", id(at)), claims(9000, 9000))).collect();
    let edit = |at: usize| {
        let picture = GreyPicture::new("wave.png", id(at), Plane::from_fn(1, 1, |_, _| 0));
        json!(EditEntry::on(Edit::Import(edits::Import {
            name: format!("wave {at}").into(),
            ink: ink(),
            picture,
            print_light_tones: false
        })))
    };
    changed(&path, |m| m["job"]["edits"] = (0..3).map(edit).collect(), &more);
    let file = open_within(&path, Budget::of_bytes(SMALL)).unwrap();
    // One of 162 MB would fit, and turns out to have no pixels.
    assert_eq!(file.lost.len(), 3, "{:?}", file.lost);
    let over = file.lost.iter().filter(|said| said.contains("9000 x 9000") && said.contains("200 MB may be used"));
    assert_eq!(over.count(), 2, "{:?}", file.lost);
}

#[test]
fn salvage_stays_within_the_budget() {
    let (_dir, path) = saved();
    // 5 MB each, which deflate to a tenth.
    let mut dice = crate::art::generated::Dice::new(8);
    let mostly_nothing: Vec<u8> = (0..5_000_000).map(|i| if i % 1000 < 90 { dice.next() as u8 } else { 0 }).collect();
    let more: Vec<_> = (0..8).map(|at| (format!("pictures/{at}.png"), mostly_nothing.clone())).collect();
    changed(&path, |_| {}, &more);
    let mut held = crate::limits::Tally::new(Budget::of_bytes(20_000_000));
    let found = super::salvage::members(&fs::read(&path).unwrap(), &mut held);
    assert_eq!(found.values().filter(|bytes| bytes.len() == 5_000_000).count(), 3, "the others do not fit");
    let file = recover_within(&path, Budget::of_bytes(20_000_000)).unwrap();
    assert_eq!(file.art_bytes.as_slice(), b"not really a picture");
    let error = recover_within(&path, Budget::of_bytes(1000)).unwrap_err().to_string();
    assert!(error.contains("would need about"), "{error}");
}
