//! What the window shows of a job is what the verbs compute: bit for bit, after changes of every part of
//! it, one upon the other, and after undoing them.

use crate::common::{Bench, bench, job, open_document, send, settle};
use egui::vec2;
use strikeoff_core::Progress;
use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::Garment;
use strikeoff_core::job::{Job, evaluate};
use strikeoff_core::press::Stop;
use strikeoff_core::raster::Detail;
use strikeoff_core::separate::Method;
use strikeoff_core::tune::{Edit, EditEntry, edits};
use strikeoff_core::units::{Coverage, Lpi, Mm, Ppi};
use strikeoff_core::usage::Mesh;
use strikeoff_desk::{Command, Document};

/// Of the proxy on the bench.
const PROXY: Detail = Detail::Proxy { longest_px: 1400 };

fn same_as_cold(harness: &Bench, document: &Document, after: &str) {
    let cold = evaluate(&job(harness), &document.art, PROXY, &Progress::none()).unwrap();
    let level = bench(harness).level().unwrap_or_else(|| panic!("no proof after {after}"));
    assert!(*level.prepared == cold.prepared, "the art differs after {after}");
    assert!(*level.screens == cold.screens, "the screens differ after {after}");
}

/// A change of a job, with its name.
type Change = (&'static str, fn(&mut Job));

/// Changes of every part of a job.
const CHANGES: &[Change] = &[
    ("a curve's end", |job| {
        job.edits.push(EditEntry::on(Edit::Density(edits::Density { screen: "Marsh teal".into(), factor: 0.7 })))
    }),
    ("a change of the last edit", |job| {
        job.edits.last_mut().unwrap().edit = Edit::Density(edits::Density { screen: "Marsh teal".into(), factor: 1.2 });
    }),
    ("a change of the first edit", |job| {
        job.edits[0].edit = Edit::trim("Golden yellow", Coverage::new(0.1).unwrap(), false);
    }),
    ("a spread", |job| {
        let by_mm = Mm::new(0.8).unwrap();
        job.edits.push(EditEntry::on(Edit::Spread(edits::Spread { screen: "Brick red".into(), by_mm })));
    }),
    ("an edit switched off", |job| job.edits[0].on = false),
    ("a drop that separates again", |job| {
        job.edits.push(EditEntry::on(Edit::Drop(edits::Drop { screen: "Ink black".into(), separate_again: true })));
    }),
    ("the drop taken back", |job| drop(job.edits.pop())),
    ("black", |job| job.separation.black_strength = 0.9),
    ("a flash", |job| {
        job.press.stops.insert("Golden yellow".into(), Stop::Flash);
    }),
    ("heads and a mesh", |job| {
        job.run.heads = 9;
        job.run.mesh = Mesh { threads_per_inch: 156.0, ..Mesh::default() };
    }),
    ("the garment", |job| job.garment = Garment::of_color(Rgb8([20, 28, 70]))),
    ("the ruling", |job| job.film.ruling = Lpi::new(35.0).unwrap()),
    ("the resolution", |job| job.prep.ppi = Ppi::new(20.0).unwrap()),
    ("sharpening", |job| job.prep.sharpen_amount = 1.0),
    ("the method", |job| job.set_method(Method::SpotArt)),
    ("the title", |job| job.info.title = "Another name".into()),
];

#[test]
fn the_window_shows_what_the_verbs_compute() {
    let document = crate::lantern::document();
    let mut harness = open_document(vec2(1280.0, 800.0), crate::lantern::document);
    settle(&mut harness);
    same_as_cold(&harness, &document, "opening");
    for (what, change) in CHANGES {
        let mut changed = job(&harness);
        change(&mut changed);
        send(&mut harness, Command::change(changed, *what));
        same_as_cold(&harness, &document, what);
    }
    for (what, _) in CHANGES.iter().rev() {
        send(&mut harness, Command::Undo);
        same_as_cold(&harness, &document, &format!("undoing {what}"));
    }
    assert_eq!(job(&harness), document.job);
}

/// What cannot reach the screens has nothing computed again.
#[test]
fn heads_meshes_and_prices_have_nothing_separated_again() {
    let mut harness = open_document(vec2(1280.0, 800.0), crate::lantern::document);
    settle(&mut harness);
    let evaluated = bench(&harness).evaluations();
    let mut changed = job(&harness);
    changed.run.heads = 12;
    changed.run.below_collar_mm = Mm::new(60.0).unwrap();
    changed.run.ink.price_per_kg.insert("Brick red".into(), 30.0);
    changed.run.meshes.insert("Brick red".into(), Mesh { threads_per_inch: 156.0, ..Mesh::default() });
    send(&mut harness, Command::change(changed, "the press"));
    assert_eq!(bench(&harness).evaluations(), evaluated);
    assert_eq!(bench(&harness).undo_depth(), (1, 0));
}
