//! The shelf of jobs: what jobs are found by, an index that is made again, shares that can only be read, claims.

#![allow(clippy::unwrap_used, reason = "a test")]

use std::fs;

use strikeoff_core::ink::Garment;
use strikeoff_core::job::{Job, RunRecord};
use strikeoff_core::separate::SeparationSettings;

use std::path::{Path, PathBuf};

use strikeoff_core::Progress;
use strikeoff_files::job::{JobFile, JobLock, save_job};
use strikeoff_files::job_shelf::{JobShelf, Refreshed};
use strikeoff_files::shelf::house_shelf;

fn save(folder: &Path, name: &str, change: impl FnOnce(&mut Job)) {
    let mut job = Job::new(Garment::of_color("#17171A".parse().unwrap()));
    job.garment.name = "Black".into();
    let inks = ["Base white", "Brick red"].map(|name| house_shelf().find(name).unwrap().clone());
    job.separation = SeparationSettings::for_inks(inks);
    job.info.title = name.into();
    change(&mut job);
    save_job(&folder.join(format!("{name}.strikeoff")), &JobFile::new(job, "art.png", vec![1])).unwrap();
}

fn found(shelf: &JobShelf, words: &str) -> Vec<String> {
    let (cards, count) = shelf.find(words, 50).unwrap();
    assert_eq!(cards.len(), count);
    let mut names: Vec<String> = cards.into_iter().map(|card| card.title).collect();
    names.sort();
    names
}

fn shelf(folder: &Path, cache: &Path) -> (JobShelf, Refreshed) {
    let mut shelf = JobShelf::open(folder, Some(cache)).unwrap();
    let refreshed = shelf.refresh(&Progress::none()).unwrap();
    (shelf, refreshed)
}

#[test]
fn jobs_are_found_by_all_that_they_state() {
    let dir = tempfile::tempdir().unwrap();
    let (jobs, cache) = (dir.path().join("jobs"), dir.path().join("cache"));
    fs::create_dir_all(jobs.join("2026/december")).unwrap();
    save(&jobs, "Lantern fair", |job| {
        job.info.client = "Čapek & Søn".into();
        job.info.order = "H-2231".into();
        job.info.due = Some("2026-12-04".parse().unwrap());
    });
    save(&jobs.join("2026/december"), "Harbour run", |job| {
        job.garment.name = "Navy".into();
        job.separation = SeparationSettings::for_inks([house_shelf().find("Marsh teal").unwrap().clone()]);
        job.info.runs = vec![RunRecord::new("2026-11-30".parse().unwrap(), 150)];
    });
    // Saved twice: the one before it is not on the shelf. Nor is what is hidden.
    save(&jobs, "Lantern fair", |job| {
        job.info.client = "Čapek & Søn".into();
        job.info.order = "H-2231".into();
        job.info.due = Some("2026-12-04".parse().unwrap());
    });
    fs::write(jobs.join(".hidden.strikeoff"), "x").unwrap();
    fs::write(jobs.join("broken.strikeoff"), "no job").unwrap();
    let (shelf, refreshed) = shelf(&jobs, &cache);
    assert_eq!((refreshed.jobs, refreshed.read, refreshed.gone, refreshed.unread.len()), (2, 2, 0, 1));
    for (words, titles) in [
        ("", ["Harbour run", "Lantern fair"].as_slice()),
        ("čapek", &["Lantern fair"]),
        ("ČAPEK søn", &["Lantern fair"]),
        ("h-22", &["Lantern fair"]),
        ("4 dec", &["Lantern fair"]),
        ("2026-12-04", &["Lantern fair"]),
        ("brick", &["Lantern fair"]),
        ("red", &["Lantern fair"]),
        ("teal navy", &["Harbour run"]),
        ("150 shirts", &["Harbour run"]),
        ("december", &["Harbour run"]),
        ("%", &[]),
        ("teal brick", &[]),
    ] {
        assert_eq!(found(&shelf, words), titles, "{words}");
    }
    let card = shelf.find("teal", 1).unwrap().0.remove(0);
    assert_eq!((card.printed.as_str(), card.inks.as_slice()), ("2026-11-30", ["Marsh teal".to_owned()].as_slice()));
    assert!(card.path.ends_with("2026/december/Harbour run.strikeoff") && card.path.exists());
}

