//! Pictures of the window's main states, in both themes, against those kept in `tests/snapshots`.
//! Everything that could differ from run to run is still: each picture waits until no lane has work,
//! durations are left out, and the artwork is a few flat shapes. The thresholds are those of
//! `kittest.toml` at the root; the last test holds them to what they are for. Pictures are kept as
//! lossless WebP, a third of the same PNG; what was drawn, and where it differs, lies as PNG in
//! `target/tmp/snapshots` after a run. `tests/snapshots/renew.sh` renews them.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::common::{Bench, bench, open_bench};
use egui::{Vec2, vec2};
use egui_kittest::{SnapshotOptions, SnapshotResult, SnapshotResults, try_image_snapshot_options};
use image::{Rgba, RgbaImage};
use strikeoff_desk::{Command, Opening, Preferences, Sheet, ThemeChoice, View, Workbench};

const USUAL: Vec2 = vec2(1280.0, 800.0);
const LARGE: Vec2 = vec2(1920.0, 1200.0);

fn open(theme: ThemeChoice) -> Bench {
    let mut harness = open_bench(USUAL, move |ctx| {
        let preferences = Preferences { theme, tour_seen: true, ..Preferences::default() };
        let mut bench = Workbench::new(ctx, crate::lantern::shop(), Some(crate::lantern::document()), Opening::Start)
            .with_preferences(preferences, Box::new(|_| Ok(())));
        bench.leave_out_durations();
        bench
    });
    rest(&mut harness);
    harness
}

/// Steps until nothing is under way any more, and then until what fades in has done so.
fn rest(harness: &mut Bench) {
    let started = Instant::now();
    let mut still = 0;
    harness.step();
    while still < 6 {
        assert!(started.elapsed() < Duration::from_secs(120), "the bench does not come to rest");
        harness.step();
        still = if bench(harness).is_at_rest() { still + 1 } else { 0 };
        if still == 0 {
            std::thread::sleep(Duration::from_millis(4));
        }
    }
    assert_eq!(bench(harness).problem(), None);
}

fn send(harness: &mut Bench, commands: impl IntoIterator<Item = Command>) {
    for command in commands {
        harness.state_mut().as_mut().unwrap().send(command);
    }
    rest(harness);
}

fn kept(name: &str) -> PathBuf {
    Path::new("tests/snapshots").join(name).with_extension("webp")
}

/// Compares a picture with the one kept, which the comparison wants as a PNG beside its own output.
fn compare(picture: &RgbaImage, name: &str) -> SnapshotResult {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("snapshots");
    std::fs::create_dir_all(&folder).unwrap();
    let png = folder.join(name).with_extension("png");
    std::fs::remove_file(&png).ok();
    if kept(name).exists() {
        image::open(kept(name)).unwrap().to_rgba8().save(&png).unwrap();
    }
    try_image_snapshot_options(picture, name, &SnapshotOptions::new().output_path(folder))
}

fn pictures(theme: ThemeChoice) {
    let mut harness = open(theme);
    let mut results = SnapshotResults::new();
    let word = theme.label().to_lowercase();
    let mut keep = |harness: &mut Bench, state: &str| {
        results.add(compare(&harness.render().unwrap(), &format!("{state}-{word}")));
    };
    keep(&mut harness, "start");
    // Without folds and grain: those change no control, and a flat shirt makes a small picture.
    let shut = || Command::Sheet(None);
    let yellow = Command::Select(Some("Golden yellow".into()));
    send(&mut harness, [shut(), Command::OpenDemo, Command::ToggleFabric]);
    send(&mut harness, [yellow]);
    keep(&mut harness, "table");
    send(&mut harness, [Command::Look(View::Screen), Command::ZoomPrint]);
    keep(&mut harness, "screen");
    let halves = [Command::Look(View::Print), Command::Compare(Some(View::Difference))];
    send(&mut harness, halves);
    keep(&mut harness, "divider");
    send(&mut harness, [Command::Compare(None), Command::ZoomFit, Command::ToggleFindings]);
    assert!(!bench(&harness).findings().is_empty(), "the drawer has something to show");
    // The second one has a place on the print.
    send(&mut harness, [Command::ShowFinding(Some(1))]);
    keep(&mut harness, "findings");
    harness.set_size(LARGE);
    rest(&mut harness);
    keep(&mut harness, "findings-large");
    send(&mut harness, [Command::ToggleFindings, Command::Look(View::Print)]);
    keep(&mut harness, "table-large");
    harness.set_size(USUAL);
    send(&mut harness, [Command::Sheet(Some(Sheet::Inks))]);
    keep(&mut harness, "ink-sets");
    send(&mut harness, [Command::Sheet(Some(Sheet::Export))]);
    keep(&mut harness, "films");
    send(&mut harness, [Command::Sheet(Some(Sheet::Preferences))]);
    keep(&mut harness, "preferences");
}

#[test]
fn main_states_in_the_dark_theme() {
    pictures(ThemeChoice::Dark);
}

#[test]
fn main_states_in_the_light_theme() {
    pictures(ThemeChoice::Light);
}

/// The thresholds let rounding of a renderer through, and no widget that has moved by a point or gone.
#[test]
fn thresholds_tell_a_moved_widget_from_rounding() {
    let dir = tempfile::tempdir().unwrap();
    if std::env::var_os("UPDATE_SNAPSHOTS").is_some() {
        return;
    }
    let good = image::open(kept("table-dark")).unwrap().to_rgba8();
    good.save(dir.path().join("table.png")).unwrap();
    let options = SnapshotOptions::new().output_path(dir.path());
    let differs = |picture: &RgbaImage| try_image_snapshot_options(picture, "table", &options).is_err();
    // A code up or down everywhere, as another version of the renderer may round.
    let rounded = RgbaImage::from_fn(good.width(), good.height(), |x, y| {
        let up = (x * 7 + y * 13) % 3;
        let [r, g, b, a] = good.get_pixel(x, y).0;
        let [r, g, b] = [r, g, b].map(|v| v.saturating_add(up as u8).saturating_sub(1));
        Rgba([r, g, b, a])
    });
    assert!(!differs(&rounded), "rounding is taken for a change");
    // Where "Make films" stands at the right end of the rail, and the name of the chosen screen.
    for (what, [x, y, w, h]) in [("the main button", [1140, 4, 132, 42]), ("a card", [10, 660, 190, 104])] {
        let ground = *good.get_pixel(x, y);
        let (mut gone, mut moved) = (good.clone(), good.clone());
        for (dx, dy) in (0..w).flat_map(|dx| (0..h).map(move |dy| (dx, dy))) {
            gone.put_pixel(x + dx, y + dy, ground);
            if dx > 0 {
                moved.put_pixel(x + dx, y + dy, *good.get_pixel(x + dx - 1, y + dy));
            }
        }
        assert!(differs(&gone), "{what} is gone and nothing is noticed");
        assert!(differs(&moved), "{what} has moved by a point and nothing is noticed");
    }
}
