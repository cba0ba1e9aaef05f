//! Press sheet and client's proof of the demo job, read back by poppler (pdftotext, pdfinfo,
//! pdffonts): every field is there as text, on pages of the right size, in embedded type.

#![allow(clippy::unwrap_used)]

use std::path::Path;
use std::process::Command;

use strikeoff_core::Progress;
use strikeoff_core::findings::outlook;
use strikeoff_core::job::{Evaluated, RunRecord, evaluate};
use strikeoff_core::raster::Detail;
use strikeoff_core::units::Ppi;
use strikeoff_files::demo::{demo_art, demo_art_png, demo_job_on_black};
use strikeoff_files::job::JobFile;
use strikeoff_files::sheet::{Content, Paper, VIEWING_NOTE, client_proof_pdf, press_sheet_html, press_sheet_pdf};

fn tool(name: &str, args: &[&str], file: &Path) -> String {
    let out = Command::new(name)
        .args(args)
        .arg(file)
        .arg("-")
        .output()
        .unwrap_or_else(|e| panic!("{name}: {e}; install it with: apt-get install poppler-utils"));
    assert!(out.status.success() || name != "pdftotext", "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8_lossy(&out.stdout).into_owned()
}

/// Text with all white space made one blank, since lines break where the page wants.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn content() -> Content {
    let mut job = demo_job_on_black();
    job.info.client = "Čapek & Søn, Οδός".into();
    job.info.set_sizes("S 20, M 60, L 50, XL 20").unwrap();
    job.info.order = "H-2231".into();
    job.info.due = Some("2026-12-04".parse().unwrap());
    job.info.placement = "full front".into();
    job.info.date = "3 May".into();
    job.info.note = "Fold and bag by size".into();
    job.info.version = "3".into();
    let mut run = RunRecord::new("2026-05-03".parse().unwrap(), 150);
    run.misprints = 2;
    job.info.runs = vec![run];
    let done = evaluate(&job, &demo_art(), Detail::Proxy { longest_px: 600 }, &Progress::none()).unwrap();
    let look = outlook(&job, &done.prepared, &done.screens, &Progress::none()).unwrap();
    Content::new(&job, &done.prepared, &done.screens, &look)
}

#[test]
fn every_field_is_on_the_sheets() {
    let content = content();
    let dir = tempfile::tempdir().unwrap();
    for (paper, size) in [(Paper::A4, [595.28, 841.89]), (Paper::Letter, [612.0, 792.0])] {
        let (sheet, proof) = (dir.path().join("sheet.pdf"), dir.path().join("proof.pdf"));
        std::fs::write(&sheet, press_sheet_pdf(&content, paper).unwrap().bytes).unwrap();
        std::fs::write(&proof, client_proof_pdf(&content, paper).unwrap().bytes).unwrap();
        for (file, pages) in [(&sheet, "2"), (&proof, "1")] {
            let out = Command::new("pdfinfo").arg(file).output().unwrap();
            let info = String::from_utf8_lossy(&out.stdout).into_owned();
            let field = |name: &str| {
                info.lines()
                    .find_map(|l| l.strip_prefix(name))
                    .unwrap_or_else(|| panic!("{name} in {info}"))
                    .trim()
                    .to_owned()
            };
            assert_eq!(field("Pages:"), pages);
            let points: Vec<f64> = field("Page size:").split_whitespace().filter_map(|w| w.parse().ok()).collect();
            assert!((points[0] - size[0]).abs() < 0.05 && (points[1] - size[1]).abs() < 0.05, "{points:?}");
            let out = Command::new("pdffonts").arg(file).output().unwrap();
            let fonts = String::from_utf8_lossy(&out.stdout).into_owned();
            let rows: Vec<&str> = fonts.lines().skip(2).collect();
            assert_eq!(rows.len(), 2, "{fonts}");
            // emb, sub, uni: embedded, and with a way back to text.
            assert!(rows.iter().all(|r| r.contains("CID TrueType") && r.contains("yes yes yes")), "{fonts}");
        }
        let text = flat(&tool("pdftotext", &["-layout"], &sheet));
        let raw = flat(&tool("pdftotext", &["-raw"], &sheet));
        let mut expected: Vec<String> = [
            "Press sheet",
            "Client:",
            "Version: 3",
            "Date:",
            "Garment",
            "Sizes",
            "Quantity",
            "Print size",
            "Placement",
            "below the collar",
            "Artwork",
            "Heads",
            "Head",
            "Screen and ink",
            "Mesh",
            "Ruling / angle / dot",
            "Coverage",
            "Ink for the run",
            "Hits",
            "Then",
            "Look after each screen",
            "Watch points",
            "Curve, choke and assumptions",
            "Dot gain",
            "(assumed)",
            "Underbase choked",
            "Step wedge",
            "On press",
            "Changed on press",
            "Cure, by the data sheet",
            "Date, shirts, test shirts",
            "Misprints",
            "Recheck after the first shirts",
            "Cautions",
            "data sheet",
            "ultraviolet",
            "Runs so far",
            "3 May 2026: 150 shirts, 2 misprints",
            "Approved by",
            "Signature",
            "45 lpi / 22.5° / round",
            "wet on wet",
            "dryer",
            "Head 1:",
            "ends up in the ink above (assumed)",
            "three bands (red, green, blue): no ink was measured",
        ]
        .map(str::to_owned)
        .to_vec();
        expected.extend([
            content.title.clone(),
            "Čapek & Søn, Οδός".into(),
            "Order: H-2231".into(),
            "Due: 4 Dec 2026".into(),
            "S 20, M 60, L 50, XL 20".into(),
            "150 and 5 spares: 155 shirts".into(),
            "full front, 75 mm (3.0 in) below the collar".into(),
            "Fold and bag by size".into(),
            content.print_size.clone(),
        ]);
        for screen in &content.screens {
            expected.extend([screen.mesh.clone(), screen.coverage.clone(), screen.grams.clone()]);
        }
        for field in expected {
            let field = flat(&field);
            assert!(text.contains(&field) || raw.contains(&field), "\"{field}\" is not on the sheet:\n{raw}");
        }
        let text = flat(&tool("pdftotext", &["-raw"], &proof));
        let mut expected = vec![
            "Proof for approval",
            "Print size",
            "Garment",
            "Quantity",
            "Quantity 150",
            "Sizes S 20, M 60",
            "full front",
            "Due: 4 Dec 2026",
        ];
        expected.extend(["Print as shown", "Change first:", "Approved by", "Signature", "Date"]);
        expected.extend(content.screens.iter().map(|s| s.ink.as_str()));
        for field in expected {
            assert!(text.contains(field), "\"{field}\" is not on the proof:\n{text}");
        }
        assert!(text.contains(&flat(VIEWING_NOTE)));
    }
}

