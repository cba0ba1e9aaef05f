//! Pictures of odd shapes in a process that may not have more memory than they are worth: the test starts
//! itself again under a limit on its address space, where one allocation too many ends it.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail")]

use std::process::Command;

use strikeoff_core::Progress;
use strikeoff_core::job::{Job, Needs, evaluate};
use strikeoff_core::prep::{PrepSettings, prepare};
use strikeoff_core::raster::{Art, Detail, Picture, Plane};
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_files::art::{ReadOptions, receive_bytes};
use strikeoff_files::demo::demo_job_on_white;

/// Set in the process that does the work.
const INSIDE: &str = "STRIKEOFF_TEST_INSIDE";

/// Whether this is the process with little memory; otherwise runs the test `name` in one of `megabytes`.
fn inside(name: &str, megabytes: usize) -> bool {
    if std::env::var_os(INSIDE).is_some() {
        return true;
    }
    let script = format!("ulimit -v {}; exec \"$0\" \"$@\"", megabytes * 1000);
    let mut child = Command::new("sh");
    child.args(["-c", &script]).arg(std::env::current_exe().unwrap());
    child.args(["--exact", name, "--test-threads=1", "--nocapture"]);
    // Threads and their arenas take addresses too.
    child.envs([(INSIDE, "1"), ("RAYON_NUM_THREADS", "2"), ("MALLOC_ARENA_MAX", "2")]);
    let out = child.output().unwrap();
    let said = [out.stdout, out.stderr].map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).concat();
    assert!(out.status.success() && said.contains("1 passed"), "in {megabytes} MB: {}\n{said}", out.status);
    false
}

/// A grey PNG with a gradient down.
fn tall(width: u32, height: u32) -> Vec<u8> {
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, width, height);
    encoder.set_color(png::ColorType::Grayscale);
    let mut writer = encoder.write_header().unwrap();
    let rows =
        (0..height).flat_map(|y| std::iter::repeat_n((u64::from(y) * 255 / u64::from(height)) as u8, width as usize));
    writer.write_image_data(&rows.collect::<Vec<u8>>()).unwrap();
    writer.finish().unwrap();
    file
}

#[test]
fn a_pixel_by_ten_million_is_refused_by_its_header() {
    if inside("a_pixel_by_ten_million_is_refused_by_its_header", 300) {
        let error = receive_bytes("tall.png", &tall(1, 10_000_000), ReadOptions::default()).unwrap_err().to_string();
        assert!(error.contains("1 x 10000000") && error.contains("1000000 on a side"), "{error}");
    }
}

/// A picture of 160 MB, and a fixed amount of rows on each of two cores; the rest are arenas, stacks and the
/// program itself.
#[test]
fn the_tallest_picture_is_reduced_in_little_memory() {
    if inside("the_tallest_picture_is_reduced_in_little_memory", 500) {
        for width in [1, 20] {
            let received = receive_bytes("tall.png", &tall(width, 1_000_000), ReadOptions::default()).unwrap();
            let plain = PrepSettings { sharpen_amount: 0.0, ..PrepSettings::default() };
            let limited = PrepSettings { max_height_mm: Some(Mm::from_inches(12.0).unwrap()), ..plain };
            for detail in [Detail::Full, Detail::Proxy { longest_px: 100 }] {
                let made = prepare(&received.art, &limited, detail, &Progress::none()).unwrap();
                let rows = made.picture.height();
                assert!(rows == if detail == Detail::Full { 3600 } else { 100 }, "{rows}");
                // The gradient goes down as before, sampled in the middle of each row.
                for y in [rows / 4, rows / 2, rows * 3 / 4] {
                    let meant = (y as f64 + 0.5) / rows as f64 * 255.0;
                    let got = f64::from(made.picture.pixels().row(y)[0][1]) / 257.0;
                    assert!((got - meant).abs() < 2.0, "row {y} of {rows}: {got}, not {meant}");
                }
            }
        }
    }
}

/// Artwork that is cleaned and enlarged along its edges: the most work of all.
fn cleaned_and_enlarged() -> (Art, Job) {
    let picture = Picture::new(Plane::from_fn(2000, 2000, |x, y| {
        let v = ((x * 7919 + y * 104_729) % 4096 + x * 20 + y * 8) as u16;
        [v, v.rotate_left(3), 60_000 - v / 2, if (x / 200 + y / 300) % 5 == 0 { 0 } else { u16::MAX }]
    }));
    let mut job = demo_job_on_white();
    job.prep.max_height_mm = Mm::from_inches(13.4).ok();
    (job.prep.denoise, job.prep.deblock) = (0.5, 0.5);
    (Art { picture, ppi: Ppi::new(96.0).unwrap() }, job)
}

#[test]
fn an_evaluation_fits_into_its_estimate() {
    let (art, job) = cleaned_and_enlarged();
    let needs = Needs::of(&job, &art, Detail::Full).unwrap();
    assert_eq!((needs.print_px, needs.screens), ([4020, 4020], 6));
    // The program itself, stacks and arenas.
    let beside = 300;
    if inside("an_evaluation_fits_into_its_estimate", needs.bytes() as usize / 1_000_000 + beside) {
        let made = evaluate(&job, &art, Detail::Full, &Progress::none()).unwrap();
        assert_eq!(made.screens.list.len(), 6);
    }
}
