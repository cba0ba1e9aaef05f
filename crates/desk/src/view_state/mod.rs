//! What is passing: how the user looks at the job. None of it is saved in the job or undone.

mod camera;
mod panels;

pub use camera::{Camera, Zoom};
pub use panels::{
    Adding, AheadLook, ArtLook, CostsLook, InkDraft, JobsLook, Lasso, Moved, Note, PaperLook, PressLook, RoomLook,
    RunDraft, Seen, Typed,
};

use std::collections::BTreeSet;
use std::path::PathBuf;
use strikeoff_core::screens::ScreenName;

use strikeoff_core::separate::InkRequest;
use strikeoff_core::tune::Place;
use strikeoff_files::film::FilmOptions;
use strikeoff_files::sheet::SheetKind;

use crate::render::View;

/// A sheet lies over the window and wants an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    /// Open, new, recent.
    Start,
    /// The jobs of a folder.
    Jobs,
    /// Client, order, due date, sizes.
    Ticket,
    /// Minutes, cost and price.
    Quote,
    /// Runs, and the fields for the next.
    Run,
    /// What has changed since it was printed.
    Reorder,
    /// Films: what will be written, and where.
    Export,
    /// What else can be made of the job: a look at it, and where it goes.
    Paper(SheetKind),
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
    /// The shop's inks and garments.
    InkRoom,
    /// Which of several dropped files is opened.
    Dropped,
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

/// How the user looks at the job now.
#[derive(Debug, Clone)]
pub struct Scratch {
    /// The view on the table.
    pub view: View,
    /// A second view right of the divider.
    pub against: Option<View>,
    /// Where the divider stands across the print, 0 left to 1 right.
    pub divider: f32,
    /// The chosen screen, by name.
    pub selected: Option<ScreenName>,
    /// Screens that are not shown, by name.
    pub hidden: BTreeSet<ScreenName>,
    /// Which garment the proof lies on, as a place in the document's list.
    pub garment: usize,
    /// Whether the shirt has folds and grain; off to judge colour.
    pub fabric: bool,
    /// The artwork is shown as long as this is held.
    pub peek: bool,
    /// Whether the loupe follows the pointer.
    pub loupe: bool,
    /// Where the loupe measures dots, in thousandths of the print.
    pub measured_at: Option<[u16; 2]>,
    /// Whether frame and job times are shown.
    pub times: bool,
    /// The part of the table in sight.
    pub camera: Camera,
    /// What inks are to be chosen for: how many screens, which inks must be in or stay out.
    pub request: InkRequest,
    /// Folder for films, as typed or chosen.
    pub folder: String,
    /// What is written into it.
    pub films: FilmOptions,
    /// Whether film sets are compared.
    pub film_sets: bool,
    /// How sheets are looked at, and where they go.
    pub paper: PaperLook,
    /// Quantities of the quote, as typed.
    pub quantities: String,
    /// Why what the open sheet was to write is not there.
    pub fault: Option<String>,
    /// Files that were dropped together.
    pub dropped: Vec<PathBuf>,
    /// A path being typed on the start or the save sheet.
    pub typed: String,
    /// A zoom that waits for the canvas's size.
    pub goal: Option<Zoom>,
    /// What is typed on the sheet of commands.
    pub palette: Typed,
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
    /// How jobs are looked for.
    pub jobs: JobsLook,
    /// A run, as it is typed.
    pub run: RunDraft,
    /// The run that is reordered, from 1; none: the latest.
    pub reordered: Option<usize>,
    /// Name and note of a version, as they are typed.
    pub version: [String; 2],
    /// Whether light makes ink in the grey picture that is brought in.
    pub grey_light: bool,
    /// A region that is being drawn on the table.
    pub lasso: Option<Lasso>,
    /// How a new screen is to be added.
    pub adding: Adding,
    /// The version whose differences are shown.
    pub version_shown: Option<String>,
    /// How the artwork is looked at.
    pub art: ArtLook,
    /// How the findings are looked at.
    pub ahead: AheadLook,
    /// How fingerprints of the press are looked at.
    pub press: PressLook,
    /// How the ink room is looked at.
    pub room: RoomLook,
    /// Which costs are looked at.
    pub costs: CostsLook,
    /// What was said last.
    pub note: Option<Note>,
    /// What the table showed when it was drawn last.
    pub seen: Seen,
}

impl Scratch {
    /// How a new document is looked at: what belongs to the window stays, what belongs to the old job goes.
    pub fn for_document(&self, garment: usize) -> Self {
        Self {
            garment,
            fabric: self.fabric,
            loupe: self.loupe,
            measured_at: None,
            times: self.times,
            tour: self.tour,
            note: self.note.clone(),
            // A job opened at the start does not hide the offer of one that was lost.
            sheet: self.sheet.filter(|sheet| *sheet == Sheet::Recovered),
            costs: CostsLook { inks: false, ..self.costs },
            ahead: AheadLook { shown: None, moved: None, bring: None, ..self.ahead.clone() },
            press: self.press.clone(),
            seen: Seen { canvas_px: self.seen.canvas_px, ..Seen::default() },
            ..Self::default()
        }
    }

    /// The view on the table and the one right of the divider. Held down on the thumbnail: the artwork alone,
    /// on the spot.
    pub fn views(&self) -> [Option<View>; 2] {
        if self.peek { [Some(View::Art), None] } else { [Some(self.view), self.against] }
    }
}

impl Default for Scratch {
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
            measured_at: None,
            times: false,
            camera: Camera::default(),
            request: InkRequest::default(),
            folder: String::new(),
            films: FilmOptions::default(),
            film_sets: false,
            paper: PaperLook::default(),
            quantities: String::new(),
            fault: None,
            dropped: Vec::new(),
            typed: String::new(),
            goal: None,
            shop_file: String::new(),
            tour: None,
            palette: Typed::default(),
            sheet: None,
            side: Side::default(),
            open_edit: None,
            jobs: JobsLook::default(),
            run: RunDraft::default(),
            reordered: None,
            version: Default::default(),
            grey_light: false,
            lasso: None,
            adding: Adding { resolve: true, place: Place::Usual },
            version_shown: None,
            art: ArtLook::default(),
            ahead: AheadLook::default(),
            press: PressLook::default(),
            room: RoomLook::default(),
            costs: CostsLook::default(),
            note: None,
            seen: Seen::default(),
        }
    }
}
