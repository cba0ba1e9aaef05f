//! Opens the workbench in a window of the system.

use std::path::PathBuf;

use anyhow::anyhow;
use eframe::egui;
use strikeoff_desk::{Document, Opening, Shop, Workbench};
use strikeoff_files::job::recovery_folder;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::{demo, shelf};

struct Window {
    bench: Workbench,
}

impl eframe::App for Window {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        self.bench.ui(ui);
    }

    fn clear_color(&self, visuals: &egui::Visuals) -> [f32; 4] {
        visuals.panel_fill.to_normalized_gamma_f32()
    }
}

/// Opens the workbench on a file, or on the demo job, and returns when it is closed.
pub fn open(file: Option<PathBuf>) -> anyhow::Result<()> {
    let viewport = egui::ViewportBuilder::default()
        .with_title("Strikeoff")
        .with_app_id("strikeoff")
        .with_inner_size([1440.0, 900.0])
        .with_min_inner_size([1100.0, 700.0])
        .with_drag_and_drop(true);
    let options = eframe::NativeOptions { viewport, multisampling: 4, ..Default::default() };
    eframe::run_native("Strikeoff", options, Box::new(|cc| Ok(Box::new(Window { bench: bench(&cc.egui_ctx, file) }))))
        .map_err(|error| anyhow!("cannot open a window: {error}. Without a display, use the verbs (strikeoff --help)"))
}

fn bench(ctx: &egui::Context, file: Option<PathBuf>) -> Workbench {
    // A profile that cannot be read must not keep the window shut.
    let (profile, unread) = match ShopProfile::load() {
        Ok(profile) => (profile, None),
        Err(error) => (ShopProfile::default(), Some(error.to_string())),
    };
    let shop = Shop { shelf: profile.shelf.clone(), garments: shelf::house_garments().to_vec() };
    let mut doc = Document::new(demo::demo_job_on_white(), demo::demo_art(), demo::DEMO_ART_NAME, demo::demo_art_png());
    for name in ["Black", "Navy", "Heather grey"] {
        if let Some(garment) = shelf::house_garment(name) {
            doc.add_garment(garment.clone());
        }
    }
    let opening = match file {
        Some(path) => Opening::File(path),
        None => Opening::Document(Box::new(doc.clone())),
    };
    let mut bench = Workbench::new(ctx, shop, Some(doc), opening);
    bench.use_profile(profile);
    if let Some(why) = unread {
        bench.warn(format!("{why}; the defaults of the house are used"));
    }
    if let Some(folder) = recovery_folder() {
        bench.keep_in(folder);
    }
    bench
}
