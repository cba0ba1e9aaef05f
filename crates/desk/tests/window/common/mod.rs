//! What every test of the bench needs: the demo at a resolution that keeps tests quick, opened on a
//! bench without a window, and waiting until everything asked for is on the screen.

#![allow(dead_code, reason = "each test file uses its own part")]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::path::Path;
use std::time::{Duration, Instant};

use egui::accesskit::Role;
use egui_kittest::kittest::{NodeT, Queryable};
use egui_kittest::{Harness, HarnessBuilder};
use strikeoff_core::job::Job;
use strikeoff_core::units::{Dpi, Ppi};
use strikeoff_desk::{Command, Document, Opening, Shop, Workbench};
use strikeoff_files::{demo, shelf};

pub type Bench = Harness<'static, Option<Workbench>>;

pub fn shop() -> Shop {
    Shop { shelf: shelf::house_shelf().clone(), garments: shelf::house_garments().to_vec() }
}

/// The demo at a resolution that keeps tests quick; everything else as in the product.
pub fn document() -> Document {
    let mut doc = demo_at(32.0, 360.0);
    doc.add_garment(shelf::house_garment("Black").unwrap().clone());
    doc
}

/// The demo on white at a working resolution (ppi) and a film's (dpi).
pub fn demo_at(ppi: f64, dpi: f64) -> Document {
    demo_with(ppi, dpi, |_| {})
}

/// As [`demo_at`], with the job changed before it is opened.
pub fn demo_with(ppi: f64, dpi: f64, change: impl FnOnce(&mut Job)) -> Document {
    let mut job = demo::demo_job_on_white();
    job.prep.ppi = Ppi::new(ppi).unwrap();
    job.film.dpi = Dpi::new(dpi).unwrap();
    change(&mut job);
    Document::new(job, demo::demo_art(), demo::DEMO_ART_NAME, demo::demo_art_png())
}

/// The demo on a bench of that size, at rest.
pub fn open(size: egui::Vec2) -> Bench {
    let mut harness = open_bench(size, |ctx| {
        let opening = Opening::Document(Box::new(document()));
        Workbench::new(ctx, shop(), Some(document()), opening)
    });
    settle(&mut harness);
    harness
}

/// A document on a bench of that size, with no demo to go back to; not yet at rest.
pub fn open_document(size: egui::Vec2, doc: impl FnOnce() -> Document + 'static) -> Bench {
    open_bench(size, |ctx| Workbench::new(ctx, shop(), None, Opening::Document(Box::new(doc()))))
}

/// A bench of that size. As in the program, it is there before the first frame that it draws.
pub fn open_bench(size: egui::Vec2, make: impl FnOnce(&egui::Context) -> Workbench + 'static) -> Bench {
    built(Harness::builder().with_size(size), make)
}

/// A document with letters that the window's own fonts lack; a box stands for them until a font is found.
pub fn open_with_any_letters(size: egui::Vec2, doc: impl FnOnce() -> Document + 'static) -> Bench {
    built(Harness::builder().with_size(size).allow_missing_glyphs(), |ctx| {
        Workbench::new(ctx, shop(), None, Opening::Document(Box::new(doc())))
    })
}

fn built(
    builder: HarnessBuilder<Option<Workbench>>,
    make: impl FnOnce(&egui::Context) -> Workbench + 'static,
) -> Bench {
    let mut make = Some(make);
    builder.build_ui_state(
        move |ui, bench: &mut Option<Workbench>| match make.take() {
            Some(make) => *bench = Some(make(ui.ctx())),
            None => bench.as_mut().unwrap().ui(ui),
        },
        None,
    )
}

pub fn bench(harness: &Bench) -> &Workbench {
    harness.state().as_ref().unwrap()
}

pub fn job(harness: &Bench) -> Job {
    bench(harness).job().unwrap().clone()
}

/// Steps until everything asked for is on the screen.
pub fn settle(harness: &mut Bench) {
    settle_when(harness, |_| true);
}

/// Steps until everything asked for is on the screen and something else is so.
pub fn settle_when(harness: &mut Bench, so: impl Fn(&Workbench) -> bool) {
    // A command sent in one frame shows its work in the next.
    harness.step();
    harness.step();
    wait(harness, "the bench settles", |bench| bench.is_settled() && so(bench));
    harness.step();
}

/// Steps until something is so.
pub fn wait(harness: &mut Bench, what: &str, so: impl Fn(&Workbench) -> bool) {
    let started = Instant::now();
    while !so(bench(harness)) {
        let said = (bench(harness).note().map(str::to_owned), bench(harness).problem().map(str::to_owned));
        assert!(started.elapsed() < Duration::from_secs(120), "waited in vain that {what}: {said:?}");
        std::thread::sleep(Duration::from_millis(4));
        harness.step();
    }
}

/// Steps until the status line holds these words.
pub fn says(harness: &mut Bench, words: &str) {
    wait(harness, words, |bench| bench.note().is_some_and(|note| note.contains(words)));
}

pub fn send(harness: &mut Bench, command: Command) {
    harness.state_mut().as_mut().unwrap().send(command);
    settle(harness);
}

pub fn press(harness: &mut Bench, label: &str) {
    harness.get_by_label(label).click();
    settle(harness);
}

/// Types a folder into the films' sheet, writes and waits until the last of the files is there.
pub fn write_films_into(harness: &mut Bench, folder: &Path, last: &str) {
    let field = harness.get_by_role(Role::TextInput);
    field.focus();
    field.type_text(folder.to_str().unwrap());
    settle(harness);
    press(harness, "Write films");
    wait(harness, "films are written", |_| folder.join(last).exists());
}

pub fn order(harness: &Bench) -> Vec<String> {
    bench(harness).screens().iter().map(|s| s.0.to_string()).collect()
}

/// Whether some text on the window has these words.
pub fn shows(harness: &Bench, words: &str) -> bool {
    harness.root().children_recursive().any(|node| {
        let node = node.accesskit_node();
        [node.label(), node.value()].into_iter().flatten().any(|text| text.contains(words))
    })
}

/// A file as a system hands it over when it is dropped on a window.
#[derive(Debug)]
pub struct Dropped(pub std::path::PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &std::path::Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}
