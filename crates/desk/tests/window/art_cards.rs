//! The artwork's cards, by role and label: facts, size, turning and cropping, enlarging,
//! sharpening, clean-up, background, pages. Each changes the job, and one undo takes it back.

use std::io::Cursor;

use crate::common::{Bench, bench, job, open_document, settle_when, shows};
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;
use image::{DynamicImage, ImageFormat, Rgb, RgbImage};
use strikeoff_core::job::Job;
use strikeoff_core::prep::{BackgroundWay, Enlarging, PrepSettings};
use strikeoff_core::separate::PlannedScreen;
use strikeoff_core::units::{LengthUnit, Mm, Ppi};
use strikeoff_desk::{Document, View};
use strikeoff_files::art::decode_art;
use strikeoff_files::shelf;

/// Steps until the proof and the facts are those of the job.
fn settle(harness: &mut Bench) {
    settle_when(harness, |bench| bench.artwork_facts().is_some());
}

fn press(harness: &mut Bench, label: &str) {
    harness.get_by_label(label).click();
    settle(harness);
}

fn open(doc: impl FnOnce() -> Document + 'static) -> Bench {
    let mut harness = open_document(vec2(1280.0, 1500.0), doc);
    settle(&mut harness);
    harness
}

fn bytes(image: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    image.write_to(&mut out, format).unwrap();
    out.into_inner()
}

/// A blue disc with a pale hole on pale paper, left of the middle; two stray dots at the right.
fn lantern() -> DynamicImage {
    RgbImage::from_fn(240, 160, |x, y| {
        let away = (x as f64 - 90.0).hypot(y as f64 - 80.0);
        let dot = (x == 200 && y == 40) || (x == 215 && y == 120);
        if dot || (away < 50.0 && away > 15.0) { Rgb([20, 60, 140]) } else { Rgb([250, 248, 240]) }
    })
    .into()
}

fn document(name: &str, file: Vec<u8>) -> Document {
    let mut job = Job::new(shelf::house_garment("White").unwrap().clone());
    let inks = shelf::house_shelf().inks.iter().filter(|ink| ["Ink black", "Marsh teal"].contains(&ink.name.as_str()));
    job.separation.screens = inks.cloned().map(PlannedScreen::of_ink).collect();
    job.prep.ppi = Ppi::new(72.0).unwrap();
    job.prep.max_height_mm = Mm::from_inches(4.0).ok();
    let art = decode_art(name, &file).unwrap();
    Document::new(job, art, name, file)
}

fn open_lantern() -> Bench {
    open(|| document("lantern.png", bytes(&lantern(), ImageFormat::Png)))
}

fn prep(harness: &Bench) -> PrepSettings {
    bench(harness).preparation().unwrap().clone()
}

/// Opens the card of a title, whatever it says while folded.
fn unfold(harness: &mut Bench, title: &str) {
    let start = format!("{title}:");
    harness
        .get_by(|n| n.role() == Role::DisclosureTriangle && n.label().is_some_and(|l| l.starts_with(&start)))
        .click();
    settle(harness);
}

/// Sets the field of that name, as assistive technology does.
fn enter(harness: &mut Bench, name: &str, value: f64) {
    harness.get_by(|n| n.role() == Role::SpinButton && n.label().is_some_and(|l| l == name)).set_value_accesskit(value);
    settle(harness);
}

fn undo(harness: &mut Bench) {
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(harness);
}

#[test]
fn the_facts_say_what_came_in_and_what_it_is_worth() {
    let harness = open(|| document("lantern.jpg", bytes(&lantern(), ImageFormat::Jpeg)));
    // 160 pixels over 4 in are 40 to the inch; 40 / 45 = 0.9.
    harness.get_by_label("True 40 ppi at print size");
    assert!(shows(&harness, "0.9x the 45 lpi ruling"));
    harness.get_by_label("240 x 160 pixels, 8 bits per sample");
    harness.get_by_label("Colour profile: none; sRGB assumed");
    assert!(shows(&harness, "JPEG quality about "));
    assert!((bench(&harness).artwork_facts().unwrap().0.true_ppi - 40.0).abs() < 1e-6);
}

#[test]
fn size_follows_height_platen_and_garment_in_the_unit_of_the_job() {
    let mut harness = open_lantern();
    let size = |harness: &Bench| bench(harness).print_size_mm().unwrap().map(|v| v.round());
    assert_eq!(size(&harness), [152.0, 102.0]);
    press(&mut harness, "Millimetres");
    let unit = |harness: &Bench| job(harness).info.unit;
    assert_eq!(unit(&harness), LengthUnit::Mm);
    enter(&mut harness, "Height up to", 200.0);
    assert_eq!(size(&harness), [300.0, 200.0]);
    press(&mut harness, "Limit to smallest garment");
    press(&mut harness, "Usual sizes: smallest garment");
    harness.get_by(|n| n.label().is_some_and(|l| l.starts_with("Youth: "))).click();
    settle(&mut harness);
    assert_eq!(size(&harness), [229.0, 152.0], "nine inches wide");
    assert!(shows(&harness, "the smallest garment's width governs"));
    press(&mut harness, "Limit to platen");
    enter(&mut harness, "Platen height", 100.0);
    assert_eq!(size(&harness), [150.0, 100.0]);
    undo(&mut harness);
    assert_eq!(size(&harness), [229.0, 152.0], "one step back");
    // Showing lengths in another unit changes none of them.
    let before = prep(&harness);
    press(&mut harness, "Inches");
    assert_eq!((unit(&harness), prep(&harness)), (LengthUnit::Inch, before));
}

