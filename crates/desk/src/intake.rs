//! Files onto the bench and off it: dialogs of the system, opening, saving and film making, each
//! on its own lane so that the window never waits. A dialog may be missing (no portal on the
//! machine): the sheets then take a typed path.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::Context;
use strikeoff_core::Progress;
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::job::{Art, Detail, Job, Screens};
use strikeoff_core::separate::PlannedScreen;
use strikeoff_files::art::decode_art;
use strikeoff_files::film::{FilmError, FilmOptions, write_films};
use strikeoff_files::job::{JOB_EXTENSION, JobFile, open_job, save_job};

use crate::chain::Chain;
use crate::work::{Lane, Manner};
use crate::{Document, Shop};

/// What to ask the user for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ask {
    /// A picture or a job.
    File,
    /// A folder for films.
    Folder,
    /// Where to save the job.
    Save,
}

/// The lane that shows the system's dialogs; it answers with the choice, if there was one.
pub fn dialog_lane(ctx: &Context) -> Lane<Ask, (Ask, Option<PathBuf>)> {
    Lane::new("dialog", ctx, Manner::FinishFirst, |ask, _| {
        let dialog = rfd::FileDialog::new();
        let pictures = ["png", "jpg", "jpeg", "tif", "tiff", "webp", "svg", "pdf", JOB_EXTENSION];
        let chosen = match ask {
            Ask::File => {
                dialog.set_title("Open a picture or a job").add_filter("Pictures and jobs", &pictures).pick_file()
            }
            Ask::Folder => dialog.set_title("Folder for the films").pick_folder(),
            Ask::Save => dialog.set_title("Save the job").add_filter("Jobs", &[JOB_EXTENSION]).save_file(),
        };
        Some((ask, chosen))
    })
}

/// The lane that reads files; it answers with a document or one sentence.
pub fn open_lane(ctx: &Context, shop: Arc<Shop>) -> Lane<PathBuf, Result<Document, String>> {
    Lane::new("open", ctx, Manner::FinishFirst, move |path: PathBuf, _| Some(open(&path, &shop)))
}

fn open(path: &Path, shop: &Shop) -> Result<Document, String> {
    let is_job = path.extension().is_some_and(|e| e.eq_ignore_ascii_case(JOB_EXTENSION));
    if is_job {
        let file = open_job(path).map_err(|error| error.to_string())?;
        let art = file.art().map_err(|error| error.to_string())?;
        let mut doc = Document::new(file.job, art, file.art_name, file.art_bytes);
        doc.path = Some(path.to_owned());
        return Ok(doc);
    }
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    let bytes = std::fs::read(path).map_err(|error| format!("cannot read {}: {error}", path.display()))?;
    let art = decode_art(&name, &bytes).map_err(|error| error.to_string())?;
    Ok(new_document(art, &name, bytes, shop))
}

/// A new job for a picture: on white, as large as the art says, six ordinary inks.
fn new_document(art: Art, name: &str, bytes: Vec<u8>, shop: &Shop) -> Document {
    let white = shop.garments.iter().find(|g| g.is_white()).cloned();
    let garment = white.unwrap_or_else(|| Garment::of_color(strikeoff_core::color::Rgb8([255; 3])));
    let mut job = Job::new(garment);
    job.info.title = name.rsplit_once('.').map_or(name, |(stem, _)| stem).to_owned();
    job.separation.screens = first_inks(shop).into_iter().map(PlannedScreen::of_ink).collect();
    Document::new(job, art, name, bytes)
}

/// Black, a red, a yellow, a blue, a green and a white: something to look at until the user
/// chooses inks for this picture.
fn first_inks(shop: &Shop) -> Vec<Ink> {
    let of_role = |role| shop.shelf.inks.iter().find(|ink| ink.role == role);
    let nearest = |want: [u8; 3]| {
        let distance = |ink: &&Ink| {
            ink.over_white.0.iter().zip(want).map(|(&a, b)| (i32::from(a) - i32::from(b)).pow(2)).sum::<i32>()
        };
        shop.shelf.inks.iter().filter(|ink| ink.role == InkRole::Color).min_by_key(distance)
    };
    let wanted = [
        of_role(InkRole::Black),
        nearest([200, 40, 45]),
        nearest([250, 215, 60]),
        nearest([35, 80, 170]),
        nearest([30, 140, 90]),
        of_role(InkRole::White),
    ];
    let mut inks: Vec<Ink> = Vec::new();
    for ink in wanted.into_iter().flatten() {
        if inks.iter().all(|other| other.name != ink.name) {
            inks.push(ink.clone());
        }
    }
    inks
}

/// Work that ends in files.
pub enum Write {
    /// Save the job.
    Job {
        /// Where.
        path: PathBuf,
        /// What.
        doc: Box<Document>,
        /// Its screens, if they are at hand at full size.
        screens: Option<Arc<Screens>>,
    },
    /// Make the films.
    Films {
        /// Where.
        folder: PathBuf,
        /// Of what.
        doc: Box<Document>,
        /// Its screens, if they are at hand at full size; else they are made first.
        screens: Option<Arc<Screens>>,
        /// What is written.
        options: FilmOptions,
    },
}

/// What came of it.
pub enum Written {
    /// The job is saved there.
    Job(PathBuf),
    /// So many films lie there.
    Films(usize, PathBuf),
    /// It failed, in one sentence.
    Failed(String),
}

/// The lane that writes. It says nothing when the user stopped it.
pub fn write_lane(ctx: &Context) -> Lane<Write, Written> {
    Lane::new("write", ctx, Manner::FinishFirst, |work, progress| match work {
        Write::Job { path, doc, screens } => Some(save(path, *doc, screens.as_deref())),
        Write::Films { folder, doc, screens, options } => films(&folder, &doc, screens, &options, progress),
    })
}

fn save(path: PathBuf, doc: Document, screens: Option<&Screens>) -> Written {
    let bytes = Arc::unwrap_or_clone(doc.art_bytes);
    let mut file = JobFile::new(doc.job, doc.art_name, bytes);
    if let Some(screens) = screens {
        file.keep_screens(screens.clone());
    }
    match save_job(&path, &file) {
        Ok(()) => Written::Job(path),
        Err(error) => Written::Failed(error.to_string()),
    }
}

fn films(
    folder: &Path,
    doc: &Document,
    screens: Option<Arc<Screens>>,
    options: &FilmOptions,
    progress: &Progress,
) -> Option<Written> {
    let screens = match screens {
        Some(screens) => screens,
        None => match Chain::default().evaluate(&doc.job, &doc.art, Detail::Full, progress) {
            Ok(level) => level.screens,
            Err(_) if progress.step("films", 0.0).is_err() => return None,
            Err(error) => return Some(Written::Failed(error.to_string())),
        },
    };
    match write_films(&doc.job, &screens, folder, options, progress) {
        Ok(set) => Some(Written::Films(set.films.len(), folder.to_owned())),
        Err(FilmError::Cancelled(_)) => None,
        Err(error) => Some(Written::Failed(error.to_string())),
    }
}
