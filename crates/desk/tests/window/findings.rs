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

/// A press that prints all inks darker and heavier than the shelf has them, fitted from its calibration print.
fn fingerprint(inks: &[strikeoff_core::ink::Ink]) -> strikeoff_core::fingerprint::Fingerprint {
    use strikeoff_core::fingerprint::{AssumedInk, Fingerprint, MOST_READINGS, Patch, Planned, Predictor, design};
    let assumed: Vec<AssumedInk> = inks.iter().map(AssumedInk::of).collect();
    let darker = |lab: [f64; 3]| [lab[0] * 0.88, lab[1] * 0.9, lab[2] * 0.9];
    let true_inks = assumed.iter().map(|ink| AssumedInk {
        name: ink.name.clone(),
        over_white: darker(ink.over_white),
        over_black: darker(ink.over_black),
    });
    let ground = strikeoff_core::color::lab_from_linear(shelf::house_garment("White").unwrap().reflectance());
    let ground = [ground.l, ground.a, ground.b].map(f64::from);
    let press = Fingerprint::assumed("there", true_inks.collect(), ground).unwrap();
    let tints: Vec<_> = design(inks.len(), false, MOST_READINGS).iter().flat_map(Planned::readings).collect::<Vec<_>>();
    let truth = Predictor::new(&press);
    let patches = tints.into_iter().map(|tint| Patch { lab: truth.model(&tint), tint }).collect();
    let mut print = Fingerprint::fit("Auto 1, 230 mesh", assumed, patches, 0.3, &[]).unwrap();
    print.date = "2026-11-20".into();
    print.origin = "print.jpg".into();
    print
}

/// What was measured is tried on the job, used with one press, and leaves the figure that was shown; how sure each colour
/// is, is seen on the table.
#[test]
fn what_was_measured_is_used_with_the_figures_that_were_shown() {
    let single = || demo_with(32.0, 360.0, |job| job.separation.screens[0].hits = 1);
    let mut harness = crate::common::open_bench(vec2(1600.0, 1000.0), move |ctx| {
        let doc = single();
        let inks: Vec<_> = doc.job.separation.screens.iter().map(|s| s.ink.clone()).collect();
        let profile =
            strikeoff_files::profile::ShopProfile { fingerprints: vec![fingerprint(&inks)], ..Default::default() };
        let mut bench =
            Workbench::new(ctx, crate::common::shop(), None, strikeoff_desk::Opening::Document(Box::new(doc)));
        bench.use_profile(profile);
        bench
    });
    checked(&mut harness);
    send(&mut harness, Command::ToggleFindings);
    press(&mut harness, "How sure colours are");
    press(&mut harness, "Auto 1, 230 mesh of 2026-11-20");
    let said = |harness: &Bench, begins: &str| {
        harness.root().children_recursive().find_map(|n| {
            let node = n.accesskit_node();
            let text = node.label().or(node.value())?;
            text.starts_with(begins).then(|| text.to_string())
        })
    };
    let deadline = Instant::now() + Duration::from_secs(120);
    while said(&harness, "With what was measured").is_none() {
        assert!(Instant::now() < deadline, "nothing is tried");
        std::thread::sleep(Duration::from_millis(4));
        harness.step();
    }
    let figure = |text: &str, after: &str| -> f64 {
        let rest = text.split(after).nth(1).unwrap();
        rest.trim_start().split([' ', ',']).next().unwrap().parse().unwrap()
    };
    let before = figure(&said(&harness, "As it stands").unwrap(), "print model lies");
    let after = figure(&said(&harness, "With what was measured").unwrap(), "print model lies");
    eprintln!("{before} from the press, {after} with what was measured");
    assert!(before > 3.0 && after < 0.5 * before, "{before} to {after}");
    press(&mut harness, "Use what was measured");
    let deadline = Instant::now() + Duration::from_secs(120);
    while said(&harness, "Colour within").is_none() {
        assert!(Instant::now() < deadline, "the job is not told");
        std::thread::sleep(Duration::from_millis(4));
        harness.step();
    }
    let told = figure(&said(&harness, "Colour within").unwrap(), "print model lies");
    assert_eq!(told, after, "what was shown before is what it came to");
    let inks: Vec<bool> = crate::common::job(&harness).separation.screens.iter().map(|s| s.ink.measured).collect();
    assert!(inks.iter().all(|measured| *measured));
    // Each pair of its inks has an opacity of its own on wet ink, and not all the same.
    let pairs = crate::common::job(&harness).press.wet_pairs;
    assert_eq!(pairs.len(), inks.len() * (inks.len() - 1) / 2);
    assert!(pairs.iter().any(|pair| pair.keeps != pairs[0].keeps), "{pairs:?}");
    let print = bench(&harness).pixels_shown();
    press(&mut harness, "Show how sure each colour is");
    assert_ne!(bench(&harness).pixels_shown(), print);
    press(&mut harness, "Back to the print");
    assert_eq!(bench(&harness).pixels_shown(), print);
    send(&mut harness, Command::Undo);
    assert!(crate::common::job(&harness).separation.screens.iter().all(|s| !s.ink.measured));
}
