//! Faults that a whole day at the window brought to light: each stands here with what must be so instead.

use std::sync::Arc;
use std::time::{Duration, Instant};

use crate::common::{Bench, Dropped, bench, job, open_bench, order, press, send, settle, shows, wait};
use egui::accesskit::Role;
use egui::{Event, Modifiers, MouseWheelUnit, TouchPhase, vec2};
use egui_kittest::kittest::{NodeT, Queryable};
use strikeoff_core::raster::{Art, Picture};
use strikeoff_core::units::Ppi;
use strikeoff_desk::{Command, Document, Opening, Sheet, Side, Workbench};
use strikeoff_files::picture::png_bytes;

fn of(doc: impl FnOnce() -> Document + 'static) -> Bench {
    let mut harness = open_bench(vec2(1280.0, 800.0), move |ctx| {
        Workbench::new(ctx, crate::lantern::shop(), None, Opening::Document(Box::new(doc())))
    });
    settle(&mut harness);
    harness
}

fn small() -> Bench {
    of(crate::lantern::document)
}

/// Presses as assistive technology does, wherever a panel is scrolled to.
fn pick(harness: &mut Bench, label: &str) {
    harness.get_by_label(label).click_accesskit();
    settle(harness);
}

/// Buttons of an open list of inks, from the top.
fn listed(harness: &Bench, verb: &str) -> Vec<String> {
    let mut found: Vec<(f32, String)> = Vec::new();
    for node in harness.root().children_recursive() {
        let own = node.accesskit_node();
        if let Some(name) = own.label().filter(|label| label.starts_with(verb) && own.role() == Role::Button) {
            found.push((node.rect().top(), name[verb.len() + 1..].to_owned()));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.into_iter().map(|(_, name)| name).collect()
}

#[test]
fn the_list_for_another_ink_is_searched_and_begins_with_the_nearest() {
    let mut harness = small();
    send(&mut harness, Command::Select(Some("Golden yellow".into())));
    pick(&mut harness, "Ink of Golden yellow: Golden yellow, re-ink");
    let all = listed(&harness, "Print with");
    assert_eq!(all.len(), crate::lantern::shop().shelf.inks.len());
    assert_eq!(all[0], "Golden yellow");
    assert_eq!(all.last().map(String::as_str), Some("Ink black"), "nothing is farther from yellow: {all:?}");
    harness.get_by_label("Find an ink").type_text("tea");
    settle(&mut harness);
    assert_eq!(listed(&harness, "Print with"), ["Marsh teal"]);
    pick(&mut harness, "Print with Marsh teal");
    let last = job(&harness).edits.last().unwrap().edit.clone();
    assert!(last.in_words().contains("Marsh teal"), "{}", last.in_words());
}

/// The art's olive is a mixture of the job's four inks; the ink that has it comes first.
#[test]
fn the_list_for_a_new_screen_begins_with_what_no_ink_prints() {
    let mut harness = small();
    send(&mut harness, Command::Panel(Side::Separation));
    wait(&mut harness, "the artwork's colours are known", Workbench::is_at_rest);
    pick(&mut harness, "Choose the new screen's ink");
    let all: Vec<String> = listed(&harness, "Add").into_iter().filter(|name| name != "garment").collect();
    assert_eq!(all[0], "Olive", "{all:?}");
    harness.get_by_label("Find an ink").type_text("oli");
    settle(&mut harness);
    pick(&mut harness, "Add Olive");
    assert!(order(&harness).contains(&"Olive".to_owned()));
}

#[test]
fn the_wheel_over_a_closed_field_changes_nothing() {
    let mut harness = small();
    let before = job(&harness);
    let fields: Vec<_> = harness
        .root()
        .children_recursive()
        .filter(|node| {
            let role = node.accesskit_node().role();
            let shown = node.accesskit_node().raw_bounds().is_some() && node.rect().bottom() < 780.0;
            shown && [Role::ComboBox, Role::SpinButton, Role::Slider].contains(&role)
        })
        .map(|node| node.rect().center())
        .collect();
    assert!(fields.len() > 5, "{} fields", fields.len());
    for at in fields {
        harness.event(Event::PointerMoved(at));
        harness.step();
        for by in [-60.0, 60.0, -60.0] {
            harness.event(Event::MouseWheel {
                unit: MouseWheelUnit::Point,
                delta: vec2(0.0, by),
                phase: TouchPhase::Move,
                source: egui::MouseWheelSource::Unknown,
                modifiers: Modifiers::NONE,
            });
            harness.step();
            harness.step();
        }
    }
    settle(&mut harness);
    assert_eq!(job(&harness), before);
}

#[test]
fn the_zoom_goes_in_steps_of_a_fifth() {
    let mut harness = small();
    let zoom = |harness: &Bench| -> f64 {
        bench(harness).standing()["zoom"].split(' ').next().and_then(|number| number.parse().ok()).unwrap()
    };
    send(&mut harness, Command::ActualSize);
    let before = zoom(&harness);
    send(&mut harness, Command::ZoomIn);
    assert!((zoom(&harness) / before - 1.2).abs() < 0.005, "{} of {before}", zoom(&harness));
    send(&mut harness, Command::ZoomOut);
    assert!((zoom(&harness) - before).abs() < 0.011);
}

#[test]
fn two_files_dropped_at_once_are_both_offered() {
    let dir = tempfile::tempdir().unwrap();
    let mut harness = small();
    for name in ["lantern.png", "heron.png"] {
        std::fs::write(dir.path().join(name), strikeoff_files::demo::demo_art_png()).unwrap();
        harness.input_mut().dropped_files.push(Arc::new(Dropped(dir.path().join(name))));
    }
    settle(&mut harness);
    assert!(shows(&harness, "Open lantern.png") && shows(&harness, "Open heron.png"));
    assert_eq!(job(&harness).info.title, "Marsh lantern", "the job stays until one is chosen");
    press(&mut harness, "Open heron.png");
    wait(&mut harness, "the second file is on the table", |bench| bench.job().unwrap().info.title == "heron");
}

#[test]
fn what_was_done_goes_from_the_status_line_and_what_failed_stays() {
    let mut harness = small();
    send(&mut harness, Command::ShowAll);
    let said = Instant::now();
    let note = |harness: &Bench| bench(harness).note().map(str::to_owned);
    assert_eq!(note(&harness).as_deref(), Some("every screen is shown already"));
    while note(&harness).is_some() {
        assert!(said.elapsed() < Duration::from_secs(20), "it never goes");
        std::thread::sleep(Duration::from_millis(100));
        harness.step();
    }
    assert!(said.elapsed() > Duration::from_secs(3), "there was no time to read it");
    send(&mut harness, Command::RemoveGarment(0));
    std::thread::sleep(Duration::from_millis(20));
    harness.step();
    assert!(note(&harness).is_some_and(|note| note.contains("separate for another one first")));
}

/// A picture without clear parts whose edge has no even colour.
fn busy() -> Document {
    let mut job = crate::lantern::document().job;
    job.edits.clear();
    let rgba: Vec<u8> = (0..90 * 120_u32)
        .flat_map(|i| {
            let (x, y) = (i % 90, i / 90);
            [(x * 7919 % 251) as u8, (y * 2 + x) as u8, ((x + y) % 9 * 28) as u8, 255]
        })
        .collect();
    let art = Art { picture: Picture::from_rgba8(90, 120, &rgba), ppi: Ppi::new(12.0).unwrap() };
    let bytes = png_bytes(&art.picture, art.ppi);
    Document::new(job, art, "busy.png", bytes)
}

#[test]
fn out_of_the_background_is_refused_where_there_is_none() {
    let mut harness = of(busy);
    wait(&mut harness, "the artwork is known", Workbench::is_at_rest);
    harness.step();
    let before = job(&harness);
    send(&mut harness, Command::TrimBackground("Brick red".into()));
    assert_eq!(job(&harness), before);
    assert_eq!(bench(&harness).problem(), None);
    assert!(bench(&harness).note().is_some_and(|note| note.contains("no background")), "{:?}", bench(&harness).note());
    let tick = harness.get_by_label("out of the background");
    assert!(tick.accesskit_node().is_disabled(), "the tick can be set");
    // Where there is one it works.
    let mut harness = small();
    wait(&mut harness, "the artwork is known", Workbench::is_at_rest);
    send(&mut harness, Command::TrimBackground("Brick red".into()));
    assert_eq!(job(&harness).edits.len(), 2);
    assert_eq!(bench(&harness).problem(), None);
}

/// Every section of the drawer open in a window of 1280 x 800: nothing stands over its edges.
#[test]
fn the_findings_drawer_is_never_cut_off() {
    let mut harness = small();
    send(&mut harness, Command::ToggleFindings);
    wait(&mut harness, "all is known of the press", |bench| bench.plans_ready() && bench.is_at_rest());
    harness.step();
    let table = harness.get_by_role_and_label(Role::Canvas, "Table").rect().right();
    for title in [
        "Register",
        "Good day and bad day",
        "Mesh and moire",
        "Heads and print order",
        "Other garments",
        "Minutes and money",
        "Ink for the run",
        "Gain and build-up",
        "Cautions",
    ] {
        let lines = harness.root().children_recursive().count();
        pick(&mut harness, title);
        wait(&mut harness, "it is drawn", Workbench::is_at_rest);
        harness.step();
        harness.step();
        let now = harness.get_by_role_and_label(Role::Canvas, "Table").rect().right();
        assert_eq!(now, table, "\"{title}\" makes the drawer wider");
        for node in harness.root().children_recursive() {
            let own = node.accesskit_node();
            let field = [Role::Slider, Role::SpinButton, Role::ComboBox].contains(&own.role());
            if !field || own.raw_bounds().is_none() || node.rect().left() < table {
                continue;
            }
            let name = own.label().unwrap_or_default();
            assert!(node.rect().right() <= 1280.5, "\"{title}\": {:?} \"{name}\" at {:?}", own.role(), node.rect());
        }
        assert!(harness.root().children_recursive().count() > lines, "\"{title}\" does not open");
        pick(&mut harness, title);
    }
}

/// What a screen takes in minutes and money stands beside its cost in colour, and the quote on its sheet.
#[test]
fn minutes_and_money_are_in_the_window() {
    let mut harness = small();
    wait(&mut harness, "the job is checked", Workbench::findings_ready);
    send(&mut harness, Command::Sheet(Some(Sheet::Quote)));
    settle(&mut harness);
    for words in ["Price of a shirt", "72", "Set-up on press", "a blank garment 3 each (assumed)", "margin of 40 %"] {
        assert!(shows(&harness, words), "\"{words}\" is not on the quote");
    }
    // A figure of the shop is used and no longer named as assumed.
    let mut shop = strikeoff_files::profile::ShopProfile::default();
    shop.rates.blank = Some(2.4);
    send(&mut harness, Command::ChangeShop(Box::new(shop)));
    settle(&mut harness);
    assert!(!shows(&harness, "a blank garment"));
    send(&mut harness, Command::Sheet(None));
    press(&mut harness, "Screens as a table with their costs");
    wait(&mut harness, "all is known", Workbench::is_at_rest);
    harness.step();
    assert!(shows(&harness, "Time") && shows(&harness, "Money") && shows(&harness, "30 min"));
}

/// Inches or millimetres, as chosen for the job: on the sheet of films and in the shop's preferences too.
#[test]
fn lengths_are_in_the_unit_that_was_chosen() {
    for (unit, says, not) in [
        (strikeoff_core::units::LengthUnit::Mm, "406.4 mm", "16 in"),
        (strikeoff_core::units::LengthUnit::Inch, "16 in", "406.4 mm"),
    ] {
        let mut harness = of(move || {
            let mut doc = crate::lantern::document();
            doc.job.info.unit = unit;
            doc
        });
        harness.key_press(egui::Key::F2);
        settle(&mut harness);
        assert!(shows(&harness, says) && !shows(&harness, not), "the widest print is not {says}");
        send(&mut harness, Command::Sheet(Some(Sheet::Export)));
        settle(&mut harness);
        let line = harness.get_by_label_contains("around the print");
        let line = line.accesskit_node().label().or_else(|| line.accesskit_node().value()).unwrap();
        assert!(line.contains(if says.ends_with("mm") { " mm around" } else { " in around" }), "{line}");
    }
}