#[test]
fn only_what_has_changed_is_read_again() {
    let dir = tempfile::tempdir().unwrap();
    let (jobs, cache) = (dir.path().join("jobs"), dir.path().join("cache"));
    fs::create_dir(&jobs).unwrap();
    for name in ["a", "b", "c"] {
        save(&jobs, name, |_| {});
    }
    assert_eq!(shelf(&jobs, &cache).1.read, 3);
    save(&jobs, "b", |job| job.info.client = "Heron".into());
    fs::remove_file(jobs.join("c.strikeoff")).unwrap();
    let (shelf, refreshed) = shelf(&jobs, &cache);
    assert_eq!((refreshed.jobs, refreshed.read, refreshed.gone), (2, 1, 1));
    assert_eq!(found(&shelf, "heron"), ["b"]);
}

/// The index is never the only copy: deleted, cut short, filled with noise, or of another version, it is made again.
#[test]
fn an_index_that_is_gone_broken_or_of_another_version_is_made_again() {
    let dir = tempfile::tempdir().unwrap();
    let (jobs, cache) = (dir.path().join("jobs"), dir.path().join("cache"));
    fs::create_dir(&jobs).unwrap();
    for at in 0..40 {
        save(&jobs, &format!("job {at}"), |job| job.info.note = "packing ".repeat(40));
    }
    let (first, _) = shelf(&jobs, &cache);
    drop(first);
    let place: PathBuf = fs::read_dir(&cache).unwrap().next().unwrap().unwrap().path();
    let whole = fs::read(&place).unwrap();
    let noise = |bytes: &mut [u8]| bytes.iter_mut().enumerate().for_each(|(at, b)| *b = (at * 131 % 251) as u8);
    let version = |value: i64| {
        let db = rusqlite::Connection::open(&place).unwrap();
        db.pragma_update(None, "user_version", value).unwrap();
    };
    let ways: [(&str, &dyn Fn()); 6] = [
        ("gone", &|| fs::remove_file(&place).unwrap()),
        ("empty", &|| fs::write(&place, "").unwrap()),
        ("cut short", &|| fs::write(&place, &whole[..whole.len() / 2]).unwrap()),
        ("noise", &|| {
            let mut bytes = whole.clone();
            noise(&mut bytes);
            fs::write(&place, bytes).unwrap();
        }),
        ("noise inside", &|| {
            let mut bytes = whole.clone();
            noise(&mut bytes[4096..]);
            fs::write(&place, bytes).unwrap();
        }),
        ("another version", &|| version(99)),
    ];
    for (how, spoil) in ways {
        spoil();
        let (again, refreshed) = shelf(&jobs, &cache);
        assert_eq!((refreshed.jobs, refreshed.read), (40, 40), "{how}");
        assert_eq!(found(&again, "packing").len(), 40, "{how}");
    }
    assert_eq!(shelf(&jobs, &cache).1.read, 0, "whole again");
}

#[cfg(unix)]
#[test]
fn a_share_that_can_only_be_read_is_searched_and_nothing_is_written_there() {
    use std::os::unix::fs::PermissionsExt;
    let dir = tempfile::tempdir().unwrap();
    let (jobs, cache) = (dir.path().join("jobs"), dir.path().join("cache"));
    fs::create_dir(&jobs).unwrap();
    save(&jobs, "a", |_| {});
    fs::set_permissions(&jobs, fs::Permissions::from_mode(0o555)).unwrap();
    let (found_in, _) = shelf(&jobs, &cache);
    assert_eq!(found(&found_in, "a"), ["a"]);
    fs::set_permissions(&jobs, fs::Permissions::from_mode(0o755)).unwrap();
    assert_eq!(fs::read_dir(&jobs).unwrap().count(), 1);
}

#[test]
fn a_job_that_is_open_elsewhere_is_known_as_taken() {
    let dir = tempfile::tempdir().unwrap();
    save(dir.path(), "a", |_| {});
    let path = dir.path().join("a.strikeoff");
    // Two benches: each with locks of its own, and the share between them.
    let [mine, yours] = ["mine", "yours"].map(|name| dir.path().join(name));
    assert!(!JobLock::is_taken(&path));
    let held = JobLock::take(&mine, &path).unwrap().unwrap();
    assert!(JobLock::is_taken(&path));
    assert!(JobLock::take(&yours, &path).unwrap().is_none(), "the other bench has it");
    drop(held);
    assert!(!JobLock::is_taken(&path));
    assert!(JobLock::take(&yours, &path).unwrap().is_some());
}
