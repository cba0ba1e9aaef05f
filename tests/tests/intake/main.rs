//! Art intake against readers from outside the project: Pillow 9 (libjpeg-turbo, libtiff,
//! libwebp, LittleCMS 2.14) on pictures that SciPy ships.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod enlarged_films;
mod enlarging;
mod hostile;

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use serde_json::Value;
use strikeoff_files::art::drawing::draw_with;
use strikeoff_files::art::{ArtError, ReadOptions, receive_art, receive_bytes};
use strikeoff_tests::{artist, fixture, tool};

fn python(args: &[&str]) -> Vec<u8> {
    let script = fixture("outside/art.py");
    let packages =
        "python3 python3-numpy python3-scipy python3-pil libtiff-tools icc-profiles-free colord-data libgs-common";
    tool("/usr/bin/python3", packages, [script.to_str().unwrap()].iter().chain(args))
}

/// Mean and worst difference in 8-bit levels, over colour where there is any alpha.
fn difference(got: &[[u16; 4]], want: &[u16]) -> (f64, f64) {
    let (mut sum, mut worst, mut count) = (0.0, 0.0_f64, 0.0);
    for (got, want) in got.iter().zip(want.chunks_exact(4)) {
        for c in 0..4 {
            if c < 3 && want[3] == 0 {
                continue;
            }
            let d = f64::from(got[c].abs_diff(want[c])) / 257.0;
            sum += d;
            worst = worst.max(d);
            count += 1.0;
        }
    }
    (sum / count, worst)
}

/// The corpus of files and its manifest, written once a run.
fn corpus() -> &'static (PathBuf, Vec<Value>) {
    static CORPUS: OnceLock<(PathBuf, Vec<Value>)> = OnceLock::new();
    CORPUS.get_or_init(|| {
        let dir = Path::new(env!("CARGO_TARGET_TMPDIR")).join("art-corpus");
        fs::create_dir_all(&dir).unwrap();
        let profile = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/files/profiles/cgats-tr001.icc");
        python(&["corpus", dir.to_str().unwrap(), profile.to_str().unwrap()]);
        let manifest = fs::read(dir.join("manifest.json")).unwrap();
        (dir, serde_json::from_slice::<Vec<Value>>(&manifest).unwrap())
    })
}

