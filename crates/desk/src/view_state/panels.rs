//! What is passing in single panels: how the artwork and the findings are looked at, what is typed.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Instant;

use egui::Rect;
use strikeoff_core::fingerprint::Fingerprint;
use strikeoff_core::job::OnPress;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::tune::Place;
use strikeoff_files::sheet::{Paper, SheetKind};

use crate::render::Spot;

/// How the artwork is looked at.
#[derive(Debug, Clone, Default)]
pub struct ArtLook {
    /// The table shows the whole art with the crop on it.
    pub cropping: bool,
    /// Soft edges are shown over the art.
    pub soft: bool,
    /// Specks are ringed.
    pub specks: bool,
    /// The art as received lies left of the divider in the art view.
    pub split: bool,
    /// The art as received is shown as long as this is held.
    pub hold: bool,
    /// The speck gone to last.
    pub speck_at: usize,
}

/// A screen moved by hand in the register view.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// The screen.
    pub screen: ScreenName,
    /// Right and down in mm.
    pub mm: [f64; 2],
}

/// How the findings are looked at.
#[derive(Debug, Clone)]
pub struct AheadLook {
    /// Whether the drawer is open.
    pub open: bool,
    /// The finding that is shown on the table, by its place in the list.
    pub shown: Option<usize>,
    /// A part of the table that is to be brought into sight.
    pub bring: Option<Rect>,
    /// The screen that is out of register, if one is.
    pub moved: Option<Moved>,
    /// How far screens are out of register on a bad day, mm.
    pub bad_mm: f64,
    /// Points of gain by which they differ.
    pub bad_points: f64,
}

/// How fingerprints of the press are looked at, and what is typed to read one.
#[derive(Debug, Clone, Default)]
pub struct PressLook {
    /// The fingerprint that is looked at.
    pub print: Option<Arc<Fingerprint>>,
    /// A table of readings, or a photograph of the wet print.
    pub read: String,
    /// A photograph of the flashed print.
    pub flashed: String,
    /// Values of the strip.
    pub strip: String,
    /// What the fingerprint is to be called.
    pub name: String,
}

/// How the ink room is looked at.
#[derive(Debug, Clone)]
pub struct RoomLook {
    /// Garments in place of inks.
    pub garments: bool,
    /// The chosen ink or garment, by its place.
    pub at: usize,
    /// A file with a measurement of the chosen ink.
    pub measured: String,
    /// Whether a recipe for the chosen ink is looked for.
    pub mix: bool,
    /// How much is mixed.
    pub grams: f64,
}

impl Default for RoomLook {
    fn default() -> Self {
        Self { garments: false, at: 0, measured: String::new(), mix: false, grams: 1000.0 }
    }
}

impl Default for AheadLook {
    fn default() -> Self {
        Self { open: false, shown: None, bring: None, moved: None, bad_mm: 0.2, bad_points: 8.0 }
    }
}

/// What the table showed when it was drawn last.
#[derive(Debug, Clone, Default)]
pub struct Seen {
    /// Pixels of the screen that the print was wide.
    pub canvas_px: f32,
    /// Tiles in sight that were missing, of both pictures.
    pub missing: [Vec<Spot>; 2],
}

/// What is typed to find a command, and which line is chosen.
#[derive(Debug, Clone, Default)]
pub struct Typed {
    /// As typed.
    pub words: String,
    /// The chosen line among those that match.
    pub at: usize,
}

/// A region that is being drawn on the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Lasso {
    /// The screen to be trimmed.
    pub screen: ScreenName,
    /// Corners so far, in fractions of the print.
    pub points: Vec<[f64; 2]>,
    /// Where the keyboard's crosshair is, once it was moved.
    pub crosshair: Option<[f64; 2]>,
    /// Width of the soft edge in millimetres.
    pub soft_mm: f64,
}

impl Lasso {
    /// Nothing drawn yet.
    pub fn of(screen: &ScreenName) -> Self {
        Self { screen: screen.to_owned(), points: Vec::new(), crosshair: None, soft_mm: 0.5 }
    }
}

/// How a new screen is to be added.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Adding {
    /// Whether all screens are separated again with it.
    pub resolve: bool,
    /// Where it prints.
    pub place: Place,
}

/// Something to tell the user, with a way to dismiss it.
#[derive(Debug, Clone, PartialEq)]
pub struct Note {
    /// One plain sentence.
    pub text: String,
    /// Whether something failed.
    pub failed: bool,
    /// When it goes; none: it stays until it is dismissed.
    pub until: Option<Instant>,
}

/// Which costs of acts on the screens are looked at.
#[derive(Debug, Clone, Copy, Default)]
pub struct CostsLook {
    /// Whether the screens are shown as a table in place of cards.
    pub table: bool,
    /// Whether other inks for the chosen screen are looked for.
    pub inks: bool,
}

/// How jobs are looked for.
#[derive(Debug, Clone, Default)]
pub struct JobsLook {
    /// What is typed.
    pub words: String,
    /// How often the folder was to be looked through.
    pub looks: u32,
}

/// A run as it is typed.
#[derive(Debug, Clone, Default)]
pub struct RunDraft {
    /// Its day.
    pub date: String,
    /// Good shirts.
    pub shirts: u32,
    /// Test shirts.
    pub test_shirts: u32,
    /// Misprints.
    pub misprints: u32,
    /// Ink of each screen.
    pub screens: Vec<InkDraft>,
    /// What was changed on press.
    pub changed: OnPress,
    /// Whatever else the next run should know.
    pub note: String,
}

/// Ink of a screen as it is typed.
#[derive(Debug, Clone)]
pub struct InkDraft {
    /// The screen.
    pub screen: ScreenName,
    /// Grams in.
    pub in_g: String,
    /// Grams out.
    pub out_g: String,
    /// After how many shirts it was refilled.
    pub refills: String,
}

impl InkDraft {
    /// Nothing typed yet.
    pub fn of(screen: &ScreenName) -> Self {
        Self { screen: screen.clone(), in_g: String::new(), out_g: String::new(), refills: String::new() }
    }
}

/// How sheets are looked at before they are written.
#[derive(Debug, Clone, Default)]
pub struct PaperLook {
    /// Their paper.
    pub paper: Paper,
    /// The page in sight, from 1; 0 before one was chosen.
    pub page: usize,
    /// Where each goes, as typed or chosen.
    pub paths: BTreeMap<SheetKind, String>,
}