/// The parts of a sheet are named for readers that do not see it (ISO 32000-1, 14.8): poppler finds
/// the headings, the table with a row a screen, the lists and the pictures with their words.
#[test]
fn sheets_are_tagged() {
    let content = content();
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("sheet.pdf");
    std::fs::write(&file, press_sheet_pdf(&content, Paper::A4).unwrap().bytes).unwrap();
    let info = Command::new("pdfinfo").arg("-struct-text").arg(&file).output().unwrap();
    let tree = String::from_utf8_lossy(&info.stdout).into_owned();
    let count = |tag: &str| tree.lines().filter(|line| line.trim_start().split([' ', ':']).next() == Some(tag)).count();
    assert_eq!(count("H1"), 2, "{tree}");
    assert!(count("H2") >= 6, "{tree}");
    assert_eq!(count("Table"), 1, "{tree}");
    assert_eq!(count("TR"), content.screens.len() + 1, "{tree}");
    assert_eq!(count("TH"), 8, "{tree}");
    assert_eq!(count("Figure"), content.screens.len() + 1, "{tree}");
    assert!(count("L") >= 3 && count("LI") >= 3, "{tree}");
}

/// Nothing runs off a page or over its edge: the text boxes that poppler finds lie inside.
#[test]
fn nothing_runs_off_the_page() {
    let content = content();
    let dir = tempfile::tempdir().unwrap();
    for (paper, size) in [(Paper::A4, [595.28, 841.89]), (Paper::Letter, [612.0, 792.0])] {
        for bytes in [press_sheet_pdf(&content, paper).unwrap().bytes, client_proof_pdf(&content, paper).unwrap().bytes]
        {
            let file = dir.path().join("a.pdf");
            std::fs::write(&file, bytes).unwrap();
            let boxes = tool("pdftotext", &["-bbox"], &file);
            let mut words = 0;
            for line in boxes.lines().filter(|l| l.contains("<word")) {
                let at = |key: &str| -> f64 {
                    line.split(&format!("{key}=\"")).nth(1).unwrap().split('"').next().unwrap().parse().unwrap()
                };
                assert!(at("xMin") > 20.0 && at("xMax") < size[0] - 20.0, "{line}");
                assert!(at("yMin") > 20.0 && at("yMax") < size[1] - 15.0, "{line}");
                words += 1;
            }
            assert!(words > 60, "{words}");
        }
    }
}

/// Findings and facts of a saved job come from its stored screens at full size, with the art at a
/// lower resolution beside them: they are those of the whole evaluation.
#[test]
fn a_saved_job_is_checked_on_its_stored_screens() {
    let mut job = demo_job_on_black();
    job.prep.ppi = Ppi::new(120.0).unwrap();
    let file = JobFile::new(job, "demo.png", demo_art_png());
    let whole = file.evaluated(&Progress::none()).unwrap();
    let kinds = |done: &Evaluated| {
        let look = outlook(&file.job, &done.prepared, &done.screens, &Progress::none()).unwrap();
        let said: Vec<String> = look.findings.iter().map(|f| f.what.clone()).collect();
        (said, look.facts)
    };
    let expected = kinds(&whole);
    let mut stored = file.clone();
    stored.keep_screens(whole.screens.clone());
    let done = stored.evaluated_for_press(&Progress::none()).unwrap();
    assert_eq!(done.screens, whole.screens);
    assert!(done.prepared.picture.width().max(done.prepared.picture.height()) <= 1600);
    assert!(whole.prepared.picture.height() > 1600);
    assert_eq!(kinds(&done), expected);
    // Screens of another state of the job are not taken.
    stored.keep_screens(whole.screens);
    stored.job.prep.ppi = Ppi::new(60.0).unwrap();
    let again = stored.evaluated_for_press(&Progress::none()).unwrap();
    assert_eq!(again.screens.width, again.prepared.picture.width());
    assert!(again.screens.width < done.screens.width);
}

#[test]
fn the_html_sheet_says_the_same() {
    let content = content();
    let html = press_sheet_html(&content);
    for screen in &content.screens {
        assert!(html.contains(&screen.grams) && html.contains(&screen.mesh));
    }
    assert!(html.contains("Čapek &amp; Søn") && !html.contains("Čapek & Søn"));
    assert_eq!(html.matches("data:image/png;base64,").count(), content.screens.len() + 1);
}
