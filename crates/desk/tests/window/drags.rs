//! One drag is one step of undo, whatever is dragged: sliders and number fields of every panel. The last
//! move of a drag comes with its release, as a quick hand does it.

use crate::common::{Bench, bench, job, open_document, send, settle};
use egui::accesskit::Role;
use egui::{Pos2, Rect, vec2};
use egui_kittest::kittest::Queryable;
use strikeoff_desk::{Command, Sheet, Side};

fn open() -> Bench {
    let mut harness = open_document(vec2(1500.0, 1600.0), crate::lantern::document);
    settle(&mut harness);
    harness
}

/// Drags in steps and releases with the last one, all in one sweep.
fn sweep(harness: &mut Bench, from: Pos2, by: f32) {
    harness.hover_at(from);
    harness.step();
    harness.drag_at(from);
    harness.step();
    for part in 1..=5 {
        harness.hover_at(from + vec2(by * part as f32 / 6.0, 0.0));
        harness.step();
    }
    harness.drop_at(from + vec2(by, 0.0));
    harness.step();
    settle(harness);
}

fn one_step(harness: &mut Bench, name: &str, place: Rect, from: Pos2) {
    assert!(place.is_positive(), "{name} is in sight");
    let (before, depth) = (job(harness), bench(harness).undo_depth().0);
    sweep(harness, from, 34.0);
    assert_ne!(job(harness), before, "{name} changes the job");
    assert_eq!(bench(harness).undo_depth().0, depth + 1, "{name}");
    send(harness, Command::Undo);
    assert_eq!(job(harness), before, "{name} is undone whole");
}

#[test]
fn a_drag_of_a_slider_is_one_step() {
    let mut harness = open();
    for (side, names) in [
        (Side::Screen, ["Strength", "Trim below", "Choke / spread"].as_slice()),
        (Side::Separation, ["Black", "Cleanliness", "Total ink limit", "Hue keeping"].as_slice()),
    ] {
        send(&mut harness, Command::Panel(side));
        for name in names {
            let place = harness.get_by_role_and_label(Role::Slider, name).rect();
            one_step(&mut harness, name, place, place.left_center() + vec2(24.0, 0.0));
        }
    }
}

#[test]
fn a_drag_of_a_number_is_one_step() {
    let mut harness = open();
    send(&mut harness, Command::Sheet(Some(Sheet::Export)));
    for name in ["Margin", "Resolution"] {
        let place = harness.get_by_role_and_label(Role::SpinButton, name).rect();
        one_step(&mut harness, name, place, place.center());
    }
}
