//! Opens the workbench in a window of the system.

use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow};
use eframe::egui;
use strikeoff_desk::{Document, LEAST_POINTS, Log, Opening, Preferences, Shop, Workbench};
use strikeoff_files::job::recovery_folder;
use strikeoff_files::job_shelf::cache_folder;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::{demo, shelf, write_bytes};

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

/// Opens the workbench on a file, or on the demo job, and returns when it is closed. What the window
/// does is written to `log`, if it is given.
pub fn open(file: Option<PathBuf>, log: Option<PathBuf>) -> anyhow::Result<()> {
    let log = match log {
        Some(path) => {
            let file = std::fs::File::create(&path).with_context(|| format!("cannot write the log {}", path.display()));
            Some(Log::new(Box::new(file?)))
        }
        None => None,
    };
    let preferences = preferences_path().map(|path| (load_preferences(&path), path));
    let size = preferences.as_ref().map_or_else(Preferences::default, |((kept, _), _)| kept.clone()).window_points();
    let viewport = egui::ViewportBuilder::default()
        .with_title("Strikeoff")
        .with_app_id("strikeoff")
        .with_inner_size(size)
        .with_clamp_size_to_monitor_size(true)
        .with_min_inner_size(LEAST_POINTS)
        .with_drag_and_drop(true);
    let icon = eframe::icon_data::from_png_bytes(include_bytes!("../../../assets/desktop/strikeoff.png"));
    let viewport = viewport.with_icon(icon.context("the program's own icon is damaged; build it again")?);
    // The bench looks for fonts by itself.
    let system_font_fallback = false;
    let options = eframe::NativeOptions { viewport, multisampling: 4, system_font_fallback, ..Default::default() };
    eframe::run_native(
        "Strikeoff",
        options,
        Box::new(|cc| {
            let mut bench = bench(&cc.egui_ctx, file);
            if let Some(((preferences, trouble), path)) = preferences {
                bench = bench.with_preferences(preferences, Box::new(move |now| keep_preferences(&path, now)));
                if let Some(text) = trouble {
                    bench.tell(text);
                }
            }
            if let Some(log) = log {
                bench.log_to(log);
            }
            Ok(Box::new(Window { bench }))
        }),
    )
    .map_err(|error| anyhow!("cannot open a window: {error}. Without a display, use the verbs (strikeoff --help)"))
}

fn bench(ctx: &egui::Context, file: Option<PathBuf>) -> Workbench {
    // A profile that cannot be read must not keep the window shut.
    let (profile, unread) = match ShopProfile::load() {
        Ok(profile) => (profile, None),
        Err(error) => (ShopProfile::default(), Some(error.to_string())),
    };
    let shop = Shop { shelf: profile.shelf.clone(), garments: profile.garments_at_hand().to_vec() };
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
    bench.keep_shop_with(Box::new(|shop| shop.save().map_err(|error| error.to_string())));
    if let Some(why) = unread {
        bench.warn(format!("{why}; the defaults of the house are used"));
    }
    if let Some(folder) = recovery_folder() {
        bench.keep_in(folder);
    }
    if let Some(folder) = cache_folder() {
        bench.index_in(folder);
    }
    bench
}

/// Beside the shop's profile; none on a computer that names no configuration folder.
fn preferences_path() -> Option<PathBuf> {
    ShopProfile::home().ok().map(|shop| shop.with_file_name("window.json"))
}

/// What this computer remembers of the window; the defaults, and a sentence, if it cannot be read.
fn load_preferences(path: &Path) -> (Preferences, Option<String>) {
    let text = match std::fs::read(path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return (Preferences::default(), None),
        Err(error) => return (Preferences::default(), Some(format!("cannot read {}: {error}", path.display()))),
    };
    match serde_json::from_slice(&text) {
        Ok(preferences) => (preferences, None),
        Err(error) => {
            let said = format!("{} is not as expected ({error}); the window starts with its defaults", path.display());
            (Preferences::default(), Some(said))
        }
    }
}

fn keep_preferences(path: &Path, preferences: &Preferences) -> Result<(), String> {
    let json = serde_json::to_vec_pretty(preferences).map_err(|error| error.to_string())?;
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(|error| format!("cannot make {}: {error}", folder.display()))?;
    }
    write_bytes(path, &json).map_err(|error| error.to_string())
}
