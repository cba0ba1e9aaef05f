//! Films against readers that are none of ours: libtiff's tools, poppler, MuPDF, Ghostscript and
//! qpdf, each called as a program. A missing program fails with the line that installs it.
#![expect(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod composite;
mod dots;
mod laid;
mod readers;
mod roll;
mod shapes;
mod verb;

use std::path::Path;
use std::process::Command;

use strikeoff_core::Progress;
use strikeoff_core::halftone::Emulsion;
use strikeoff_core::ink::{Garment, Ink};
use strikeoff_core::job::Job;
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::units::{Lpi, Mm, Ppi};
use strikeoff_files::film::{FilmOptions, FilmSet, write_films};

/// Runs a program and gives its standard output; says how to get it where it is missing.
fn run(program: &str, package: &str, args: &[&str]) -> String {
    let done = Command::new(program)
        .args(args)
        .output()
        .unwrap_or_else(|e| panic!("{program} cannot be run ({e}); install it with: apt-get install {package}"));
    let text = String::from_utf8_lossy(&done.stdout).into_owned() + &String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{program} {args:?}: {text}");
    text
}

fn path(path: &Path) -> &str {
    path.to_str().unwrap()
}

fn ink(name: &str, color: &str) -> Ink {
    Ink {
        name: name.into(),
        over_white: color.parse().unwrap(),
        opacity: serde_json::from_str("0.7").unwrap(),
        role: Default::default(),
        measured: false,
        spectra: None,
    }
}

/// A small job: 60 x 80 mm at 150 ppi, a ramp and a half-flat screen.
fn small_job() -> (Job, Screens) {
    let (width, height) = (354, 472);
    let ramp = Plane::from_fn(width, height, |x, _| (x * 65_535 / (width - 1)) as u16);
    let half = Plane::from_fn(width, height, |_, y| if y < height / 2 { 65_535 } else { 9_830 });
    let screen =
        |name: &str, color: &str, coverage| Screen { name: name.into(), ink: ink(name, color), hits: 1, coverage };
    let screens = Screens {
        width,
        height,
        ppi: Ppi::new(150.0).unwrap(),
        list: vec![screen("Night black", "#101014", ramp), screen("Lantern/gold", "#E2A93B", half)],
    };
    let mut job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
    job.info.title = "Lantern fair".into();
    job.info.version = "2".into();
    job.info.date = "3 May".into();
    (job, screens)
}

fn films(job: &Job, screens: &Screens, folder: &Path) -> FilmSet {
    write_films(job, screens, folder, &FilmOptions::default(), &Progress::none()).unwrap()
}

/// The bits of a bilevel TIFF as libtiff decodes them, rows padded to bytes.
fn bits_by_libtiff(tiff: &Path, folder: &Path) -> (usize, usize, Vec<u8>) {
    let plain = folder.join("plain.tif");
    run("tiffcp", "libtiff-tools", &["-c", "none", path(tiff), path(&plain)]);
    let mut decoder = tiff::decoder::Decoder::new(std::fs::File::open(&plain).unwrap()).unwrap();
    let (width, height) = decoder.dimensions().unwrap();
    let offsets = decoder.get_tag_u32_vec(tiff::tags::Tag::StripOffsets).unwrap();
    let counts = decoder.get_tag_u32_vec(tiff::tags::Tag::StripByteCounts).unwrap();
    let bytes = std::fs::read(&plain).unwrap();
    let data = offsets.iter().zip(&counts).flat_map(|(&o, &c)| bytes[o as usize..(o + c) as usize].to_vec()).collect();
    (width as usize, height as usize, data)
}