#[test]
fn art_is_turned_flipped_and_straightened() {
    let mut harness = open_lantern();
    unfold(&mut harness, "Turn and crop");
    let dark = |harness: &Bench, x, y| bench(harness).artwork_at(x, y).unwrap()[0] < 20_000;
    // The disc's ring is left of the middle.
    assert!(dark(&harness, 0.25, 0.5) && !dark(&harness, 0.75, 0.5));
    press(&mut harness, "Flip left to right");
    assert!(!dark(&harness, 0.25, 0.5) && dark(&harness, 0.75, 0.5));
    press(&mut harness, "Turn right");
    assert!(dark(&harness, 0.5, 0.75) && !dark(&harness, 0.5, 0.25));
    let size = bench(&harness).print_size_mm().unwrap();
    assert!(size[1] > size[0]);
    enter(&mut harness, "Straighten", 2.5);
    assert_eq!(prep(&harness).straighten.get(), 2.5);
    for _ in 0..3 {
        undo(&mut harness);
    }
    assert_eq!(prep(&harness).turn, PrepSettings::default().turn);
    assert!(dark(&harness, 0.25, 0.5));
}

#[test]
fn the_crop_is_drawn_on_the_table_with_keys_and_pointer() {
    let mut harness = open_lantern();
    unfold(&mut harness, "Turn and crop");
    press(&mut harness, "Crop on the table");
    assert!(harness.query_by_role_and_label(Role::Canvas, "Table").is_none());
    harness.get_by_role_and_label(Role::Slider, "Crop left").focus();
    settle(&mut harness);
    for _ in 0..10 {
        harness.key_press(Key::ArrowRight);
        settle(&mut harness);
    }
    let crop = prep(&harness).crop.unwrap();
    assert!((crop.left - 0.05).abs() < 1e-9 && (crop.width - 0.95).abs() < 1e-9, "{crop:?}");
    // A drag of the lower right corner to the middle: one step of undo.
    let whole = harness.get_by_role_and_label(Role::Canvas, "Crop frame").rect();
    let from = harness.get_by_role_and_label(Role::Slider, "Crop bottom right").rect().center();
    let to = whole.center();
    harness.drag_at(from);
    harness.step();
    for i in 1..=6 {
        harness.hover_at(from + (to - from) * (i as f32 / 6.0));
        harness.step();
    }
    harness.drop_at(to);
    settle(&mut harness);
    let dragged = prep(&harness).crop.unwrap();
    assert!((dragged.width - 0.475).abs() < 0.02 && (dragged.height - 0.5).abs() < 0.02, "{dragged:?}");
    undo(&mut harness);
    assert_eq!(prep(&harness).crop, Some(crop));
    // Dragged by its middle it keeps its size.
    let middle = harness.get_by_role_and_label(Role::Canvas, "Crop frame").rect().center();
    harness.drag_at(middle);
    harness.step();
    for i in 1..=6 {
        harness.hover_at(middle - vec2(10.0 * i as f32, 0.0));
        harness.step();
    }
    harness.drop_at(middle - vec2(60.0, 0.0));
    settle(&mut harness);
    let moved = prep(&harness).crop.unwrap();
    assert!(moved.left < 0.01 && (moved.width - crop.width).abs() < 1e-9, "{moved:?}");
    harness.key_press(Key::Escape);
    settle(&mut harness);
    harness.get_by_role_and_label(Role::Canvas, "Table");
    press(&mut harness, "Keep the whole artwork");
    assert_eq!(prep(&harness).crop, None);
}

#[test]
fn a_tight_crop_leaves_its_margin() {
    let mut harness = open_lantern();
    unfold(&mut harness, "Turn and crop");
    // Without the stray dots the content is the disc, 99 of 160 pixels high.
    unfold(&mut harness, "Background");
    press(&mut harness, "Tight to the content");
    let wide = bench(&harness).print_size_mm().unwrap();
    assert!((wide[1] - 101.6).abs() < 0.5, "the height asked for, margins in it: {wide:?}");
    assert!(wide[0] > wide[1] * 1.5, "up to the stray dots: {wide:?}");
    enter(&mut harness, "Margin", 0.0);
    assert_eq!(prep(&harness).content_margin_mm.unwrap().get(), 0.0);
}

