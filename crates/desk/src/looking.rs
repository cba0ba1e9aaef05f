//! What is passing: how the user looks at the job. None of it is saved in the job or undone.

use std::collections::BTreeSet;

use egui::{Pos2, Rect, Vec2, pos2, vec2};
use strikeoff_core::separate::InkRequest;
use strikeoff_core::tune::Place;
use strikeoff_files::film::FilmOptions;

use crate::views::Lasso;

/// What the table shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum View {
    /// The proof: what the shirt will look like.
    Print,
    /// The client's picture at print size, as it should look on the garment.
    Art,
    /// One film as it will be.
    Screen,
    /// The real halftone.
    Dots,
    /// How far proof and art differ, CIEDE2000.
    Miss,
    /// Total ink.
    BuildUp,
    /// The proof on a bad day: screens stand off each other and print heavier and lighter.
    BadDay,
}

impl View {
    /// Those of the bar, in its order; the bad day is looked at from the findings.
    pub const ALL: [Self; 6] = [Self::Print, Self::Art, Self::Screen, Self::Dots, Self::Miss, Self::BuildUp];

    /// As the bar names it.
    pub fn label(self) -> &'static str {
        match self {
            Self::Print => "Print",
            Self::Art => "Art",
            Self::Screen => "Screen",
            Self::Dots => "Dots",
            Self::Miss => "Miss",
            Self::BuildUp => "Build-up",
            Self::BadDay => "Bad day",
        }
    }

    /// What it shows, in a sentence.
    pub fn hint(self) -> &'static str {
        match self {
            Self::Print => "The proof: the shown screens printed on the garment",
            Self::Art => "The artwork at print size on the garment, as it should look",
            Self::Screen => "The chosen screen as a film: black where ink will print",
            Self::Dots => "The films' own dots in ink; zoom in to see them. On press they grow",
            Self::Miss => "How far the proof is from the artwork, CIEDE2000",
            Self::BadDay => "The proof with screens off register and gain up and down",
            Self::BuildUp => "How much ink lies at each spot, all shown screens together",
        }
    }

    /// Whether it lies on the shirt; the others lie on the bare table.
    pub fn on_shirt(self) -> bool {
        matches!(self, Self::Print | Self::Art | Self::Dots | Self::BadDay)
    }
}

/// Which part of the table is seen. Lengths on the table are millimetres on the shirt, from the
/// middle of the collar, x to the right, y down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// What lies in the middle of the canvas.
    pub centre_mm: Pos2,
    /// Points of the window a millimetre.
    pub points_per_mm: f32,
    /// Keeps the whole shirt in sight when the window changes, until the user zooms or pans.
    pub fit: bool,
}

impl Camera {
    /// From the table to the canvas.
    pub fn to_canvas(self, canvas: Rect, mm: Pos2) -> Pos2 {
        canvas.center() + (mm - self.centre_mm) * self.points_per_mm
    }

    /// From the canvas to the table.
    pub fn to_table(self, canvas: Rect, at: Pos2) -> Pos2 {
        self.centre_mm + (at - canvas.center()) / self.points_per_mm
    }

    /// A rectangle on the table as seen on the canvas.
    pub fn rect(self, canvas: Rect, mm: Rect) -> Rect {
        Rect::from_min_max(self.to_canvas(canvas, mm.min), self.to_canvas(canvas, mm.max))
    }

    /// Zooms so that the spot under `at` stays where it is.
    pub fn zoom_at(&mut self, canvas: Rect, at: Pos2, factor: f32) {
        let under = self.to_table(canvas, at);
        self.points_per_mm = (self.points_per_mm * factor).clamp(0.1, 400.0);
        self.centre_mm = under - (at - canvas.center()) / self.points_per_mm;
        self.fit = false;
    }

    /// Moves the table with the pointer.
    pub fn pan(&mut self, by: Vec2) {
        self.centre_mm -= by / self.points_per_mm;
        self.fit = false;
    }

    /// Moves the table, and zooms out if it must, so that a rectangle of it is in sight; leaves it where it
    /// is if the rectangle is.
    pub fn bring(&mut self, canvas: Rect, mm: Rect) {
        let seen = self.rect(canvas, mm);
        if canvas.contains_rect(seen) {
            return;
        }
        if seen.width() > canvas.width() || seen.height() > canvas.height() {
            self.show(canvas, mm);
        }
        self.centre_mm = mm.center();
        self.fit = false;
    }

    /// Brings a rectangle of the table fully into sight, with a margin.
    pub fn show(&mut self, canvas: Rect, mm: Rect) {
        let room = (canvas.size() - vec2(24.0, 24.0)).max(vec2(10.0, 10.0));
        self.points_per_mm = (room / mm.size()).min_elem().clamp(0.1, 400.0);
        self.centre_mm = mm.center();
    }
}

/// A sheet lies over the window and wants an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    /// Open, new, recent.
    Start,
    /// What will be written, and where.
    Export,
    /// Ink sets from the shelf.
    Inks,
    /// Where the job is saved.
    Save,
    /// This window and this shop.
    Preferences,
    /// Commands by name.
    Find,
    /// Keys and commands.
    Keys,
    /// What this program is.
    About,
    /// Jobs that a killed window left.
    Recovered,
    /// What was lost of a damaged job.
    Lost,
    /// Which grey picture becomes a screen.
    Grey,
}

/// What the panel at the right shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Side {
    /// The chosen screen.
    #[default]
    Screen,
    /// How all screens are made.
    Separation,
    /// The list of edits.
    Edits,
    /// Named versions.
    Versions,
}

