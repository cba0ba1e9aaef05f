//! The whole job by verbs, with the built program in a temporary folder, on photographs from general
//! imaging packages and on bad input.

use std::fs;
use std::path::Path;

use serde_json::Value;
use strikeoff_tests::{fixture, run, run_json, run_refused};

const SIX_ON_WHITE: &str = "Ink black,Brick red,Golden yellow,River blue,Marsh teal,Soft white";
const SIX_ON_BLACK: &str = "Base white,Brick red,Golden yellow,River blue,Skin tone,Bright white";

fn text(path: &Path) -> String {
    path.to_str().expect("temporary folders have plain names").to_owned()
}

fn separate(art: &Path, job: &Path, garment: &str, inks: &str, more: &[&str]) -> Value {
    let (art, job) = (text(art), text(job));
    let mut args = vec!["separate", art.as_str(), "--garment", garment, "--inks", inks, "-o", job.as_str()];
    args.extend_from_slice(more);
    run_json(args)
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Six ordinary inks bring photographs within a mean of CIEDE2000 4.5 on white and on black (our own
/// bound; the print model's notes measured about 2 with well chosen inks), and nothing is so far
/// off that it would be another colour.
#[test]
fn photographs_come_near_with_six_inks_on_white_and_on_black() {
    let dir = tempfile::tempdir().unwrap();
    for photo in ["astronaut.jpg", "coffee.jpg", "cat.jpg", "rocket.jpg"] {
        for (garment, inks, flash) in [("#F4F3EF", SIX_ON_WHITE, ""), ("black", SIX_ON_BLACK, "Base white")] {
            let art = fixture("photos").join(photo);
            let more = ["--max-width", "4in", "--ppi", "100", "--flash-after", flash];
            let report = separate(&art, &dir.path().join("job.strikeoff"), garment, inks, &more);
            let mean = number(&report["delta_e2000"]["mean"]);
            assert!(mean < 4.5, "{photo} on {garment}: mean {mean}");
            assert!(number(&report["delta_e2000"]["p95"]) < 12.0, "{photo} on {garment}: {report}");
        }
    }
}

/// The chain of verbs: order of `--inks` is print order; edits change what they name and nothing
/// else; `inspect` reports the shape that scripts rely on.
#[test]
fn a_job_goes_through_every_verb() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name);
    let art = fixture("photos").join("coffee.jpg");
    separate(&art, &at("a.strikeoff"), "white", SIX_ON_WHITE, &["--max-height", "3in", "--ppi", "120"]);
    let report = run_json(["inspect", &text(&at("a.strikeoff"))]);
    let names = |report: &Value| -> Vec<String> {
        report["screens"].as_array().unwrap().iter().map(|s| s["name"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(names(&report).join(","), SIX_ON_WHITE);
    assert!((number(&report["print_size_mm"][1]) - 76.2).abs() < 0.3, "{report}");
    assert_eq!(number(&report["ppi"]), 120.0);
    for screen in report["screens"].as_array().unwrap() {
        let mean = number(&screen["mean_coverage"]);
        assert!((0.0..=1.0).contains(&mean) && screen["ink"].is_string(), "{screen}");
    }
    for key in ["mean", "p95", "share_over_5"] {
        assert!(number(&report["delta_e2000"][key]) >= 0.0);
    }
    assert!(number(&report["mean_total_ink"]) > 0.0);

    let edit = |from: &str, to: &str, what: &[&str]| {
        let (from, to) = (text(&at(from)), text(&at(to)));
        let mut args = vec!["edit", from.as_str()];
        args.extend_from_slice(what);
        args.extend(["-o", to.as_str()]);
        run_json(args);
        run_json(["inspect", to.as_str()])
    };
    let merged = edit("a.strikeoff", "b.strikeoff", &["merge", "River blue", "Marsh teal"]);
    assert_eq!(names(&merged).len(), 5);
    let dropped = edit("b.strikeoff", "c.strikeoff", &["drop", "Soft white"]);
    assert_eq!(names(&dropped), ["Ink black", "Brick red", "Golden yellow", "Marsh teal"]);
    let ordered = edit("c.strikeoff", "d.strikeoff", &["order", "Golden yellow,Brick red"]);
    assert_eq!(names(&ordered), ["Golden yellow", "Brick red", "Ink black", "Marsh teal"]);
    let inked = edit("d.strikeoff", "e.strikeoff", &["re-ink", "Marsh teal", "Turquoise"]);
    assert_eq!(inked["screens"][3]["ink"], "Turquoise");
    assert_eq!(inked["screens"][3]["mean_coverage"], ordered["screens"][3]["mean_coverage"]);
    let trimmed = edit("e.strikeoff", "f.strikeoff", &["trim", "Ink black", "--below", "0.2"]);
    assert!(number(&trimmed["screens"][2]["mean_coverage"]) < number(&inked["screens"][2]["mean_coverage"]));

    let job = text(&at("f.strikeoff"));
    run_json([
        "proof",
        &job,
        "-o",
        &text(&at("proof.png")),
        "--width",
        "200",
        "--hide",
        "Ink black",
        "--garment",
        "navy",
    ]);
    let proof = image::open(at("proof.png")).unwrap().to_rgb8();
    assert_eq!(proof.width(), 200);
    run_json(["screens", &job, "--out", &text(&at("screens"))]);
    assert!(at("screens").join("01-golden-yellow.png").is_file());
    run_json(["films", &job, "--out", &text(&at("films")), "--dpi", "360", "--ruling", "45lpi", "--angle", "22.5"]);
    let films: Vec<String> =
        fs::read_dir(at("films")).unwrap().map(|f| f.unwrap().file_name().into_string().unwrap()).collect();
    for film in ["01-golden-yellow.tif", "02-brick-red.tif", "03-ink-black.tif", "04-turquoise.tif"] {
        assert!(films.iter().any(|f| f == film), "{film} not in {films:?}");
    }
}

/// Hiding every screen leaves the bare garment, and the bare garment has the colour asked for.
#[test]
fn a_proof_without_screens_is_the_garment() {
    let dir = tempfile::tempdir().unwrap();
    let job = dir.path().join("job.strikeoff");
    let art = fixture("photos").join("cat.jpg");
    separate(&art, &job, "white", "Ink black,Brick red", &["--max-width", "1in", "--ppi", "72"]);
    let out = dir.path().join("bare.png");
    run_json(["proof", &text(&job), "-o", &text(&out), "--hide", "Ink black,Brick red", "--garment", "#1E2A47"]);
    let bare = image::open(&out).unwrap().to_rgb8();
    assert!(bare.pixels().all(|p| p.0 == [0x1E, 0x2A, 0x47]));
}

/// Common practice, no source: art of 12 x 16 in at 96 ppi set to 18 in high prints 13.5 in wide at
/// a true 85 ppi, 1.9 times a 45 lpi ruling, and the program says what that means.
#[test]
fn a_web_sized_picture_is_told_the_truth_about() {
    let dir = tempfile::tempdir().unwrap();
    let art = dir.path().join("fair.png");
    fs::write(&art, strikeoff_files::demo::demo_art_png()).unwrap();
    let report = separate(
        &art,
        &dir.path().join("job.strikeoff"),
        "white",
        "Ink black,Brick red",
        &["--max-height", "18in", "--ppi", "72"],
    );
    assert!((number(&report["print_size_mm"][0]) - 13.5 * 25.4).abs() < 0.5, "{report}");
    assert!((number(&report["true_ppi"]) - 85.3).abs() < 0.1);
    assert!((number(&report["resolution_ratio"]) - 1.9).abs() < 0.05);
    assert_eq!(report["resolution_meaning"], "tones hold, fine edges will be soft");
}

/// Common practice, no source: black may print first with two hits.
#[test]
fn black_may_be_first_down_with_two_hits() {
    let dir = tempfile::tempdir().unwrap();
    let art = fixture("photos").join("coffee.jpg");
    let more = ["--max-width", "2in", "--ppi", "72", "--two-hits", "ink black"];
    let report = separate(&art, &dir.path().join("job.strikeoff"), "white", SIX_ON_WHITE, &more);
    assert_eq!((&report["screens"][0]["name"], &report["screens"][0]["hits"]), (&"Ink black".into(), &2.into()));
}

#[test]
fn bad_input_gets_one_clear_sentence_and_leaves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name);
    let photo = fixture("photos").join("coffee.jpg");
    let whole = fs::read(&photo).unwrap();
    fs::write(at("cut.jpg"), &whole[..whole.len() / 3]).unwrap();
    fs::write(at("empty.png"), b"").unwrap();
    fs::write(at("words.png"), b"this is not a picture at all").unwrap();
    fs::write(at("huge.png"), huge_png()).unwrap();
    let job = text(&at("job.strikeoff"));
    let refused = |art: &Path, garment: &str, inks: &str, out: &str| {
        run_refused(["separate", &text(art), "--garment", garment, "--inks", inks, "-o", out])
    };
    for art in ["cut.jpg", "empty.png", "words.png", "huge.png", "missing.png"] {
        let said = refused(&at(art), "white", "Ink black", &job);
        assert!(said.contains(art), "{said}");
    }
    let said = refused(&photo, "white", "Ink blakc", &job);
    assert!(said.contains("Ink blakc") && said.contains("Ink black"), "{said}");
    let said = refused(&photo, "wihte", "Ink black", &job);
    assert!(said.contains("wihte") && said.contains("#RRGGBB"), "{said}");
    let said = refused(&photo, "white", "Ink black", &text(&at("no/such/folder/job.strikeoff")));
    assert!(said.contains("no/such/folder"), "{said}");
    assert!(!at("job.strikeoff").exists());
    let left: Vec<_> = fs::read_dir(dir.path()).unwrap().map(|f| f.unwrap().file_name()).collect();
    assert_eq!(left.len(), 4, "only the four bad pictures: {left:?}");

    assert!(run_refused(["inspect", &text(&at("words.png"))]).contains("words.png"));
    for wrong in [vec!["separate"], vec!["nonsense"], vec!["proof", "a", "--width", "-3"]] {
        assert_eq!(run(&wrong).status.code(), Some(2), "{wrong:?}");
    }
}

#[test]
fn a_picture_of_one_pixel_is_a_job_too() {
    let dir = tempfile::tempdir().unwrap();
    let art = dir.path().join("dot.png");
    image::RgbImage::from_pixel(1, 1, image::Rgb([200, 40, 40])).save(&art).unwrap();
    let report = separate(&art, &dir.path().join("job.strikeoff"), "white", "Brick red,Ink black", &[]);
    assert_eq!(report["screens"].as_array().unwrap().len(), 2);
}

/// A PNG whose header claims 60000 x 60000 pixels and that holds next to nothing.
fn huge_png() -> Vec<u8> {
    let mut small = Vec::new();
    image::RgbImage::from_pixel(1, 1, image::Rgb([0, 0, 0]))
        .write_to(&mut std::io::Cursor::new(&mut small), image::ImageFormat::Png)
        .expect("a PNG into memory");
    // IHDR starts at byte 12; its CRC covers the type and the data.
    small[16..20].copy_from_slice(&60_000u32.to_be_bytes());
    small[20..24].copy_from_slice(&60_000u32.to_be_bytes());
    let crc = crc32(&small[12..29]);
    small[29..33].copy_from_slice(&crc.to_be_bytes());
    small
}

/// CRC-32 as in ISO 3309, for the header made by hand above.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |crc, _| if crc & 1 == 1 { crc >> 1 ^ 0xEDB8_8320 } else { crc >> 1 })
    })
}
