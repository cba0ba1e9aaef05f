//! Art intake against readers from outside the project: Pillow 9 (libjpeg-turbo, libtiff,
//! libwebp, LittleCMS 2.14) on pictures that SciPy ships, and a corpus of broken files.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::fs;
use std::path::Path;

use serde_json::Value;
use strikeoff_core::Progress;
use strikeoff_core::job::Detail;
use strikeoff_core::prep::{Enlarging, PrepSettings, prepare};
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_files::art::{ArtError, ReadOptions, read_art, receive_art, receive_bytes, write_prepared};
use strikeoff_tests::{fixture, tool};

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

fn corpus() -> (tempfile::TempDir, Vec<Value>) {
    let dir = tempfile::tempdir().unwrap();
    let profile = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/files/profiles/cgats-tr001.icc");
    python(&["corpus", dir.path().to_str().unwrap(), profile.to_str().unwrap()]);
    let manifest = fs::read(dir.path().join("manifest.json")).unwrap();
    let items = serde_json::from_slice::<Vec<Value>>(&manifest).unwrap();
    (dir, items)
}

#[test]
fn files_read_as_other_readers_read_them() {
    let (dir, items) = corpus();
    assert!(items.len() >= 50, "{}", items.len());
    let mut wrong = Vec::new();
    for item in &items {
        let name = item["file"].as_str().unwrap();
        let page = item["page"].as_u64().unwrap_or(1) as usize;
        let received = match receive_art(&dir.path().join(name), ReadOptions { page }) {
            Ok(received) => received,
            Err(error) => {
                wrong.push(error.to_string());
                continue;
            }
        };
        let want: Vec<u16> = fs::read(dir.path().join(item["raw"].as_str().unwrap()))
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
        if let Some(pages) = item["pages"].as_u64()
            && received.facts.pages as u64 != pages
        {
            wrong.push(format!("{name}: {} pages", received.facts.pages));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_file_cut_at_each_quarter_is_refused_or_whole() {
    let (dir, items) = corpus();
    let mut refused = 0;
    for item in &items {
        let name = item["file"].as_str().unwrap();
        let whole = fs::read(dir.path().join(name)).unwrap();
        for quarter in 0..4 {
            match receive_bytes(name, &whole[..whole.len() * quarter / 4], ReadOptions::default()) {
                Err(error) => {
                    let said = error.to_string();
                    assert!(said.contains(name) && !said.contains('\n') && said.len() < 300, "{said}");
                    refused += 1;
                }
                // A TIFF's later pages may be what was cut.
                Ok(_) => assert!(name == "pages.tif" || name.ends_with(".gif"), "{name} cut at {quarter}/4 was taken"),
            }
        }
    }
    assert!(refused > 3 * items.len());
}

#[test]
fn not_a_number_is_black_and_nothing_breaks() {
    let (dir, _) = corpus();
    let art = read_art(&dir.path().join("nan.tif")).unwrap();
    assert_eq!(art.picture.pixels().get(6, 6), [0, 0, 0, 65535]);
    assert_eq!(art.picture.pixels().get(3, 20), [65535; 4]);
    assert_eq!(art.picture.pixels().get(3, 21), [0, 0, 0, 65535]);
}

fn refused(name: &str, bytes: &[u8]) -> String {
    let error = receive_bytes(name, bytes, ReadOptions::default()).expect_err(name).to_string();
    assert!(error.contains(name) && !error.contains('\n'), "{error}");
    error
}

#[test]
fn drawings_read_nothing_outside_themselves() {
    let dir = tempfile::tempdir().unwrap();
    let secret = dir.path().join("secret.png");
    image::RgbImage::from_pixel(8, 8, image::Rgb([255, 0, 0])).save(&secret).unwrap();
    let svg = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="96" height="96">
        <image width="96" height="48" href="{0}"/><image y="48" width="96" height="48" xlink:href="file://{0}"/>
        <image width="9" height="9" href="http://127.0.0.1:9/a.png"/></svg>"#,
        secret.display()
    );
    let path = dir.path().join("a.svg");
    fs::write(&path, svg).unwrap();
    let received = receive_art(&path, ReadOptions::default()).unwrap();
    assert!(received.art.picture.pixels().data().iter().all(|p| p[3] == 0), "something was drawn");
    assert_eq!(received.facts.notes.iter().filter(|n| n.contains("outside the file")).count(), 3);
    assert!((received.art.picture.width() as f64 / received.art.ppi.get() - 1.0).abs() < 1e-3);
}

#[test]
fn drawings_are_true_to_size_and_colour() {
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

#[test]
fn hostile_drawings_end_in_a_sentence() {
    assert!(refused("none.pdf", &pdf(0, "")).contains("page"));
    let many = receive_bytes("many.pdf", &pdf(5000, "1 0 0 rg 0 0 9 9 re f"), ReadOptions { page: 5000 }).unwrap();
    assert_eq!(many.facts.pages, 5000);
    refused("junk.pdf", b"%PDF-1.7\nnothing that follows makes sense");

    let deep =
        format!("<svg xmlns='http://www.w3.org/2000/svg'>{}{}</svg>", "<g>".repeat(90_000), "</g>".repeat(90_000));
    assert!(refused("deep.svg", deep.as_bytes()).contains("nested"));
    // Ten levels of ten uses each: ten thousand million rectangles if it were followed.
    let mut uses = String::from(
        "<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><rect id='a0' width='1' height='1'/>",
    );
    for level in 1..=10 {
        let inner = format!("<use href='#a{}'/>", level - 1).repeat(10);
        uses += &format!("<g id='a{level}'>{inner}</g>");
    }
    uses += "</svg>";
    refused("uses.svg", uses.as_bytes());
    // Entities that each hold ten of the last.
    let mut laughs = String::from("<!DOCTYPE svg [<!ENTITY a0 'ha'>");
    for level in 1..=9 {
        laughs += &format!("<!ENTITY a{level} '{}'>", format!("&a{};", level - 1).repeat(10));
    }
    laughs += "]><svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><text>&a9;</text></svg>";
    refused("laughs.svg", laughs.as_bytes());
    refused("empty.svg", b"<svg xmlns='http://www.w3.org/2000/svg' width='0' height='5'/>");
}

#[test]
fn bombs_are_refused_by_their_header() {
    let le = |v: u32| v.to_le_bytes();
    // TIFF: 60000 x 60000, then one strip of it.
    let tag =
        |id: u16, kind: u16, value: u32| [&id.to_le_bytes()[..], &kind.to_le_bytes(), &le(1), &le(value)].concat();
    let mut tiff = b"II*\0\x08\0\0\0\x09\0".to_vec();
    for (id, kind, value) in [
        (256, 4, 60_000),
        (257, 4, 60_000),
        (258, 3, 8),
        (259, 3, 1),
        (262, 3, 1),
        (273, 4, 200),
        (277, 3, 1),
        (278, 4, 60_000),
        (279, 4, 10),
    ] {
        tiff.extend(tag(id, kind, value));
    }
    tiff.extend([0; 300]);
    assert!(refused("bomb.tif", &tiff).contains("60000 x 60000"));
    // GIF: 65535 x 65535 and no more.
    assert!(
        refused("bomb.gif", b"GIF89a\xff\xff\xff\xff\0\0\0,\0\0\0\0\xff\xff\xff\xff\0\x08\x02\0\0;").contains("65535")
    );
    let mut bmp = b"BM\0\0\0\0\0\0\0\0\x36\0\0\0\x28\0\0\0".to_vec();
    bmp.extend([&le(60_000)[..], &le(60_000), b"\x01\0\x18\0", &[0; 24], &[0; 100]].concat());
    refused("bomb.bmp", &bmp);
    // WebP, lossless, 16384 x 16384.
    let webp = [&b"RIFF\x1a\0\0\0WEBPVP8L\x0d\0\0\0\x2f\xff\xff\xff\x0f"[..], &[0; 12]].concat();
    refused("bomb.webp", &webp);
}

/// Gains of the way along edges over Lanczos's kernel that each photograph must reach: PSNR in dB
/// and SSIM. Measured when written: see the test's output.
const LEAST_GAIN: [f64; 2] = [0.15, 0.004];

#[test]
fn enlarging_along_edges_beats_the_plain_kernel_on_six_photographs() {
    let dir = tempfile::tempdir().unwrap();
    let photos =
        ["astronaut", "cat", "coffee", "galaxies", "rocket"].map(|name| fixture(&format!("photos/{name}.jpg")));
    let mut args = vec![dir.path().to_str().unwrap()];
    args.extend(photos.iter().map(|path| path.to_str().unwrap()));
    let names: Vec<String> = serde_json::from_slice(&python(&[&["reduce"], &args[..]].concat())).unwrap();
    assert_eq!(names.len(), 6);
    for name in &names {
        let mut art = read_art(&dir.path().join(format!("{name}-small.png"))).unwrap();
        art.ppi = Ppi::new(75.0).unwrap();
        let height = Mm::from_inches(art.picture.height() as f64 / 75.0).unwrap();
        for (kind, enlarging) in [("plain", Enlarging::Plain), ("edges", Enlarging::Edges)] {
            let settings =
                PrepSettings { enlarging, sharpen_amount: 0.0, max_height_mm: Some(height), ..PrepSettings::default() };
            let made = prepare(&art, &settings, Detail::Full, &Progress::none()).unwrap();
            assert_eq!(made.picture.width(), art.picture.width() * 4);
            let rgb = made.picture.pixels().data().iter().flat_map(|p| p[..3].iter().flat_map(|v| v.to_le_bytes()));
            fs::write(dir.path().join(format!("{name}-{kind}.raw")), rgb.collect::<Vec<u8>>()).unwrap();
            if name == "cat" && kind == "edges" {
                write_prepared(&dir.path().join("written.png"), &made.picture, made.ppi).unwrap();
            }
        }
    }
    let judged: Value = serde_json::from_slice(&python(&[&["judge"], &args[..]].concat())).unwrap();
    // Written pictures as Pillow reads them: 8 of the 16 bits, resolution, profile.
    assert!(judged["written"].as_f64().unwrap() <= 1.0, "{judged}");
    let mut short = Vec::new();
    for name in &names {
        let number = |key: &str, i: usize| judged[name][key][i].as_f64().unwrap();
        let gain = [0, 1].map(|i| number("edges", i) - number("plain", i));
        let same = judged[name]["same_kernel"].as_f64().unwrap();
        println!(
            "{name}: plain {:.2} dB {:.4}, along edges {:+.2} dB {:+.4}; plain against Pillow's Lanczos {same:.1} dB",
            number("plain", 0),
            number("plain", 1),
            gain[0],
            gain[1]
        );
        // Pillow's Lanczos on floats of linear light.
        if same <= 50.0 || gain[0] < LEAST_GAIN[0] || gain[1] < LEAST_GAIN[1] {
            short.push(name);
        }
    }
    assert!(short.is_empty(), "{short:?}: {judged}");
}

#[test]
fn gifs_without_an_end_give_their_first_frame_or_a_sentence() {
    // 4 x 4, two colours, loops for ever, and a frame after the other until the file stops.
    let mut gif = b"GIF89a\x04\0\x04\0\x80\0\0\xff\0\0\0\0\xff!\xff\x0bNETSCAPE2.0\x03\x01\0\0\0".to_vec();
    let frame = b",\0\0\0\0\x04\0\x04\0\0\x02\x04\x84\x8f\x09\x05\0";
    for _ in 0..200_000 {
        gif.extend(b"!\xf9\x04\0\x01\0\0\0");
        gif.extend(frame);
    }
    match receive_bytes("loop.gif", &gif, ReadOptions::default()) {
        Ok(received) => assert_eq!((received.facts.width_px, received.facts.height_px), (4, 4)),
        Err(error) => assert!(error.to_string().contains("loop.gif"), "{error}"),
    }
    // Data of one frame that never ends, far beyond its 16 pixels.
    let mut gif = b"GIF89a\x04\0\x04\0\x80\0\0\xff\0\0\0\0\xff,\0\0\0\0\x04\0\x04\0\0\x02".to_vec();
    for _ in 0..100_000 {
        gif.push(255);
        gif.extend([0x44; 255]);
    }
    let started = std::time::Instant::now();
    match receive_bytes("long.gif", &gif, ReadOptions::default()) {
        Ok(received) => assert_eq!((received.facts.width_px, received.facts.height_px), (4, 4)),
        Err(error) => assert!(error.to_string().contains("long.gif"), "{error}"),
    }
    assert!(started.elapsed().as_secs() < 20);
}