impl Side {
    /// All, in the order of their tabs.
    pub const ALL: [Self; 4] = [Self::Screen, Self::Separation, Self::Edits, Self::Versions];
}

/// How a new screen is to be added.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Adding {
    /// Whether all screens are separated again with it.
    pub resolve: bool,
    /// Where it prints.
    pub place: Place,
}

/// How the user looks at the job now.
#[derive(Debug, Clone)]
pub struct Looking {
    /// The view on the table.
    pub view: View,
    /// A second view right of the divider.
    pub against: Option<View>,
    /// Where the divider stands across the print, 0 left to 1 right.
    pub divider: f32,
    /// The chosen screen, by name.
    pub selected: Option<String>,
    /// Screens that are not shown, by name.
    pub hidden: BTreeSet<String>,
    /// Which garment the proof lies on, as a place in the document's list.
    pub garment: usize,
    /// Whether the shirt has folds and grain; off to judge colour.
    pub fabric: bool,
    /// The artwork is shown as long as this is held.
    pub peek: bool,
    /// Whether the loupe follows the pointer.
    pub loupe: bool,
    /// Whether frame and job times are shown.
    pub times: bool,
    /// The part of the table in sight.
    pub camera: Camera,
    /// What inks are to be chosen for: how many screens, which inks must be in or stay out.
    pub wanted: InkRequest,
    /// Folder for films, as typed or chosen.
    pub folder: String,
    /// What is written into it.
    pub films: FilmOptions,
    /// A path being typed on the start or the save sheet.
    pub typed: String,
    /// A zoom that waits for the canvas's size.
    pub goal: Option<crate::Command>,
    /// What is typed on the sheet of commands.
    pub finding: crate::views::Finding,
    /// Path of a shop profile, as typed.
    pub shop_file: String,
    /// The hint that is shown, from 0.
    pub tour: Option<usize>,
    /// The open sheet.
    pub sheet: Option<Sheet>,
    /// What the panel at the right shows.
    pub side: Side,
    /// The edit whose values are open, by its place in the list.
    pub open_edit: Option<usize>,
    /// Name and note of a version, as they are typed.
    pub version: [String; 2],
    /// Whether light makes ink in the grey picture that is brought in.
    pub grey_light: bool,
    /// A region that is being drawn on the table.
    pub lasso: Option<Lasso>,
    /// How a new screen is to be added.
    pub adding: Adding,
}

impl Looking {
    /// The view on the table and the one right of the divider. Held down on the thumbnail: the artwork alone,
    /// on the spot.
    pub fn views(&self) -> [Option<View>; 2] {
        if self.peek { [Some(View::Art), None] } else { [Some(self.view), self.against] }
    }
}

impl Default for Looking {
    fn default() -> Self {
        Self {
            view: View::Print,
            against: None,
            divider: 0.5,
            selected: None,
            hidden: BTreeSet::new(),
            garment: 0,
            fabric: true,
            peek: false,
            loupe: true,
            times: false,
            camera: Camera { centre_mm: pos2(0.0, 340.0), points_per_mm: 1.0, fit: true },
            wanted: InkRequest::default(),
            folder: String::new(),
            films: FilmOptions::default(),
            typed: String::new(),
            goal: None,
            shop_file: String::new(),
            tour: None,
            finding: crate::views::Finding::default(),
            sheet: None,
            side: Side::default(),
            open_edit: None,
            version: Default::default(),
            grey_light: false,
            lasso: None,
            adding: Adding { resolve: true, place: Place::Usual },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zoom_keeps_the_spot_under_the_pointer() {
        let canvas = Rect::from_min_size(pos2(200.0, 50.0), vec2(900.0, 700.0));
        let mut camera = Looking::default().camera;
        let pointer = pos2(333.0, 444.0);
        let before = camera.to_table(canvas, pointer);
        camera.zoom_at(canvas, pointer, 3.7);
        let after = camera.to_table(canvas, pointer);
        assert!((before - after).length() < 1e-3, "{before:?} {after:?}");
        assert!((camera.to_canvas(canvas, before) - pointer).length() < 1e-2);
    }

    #[test]
    fn show_brings_all_of_it_into_sight() {
        let canvas = Rect::from_min_size(pos2(0.0, 0.0), vec2(500.0, 400.0));
        let mut camera = Looking::default().camera;
        let mm = Rect::from_min_size(pos2(-300.0, -10.0), vec2(600.0, 750.0));
        camera.show(canvas, mm);
        assert!(canvas.contains_rect(camera.rect(canvas, mm)));
    }

    #[test]
    fn what_is_brought_is_in_sight_and_what_is_in_sight_stays() {
        let canvas = Rect::from_min_size(pos2(100.0, 50.0), vec2(500.0, 400.0));
        let mut camera = Looking::default().camera;
        camera.show(canvas, Rect::from_min_size(pos2(0.0, 0.0), vec2(100.0, 80.0)));
        let before = camera;
        camera.bring(canvas, Rect::from_min_size(pos2(10.0, 10.0), vec2(20.0, 20.0)));
        assert_eq!((camera.centre_mm, camera.points_per_mm), (before.centre_mm, before.points_per_mm));
        let beside = Rect::from_min_size(pos2(190.0, 300.0), vec2(20.0, 20.0));
        camera.bring(canvas, beside);
        assert!(canvas.contains_rect(camera.rect(canvas, beside)));
        assert_eq!(camera.points_per_mm, before.points_per_mm, "it fits without zooming");
        let large = Rect::from_min_size(pos2(-100.0, 0.0), vec2(200.0, 400.0));
        camera.bring(canvas, large);
        assert!(canvas.contains_rect(camera.rect(canvas, large)));
    }
}
