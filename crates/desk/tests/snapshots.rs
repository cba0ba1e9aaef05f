//! Pictures of the window's main states, in both themes, against those kept in `tests/snapshots`.
//! Everything that could differ from run to run is still: each picture waits until no lane has work,
//! durations are left out, and the artwork is a few flat shapes drawn here. The thresholds are those
//! of `kittest.toml` at the root; the last test holds them to what they are for.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod common;

use std::time::{Duration, Instant};

use common::{bench, shop};
use egui::{Theme, Vec2, vec2};
use egui_kittest::{Harness, SnapshotOptions, SnapshotResults, try_image_snapshot_options};
use image::{Rgba, RgbaImage};
use strikeoff_core::job::{Art, Job};
use strikeoff_core::raster::Picture;
use strikeoff_core::separate::PlannedScreen;
use strikeoff_core::tune::{Curve, Edit, EditEntry};
use strikeoff_core::units::{Dpi, Mm, Ppi};
use strikeoff_desk::{Command, Document, Opening, Preferences, Sheet, ThemeChoice, View, Workbench};
use strikeoff_files::{picture, shelf};

type Bench = Harness<'static, Option<Workbench>>;

const USUAL: Vec2 = vec2(1280.0, 800.0);
const LARGE: Vec2 = vec2(1920.0, 1200.0);

/// A lantern over a marsh in a few flat colours, clear around, one of them a mixture of inks.
fn art() -> Art {
    let (width, height) = (90, 120);
    let color = |x: f32, y: f32| -> [u8; 4] {
        let disc = |cx: f32, cy: f32, r: f32| (x - cx).hypot(y - cy) < r;
        match () {
            () if disc(45.0, 48.0, 15.0) => [0xFB, 0xBE, 0x22, 255],
            () if disc(45.0, 48.0, 19.0) => [0xB5, 0x33, 0x2B, 255],
            () if (43.0..47.0).contains(&x) && y < 48.0 && y > 8.0 => [0x17, 0x17, 0x1A, 255],
            () if y > 88.0 + 4.0 * (x / 9.0).sin() && disc(45.0, 60.0, 50.0) => [0x14, 0x80, 0x8A, 255],
            () if disc(45.0, 60.0, 50.0) => [0x9A, 0x8C, 0x58, 255],
            () => [0, 0, 0, 0],
        }
    };
    let rgba: Vec<u8> = (0..width * height).flat_map(|i| color((i % width) as f32, (i / width) as f32)).collect();
    Art { picture: Picture::from_rgba8(width, height, &rgba), ppi: Ppi::new(12.0).unwrap() }
}

fn document() -> Document {
    let mut job = Job::new(shelf::house_garment("White").unwrap().clone());
    job.info.title = "Marsh lantern".into();
    job.info.quantity = 72;
    job.prep.ppi = Ppi::new(24.0).unwrap();
    job.prep.max_height_mm = Mm::from_inches(14.0).ok();
    job.film.dpi = Dpi::new(360.0).unwrap();
    job.press.heads = 4;
    let inks = ["Ink black", "Brick red", "Golden yellow", "Marsh teal"];
    let of_shelf = |name: &str| PlannedScreen::of_ink(shelf::house_shelf().find(name).unwrap().clone());
    job.separation.screens = inks.into_iter().map(of_shelf).collect();
    let curve = Curve::new(vec![[0.0, 0.0], [45.0, 30.0], [100.0, 100.0]]).unwrap();
    job.edits.push(EditEntry::on(Edit::Curve { screen: "Golden yellow".into(), curve }));
    let art = art();
    let bytes = picture::png_bytes(&art.picture, art.ppi);
    let mut doc = Document::new(job, art, "marsh-lantern.png", bytes);
    doc.add_garment(shelf::house_garment("Navy").unwrap().clone());
    doc
}

fn open(theme: ThemeChoice) -> Bench {
    let egui_theme = if theme == ThemeChoice::Dark { Theme::Dark } else { Theme::Light };
    let mut harness = Harness::builder().with_size(USUAL).with_theme(egui_theme).build_ui_state(
        move |ui, bench: &mut Option<Workbench>| match bench {
            Some(bench) => bench.ui(ui),
            None => {
                let preferences = Preferences { theme, tour_seen: true, ..Preferences::default() };
                let mut new = Workbench::new(ui.ctx(), shop(), Some(document()), Opening::Start)
                    .with_preferences(preferences, Box::new(|_| Ok(())));
                new.leave_out_durations();
                *bench = Some(new);
            }
        },
        None,
    );
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

fn pictures(theme: ThemeChoice) {
    let mut harness = open(theme);
    let mut results = SnapshotResults::new();
    let word = theme.label().to_lowercase();
    let mut keep = |harness: &mut Bench, state: &str| {
        results.add(harness.try_snapshot(format!("{state}-{word}")));
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
    let halves = [Command::Look(View::Print), Command::Compare(Some(View::Miss))];
    send(&mut harness, halves);
    keep(&mut harness, "divider");
    send(&mut harness, [Command::Compare(None), Command::ZoomFit, Command::ToggleFindings]);
    assert!(!bench(&harness).findings().is_empty(), "the drawer has something to show");
    send(&mut harness, [Command::ShowFinding(Some(0))]);
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
    let good = image::open("tests/snapshots/table-dark.png").unwrap().to_rgba8();
    good.save(dir.path().join("table.png")).unwrap();
    let options = SnapshotOptions::new().output_path(dir.path());
    let differs = |picture: &RgbaImage| try_image_snapshot_options(picture, "table", &options).is_err();
    // A code up or down everywhere, as another version of the renderer may round.
    let rounded = RgbaImage::from_fn(good.width(), good.height(), |x, y| {
        let up = (x * 7 + y * 13) % 3;
        Rgba(good.get_pixel(x, y).0.map(|v| v.saturating_add(up as u8).saturating_sub(1)))
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