#[test]
fn tiff_films_read_in_libtiff_at_true_scale_with_ink_dark() {
    let (job, screens) = small_job();
    let dir = tempfile::tempdir().unwrap();
    let set = films(&job, &screens, dir.path());
    let names: Vec<_> = set.films.iter().map(|f| f.tiff.as_ref().unwrap().file_name().unwrap()).collect();
    assert_eq!(names, ["01-night-black.tif", "02-lantern-gold.tif"]);
    let report = run("tiffinfo", "libtiff-tools", &[path(set.films[1].tiff.as_ref().unwrap())]);
    for line in [
        "Resolution: 720, 720 pixels/inch",
        "Bits/Sample: 1",
        "Compression Scheme: CCITT Group 4",
        "Photometric Interpretation: min-is-white",
        "PageName: Lantern/gold",
        "Page Number: 1-2",
    ] {
        assert!(report.contains(line), "{line} is missing in\n{report}");
    }
    assert!(!report.to_lowercase().contains("warning"), "{report}");
    // 354 px at 150 ppi is 1699.2 device px; twice half an inch of margin.
    let film = &set.films[1];
    assert_eq!((film.width_px, film.height_px), (1699 + 720, 2266 + 720));
    let (width, height, bits) = bits_by_libtiff(film.tiff.as_ref().unwrap(), dir.path());
    assert_eq!((width, height), (film.width_px, film.height_px));
    // The upper half of the second screen is solid: ink bits are 1 in a min-is-white file.
    let stride = width.div_ceil(8);
    assert_eq!(bits.len(), stride * height);
    let row = &bits[700 * stride..701 * stride];
    assert!(row[60..200].iter().all(|&byte| byte == 0xff));
    // Nothing is left beside the films.
    let mut files: Vec<_> =
        std::fs::read_dir(dir.path()).unwrap().map(|f| f.unwrap().file_name().into_string().unwrap()).collect();
    files.sort();
    assert_eq!(files, ["01-night-black.tif", "02-lantern-gold.tif", "films.json", "films.pdf", "plain.tif"]);
}

#[test]
fn pdf_pages_have_the_size_and_the_bits_of_the_films() {
    let (job, screens) = small_job();
    let dir = tempfile::tempdir().unwrap();
    let set = films(&job, &screens, dir.path());
    let pdf = set.pdf.as_ref().unwrap();
    run("qpdf", "qpdf", &["--check", path(pdf)]);
    let report = run("pdfinfo", "poppler-utils", &["-f", "1", "-l", "2", path(pdf)]);
    assert!(report.contains("Pages:           2"), "{report}");
    // Print size plus margins, in points, to 0.1 mm (0.28 pt).
    let want = [(354.0 / 150.0 + 1.0) * 72.0, (472.0 / 150.0 + 1.0) * 72.0];
    for line in report.lines().filter(|l| l.starts_with("Page") && l.contains("size:")) {
        let numbers: Vec<f64> = line.split_whitespace().filter_map(|w| w.parse().ok()).collect();
        let size = &numbers[numbers.len() - 2..];
        assert!((size[0] - want[0]).abs() < 0.28 && (size[1] - want[1]).abs() < 0.28, "{line} {want:?}");
    }
    // MuPDF, Ghostscript and poppler draw the page at the film's own resolution, bit for bit.
    let (width, height, bits) = bits_by_libtiff(set.films[0].tiff.as_ref().unwrap(), dir.path());
    let drawn = dir.path().join("drawn.pbm");
    run("mutool", "mupdf-tools", &["draw", "-q", "-r", "720", "-A", "0", "-o", path(&drawn), path(pdf), "1"]);
    assert_eq!(differing_bits(&drawn, width, height, &bits), 0, "mutool");
    let out = format!("-sOutputFile={}", path(&drawn));
    let gs =
        ["-q", "-dNOPAUSE", "-dBATCH", "-dFirstPage=1", "-dLastPage=1", "-sDEVICE=pbmraw", "-r720", &out, path(pdf)];
    run("gs", "ghostscript", &gs);
    assert_eq!(differing_bits(&drawn, width, height, &bits), 0, "gs");
    let stem = dir.path().join("poppler");
    run(
        "pdftoppm",
        "poppler-utils",
        &["-mono", "-r", "720", "-f", "1", "-l", "1", "-singlefile", path(pdf), path(&stem)],
    );
    assert_eq!(differing_bits(&stem.with_extension("pbm"), width, height, &bits), 0, "pdftoppm");
}

#[test]
fn the_manifest_has_the_sums_of_the_files_and_a_smaller_set_clears_old_films() {
    let (job, mut screens) = small_job();
    let dir = tempfile::tempdir().unwrap();
    let set = films(&job, &screens, dir.path());
    let manifest: serde_json::Value =
        serde_json::from_slice(&std::fs::read(dir.path().join("films.json")).unwrap()).unwrap();
    assert_eq!(manifest["files"].as_array().unwrap().len(), 3);
    for file in &set.files {
        let report = run("sha256sum", "coreutils", &[path(&dir.path().join(&file.name))]);
        assert!(report.starts_with(&file.sha256), "{report} {file:?}");
    }
    std::fs::write(dir.path().join("02-other.tif"), "not ours").unwrap();
    screens.list.pop();
    films(&job, &screens, dir.path());
    let exists = |name: &str| dir.path().join(name).exists();
    assert!(exists("01-night-black.tif") && exists("02-other.tif") && !exists("02-lantern-gold.tif"));
}

