//! Photographs of calibration prints: rendered by `photo.py`, which shares no code with the reader, from the films of a
//! job printed by a plain mixture of light of the test's own.

use std::path::Path;
use std::process::Command;

use serde_json::{Value, json};
use strikeoff_core::Progress;
use strikeoff_core::color::{difference, lab_from_linear};
use strikeoff_core::ink::{Garment, Ink};
use strikeoff_core::screens::Screens;
use strikeoff_files::art::{decode_art, read_art_file};
use strikeoff_files::calibration::{WEDGE_PCT, calibration_job};
use strikeoff_files::measured::read_wedge;
use strikeoff_files::photo::{Layout, PhotoError, Shot, Strip, read_photo};
use strikeoff_files::press_print::{layout, patches, press_print};
use strikeoff_files::shelf::house_shelf;

use super::mean;

struct Print {
    /// Linear light, row by row, at 100 ppi.
    light: Vec<[f32; 3]>,
    size: [usize; 2],
    garment: [f64; 3],
}

fn inks(names: &[&str]) -> Vec<Ink> {
    names.iter().map(|name| house_shelf().find(name).unwrap().clone()).collect()
}

/// Ink on garment as a plain mixture: dots cover what their gain makes of the film.
fn printed(screens: &Screens, garment: [f32; 3], gain: f64) -> Print {
    let solids: Vec<([f32; 3], f32)> =
        screens.list.iter().map(|s| (s.ink.reflectance_over_white(), s.ink.opacity.get() as f32)).collect();
    let step = screens.ppi.get() / 100.0;
    let size = [screens.width, screens.height].map(|v| (v as f64 / step).round() as usize);
    let mut light = Vec::new();
    for y in 0..size[1] {
        for x in 0..size[0] {
            let at = [x, y].map(|v| ((v as f64 + 0.5) * step) as usize);
            let mut color = garment;
            for (screen, (white, opacity)) in screens.list.iter().zip(&solids) {
                let (x, y) = (at[0].min(screens.width - 1), at[1].min(screens.height - 1));
                let film = f64::from(screen.coverage.get(x, y)) / 65535.0;
                let dot = (film + 4.0 * gain * film * (1.0 - film)) as f32;
                for c in 0..3 {
                    let solid = white[c] * (opacity + (1.0 - opacity) * color[c]);
                    color[c] += dot * (solid - color[c]);
                }
            }
            light.push(color);
        }
    }
    Print { light, size, garment: garment.map(f64::from) }
}

impl Print {
    fn at(&self, [x, y]: [f64; 2]) -> [f64; 3] {
        let [x, y] = [x, y].map(|mm| (mm / 25.4 * 100.0) as usize);
        let lab = lab_from_linear(self.light[y * self.size[0] + x]);
        [lab.l, lab.a, lab.b].map(f64::from)
    }

    /// A good photograph of it: from the side, lit unevenly, with a cast; `change` is what a scene has otherwise.
    fn scene(&self, dir: &Path, name: &str, change: &Value) -> Value {
        let plane = dir.join(format!("{}x{}-{}.raw", self.size[0], self.size[1], self.garment[0]));
        if !plane.exists() {
            let bytes: Vec<u8> = self.light.iter().flatten().flat_map(|v| v.to_le_bytes()).collect();
            std::fs::write(&plane, bytes).unwrap();
        }
        let [w, h] = self.size.map(|v| v as f64 * 0.254);
        let mut scene = json!({
            "out": dir.join(name), "print": plane, "print_px": self.size, "garment": self.garment, "pixels": [1600, 1200],
            "turn": [14.0, -11.0, 4.0], "look_at": [w / 2.0, h / 2.0 + 40.0], "distance": 620.0,
            "svg": Strip::drawing(), "strip": [30.0, h + 14.0, -3.0], "swap": false, "fade": 0.0, "covers": [],
            "vignette": 0.7, "slope": [0.25, -0.2], "shadow": null, "glare": [], "blur": 0.8, "shake": 0,
            "cast": [1.0, 0.88, 0.66], "exposure": 0.85, "noise": 0.008, "seed": 7, "mirror": false,
        });
        for (key, value) in change.as_object().unwrap() {
            assert!(scene.get(key).is_some(), "{key}");
            scene[key] = value.clone();
        }
        scene
    }
}

