//! Films from the window: a screen's own ruling, angle and dot, and the export sheet with its live
//! list, driven by role and label.

use crate::common::{
    Bench, demo_at, demo_with, open_document, open_with_any_letters, press, says, settle, shows, wait, write_films_into,
};
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;
use strikeoff_core::Progress;
use strikeoff_core::job::evaluate;
use strikeoff_core::moire::{AngleSet, angle_set};
use strikeoff_core::raster::Detail;
use strikeoff_core::units::Mm;
use strikeoff_files::demo;
use strikeoff_files::film::{FilmOptions, write_films};

fn open() -> Bench {
    let mut harness = open_document(vec2(1280.0, 900.0), || demo_at(32.0, 360.0));
    settle(&mut harness);
    harness
}

#[test]
fn the_sheet_lists_what_will_be_written_and_writes_just_that() {
    let dir = tempfile::tempdir().unwrap();
    let (by_window, by_job) = (dir.path().join("window"), dir.path().join("job"));
    let mut harness = open();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::E);
    settle(&mut harness);
    assert!(shows(&harness, "01-ink-black.tif") && shows(&harness, "45 lpi, 22.5 deg, round dot"));
    assert!(shows(&harness, "about ") && shows(&harness, "films.json"));
    press(&mut harness, "All films on one length of roll");
    assert!(shows(&harness, "when the film printer's width is known"), "why not, in one sentence");
    press(&mut harness, "at most");
    assert!(shows(&harness, "roll.tif") && shows(&harness, "6 films on ") && !shows(&harness, "01-ink-black.tif"));
    press(&mut harness, "Composite PDF, one spot colour per screen");
    press(&mut harness, "One TIFF, one channel per screen");
    assert!(shows(&harness, "composite.pdf") && shows(&harness, "spots.tif") && shows(&harness, "only CMYK"));
    press(&mut harness, "Spread");
    write_films_into(&mut harness, &by_window, "films.json");
    let mut job = demo_at(32.0, 360.0).job;
    job.film.printer_width = Some(Mm::new(609.6).unwrap());
    let made = evaluate(&job, &demo::demo_art(), Detail::Full, &Progress::none()).unwrap();
    angle_set(AngleSet::Spread, &job, &made.screens).apply(&made.screens, &mut job.film);
    // Some screens share an angle now, and the separation knows how their dots meet.
    let made = evaluate(&job, &demo::demo_art(), Detail::Full, &Progress::none()).unwrap();
    let options =
        FilmOptions { gang: true, composite: true, spots: Some(Default::default()), ..FilmOptions::default() };
    write_films(&job, &made.screens, &by_job, &options, &Progress::none()).unwrap();
    for name in ["roll.tif", "films.pdf", "composite.pdf", "spots.tif", "films.json"] {
        let same = std::fs::read(by_window.join(name)).unwrap() == std::fs::read(by_job.join(name)).unwrap();
        assert!(same, "{name} differs");
    }
}

/// Names in other scripts are drawn in the window, and what no font has is reported when films are written.
#[test]
fn letters_of_any_script_are_drawn_and_missing_ones_told() {
    let dir = tempfile::tempdir().unwrap();
    let title = "Lantern \u{10FFFD} fair, مهرجان الفوانيس, יריד הפנסים, 灯笼节, 提灯まつり";
    let mut harness = open_with_any_letters(vec2(1280.0, 900.0), move || {
        demo_with(32.0, 360.0, |job| {
            job.info.title = title.into();
            job.info.client = title.into();
        })
    });
    settle(&mut harness);
    wait(&mut harness, "fonts are found", |bench| bench.is_at_rest());
    for name in title.split(", ").skip(1) {
        let has = harness.ctx.fonts_mut(|fonts| fonts.has_glyphs(&egui::FontId::proportional(13.0), name));
        assert!(has, "no font for {name}; install one with: apt-get install fonts-droid-fallback");
    }
    harness.key_press_modifiers(Modifiers::COMMAND, Key::E);
    settle(&mut harness);
    write_films_into(&mut harness, &dir.path().join("films"), "films.json");
    says(&mut harness, "no installed font has \u{10FFFD} (U+10FFFD) of \"Lantern");
}

#[test]
fn a_screen_takes_a_dot_of_its_own_and_gives_it_back() {
    let mut harness = open();
    let card = harness.get_by(|node| node.label().is_some_and(|l| l.starts_with("Screen Ink black,")));
    card.click();
    settle(&mut harness);
    assert!(shows(&harness, "threads a dot"));
    for field in ["Ruling", "Angle"] {
        harness.get_by_role_and_label(Role::SpinButton, field);
    }
    // The card may lie below the window's edge.
    harness.get_by_role_and_label(Role::ComboBox, "Dot").scroll_to_me();
    settle(&mut harness);
    harness.get_by_role_and_label(Role::ComboBox, "Dot").click();
    settle(&mut harness);
    harness.get_by_label("stochastic, blue noise").scroll_to_me();
    settle(&mut harness);
    press(&mut harness, "stochastic, blue noise");
    assert!(shows(&harness, "dots of one size"));
    harness.get_by_role_and_label(Role::SpinButton, "Dot size");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::E);
    settle(&mut harness);
    assert!(shows(&harness, "Ink black, blue noise, 100 um dots") && shows(&harness, "Brick red, 45 lpi"));
    press(&mut harness, "Cancel");
    harness.get_by_label("Same as the job").scroll_to_me();
    settle(&mut harness);
    press(&mut harness, "Same as the job");
    assert!(shows(&harness, "threads a dot") && !shows(&harness, "dots of one size"));
}
