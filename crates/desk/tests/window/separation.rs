//! The separation's panel, a new screen and the drawn region, as a user or a screen reader would
//! work them.

use std::time::{Duration, Instant};
use strikeoff_core::screens::ScreenName;

use crate::common::{Bench, bench, demo_at, job, open_document, order, press, says, send, settle, wait};
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, PointerButton, Pos2, pos2, vec2};
use egui_kittest::kittest::{NodeT, Queryable};
use strikeoff_core::halftone::DotShape;
use strikeoff_core::separate::{BlackPlace, Method, SpotEdges};
use strikeoff_core::tune::{Edit, Region, edits};
use strikeoff_desk::{Command, Sheet};

fn open() -> Bench {
    let mut harness = open_document(vec2(1440.0, 1400.0), || demo_at(32.0, 720.0));
    settle(&mut harness);
    harness
}

/// Adds a screen of an ink of the shelf, scrolled to in the list as a screen reader does.
fn add_screen(harness: &mut Bench, ink: &str) {
    press(harness, "Choose the new screen's ink");
    let label = format!("Add {ink}");
    harness.get_by_label(&label).scroll_to_me();
    settle(harness);
    press(harness, &label);
}

#[test]
fn a_method_is_chosen_with_its_options_and_shows_at_once() {
    let mut harness = open();
    press(&mut harness, "Separation");
    let before = bench(&harness).pixels_shown();
    press(&mut harness, "Index");
    assert_eq!(job(&harness).separation.method, Method::Index);
    assert!(matches!(job(&harness).film.dot, DotShape::Index { .. }), "films carry the dots themselves");
    assert_eq!(bench(&harness).problem(), None);
    assert_ne!(bench(&harness).pixels_shown(), before);
    harness.get_by_role_and_label(Role::Slider, "Dots per inch");
    press(&mut harness, "Spot art");
    assert_eq!(job(&harness).film.dot, DotShape::Round);
    press(&mut harness, "Hard outlines");
    assert_eq!(job(&harness).separation.spot.edges, SpotEdges::Hard);
    harness.get_by_role_and_label(Role::Slider, "Trap");
    assert_eq!(bench(&harness).problem(), None);
    // One step back each.
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut harness);
    assert_eq!(job(&harness).separation.spot.edges, SpotEdges::AntiAliased);
    press(&mut harness, "Simulated process");
    assert_eq!(job(&harness).separation.method, Method::SimulatedProcess);
    // The suggestion and its reason come from the artwork.
    let started = Instant::now();
    while harness.query_all_by_label_contains("suit this artwork").next().is_none()
        && harness.query_all_by_label_contains("Suits this artwork").next().is_none()
    {
        assert!(started.elapsed() < Duration::from_secs(60), "no suggestion of a method");
        std::thread::sleep(Duration::from_millis(10));
        harness.step();
    }
}

#[test]
fn black_moves_and_inks_share_as_asked() {
    let mut harness = open();
    press(&mut harness, "Separation");
    press(&mut harness, "last");
    assert_eq!(job(&harness).separation.black_place(), Some(BlackPlace::Last));
    press(&mut harness, "first");
    assert_eq!(job(&harness).separation.black_place(), Some(BlackPlace::First));
    let slider = harness.get_by_role_and_label(Role::Slider, "Cleanliness");
    slider.focus();
    settle(&mut harness);
    let before = job(&harness).separation.cleanliness;
    harness.key_press(Key::ArrowRight);
    settle(&mut harness);
    assert!(job(&harness).separation.cleanliness > before);
    assert_eq!(bench(&harness).problem(), None);
}

#[test]
fn a_screen_is_added_with_the_rest_solved_again_or_left() {
    let mut harness = open();
    press(&mut harness, "Separation");
    let count = order(&harness).len();
    add_screen(&mut harness, "Orange");
    assert_eq!(bench(&harness).problem(), None);
    assert_eq!(order(&harness).len(), count + 1);
    assert!(matches!(job(&harness).edits.last().unwrap().edit, Edit::Add(edits::Add { keep_others: false, .. })));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut harness);
    assert_eq!(order(&harness).len(), count);
    press(&mut harness, "Leave the rest");
    press(&mut harness, "printed last");
    add_screen(&mut harness, "Orange");
    assert_eq!(order(&harness).last().map(String::as_str), Some("Orange"));
    assert_eq!(bench(&harness).problem(), None);
}

fn event(harness: &mut Bench, event: Event) {
    harness.event(event);
    harness.step();
}

fn button(harness: &mut Bench, pos: Pos2, pressed: bool) {
    event(harness, Event::PointerButton { pos, button: PointerButton::Primary, pressed, modifiers: Modifiers::NONE });
}

