//! The sheets of the window itself: commands by name, preferences, hints, recent files, dropped files.

use std::cell::RefCell;
use std::rc::Rc;
use std::sync::Arc;

use crate::common::{Bench, Dropped, bench, open, order, press, settle};
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;
use strikeoff_desk::{Preferences, ThemeChoice};
use strikeoff_files::profile::ShopProfile;

fn by_name(harness: &mut Bench, words: &str) {
    harness.key_press_modifiers(Modifiers::COMMAND, Key::K);
    settle(harness);
    harness.get_by_label("What to do").type_text(words);
    settle(harness);
    harness.key_press(Key::Enter);
    settle(harness);
}

#[test]
fn any_command_is_found_by_its_words() {
    let mut harness = open(vec2(1280.0, 800.0));
    by_name(&mut harness, "merge dusk violet into ink black");
    assert_eq!(order(&harness).len(), 5);
    by_name(&mut harness, "print soft white 1st");
    assert_eq!(order(&harness)[0], "Soft white");
    by_name(&mut harness, "undo");
    assert_ne!(order(&harness)[0], "Soft white");
    by_name(&mut harness, "drop brick");
    assert!(!order(&harness).contains(&"Brick red".to_owned()));
    let before = bench(&harness).print_size_mm().unwrap();
    by_name(&mut harness, "height 8in");
    let after = bench(&harness).print_size_mm().unwrap();
    assert!((after[1] - 203.2).abs() < 1.0 && (after[0] / after[1] - before[0] / before[1]).abs() < 0.02, "{after:?}");
}

#[test]
fn what_is_not_there_is_said_and_nothing_happens() {
    let mut harness = open(vec2(1280.0, 800.0));
    let before = order(&harness);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::K);
    settle(&mut harness);
    harness.get_by_label("What to do").type_text("fold the shirts");
    settle(&mut harness);
    harness.get_by_label("No command by that name.");
    harness.key_press(Key::Enter);
    settle(&mut harness);
    assert_eq!(order(&harness), before);
}

#[test]
fn the_arrows_choose_another_line() {
    let mut harness = open(vec2(1280.0, 800.0));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::K);
    settle(&mut harness);
    harness.get_by_label("What to do").type_text("show or hide marsh teal");
    settle(&mut harness);
    harness.key_press(Key::ArrowDown);
    harness.key_press(Key::ArrowUp);
    harness.key_press(Key::Enter);
    settle(&mut harness);
    assert!(bench(&harness).is_hidden(&"Marsh teal".into()));
}

/// Chooses as assistive technology does, wherever the sheet is scrolled to.
fn pick(harness: &mut Bench, label: &str) {
    harness.get_by_label(label).click_accesskit();
    settle(harness);
}

/// A bench with preferences; what it keeps is seen through the cell.
fn with_preferences(preferences: Preferences) -> (Bench, Rc<RefCell<Preferences>>) {
    let kept = Rc::new(RefCell::new(preferences.clone()));
    let mut harness = open(vec2(1280.0, 800.0));
    let theirs = kept.clone();
    let state = harness.state_mut();
    let bench = state.take().expect("a bench");
    *state = Some(bench.with_preferences(
        preferences,
        Box::new(move |now| {
            *theirs.borrow_mut() = now.clone();
            Ok(())
        }),
    ));
    settle(&mut harness);
    (harness, kept)
}

#[test]
fn preferences_are_kept_as_they_are_chosen() {
    let (mut harness, kept) = with_preferences(Preferences { tour_seen: true, ..Default::default() });
    harness.key_press(Key::F2);
    settle(&mut harness);
    pick(&mut harness, "Light");
    assert_eq!(kept.borrow().theme, ThemeChoice::Light);
    assert_eq!(harness.ctx.theme(), egui::Theme::Light);
    pick(&mut harness, "150 %");
    assert_eq!(kept.borrow().scale, 1.5);
}

#[test]
fn the_shop_profile_is_changed_and_carried_to_another_computer() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("shop.json");
    let kept = Rc::new(RefCell::new(None));
    let mut harness = open(vec2(1280.0, 800.0));
    let theirs = kept.clone();
    harness.state_mut().as_mut().unwrap().keep_shop_with(Box::new(move |shop| {
        *theirs.borrow_mut() = Some(shop.clone());
        Ok(())
    }));
    harness.key_press(Key::F2);
    settle(&mut harness);
    let name = harness.get_by_label("Name of the shop");
    name.focus();
    name.type_text("Heron Prints");
    settle(&mut harness);
    assert_eq!(kept.borrow().as_ref().map(|s: &ShopProfile| s.shop.clone()).as_deref(), Some("Heron Prints"));
    let field = harness.get_by_label("Path of a shop profile");
    field.focus();
    field.type_text(path.to_str().unwrap());
    settle(&mut harness);
    pick(&mut harness, "Export");
    assert_eq!(ShopProfile::import(&path).unwrap().shop, "Heron Prints");
    let other = ShopProfile { heads: 12, ..ShopProfile::default() };
    other.export(&path).unwrap();
    pick(&mut harness, "Import");
    assert_eq!(kept.borrow().as_ref().map(|s| s.heads), Some(12));
}

#[test]
fn hints_come_once_and_end_with_the_last() {
    let (mut harness, kept) = with_preferences(Preferences::default());
    for _ in 0..4 {
        press(&mut harness, "Next hint");
    }
    assert!(!kept.borrow().tour_seen);
    press(&mut harness, "Done");
    assert!(kept.borrow().tour_seen);
    assert!(harness.query_by_label("Done").is_none());
    let (harness, _) = with_preferences(kept.borrow().clone());
    assert!(harness.query_by_label("Next hint").is_none());
}

#[test]
fn a_dropped_picture_starts_a_job_and_is_remembered() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("lantern.png");
    std::fs::write(&path, strikeoff_files::demo::demo_art_png()).unwrap();
    let (mut harness, kept) = with_preferences(Preferences { tour_seen: true, ..Default::default() });
    harness.input_mut().dropped_files.push(Arc::new(Dropped(path.clone())));
    settle(&mut harness);
    let started = std::time::Instant::now();
    while kept.borrow().recent != [path.clone()] {
        assert!(started.elapsed().as_secs() < 60, "{:?}", bench(&harness).note());
        std::thread::sleep(std::time::Duration::from_millis(10));
        harness.step();
    }
    harness.get_by_label("lantern");
}
