//! Pictures of the window's main states, both themes, at the smallest size it is made for and at a
//! large one, drawn by software Vulkan at half the pixels so that the repository stays small. How far
//! a picture may differ is in `kittest.toml`. After a wanted change of the look:
//! `UPDATE_SNAPSHOTS=1 cargo test -p strikeoff-desk --test snapshots`, and look at the pictures.

mod common;

use common::{Bench, settle};
use egui::{Key, Modifiers, Theme, vec2};
use egui_kittest::{Harness, SnapshotResults};

const SIZES: [(&str, egui::Vec2); 2] = [("1280x800", vec2(1280.0, 800.0)), ("1920x1200", vec2(1920.0, 1200.0))];

fn pictures(state: &str, prepare: impl Fn(&mut Bench)) {
    let mut results = SnapshotResults::new();
    for (size_name, size) in SIZES {
        for (theme_name, theme) in [("dark", Theme::Dark), ("light", Theme::Light)] {
            let mut harness: Bench = Harness::builder()
                .with_size(size)
                .with_pixels_per_point(0.5)
                .with_theme(theme)
                .wgpu()
                .build_ui_state(common::ui, None);
            settle(&mut harness);
            prepare(&mut harness);
            settle(&mut harness);
            harness.snapshot(format!("{state}-{theme_name}-{size_name}"));
            results.extend_harness(&mut harness);
        }
    }
}

#[test]
fn the_bench() {
    pictures("bench", |_| {});
}

#[test]
fn comparing_miss() {
    pictures("miss", |harness| harness.key_press(Key::Num5));
}

#[test]
fn films_sheet() {
    pictures("films", |harness| harness.key_press_modifiers(Modifiers::COMMAND, Key::E));
}

#[test]
fn commands_by_name() {
    pictures("by-name", |harness| harness.key_press_modifiers(Modifiers::COMMAND, Key::K));
}

#[test]
fn preferences_sheet() {
    pictures("preferences", |harness| harness.key_press(Key::F2));
}