#[test]
fn the_background_goes_and_islands_if_wanted() {
    let mut harness = open_lantern();
    unfold(&mut harness, "Background");
    assert!(shows(&harness, "Its edge is #FAF8F0"));
    let clear = |harness: &Bench, x, y| bench(harness).artwork_at(x, y).unwrap()[3] == 0;
    assert!(!clear(&harness, 0.02, 0.02));
    press(&mut harness, "Remove the background");
    assert!(clear(&harness, 0.02, 0.02) && !clear(&harness, 90.0 / 240.0, 0.5), "the island stays");
    press(&mut harness, "Islands as well");
    assert_eq!(prep(&harness).background.unwrap().way, BackgroundWay::FloodAndIslands);
    assert!(clear(&harness, 90.0 / 240.0, 0.5));
    press(&mut harness, "Garment shows through");
    enter(&mut harness, "Tolerance", 10.0);
    enter(&mut harness, "Feather", 0.5);
    let set = prep(&harness).background.unwrap();
    assert!((set.tolerance - 0.1).abs() < 1e-9 && set.feather_mm.get() == 0.5);
    harness.get_by_label("Background colour");
    for _ in 0..5 {
        undo(&mut harness);
    }
    assert_eq!(prep(&harness).background, None);
}

#[test]
fn specks_are_counted_shown_and_taken_away() {
    let mut harness = open_lantern();
    // At 40 pixels an inch a dot is 0.64 mm wide and softer when enlarged.
    unfold(&mut harness, "Clean-up");
    press(&mut harness, "Remove specks");
    enter(&mut harness, "Up to", 2.0);
    // Each dot counts, and when enlarged so do the faint ripples about it.
    let found = bench(&harness).artwork_facts().unwrap().1;
    assert!((2..=16).contains(&found), "{found} specks");
    harness.get_by_label(&format!("{found} specks are taken away"));
    let dot = |harness: &Bench| bench(harness).artwork_at(200.5 / 240.0, 40.5 / 160.0).unwrap()[0];
    assert!(dot(&harness) > 60_000, "it is gone");
    press(&mut harness, "Show specks");
    press(&mut harness, "Go to the next speck");
    assert_eq!(bench(&harness).view(), View::Art);
    press(&mut harness, "Remove specks");
    assert!(dot(&harness) < 60_000);
    enter(&mut harness, "Smooth JPEG blocks", 60.0);
    enter(&mut harness, "Reduce noise", 25.0);
    assert!((prep(&harness).deblock - 0.6).abs() < 1e-9 && (prep(&harness).denoise - 0.25).abs() < 1e-9);
}

#[test]
fn enlarging_and_sharpening_are_set_in_physical_units() {
    let mut harness = open_lantern();
    unfold(&mut harness, "Enlarge");
    press(&mut harness, "Plain");
    assert_eq!(prep(&harness).enlarging, Enlarging::Plain);
    enter(&mut harness, "Working", 90.0);
    assert_eq!(prep(&harness).ppi.get(), 90.0);
    unfold(&mut harness, "Sharpen");
    for (name, value) in [("Radius", 0.3), ("Amount", 1.5), ("Threshold", 2.0), ("Halo limit", 12.0)] {
        enter(&mut harness, name, value);
    }
    let set = prep(&harness);
    assert_eq!((set.sharpen_radius_mm.get(), set.sharpen_amount), (0.3, 1.5));
    assert!((set.sharpen_threshold - 0.02).abs() < 1e-9 && (set.halo_limit - 0.12).abs() < 1e-9);
    for _ in 0..6 {
        undo(&mut harness);
    }
    assert_eq!(prep(&harness).sharpen_amount, PrepSettings::default().sharpen_amount);
    assert_eq!(prep(&harness).enlarging, Enlarging::Edges);
}

#[test]
fn before_and_after_lie_side_by_side_and_soft_edges_are_mapped() {
    let mut harness = open_lantern();
    assert!(harness.query_by_label("Divider").is_none());
    press(&mut harness, "Before and after the preparation, side by side");
    assert_eq!(bench(&harness).view(), View::Art);
    harness.get_by_role_and_label(Role::Slider, "Divider");
    press(&mut harness, "Before and after the preparation, side by side");
    assert!(harness.query_by_label("Divider").is_none());
    harness.key_press(Key::Num1);
    settle(&mut harness);
    press(&mut harness, "Show soft edges");
    assert_eq!(bench(&harness).view(), View::Art);
}

#[test]
fn another_page_of_the_file_is_printed_and_undone() {
    fn pages() -> Vec<u8> {
        use tiff::encoder::{TiffEncoder, colortype::RGB8};
        let mut out = Cursor::new(Vec::new());
        let mut encoder = TiffEncoder::new(&mut out).unwrap();
        for tone in [30_u8, 200] {
            encoder.write_image::<RGB8>(60, 40, &vec![tone; 60 * 40 * 3]).unwrap();
        }
        out.into_inner()
    }
    let mut harness = open(|| document("pages.tif", pages()));
    let tone = |harness: &Bench| (bench(harness).artwork_at(0.5, 0.5).unwrap()[0] + 128) / 257;
    assert_eq!(tone(&harness), 30);
    harness.get_by_label("of 2");
    enter(&mut harness, "Page", 2.0);
    assert_eq!((tone(&harness), prep(&harness).page), (200, 2));
    undo(&mut harness);
    assert_eq!((tone(&harness), prep(&harness).page), (30, 1));
}
