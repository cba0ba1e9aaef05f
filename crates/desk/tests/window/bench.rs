//! The bench driven as a user or a screen reader would: by role and label, without a window.

use std::path::Path;

use crate::common::{Bench, bench, document, open, order, press, says, send, settle, wait, write_films_into};
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::{NodeT, Queryable};
use strikeoff_core::Progress;
use strikeoff_core::job::evaluate;
use strikeoff_core::raster::Detail;
use strikeoff_desk::{Command, View};
use strikeoff_files::demo;
use strikeoff_files::film::{FilmOptions, write_films};

#[test]
fn it_opens_on_the_demo_with_the_proof_on_the_table() {
    let harness = open(vec2(1280.0, 800.0));
    harness.get_by_role_and_label(Role::Canvas, "Table");
    harness.get_by_label("Make");
    harness.get_by_label("6 of 8 heads");
    assert_eq!(order(&harness).len(), 6);
    for (at, (name, coverage)) in bench(&harness).screens().iter().enumerate() {
        let label = format!("Screen {name}, {} of 6", at + 1);
        harness.get_by(|node| node.label().is_some_and(|l| l.starts_with(&label)));
        assert!((0.0..=1.0).contains(coverage));
    }
    assert_eq!(bench(&harness).problem(), None);
}

#[test]
fn every_control_that_can_be_used_has_a_name() {
    let harness = open(vec2(1280.0, 800.0));
    let usable = [Role::Button, Role::CheckBox, Role::RadioButton, Role::Slider, Role::SpinButton, Role::ListBoxOption];
    let mut count = 0;
    for node in harness.root().children_recursive() {
        let node = node.accesskit_node();
        if usable.contains(&node.role()) {
            count += 1;
            let named = node.label().is_some_and(|l| !l.trim().is_empty()) || node.role() == Role::SpinButton;
            assert!(named, "a {:?} at {:?} has no name", node.role(), node.raw_bounds());
        }
    }
    assert!(count > 30, "only {count} controls were seen");
}

#[test]
fn screens_are_shown_hidden_and_looked_at_alone() {
    let mut harness = open(vec2(1280.0, 800.0));
    let before = bench(&harness).pixels_shown();
    press(&mut harness, "Show Ink black");
    assert!(bench(&harness).is_hidden(&"Ink black".into()));
    assert_ne!(bench(&harness).pixels_shown(), before, "the picture is another one");
    press(&mut harness, "Show Ink black");
    assert!(!bench(&harness).is_hidden(&"Ink black".into()));
    press(&mut harness, "Show only Marsh teal");
    assert!(order(&harness).iter().all(|n| bench(&harness).is_hidden(&n.into()) == (n != "Marsh teal")));
    press(&mut harness, "Show all screens");
    assert!(order(&harness).iter().all(|n| !bench(&harness).is_hidden(&n.into())));
}

#[test]
fn a_card_takes_space_and_arrows() {
    let mut harness = open(vec2(1280.0, 800.0));
    let card = |harness: &Bench, name: &str| {
        let start = format!("Screen {name},");
        harness.get_by(|n| n.label().is_some_and(|l| l.starts_with(&start))).focus();
    };
    card(&harness, "Brick red");
    settle(&mut harness);
    harness.key_press(Key::Space);
    settle(&mut harness);
    assert!(bench(&harness).is_hidden(&"Brick red".into()));
    harness.key_press(Key::ArrowRight);
    settle(&mut harness);
    assert_eq!(order(&harness)[..3], ["Ink black", "Golden yellow", "Brick red"]);
    harness.key_press(Key::ArrowLeft);
    settle(&mut harness);
    assert_eq!(order(&harness)[..3], ["Ink black", "Brick red", "Golden yellow"]);
}

#[test]
fn moves_merges_and_drops_are_undone_step_by_step() {
    let mut harness = open(vec2(1280.0, 800.0));
    let first = order(&harness);
    send(&mut harness, Command::Move { screen: "Soft white".into(), to: 0 });
    assert_eq!(order(&harness)[0], "Soft white");
    send(&mut harness, Command::Merge { from: "Dusk violet".into(), into: "Ink black".into() });
    send(&mut harness, Command::Drop("Brick red".into()));
    assert_eq!(order(&harness), ["Soft white", "Ink black", "Golden yellow", "Marsh teal"]);
    harness.get_by_label("4 of 8 heads");
    for _ in 0..3 {
        harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        settle(&mut harness);
    }
    assert_eq!(order(&harness), first);
    for _ in 0..3 {
        harness.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
        settle(&mut harness);
    }
    assert_eq!(order(&harness), ["Soft white", "Ink black", "Golden yellow", "Marsh teal"]);
}

