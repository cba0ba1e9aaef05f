//! The findings' drawer driven by role and label: what is wrong is said, shown on the table, fixed
//! with one press and undone; register, the bad day and ink for the run are looked at.

use std::time::{Duration, Instant};

use crate::common::{Bench, bench, demo_with, open_document, settle_when};
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::{NodeT, Queryable};
use strikeoff_core::press::Stop;
use strikeoff_desk::{Command, Document, View, Workbench};
use strikeoff_files::shelf;

/// The demo on a press with too few heads.
fn document() -> Document {
    let mut doc = demo_with(40.0, 720.0, |job| {
        job.run.heads = 5;
        job.info.quantity = 150;
    });
    doc.add_garment(shelf::house_garment("Black").unwrap().clone());
    doc
}

fn open() -> Bench {
    let mut harness = open_document(vec2(1600.0, 1000.0), document);
    checked(&mut harness);
    harness
}

/// Steps until the proof is on the table and the job is checked.
fn checked(harness: &mut Bench) {
    settle_when(harness, Workbench::findings_ready);
}

fn send(harness: &mut Bench, command: Command) {
    harness.state_mut().as_mut().unwrap().send(command);
    checked(harness);
}

/// Presses as a screen reader does: what lies below the drawer's edge is reached too.
fn press(harness: &mut Bench, label: &str) {
    harness.get_by_label(label).click_accesskit();
    checked(harness);
}

#[test]
fn the_drawer_is_shut_until_it_is_asked_for() {
    let mut harness = open();
    assert!(harness.query_by_label("What will happen on press").is_none());
    let found = bench(&harness).findings();
    assert!(found.iter().any(|f| f.contains("6 heads") && f.contains("has 5")), "{found:?}");
    harness.key_press_modifiers(Modifiers::NONE, Key::F);
    checked(&mut harness);
    harness.get_by_label("What will happen on press");
    for what in found {
        harness.get_by_label(&what);
    }
    // Every control in it has a name.
    for node in harness.root().children_recursive() {
        let node = node.accesskit_node();
        if [Role::Button, Role::Slider].contains(&node.role()) {
            assert!(node.label().is_some_and(|l| !l.trim().is_empty()), "a {:?} has no name", node.role());
        }
    }
}

#[test]
fn a_fix_is_one_press_and_undo_takes_it_back() {
    let mut harness = open();
    send(&mut harness, Command::ToggleFindings);
    let heads = |harness: &Bench| bench(harness).findings().iter().any(|f| f.contains("heads"));
    assert!(heads(&harness));
    press(&mut harness, "Fix: Run it on a press with 6 heads");
    assert!(!heads(&harness), "{:?}", bench(&harness).findings());
    send(&mut harness, Command::Undo);
    assert!(heads(&harness));
}

#[test]
fn a_screen_stands_off_and_the_shirt_shows_it() {
    let mut harness = open();
    send(&mut harness, Command::ToggleFindings);
    let before = bench(&harness).pixels_shown();
    press(&mut harness, "Register");
    let slider = harness.get_by_role_and_label(Role::Slider, "to the right");
    slider.focus();
    checked(&mut harness);
    for _ in 0..6 {
        harness.key_press(Key::ArrowRight);
        checked(&mut harness);
    }
    let off = bench(&harness).pixels_shown();
    assert_ne!(off, before, "the print is another one");
    press(&mut harness, "Back in register");
    checked(&mut harness);
    assert_ne!(bench(&harness).pixels_shown(), off, "it is not off any more");
}

#[test]
fn a_bad_day_lies_beside_a_good_one() {
    let mut harness = open();
    send(&mut harness, Command::ToggleFindings);
    press(&mut harness, "Good day and bad day");
    press(&mut harness, "Good day at the left, bad day at the right");
    assert_eq!(bench(&harness).against(), Some(View::BadDay));
    press(&mut harness, "Stop comparing");
    assert_eq!(bench(&harness).against(), None);
}

#[test]
fn orders_garments_ink_and_moire_are_told() {
    let mut harness = open();
    send(&mut harness, Command::ToggleFindings);
    let started = Instant::now();
    while !bench(&harness).plans_ready() {
        assert!(started.elapsed() < Duration::from_secs(120), "no plans come");
        std::thread::sleep(Duration::from_millis(4));
        harness.step();
    }
    for title in ["Heads and print order", "Other garments", "Ink for the run", "Mesh and moire", "Gain and build-up"] {
        press(&mut harness, title);
    }
    let has = |text: &str| {
        harness.root().children_recursive().any(|n| {
            let node = n.accesskit_node();
            node.label().is_some_and(|l| l.contains(text)) || node.value().is_some_and(|v| v.contains(text))
        })
    };
    for text in ["now: dE", "Black", "155 with spares", "25 mm wide", "safest angle", "ink in one place"] {
        assert!(has(text), "\"{text}\" is not in the drawer");
    }
}

/// A newer job stops the check of the old one, and what is shown belongs to the new.
#[test]
fn newer_work_takes_the_place_of_a_check() {
    let mut harness = open();
    for heads in [6, 7, 9] {
        let state = harness.state_mut().as_mut().unwrap();
        let mut job = document().job;
        job.run.heads = heads;
        job.press.stops.insert("Ink black".into(), Stop::Flash);
        state.send(Command::Change { job: Box::new(job), what: "heads".into(), drag: false });
        harness.step();
        assert!(!bench(&harness).findings_ready(), "an old check is not taken for the new one's");
    }
    checked(&mut harness);
    assert!(bench(&harness).findings().iter().all(|f| !f.contains("heads")), "{:?}", bench(&harness).findings());
}
