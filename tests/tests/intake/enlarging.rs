//! Enlarging and cleaning against Pillow and SciPy on photographs: the same kernel, the gain of the
//! way along edges, and how much nearer to the original a compressed picture comes.

use std::fs;

use serde_json::Value;
use strikeoff_core::Progress;
use strikeoff_core::prep::{Enlarging, PrepSettings, find_blocking, prepare};
use strikeoff_core::raster::{Detail, Picture};
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_files::art::{read_art, write_prepared};
use strikeoff_tests::fixture;

use super::python;

/// 16-bit RGB, least byte first.
fn rgb_bytes(picture: &Picture) -> Vec<u8> {
    picture.pixels().data().iter().flat_map(|p| p[..3].iter().flat_map(|v| v.to_le_bytes())).collect()
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
        let mut whole = read_art(&dir.path().join(format!("{name}-whole.png"))).unwrap();
        whole.ppi = Ppi::new(300.0).unwrap();
        let settings = PrepSettings { sharpen_amount: 0.0, ppi: Ppi::new(97.0).unwrap(), ..PrepSettings::default() };
        let made = prepare(&whole, &settings, Detail::Full, &Progress::none()).unwrap();
        assert!(made.picture.width() * 3 < whole.picture.width());
        fs::write(dir.path().join(format!("{name}-reduced.raw")), rgb_bytes(&made.picture)).unwrap();
        for (kind, enlarging) in [("plain", Enlarging::Plain), ("edges", Enlarging::Edges)] {
            let settings =
                PrepSettings { enlarging, sharpen_amount: 0.0, max_height_mm: Some(height), ..PrepSettings::default() };
            let made = prepare(&art, &settings, Detail::Full, &Progress::none()).unwrap();
            assert_eq!(made.picture.width(), art.picture.width() * 4);
            fs::write(dir.path().join(format!("{name}-{kind}.raw")), rgb_bytes(&made.picture)).unwrap();
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
        let [same, smaller] = ["same_kernel", "same_kernel_smaller"].map(|key| judged[name][key].as_f64().unwrap());
        println!(
            "{name}: plain {:.2} dB {:.4}, along edges {:+.2} dB {:+.4}; plain against Pillow's Lanczos {same:.1} dB, smaller {smaller:.1} dB",
            number("plain", 0),
            number("plain", 1),
            gain[0],
            gain[1]
        );
        // Pillow's Lanczos on floats of linear light.
        if same.min(smaller) <= 50.0 || gain[0] < LEAST_GAIN[0] || gain[1] < LEAST_GAIN[1] {
            short.push(name);
        }
    }
    assert!(short.is_empty(), "{short:?}: {judged}");
}

/// Least gain of deblocking at quality 12 in PSNR, in dB, and the most of the grid that may be left:
/// on photographs, and on line art, whose grid shows so little among its strokes that it tells too
/// little of how coarse the compression was.
const CLEANED_PHOTO: [f64; 2] = [0.3, 0.2];
const CLEANED_LINES: [f64; 2] = [0.2, 0.7];

#[test]
fn deblocking_brings_compressed_art_nearer_to_its_original() {
    let dir = tempfile::tempdir().unwrap();
    let photos =
        ["astronaut", "cat", "coffee", "galaxies", "rocket"].map(|name| fixture(&format!("photos/{name}.jpg")));
    let mut args = vec![dir.path().to_str().unwrap()];
    args.extend(photos.iter().map(|path| path.to_str().unwrap()));
    let names: Vec<String> = serde_json::from_slice(&python(&[&["compress"], &args[..]].concat())).unwrap();
    let mut blocks = Vec::new();
    for name in &names {
        let art = read_art(&dir.path().join(format!("{name}-q12.jpg"))).unwrap();
        let settings = PrepSettings { deblock: 1.0, sharpen_amount: 0.0, ppi: art.ppi, ..PrepSettings::default() };
        let made = prepare(&art, &settings, Detail::Full, &Progress::none()).unwrap();
        blocks.push([&art.picture, &made.picture].map(|picture| find_blocking(picture).ratio));
        fs::write(dir.path().join(format!("{name}-clean.raw")), rgb_bytes(&made.picture)).unwrap();
    }
    let judged: Value = serde_json::from_slice(&python(&[&["cleaned"], &args[..]].concat())).unwrap();
    let mut short = Vec::new();
    for (name, [was, is]) in names.iter().zip(blocks) {
        let [before, after] = [0, 1].map(|i| judged[name][i].as_f64().unwrap());
        println!("{name}: {before:.2} dB, cleaned {after:.2} dB; block borders {was:.2}x, cleaned {is:.2}x");
        let [gain, left] = if name == "rings" { CLEANED_LINES } else { CLEANED_PHOTO };
        if after < before + gain || is > 1.0 + left * (was - 1.0) {
            short.push(name);
        }
    }
    assert!(short.is_empty(), "{short:?}: {judged}");
}