#[test]
fn files_read_as_other_readers_read_them() {
    let (dir, items) = corpus();
    assert!(items.len() >= 50, "{}", items.len());
    let mut wrong = Vec::new();
    for item in items {
        let name = item["file"].as_str().unwrap();
        let page = item["page"].as_u64().unwrap_or(1) as usize;
        let received = match receive_art(&dir.join(name), ReadOptions { page }) {
            Ok(received) => received,
            Err(error) => {
                wrong.push(error.to_string());
                continue;
            }
        };
        let want: Vec<u16> = fs::read(dir.join(item["raw"].as_str().unwrap()))
            .unwrap()
            .chunks_exact(2)
            .map(|b| u16::from_le_bytes([b[0], b[1]]))
            .collect();
        let picture = &received.art.picture;
        let size = [picture.width() as u64, picture.height() as u64];
        if size != [item["width"].as_u64().unwrap(), item["height"].as_u64().unwrap()] {
            wrong.push(format!("{name}: {size:?}"));
            continue;
        }
        let (mean, worst) = difference(picture.pixels().data(), &want);
        println!("{name}: mean {mean:.3}, worst {worst:.2} levels; {}", received.facts.color_profile);
        if mean > item["mean"].as_f64().unwrap() || worst > item["worst"].as_f64().unwrap() {
            wrong.push(format!(
                "{name}: mean {mean:.3}, worst {worst:.2}, allowed {} and {}",
                item["mean"], item["worst"]
            ));
        }
        if let Some(note) = received.facts.notes.iter().find(|note| note.contains("not sound")) {
            wrong.push(format!("{name}: {note}"));
        }
        if let Some(ppi) = item["ppi"].as_f64()
            && (received.art.ppi.get() - ppi).abs() > 0.1
        {
            wrong.push(format!("{name}: {} ppi", received.art.ppi));
        }
        if let Some(quality) = item["quality"].as_u64()
            && received.facts.jpeg_quality.is_none_or(|q| u64::from(q).abs_diff(quality) > 1)
        {
            wrong.push(format!("{name}: quality {:?}", received.facts.jpeg_quality));
        }
        let outside = item["outside"].as_f64();
        if outside.is_some_and(|share| (received.facts.outside_srgb - share).abs() > 0.02)
            || outside.is_none() && name.ends_with(".png") && received.facts.outside_srgb > 0.02
        {
            wrong.push(format!("{name}: {:.3} outside sRGB, not {outside:?}", received.facts.outside_srgb));
        }
        if let Some(pages) = item["pages"].as_u64()
            && received.facts.pages as u64 != pages
        {
            wrong.push(format!("{name}: {} pages", received.facts.pages));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn drawings_are_true_to_size_and_colour() {
    draw_with(artist());
    let svg = br##"<svg xmlns="http://www.w3.org/2000/svg" width="2in" height="1in" viewBox="0 0 20 10">
        <rect width="10" height="10" fill="#c02040"/><text x="12" y="6" font-family="No Such Face">a</text></svg>"##;
    let received = receive_bytes("a.svg", svg, ReadOptions::default()).unwrap();
    let picture = &received.art.picture;
    assert_eq!((picture.width(), picture.height()), (5400, 2700));
    assert!((received.art.ppi.get() - 2700.0).abs() < 0.5);
    assert_eq!(picture.pixels().get(1000, 1000), [0xc0 * 257, 0x20 * 257, 0x40 * 257, 65535]);
    assert!(received.facts.notes.iter().any(|n| n.contains("No Such Face")), "{:?}", received.facts.notes);

    let pdf = pdf(3, "0.2 0.4 0.6 rg 0 0 72 144 re f");
    let received = receive_bytes("a.pdf", &pdf, ReadOptions { page: 2 }).unwrap();
    let picture = &received.art.picture;
    assert_eq!((picture.width(), picture.height(), received.facts.pages), (5400, 5400, 3));
    assert!((received.art.ppi.get() - 2700.0).abs() < 0.5);
    let p = picture.pixels().get(1000, 1000);
    assert!(p[0].abs_diff(51 * 257) <= 257 && p[1].abs_diff(102 * 257) <= 257 && p[3] == 65535, "{p:?}");
    assert_eq!(picture.pixels().get(4000, 1000)[3], 0);
    let error = receive_bytes("a.pdf", &pdf, ReadOptions { page: 4 }).unwrap_err();
    assert!(matches!(error, ArtError::NoPage { page: 4, pages: 3, .. }), "{error}");
}

/// A PDF with so many pages of 144 x 144 points that share one content stream.
fn pdf(pages: usize, content: &str) -> Vec<u8> {
    let mut out = b"%PDF-1.4\n".to_vec();
    let mut places = Vec::new();
    let mut object = |out: &mut Vec<u8>, body: String| {
        places.push(out.len());
        out.extend(format!("{} 0 obj\n{body}\nendobj\n", places.len()).bytes());
    };
    object(&mut out, "<</Type/Catalog/Pages 2 0 R>>".into());
    let kids: String = (0..pages).map(|i| format!("{} 0 R ", i + 4)).collect();
    object(&mut out, format!("<</Type/Pages/Count {pages}/Kids[{kids}]>>"));
    object(&mut out, format!("<</Length {}>>stream\n{content}\nendstream", content.len()));
    for _ in 0..pages {
        object(&mut out, "<</Type/Page/Parent 2 0 R/MediaBox[0 0 144 144]/Contents 3 0 R/Resources<<>>>>".into());
    }
    let start = out.len();
    out.extend(format!("xref\n0 {}\n0000000000 65535 f \n", places.len() + 1).bytes());
    for place in &places {
        out.extend(format!("{place:010} 00000 n \n").bytes());
    }
    out.extend(format!("trailer<</Size {}/Root 1 0 R>>\nstartxref\n{start}\n%%EOF", places.len() + 1).bytes());
    out
}