fn region(harness: &Bench) -> (Vec<[f64; 2]>, bool) {
    match &job(harness).edits.last().expect("an edit").edit {
        Edit::MaskRegion(edits::MaskRegion { region: Region::Outline { points }, outside, .. }) => {
            (points.clone(), *outside)
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_region_is_drawn_with_the_pointer_and_trimmed_out() {
    let mut harness = open();
    let before = bench(&harness).screens();
    press(&mut harness, "Trim a region");
    // Once round the middle of the table, where the print lies.
    let middle = harness.get_by_role_and_label(Role::Canvas, "Table").rect().center();
    let at = |i: usize| {
        let turn = i as f32 / 40.0 * std::f32::consts::TAU;
        pos2(middle.x + 60.0 * turn.cos(), middle.y - 40.0 + 60.0 * turn.sin())
    };
    event(&mut harness, Event::PointerMoved(at(0)));
    button(&mut harness, at(0), true);
    for i in 1..=40 {
        event(&mut harness, Event::PointerMoved(at(i)));
    }
    button(&mut harness, at(40), false);
    settle(&mut harness);
    let (points, outside) = region(&harness);
    assert!(outside && points.len() >= 20, "{} corners", points.len());
    let name = before.last().unwrap().0.clone();
    let covers = |screens: &[(ScreenName, f64)]| screens.iter().find(|s| s.0 == name).unwrap().1;
    assert!(covers(&bench(&harness).screens()) <= covers(&before));
    assert!(harness.query_by_label("Stop drawing").is_none(), "the tool is put away");
}

#[test]
fn a_region_is_drawn_with_the_keyboard_alone() {
    let mut harness = open();
    press(&mut harness, "Trim a region");
    harness.get_by_role_and_label(Role::Canvas, "Table").focus();
    settle(&mut harness);
    for key in [Key::ArrowRight, Key::Space, Key::ArrowDown, Key::Space, Key::ArrowLeft, Key::ArrowLeft, Key::Space] {
        harness.key_press(key);
        harness.step();
    }
    harness.key_press(Key::Enter);
    settle(&mut harness);
    let (points, outside) = region(&harness);
    assert!(outside);
    let want = [[0.52, 0.5], [0.52, 0.52], [0.48, 0.52]];
    assert_eq!(points.len(), 3);
    assert!(
        points.iter().zip(want).all(|(p, w)| (p[0] - w[0]).abs() < 1e-9 && (p[1] - w[1]).abs() < 1e-9),
        "{points:?}"
    );
    // Escape puts the tool away and changes nothing.
    press(&mut harness, "Trim a region");
    harness.key_press(Key::Escape);
    settle(&mut harness);
    assert!(harness.query_by_label("Stop drawing").is_none());
}

#[test]
fn inks_are_chosen_with_some_that_must_be_in_and_some_that_stay_out() {
    let mut harness = open();
    // A bench that shows the sheet asks at once; the pins are for the next asking.
    send(&mut harness, Command::Sheet(Some(Sheet::Inks)));
    let sets = |harness: &Bench| -> Vec<String> {
        let found = harness.query_all_by_label_contains("Use these").filter_map(|node| node.accesskit_node().label());
        found.collect()
    };
    wait(&mut harness, "sets come", |bench| bench.standing()["ink sets"] != "0");
    settle(&mut harness);
    let free = sets(&harness).into_iter().find(|set| set.starts_with("Use these 6 inks")).expect("a set of six");
    let out = free.split(": ").nth(1).and_then(|names| names.split(", ").next()).unwrap().to_owned();
    let must = if free.contains("Olive") { "Plum" } else { "Olive" };
    press(&mut harness, &format!("{must}: may be used"));
    press(&mut harness, &format!("{out}: may be used"));
    press(&mut harness, &format!("{out}: must be in"));
    harness.get_by_label(&format!("{must}: must be in"));
    harness.get_by_label(&format!("{out}: stays out"));
    press(&mut harness, "Suggest");
    let started = Instant::now();
    let settled =
        |sets: &[String]| !sets.is_empty() && sets.iter().all(|set| set.contains(must) && !set.contains(&out));
    while !settled(&sets(&harness)) {
        assert!(
            started.elapsed() < Duration::from_secs(90),
            "no set with {must} and without {out}: {:?}",
            sets(&harness)
        );
        std::thread::sleep(Duration::from_millis(10));
        harness.step();
    }
    let plot = harness.get_by(|node| {
        node.label().is_some_and(|l| l.starts_with("Colour difference by number of screens, mean and 95 %: "))
    });
    assert_eq!(plot.accesskit_node().role(), Role::Image);
    // More inks that must be in than screens: said, and the sets stay.
    let count = harness.get_by_role_and_label(Role::SpinButton, "Number of screens");
    count.set_value_accesskit(1.0);
    settle(&mut harness);
    let other = if out == "Plum" || must == "Plum" { "Lilac" } else { "Plum" };
    press(&mut harness, &format!("{other}: may be used"));
    press(&mut harness, "Suggest");
    says(&mut harness, "2 inks are pinned but only 1 screens are requested");
}