#[test]
fn cards_are_dragged_to_another_place_and_onto_each_other() {
    let mut harness = open(vec2(1500.0, 900.0));
    let place = |harness: &Bench, name: &str| {
        let start = format!("Screen {name},");
        harness.get_by(|n| n.label().is_some_and(|l| l.starts_with(&start))).rect()
    };
    let drag = |harness: &mut Bench, from: egui::Pos2, to: egui::Pos2| {
        harness.drag_at(from);
        harness.step();
        for i in 1..=8 {
            harness.hover_at(from + (to - from) * (i as f32 / 8.0));
            harness.step();
        }
        harness.drop_at(to);
        settle(harness);
    };
    // Between the second and the third card: the first one goes second.
    let from = place(&harness, "Ink black").left_top() + vec2(32.0, 34.0);
    let to = place(&harness, "Brick red").right_center() + vec2(-4.0, 0.0);
    drag(&mut harness, from, to);
    assert_eq!(order(&harness)[..2], ["Brick red", "Ink black"]);
    // Onto the middle of another card: a merge.
    let from = place(&harness, "Golden yellow").left_top() + vec2(32.0, 34.0);
    let to = place(&harness, "Dusk violet").center();
    drag(&mut harness, from, to);
    assert_eq!(order(&harness), ["Brick red", "Ink black", "Dusk violet", "Marsh teal", "Soft white"]);
}

#[test]
fn each_view_is_reached_by_name_and_by_key() {
    let mut harness = open(vec2(1280.0, 800.0));
    let keys = [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5, Key::Num6];
    for (view, key) in View::ALL.into_iter().zip(keys) {
        harness.key_press(key);
        settle(&mut harness);
        assert_eq!(bench(&harness).view(), view);
    }
    for view in View::ALL {
        harness.get_by_role_and_label(Role::RadioButton, view.label()).click();
        settle(&mut harness);
        assert_eq!(bench(&harness).view(), view);
    }
}

#[test]
fn another_garment_is_looked_at_without_a_new_separation() {
    let mut harness = open(vec2(1280.0, 800.0));
    let evaluated = bench(&harness).evaluations();
    press(&mut harness, "Garment Black");
    assert_eq!(bench(&harness).evaluations(), evaluated, "only the proof is drawn again");
    press(&mut harness, "Separate for this");
    assert!(bench(&harness).evaluations() > evaluated);
    harness.get_by_label("Garment Black, separated for it");
}

#[test]
fn a_flash_is_put_between_two_screens_and_takes_a_head() {
    let mut harness = open(vec2(1280.0, 800.0));
    press(&mut harness, "After Ink black: nothing");
    harness.get_by_label("7 of 8 heads");
    press(&mut harness, "After Ink black: flash");
    harness.get_by_label("8 of 8 heads");
    press(&mut harness, "After Brick red: nothing");
    harness.get_by_label("9 heads, the press has 8");
}

#[test]
fn films_from_the_sheet_equal_those_of_the_same_job_without_a_window() {
    let dir = tempfile::tempdir().unwrap();
    let (by_window, by_job) = (dir.path().join("window"), dir.path().join("job"));
    let mut harness = open(vec2(1280.0, 800.0));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::E);
    settle(&mut harness);
    harness.get_by_label("01-ink-black.tif");
    write_films_into(&mut harness, &by_window, "films.json");
    let job = document().job;
    let made = evaluate(&job, &demo::demo_art(), Detail::Full, &Progress::none()).unwrap();
    write_films(&job, &made.screens, &by_job, &FilmOptions::default(), &Progress::none()).unwrap();
    let names = |folder: &Path| {
        let mut names: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name()).collect();
        names.sort();
        names
    };
    assert_eq!(names(&by_window), names(&by_job));
    assert_eq!(names(&by_job).iter().filter(|n| n.to_string_lossy().ends_with(".tif")).count(), 6);
    for name in names(&by_job) {
        let same = std::fs::read(by_window.join(&name)).unwrap() == std::fs::read(by_job.join(&name)).unwrap();
        assert!(same, "{} differs", name.display());
    }
}

#[test]
fn a_job_is_saved_and_opened_again_and_a_bad_file_is_explained() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("fair.strikeoff");
    let mut harness = open(vec2(1280.0, 800.0));
    send(&mut harness, Command::Move { screen: "Soft white".into(), to: 0 });
    send(&mut harness, Command::SaveTo(path.clone()));
    says(&mut harness, "Saved");
    send(&mut harness, Command::Undo);
    assert_ne!(order(&harness)[0], "Soft white");
    send(&mut harness, Command::OpenPath(path));
    wait(&mut harness, "the job opens", |b| b.screens().first().is_some_and(|s| s.0 == "Soft white"));
    settle(&mut harness);
    let bad = dir.path().join("torn.png");
    std::fs::write(&bad, &demo::demo_art_png()[..4000]).unwrap();
    send(&mut harness, Command::OpenPath(bad));
    says(&mut harness, "torn.png");
    assert_eq!(order(&harness)[0], "Soft white", "the job on the bench stays");
}

#[test]
fn sheets_open_by_key_and_close_by_escape() {
    let mut harness = open(vec2(1280.0, 800.0));
    harness.key_press(Key::F1);
    settle(&mut harness);
    harness.get_by_label("Print the chosen screen earlier");
    harness.key_press(Key::Escape);
    settle(&mut harness);
    assert!(harness.query_by_label("Print the chosen screen earlier").is_none());
}
