//! What every test of the bench needs: the demo at a resolution that keeps tests quick, opened on a
//! bench without a window, and waiting until everything asked for is on the screen.

#![allow(dead_code, reason = "each test file uses its own part")]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::time::{Duration, Instant};

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use strikeoff_core::units::{Dpi, Ppi};
use strikeoff_desk::{Document, Opening, Shop, Workbench};
use strikeoff_files::{demo, shelf};

pub type Bench = Harness<'static, Option<Workbench>>;

pub fn shop() -> Shop {
    Shop { shelf: shelf::house_shelf().clone(), garments: shelf::house_garments().to_vec() }
}

/// The demo at a resolution that keeps tests quick; everything else as in the product.
pub fn document() -> Document {
    let mut job = demo::demo_job_on_white();
    job.prep.ppi = Ppi::new(32.0).unwrap();
    job.film.dpi = Dpi::new(360.0).unwrap();
    let mut doc = Document::new(job, demo::demo_art(), demo::DEMO_ART_NAME, demo::demo_art_png());
    doc.add_garment(shelf::house_garment("Black").unwrap().clone());
    doc
}

/// A frame. As in the program, the bench is there before the first frame that it draws.
pub fn ui(ui: &mut egui::Ui, bench: &mut Option<Workbench>) {
    match bench {
        Some(bench) => bench.ui(ui),
        None => {
            let opening = Opening::Document(Box::new(document()));
            *bench = Some(Workbench::new(ui.ctx(), shop(), Some(document()), opening));
        }
    }
}

pub fn open(size: egui::Vec2) -> Bench {
    let mut harness = Harness::builder().with_size(size).build_ui_state(ui, None);
    settle(&mut harness);
    harness
}

pub fn bench(harness: &Bench) -> &Workbench {
    harness.state().as_ref().unwrap()
}

/// Steps until everything asked for is on the screen.
pub fn settle(harness: &mut Bench) {
    let started = Instant::now();
    // A command sent in one frame shows its work in the next.
    harness.step();
    harness.step();
    while !bench(harness).is_settled() {
        assert!(started.elapsed() < Duration::from_secs(120), "the bench does not settle");
        std::thread::sleep(Duration::from_millis(4));
        harness.step();
    }
    harness.step();
}

pub fn order(harness: &Bench) -> Vec<String> {
    bench(harness).screens().iter().map(|s| s.0.clone()).collect()
}

pub fn press(harness: &mut Bench, label: &str) {
    harness.get_by_label(label).click();
    settle(harness);
}
