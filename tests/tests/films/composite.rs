//! The unscreened files: composite PDF and spot-channel TIFF, read by software that is none of ours.

use std::path::{Path, PathBuf};

use strikeoff_core::Progress;
use strikeoff_core::ink::{Garment, InkRole};
use strikeoff_core::job::{Job, evaluate};
use strikeoff_core::press::proof_from_screens;
use strikeoff_core::raster::{Art, Detail};
use strikeoff_core::screens::Screens;
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_files::art::decode_art;
use strikeoff_files::film::{FilmOptions, SpotDepth, colorant_names, write_films};
use strikeoff_files::shelf::house_shelf;
use strikeoff_tests::fixture;

use super::{path, python, run, small_job};

/// A photograph separated into six inks of the house shelf, 70 mm high at 200 ppi.
fn photograph(name: &str, garment: &str) -> (Job, Screens) {
    let bytes = std::fs::read(fixture("photos").join(name)).unwrap();
    let art: Art = decode_art(name, &bytes).unwrap();
    let mut job = Job::new(Garment::of_color(garment.parse().unwrap()));
    job.prep.max_height_mm = Some(Mm::new(70.0).unwrap());
    job.prep.ppi = Ppi::new(200.0).unwrap();
    let colors = house_shelf().inks.iter().filter(|ink| ink.role == InkRole::Color).step_by(5).take(5).cloned();
    let inks: Vec<_> = colors.chain([house_shelf().find("Ink black").unwrap().clone()]).collect();
    job.separation = SeparationSettings::for_inks(inks);
    job.give_angles();
    let done = evaluate(&job, &art, Detail::Full, &Progress::none()).unwrap();
    (job, done.screens)
}

/// Plates of the composite by Ghostscript; gives the folder's stem.
fn plates(pdf: &Path, ppi: f64, folder: &Path) -> impl Fn(&str) -> PathBuf {
    let out = format!("-sOutputFile={}", path(&folder.join("p_%d.tif")));
    let ppi = format!("-r{ppi}");
    run(
        "gs",
        "ghostscript",
        &["-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=tiffsep", "-dMaxSpots=60", &ppi, &out, path(pdf)],
    );
    let folder = folder.to_owned();
    move |name: &str| folder.join(format!("p_1({}).tif", name.replace('/', "%2F")))
}

/// Photographs on white and on black: a plate a screen within a level, nothing on C, M, Y, K, and
/// viewers near the proof of the print model.
#[test]
fn photographs_come_apart_into_our_screens_and_look_like_the_proof() {
    for (name, garment) in [("coffee.jpg", "#FFFFFF"), ("astronaut.jpg", "#FFFFFF"), ("cat.jpg", "#101014")] {
        let (job, screens) = photograph(name, garment);
        let dir = tempfile::tempdir().unwrap();
        let options = FilmOptions { composite: true, tiff: false, pdf: false, ..FilmOptions::default() };
        let set = write_films(&job, &screens, dir.path(), &options, &Progress::none()).unwrap();
        let pdf = set.composite.as_ref().unwrap();
        // Not every reader shows the print: that is said, and the picture beside it is the proof.
        assert!(set.notes.iter().any(|note| note.contains("judge by composite-proof.png")), "{:?}", set.notes);
        let beside = image::open(set.composite_proof.as_ref().unwrap()).unwrap().into_rgb8();
        let proof = proof_from_screens(&screens, &job.ground(), |_| true).to_rgba8();
        assert!(beside.chunks_exact(3).zip(proof.chunks_exact(4)).all(|(a, b)| a == &b[..3]), "{name}");
        run("qpdf", "qpdf", &["--check", path(pdf)]);
        let report = run("pdfinfo", "poppler-utils", &[path(pdf)]);
        assert!(report.contains("not compensated for dot gain"), "{report}");
        let plate = plates(pdf, screens.ppi.get(), dir.path());
        let read = |name: &str| image::open(plate(name)).unwrap_or_else(|e| panic!("{name}: {e}")).into_luma8();
        for process in ["Cyan", "Magenta", "Yellow", "Black"] {
            assert!(read(process).pixels().all(|p| p.0[0] == 255), "{name}: {process}");
        }
        for (ink, screen) in colorant_names(&screens.list).iter().zip(&screens.list) {
            let picture = read(ink);
            assert_eq!(picture.dimensions(), (screens.width as u32, screens.height as u32));
            for (got, &want) in picture.pixels().zip(screen.coverage.data()) {
                let got = 255 - i32::from(got.0[0]);
                assert!((got - i32::from(want / 257)).abs() <= 1, "{name}, {ink}: {got} {want}");
            }
        }
        if garment == "#FFFFFF" {
            viewers_show_the_proof(pdf, &job, &screens, dir.path());
        }
    }
}

