//! The shelf with 2,000 jobs: the first look, a look when nothing has changed, and each key of some searches.
//! `cargo bench -p strikeoff-files --bench shelf`

#![allow(clippy::unwrap_used, missing_docs, reason = "a bench")]

use std::path::Path;
use std::time::{Duration, Instant};

use strikeoff_core::Progress;
use strikeoff_core::ink::Garment;
use strikeoff_core::job::{Job, RunRecord};
use strikeoff_core::raster::{Picture, Plane};
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::units::Ppi;
use strikeoff_files::job::{JobFile, save_job};
use strikeoff_files::job_shelf::JobShelf;
use strikeoff_files::shelf::{house_garments, house_shelf};

const JOBS: usize = 2000;

fn main() {
    let dir = tempfile::tempdir().unwrap();
    let (jobs, cache) = (dir.path().join("jobs"), dir.path().join("cache"));
    std::fs::create_dir(&jobs).unwrap();
    for at in 0..JOBS {
        make(&jobs, at);
    }
    let began = Instant::now();
    let mut shelf = JobShelf::open(&jobs, Some(&cache)).unwrap();
    let looked = shelf.refresh(&Progress::none()).unwrap();
    println!("first look at {} jobs: {:.0} ms", looked.read, ms(began.elapsed()));
    drop(shelf);
    let began = Instant::now();
    let mut shelf = JobShelf::open(&jobs, Some(&cache)).unwrap();
    let looked = shelf.refresh(&Progress::none()).unwrap();
    assert_eq!(looked.read, 0);
    println!("opened and looked through again, nothing changed: {:.1} ms", ms(began.elapsed()));
    let mut slowest = (Duration::ZERO, String::new());
    for words in ["harbour 17", "teal navy", "4 dec 2026", "h-1203", "dark red", "no such job"] {
        for end in 0..=words.len() {
            let began = Instant::now();
            let (cards, count) = shelf.find(&words[..end], 40).unwrap();
            let took = began.elapsed();
            assert!(cards.len() <= count);
            if took > slowest.0 {
                slowest = (took, words[..end].to_owned());
            }
        }
    }
    println!("slowest key of all searches: {:.2} ms (\"{}\")", ms(slowest.0), slowest.1);
}

fn ms(took: Duration) -> f64 {
    took.as_secs_f64() * 1000.0
}

fn make(folder: &Path, at: usize) {
    let garments = house_garments();
    let mut job = Job::new(
        garments.get(at % garments.len()).cloned().unwrap_or_else(|| Garment::of_color("#FFFFFF".parse().unwrap())),
    );
    let shelf = &house_shelf().inks;
    job.separation = SeparationSettings::for_inks((0..4).map(|ink| shelf[(at * 7 + ink * 11) % shelf.len()].clone()));
    job.info.title = format!("{} {at}", ["Lantern fair", "Harbour run", "Marsh school", "Kite club"][at % 4]);
    job.info.client = format!("Client {}", at % 300);
    job.info.order = format!("H-{at}");
    job.info.due = Some(format!("2026-{:02}-{:02}", 1 + at % 12, 1 + at % 28).parse().unwrap());
    job.info.note = "Fold and bag by size, ten to a bag".into();
    job.info.runs = vec![RunRecord::new("2026-05-03".parse().unwrap(), 20 + at as u32)];
    let mut file = JobFile::new(job, "art.png", vec![0; 2000]);
    let noise = |x: usize, y: usize, k: usize| ((x * 31 + y * 17 + at * 7 + k * 91) % 256 * 257) as u16;
    let picture =
        Plane::from_fn(120, 100, |x, y| [noise(x / 6, y / 6, 0), noise(x / 9, y / 5, 1), noise(x, y / 8, 2), u16::MAX]);
    file.thumbnail = Some(strikeoff_files::picture::png_bytes(&Picture::new(picture), Ppi::new(96.0).unwrap()));
    save_job(&folder.join(format!("job {at}.strikeoff")), &file).unwrap();
}