/// Bits in which a raw PBM (1 = black) differs from a film.
fn differing_bits(pbm: &Path, width: usize, height: usize, bits: &[u8]) -> u32 {
    let bytes = std::fs::read(pbm).unwrap();
    let mut fields = Vec::new();
    let mut at = 0;
    while fields.len() < 3 {
        let end = at + bytes[at..].iter().position(|b| b.is_ascii_whitespace()).unwrap();
        if bytes[at] == b'#' {
            at += bytes[at..].iter().position(|&b| b == b'\n').unwrap() + 1;
            continue;
        }
        fields.push(String::from_utf8_lossy(&bytes[at..end]).into_owned());
        at = end + 1;
    }
    assert_eq!(fields, ["P4", &width.to_string(), &height.to_string()]);
    bytes[at..].iter().zip(bits).map(|(a, b)| (a ^ b).count_ones()).sum()
}

#[test]
fn mirrored_and_reversed_films_are_the_same_bits_turned() {
    let (mut job, screens) = small_job();
    let dir = tempfile::tempdir().unwrap();
    let up = films(&job, &screens, &dir.path().join("up"));
    job.film.emulsion = Emulsion::Down;
    job.film.label = false;
    let down = films(&job, &screens, &dir.path().join("down"));
    job.film.emulsion = Emulsion::Up;
    let plain = films(&job, &screens, &dir.path().join("plain"));
    job.film.reverse = true;
    let reversed = films(&job, &screens, &dir.path().join("reversed"));
    let bits = |set: &FilmSet| bits_by_libtiff(set.films[0].tiff.as_ref().unwrap(), dir.path());
    let (width, height, plain_bits) = bits(&plain);
    let stride = width.div_ceil(8);
    let get = |bits: &[u8], x: usize, y: usize| bits[y * stride + x / 8] >> (7 - x % 8) & 1;
    let (down_bits, reversed_bits, up_bits) = (bits(&down).2, bits(&reversed).2, bits(&up).2);
    for y in (0..height).step_by(7) {
        for x in 0..width {
            let ink = get(&plain_bits, x, y);
            assert_eq!(get(&down_bits, width - 1 - x, y), ink);
            assert_eq!(get(&reversed_bits, x, y), 1 - ink);
        }
    }
    assert_ne!(up_bits, plain_bits, "the label marks the film");
}

#[test]
fn what_cannot_be_made_says_so_and_leaves_nothing() {
    let (mut job, screens) = small_job();
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("films");
    let progress = Progress::none();
    let make = |job: &Job, progress: &Progress| {
        let error = write_films(job, &screens, &folder, &FilmOptions::default(), progress).unwrap_err().to_string();
        assert!(!folder.exists(), "{error}");
        error
    };
    job.film.margin = Mm::new(3.0).unwrap();
    assert!(make(&job, &progress).contains("margin"));
    job.film.margin = Mm::new(12.7).unwrap();
    job.film.ruling = Lpi::new(200.0).unwrap();
    assert!(make(&job, &progress).contains("coarser ruling"));
    job.film.ruling = Lpi::new(45.0).unwrap();
    progress.canceller().store(true, std::sync::atomic::Ordering::Relaxed);
    assert_eq!(make(&job, &progress), "cancelled");
    // Cancelled in the middle of the second film.
    let late = std::sync::Arc::new(std::sync::Mutex::new(None::<std::sync::Arc<std::sync::atomic::AtomicBool>>));
    let flag = late.clone();
    let progress = Progress::new(move |_, done| {
        if done >= 0.5
            && let Some(flag) = flag.lock().unwrap().as_ref()
        {
            flag.store(true, std::sync::atomic::Ordering::Relaxed);
        }
    });
    *late.lock().unwrap() = Some(progress.canceller());
    assert_eq!(make(&job, &progress), "cancelled");
}

/// Runs a Python script with arguments; numpy, Pillow and others stand ready in it.
fn python(packages: &str, script: &str, args: &[&str]) -> String {
    let mut all = vec!["-c", script];
    all.extend(args);
    run("/usr/bin/python3", packages, &all)
}