/// poppler and MuPDF against our proof, mean CIEDE2000 under 2.
fn viewers_show_the_proof(pdf: &Path, job: &Job, screens: &Screens, folder: &Path) {
    let proof = proof_from_screens(screens, &job.ground(), |_| true).to_rgba8();
    let ppi = screens.ppi.get().to_string();
    let drawn = folder.join("drawn.png");
    // MuPDF mixes spot inks by a rule of its own unless told to follow the file (-O 0).
    let draw = ["draw", "-q", "-O", "0", "-r", &ppi, "-A", "0", "-o", path(&drawn), path(pdf), "1"];
    run("mutool", "mupdf-tools", &draw);
    near_proof("mutool", &drawn, &proof);
    let stem = folder.join("poppler");
    run("pdftoppm", "poppler-utils", &["-png", "-r", &ppi, "-singlefile", path(pdf), path(&stem)]);
    near_proof("pdftoppm", &stem.with_extension("png"), &proof);
}

/// tifffile reads every channel by its ink's name with the screens' own values; libtiff prints the names.
/// OpenImageIO 3.2 names the channels by them too (tiff_reader_behaviour.csv), while 2.4 numbers the inks of
/// any file: either way these are inks, not red, green or alpha.
#[test]
fn spot_channels_are_read_by_name_with_their_values() {
    let (job, screens) = small_job();
    for (depth, bits) in [(SpotDepth::Eight, 8), (SpotDepth::Sixteen, 16)] {
        let dir = tempfile::tempdir().unwrap();
        let options = FilmOptions { spots: Some(depth), tiff: false, pdf: false, ..FilmOptions::default() };
        let set = write_films(&job, &screens, dir.path(), &options, &Progress::none()).unwrap();
        assert!(set.notes.iter().any(|note| note.contains("CMYK")), "{:?}", set.notes);
        let file = set.spots.as_ref().unwrap();
        let report = run("tiffinfo", "libtiff-tools", &[path(file)]);
        for line in ["Ink Names: Night black, Lantern/gold", "Photometric Interpretation: separated"] {
            assert!(report.contains(line), "{line} is missing in\n{report}");
        }
        let report = run("oiiotool", "openimageio-tools", &["--info", "-v", path(file)]);
        let inks = ["channel list: Night black, Lantern/gold", "channel list: ink0, ink1"];
        assert!(report.contains("354 x  472, 2 channel") && inks.iter().any(|inks| report.contains(inks)), "{report}");
        let script = "import sys, tifffile, numpy as np\n\
                      with tifffile.TiffFile(sys.argv[1]) as f:\n\
                      \x20   a = f.pages[0].asarray(); t = f.pages[0].tags\n\
                      \x20   print(a.shape, a.dtype, t['InkSet'].value, t['NumberOfInks'].value, t['XResolution'].value)\n\
                      \x20   print(t['InkNames'].value.split('\\0'))\n\
                      a.astype('<u2').tofile(sys.argv[2])";
        let raw = dir.path().join("raw");
        let report = python("python3-tifffile", script, &[path(file), path(&raw)]);
        assert!(report.starts_with(&format!("(472, 354, 2) uint{bits}")), "{report}");
        assert!(report.contains("(150, 1)"), "{report}");
        assert!(report.contains("['Night black', 'Lantern/gold']"), "{report}");
        let values = std::fs::read(raw).unwrap();
        for (at, value) in values.chunks_exact(2).map(|v| u16::from_le_bytes([v[0], v[1]])).enumerate() {
            let want = screens.list[at % 2].coverage.data()[at / 2];
            let want = if bits == 16 { want } else { ((u32::from(want) + 128) / 257) as u16 };
            assert_eq!(value, want, "{bits} bits, sample {at}");
        }
    }
}