fn photograph(dir: &Path, scenes: &[Value]) {
    let list = dir.join("scenes.json");
    std::fs::write(&list, serde_json::to_string(scenes).unwrap()).unwrap();
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fingerprint/photo.py");
    // Two at a time would not be faster where cores are few.
    let done = Command::new("/usr/bin/python3").arg(script).arg(&list).output();
    let done = done.expect("apt-get install python3 python3-numpy python3-scipy python3-pil");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

fn read(path: &Path, layout: &Layout) -> Result<Shot, PhotoError> {
    let (name, bytes) = read_art_file(path).unwrap();
    read_photo(&decode_art(&name, &bytes).unwrap().picture, layout, &Strip::default())
}

fn print_of(names: &[&str], garment: [f32; 3], hex: &str) -> (Print, Layout) {
    let inks = inks(names);
    let garment_of = Garment::of_color(hex.parse().unwrap());
    let file = press_print(&inks, garment_of.clone(), None, 70).unwrap();
    let screens = file.evaluated(&Progress::none()).unwrap().screens;
    (printed(&screens, garment, 0.2), layout(patches(&inks, &garment_of, 70).len()))
}

/// Lab of patches within 1.0 mean CIEDE2000 of what was rendered, on a white and a black garment.
#[test]
fn patches_come_back_from_photographs() {
    let dir = tempfile::tempdir().unwrap();
    let colors = ["Golden yellow", "Brick red", "Marsh teal", "Ink black"];
    let base = ["Base white", "Golden yellow", "Brick red", "Marsh teal"];
    let prints = [
        print_of(&colors, [0.80, 0.79, 0.76], "#FFFFFF"),
        print_of(&base, [0.012, 0.012, 0.014], "#17171A"),
        print_of(&base, [0.35, 0.015, 0.03], "#A3202B"),
    ];
    let turned = json!({ "turn": [-10.0, 12.0, 171.0], "cast": [0.7, 0.86, 1.0], "vignette": 1.2, "seed": 9 });
    let changes = [json!({}), turned, json!({ "turn": [9.0, 8.0, -3.0], "seed": 11 })];
    let names = ["white.jpg", "black.jpg", "red.jpg"];
    let scenes: Vec<Value> = (prints.iter().zip(&changes).zip(names))
        .map(|(((print, _), change), name)| print.scene(dir.path(), name, change))
        .collect();
    photograph(dir.path(), &scenes);
    if let Some(kept) = std::env::var_os("KEEP_PHOTOGRAPHS") {
        for name in names {
            std::fs::copy(dir.path().join(name), Path::new(&kept).join(name)).unwrap();
        }
    }
    for ((print, layout), name) in prints.iter().zip(names) {
        let shot = read(&dir.path().join(name), layout).unwrap();
        let off: Vec<f64> =
            layout.fields.iter().zip(&shot.fields).map(|((at, _), f)| difference(f.lab, print.at(*at))).collect();
        let most = off.iter().copied().fold(0.0, f64::max);
        eprintln!("{name}: {:.2} mean, {most:.2} most, noise {:.2}, {:?}", mean(&off), shot.noise, shot.strip_miss);
        assert!(mean(&off) < 1.0 && most < 4.0, "{name}: {:.2}, {most:.2}", mean(&off));
        // What the reader says of itself is of the size of what it does.
        assert!((0.2..2.5).contains(&shot.noise), "{name}: {}", shot.noise);
    }
}

/// Each step of a wedge within 1.5 points.
#[test]
fn a_wedge_comes_back_from_a_photograph() {
    let dir = tempfile::tempdir().unwrap();
    let inks = inks(&["Ink black", "Brick red"]);
    let file = calibration_job(&inks, Garment::of_color("#FFFFFF".parse().unwrap()), None);
    let screens = file.evaluated(&Progress::none()).unwrap().screens;
    let print = printed(&screens, [0.80, 0.79, 0.76], 0.22);
    photograph(dir.path(), &[print.scene(dir.path(), "wedge.jpg", &json!({ "distance": 680.0 }))]);
    let (name, bytes) = read_art_file(&dir.path().join("wedge.jpg")).unwrap();
    let picture = decode_art(&name, &bytes).unwrap().picture;
    let (wedges, _) = read_wedge(&picture, 2, Some(&Strip::default())).unwrap();
    assert_eq!(wedges.len(), 2);
    let mut most: f64 = 0.0;
    for wedge in &wedges {
        assert_eq!(wedge.points.len(), WEDGE_PCT.len() - 2);
        for (film, seen) in &wedge.points {
            let due = film.get() + 4.0 * 0.22 * film.get() * (1.0 - film.get());
            most = most.max((seen.get() - due).abs());
        }
    }
    eprintln!("most {:.2} points", most * 100.0);
    assert!(most < 0.015, "{:.2} points", most * 100.0);
}

/// Pictures that are not good enough, each refused for what is wrong with it.
#[test]
fn bad_photographs_are_refused_with_their_reason() {
    let dir = tempfile::tempdir().unwrap();
    let (print, due) =
        print_of(&["Golden yellow", "Brick red", "Marsh teal", "Ink black"], [0.80, 0.79, 0.76], "#FFFFFF");
    let [w, h] = print.size.map(|v| v as f64 * 0.254);
    let bad: Vec<(Value, &str)> = vec![
        (json!({ "blur": 4.5 }), "blurred"),
        (json!({ "blur": 16.0 }), "blurred"),
        (json!({ "shake": 31 }), "blurred"),
        (json!({ "look_at": [w / 2.0 + 165.0, h / 2.0 + 40.0] }), "whole"),
        (json!({ "look_at": [w / 2.0 - 165.0, h / 2.0 + 40.0] }), "whole"),
        (json!({ "look_at": [w / 2.0, h / 2.0 - 65.0], "strip": [30.0, h + 14.0, -3.0] }), "strip"),
        (json!({ "glare": [[w / 2.0 + 2.0, 45.0, 5.0, 0.8]] }), "patch"),
        (json!({ "glare": [[70.0, h + 42.0, 6.0, 0.5]] }), "field of the strip"),
        (json!({ "glare": [[60.0, 60.0, 60.0, 0.9]], "exposure": 0.7 }), "overexposed"),
        (json!({ "strip": null }), "strip was not found"),
        (json!({ "covers": [[30.0 + 6.0, h + 20.0, 9.0]] }), "strip was not found"),
        (json!({ "covers": [[w - 6.0, 6.0, 9.0]] }), "corners of the print were not found"),
        (json!({ "covers": [[6.0, 6.0, 9.0]] }), "corners of the print were not found"),
        (json!({ "pixels": [760, 570] }), "pixels"),
        (json!({ "pixels": [420, 315] }), "only 420 pixels"),
        (json!({ "exposure": 0.05 }), "too dark"),
        (json!({ "exposure": 2.6 }), "overexposed"),
        (json!({ "shadow": w / 2.0 - 3.0 }), "light changes abruptly"),
        (json!({ "mirror": true }), "were not found"),
        (json!({ "fade": 1.0 }), "colours of the strip"),
        (json!({ "swap": true }), "greys of the strip"),
        (json!({ "noise": 0.35, "exposure": 0.5 }), ""),
    ];
    let scenes: Vec<Value> =
        bad.iter().enumerate().map(|(at, (change, _))| print.scene(dir.path(), &format!("{at}.jpg"), change)).collect();
    photograph(dir.path(), &scenes);
    let mut wrong = Vec::new();
    for (at, (change, says)) in bad.iter().enumerate() {
        match read(&dir.path().join(format!("{at}.jpg")), &due) {
            Ok(shot) => wrong.push(format!("{change}: read, noise {:.2}", shot.noise)),
            Err(error) => {
                let said = error.to_string();
                if !said.contains(says) || said.contains('\n') {
                    wrong.push(format!("{change}: {said}"));
                }
            }
        }
    }
    // A print of other patches is not this job's.
    let (other, _) = print_of(&["Golden yellow", "Brick red"], [0.80, 0.79, 0.76], "#FFFFFF");
    let scene = other.scene(dir.path(), "other.jpg", &json!({}));
    photograph(dir.path(), &[scene]);
    let small = layout(20);
    let said = read(&dir.path().join("other.jpg"), &small).unwrap_err();
    if said != PhotoError::NoMarks(4) {
        wrong.push(format!("other: {said}"));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_strip_is_read_from_its_measured_values() {
    let greys: String = (0..8).map(|i| format!("{i} {} 0 0\n", 96 - 11 * i)).collect();
    assert!(Strip::from_text(&greys).unwrap().measured);
    for (text, says) in [
        ("0 96 0 0\n", "lack the grey field 1".to_owned()),
        ("0 96 0\n", "line 1".to_owned()),
        ("16 50 0 0", "no field of the strip".to_owned()),
        ("0 NaN 0 0", "no field of the strip".to_owned()),
    ] {
        let said = Strip::from_text(text).unwrap_err().to_string();
        assert!(said.contains(&says), "{said}");
    }
}