#[test]
fn the_composite_pdf_separates_into_our_screens_and_leaves_process_plates_empty() {
    let (job, mut screens) = small_job();
    // An ink called like a process plate must not land on it.
    screens.list[0].ink.name = "Black".into();
    let dir = tempfile::tempdir().unwrap();
    let options = FilmOptions { composite: true, ..FilmOptions::default() };
    let set = write_films(&job, &screens, dir.path(), &options, &Progress::none()).unwrap();
    let pdf = set.composite.as_ref().unwrap();
    run("qpdf", "qpdf", &["--check", path(pdf)]);
    let plates = dir.path().join("p_%d.tif");
    let out = format!("-sOutputFile={}", path(&plates));
    run(
        "gs",
        "ghostscript",
        &["-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=tiffsep", "-dMaxSpots=60", "-r150", &out, path(pdf)],
    );
    let plate = |name: &str| {
        let picture = image::open(dir.path().join(format!("p_1({name}).tif"))).unwrap().into_luma8();
        assert_eq!(picture.dimensions(), (screens.width as u32, screens.height as u32));
        picture
    };
    for name in ["Cyan", "Magenta", "Yellow", "Black"] {
        assert!(plate(name).pixels().all(|p| p.0[0] == 255), "{name}");
    }
    for (name, screen) in [("Spot Black", &screens.list[0]), ("Lantern%2Fgold", &screens.list[1])] {
        for (got, &want) in plate(name).pixels().zip(screen.coverage.data()) {
            let got = 255 - i32::from(got.0[0]);
            assert!((got - i32::from(want / 257)).abs() <= 1, "{name}: {got} {want}");
        }
    }
    // Viewers show the proof of the print model.
    let proof = proof_from_screens(&screens, &job.ground(), |_| true);
    let proof = proof.to_rgba8();
    let drawn = dir.path().join("drawn.png");
    // MuPDF mixes spot inks by a rule of its own unless told to follow the file (-O 0).
    run(
        "mutool",
        "mupdf-tools",
        &["draw", "-q", "-O", "0", "-r", "150", "-A", "0", "-o", path(&drawn), path(pdf), "1"],
    );
    near_proof("mutool", &drawn, &proof);
    let stem = dir.path().join("poppler");
    run("pdftoppm", "poppler-utils", &["-png", "-r", "150", "-singlefile", path(pdf), path(&stem)]);
    near_proof("pdftoppm", &stem.with_extension("png"), &proof);
}

/// Mean CIEDE2000 of a drawn page to the proof is under 2.
fn near_proof(reader: &str, drawn: &Path, proof: &[u8]) {
    let picture = image::open(drawn).unwrap().into_rgb8();
    assert_eq!(picture.len() / 3, proof.len() / 4, "{reader}: size");
    let lab = |rgb: &[u8]| {
        let wide: Vec<u16> = rgb[..3].iter().map(|&v| u16::from(v) * 257).collect();
        strikeoff_core::color::lab_from_linear(strikeoff_core::color::linear_from_u16(&wide))
    };
    let mut sum = 0.0f64;
    let mut count = 0;
    for (got, want) in picture.chunks_exact(3).zip(proof.chunks_exact(4)).step_by(7) {
        sum += f64::from(strikeoff_core::color::ciede2000(lab(got), lab(want)));
        count += 1;
    }
    let mean = sum / f64::from(count);
    assert!(mean < 2.0, "{reader}: mean CIEDE2000 {mean}");
}
