//! Files onto the table: dialogs of the system and opening, on lanes of their own so that the window
//! never waits. A dialog may be missing (no portal on the machine): the sheets then take a typed path.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::Context;
use strikeoff_core::Progress;
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::tune::GreyPicture;
use strikeoff_files::begin::{ReceivedFile, begin_job};
use strikeoff_files::job::{JOB_EXTENSION, JobFile, JobFileError, Recoverable, open_job, read_grey, recover_job};
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::sheet::SheetKind;

use super::keeping::Seat;
use super::{Document, Shop};
use crate::background::{Lane, Manner};

/// What to ask the user for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ask {
    /// A picture or a job.
    File,
    /// A folder for films.
    Folder,
    /// Where a sheet goes.
    Sheet(SheetKind),
    /// Where to save the job.
    Save,
    /// A grey picture for a screen.
    Grey,
}

/// What came of a dialog.
pub enum Chosen {
    /// A path.
    Path(PathBuf),
    /// It was closed without a choice.
    Nothing,
    /// The system showed none.
    NoDialog,
}

/// A dialog that ends sooner was never shown: the library says "no choice" for a system without
/// dialogs too, and nobody closes one this fast.
const SHOWN_AT_LEAST: Duration = Duration::from_millis(250);

/// The lane that shows the system's dialogs.
pub fn dialog_lane(ctx: &Context) -> Lane<Ask, (Ask, Chosen)> {
    Lane::new("dialog", ctx, Manner::FinishFirst, |ask, _| {
        let dialog = rfd::FileDialog::new();
        let opened = Instant::now();
        let pictures = ["png", "jpg", "jpeg", "tif", "tiff", "webp", "bmp", "gif", "svg", "pdf", JOB_EXTENSION];
        let chosen = match ask {
            Ask::File => {
                dialog.set_title("Open a picture or a job").add_filter("Pictures and jobs", &pictures).pick_file()
            }
            Ask::Grey => {
                dialog.set_title("Grey picture for a screen").add_filter("Pictures", &pictures[..8]).pick_file()
            }
            Ask::Sheet(kind) => dialog
                .set_title(format!("Where the {} goes", kind.title()))
                .add_filter("Sheets", kind.endings())
                .save_file(),
            Ask::Folder => dialog.set_title("Folder for the films").pick_folder(),
            Ask::Save => dialog.set_title("Save the job").add_filter("Jobs", &[JOB_EXTENSION]).save_file(),
        };
        let chosen = match chosen {
            Some(path) => Chosen::Path(path),
            None if opened.elapsed() < SHOWN_AT_LEAST => Chosen::NoDialog,
            None => Chosen::Nothing,
        };
        Some((ask, chosen))
    })
}

/// What to open.
pub enum Open {
    /// A picture or a job.
    File {
        /// Where it is.
        path: PathBuf,
        /// Where locks on jobs lie.
        locks: Option<PathBuf>,
        /// The shop's defaults for a new job.
        profile: Box<ShopProfile>,
    },
    /// A job that a killed window left.
    Recovered {
        /// The job.
        job: Box<Recoverable>,
        /// Where locks on jobs lie.
        locks: Option<PathBuf>,
    },
}

/// Why nothing was opened.
pub struct NotOpened {
    /// In one sentence.
    pub why: String,
    /// The recovered job, which stays on offer.
    pub recovered: Option<Box<Recoverable>>,
}

/// What came of it.
pub enum Opened {
    /// A new job for a picture.
    Picture(Box<Document>),
    /// A job.
    Job {
        /// The job.
        doc: Box<Document>,
        /// Its place on the disk; none if it was damaged and must be saved elsewhere.
        seat: Option<Seat>,
        /// Something to know.
        note: Option<String>,
        /// What was lost, a sentence each.
        lost: Vec<String>,
    },
    /// A job without its artwork, and why.
    Orphan(Box<JobFile>, String),
    /// A job that a killed window left.
    Recovered {
        /// The job.
        doc: Box<Document>,
        /// Its place on the disk, if its file is as it was.
        seat: Option<Seat>,
        /// Something to know.
        note: String,
        /// What it was recovered from.
        job: Box<Recoverable>,
    },
}

/// The lane that opens.
///
/// With what was opened comes the file's path, for the list of recent ones.
pub fn open_lane(ctx: &Context, shop: Arc<Shop>) -> Lane<Open, Result<(Opened, Option<PathBuf>), NotOpened>> {
    Lane::new("open", ctx, Manner::FinishFirst, move |open: Open, progress| {
        Some(match open {
            Open::Recovered { job, locks } => {
                open_recovered(job, locks.as_deref(), progress).map(|opened| (opened, None))
            }
            Open::File { path, locks, profile } => {
                let is_job = path.extension().is_some_and(|e| e.eq_ignore_ascii_case(JOB_EXTENSION));
                let opened = if is_job {
                    open_job_file(&path, locks.as_deref(), progress)
                } else {
                    open_picture(&path, &shop, &profile, progress).map(|doc| Opened::Picture(Box::new(doc)))
                };
                opened.map(|opened| (opened, Some(path))).map_err(|why| NotOpened { why, recovered: None })
            }
        })
    })
}

/// Opens a job that a killed window left.
fn open_recovered(job: Box<Recoverable>, locks: Option<&Path>, progress: &Progress) -> Result<Opened, NotOpened> {
    let art = match job.file.received_watched(progress).map(|received| received.art) {
        Ok(art) => art,
        Err(error) => return Err(NotOpened { why: error.to_string(), recovered: Some(job) }),
    };
    let mut doc = Document::of_file(job.file.clone(), art);
    // A file that was saved by somebody since is not this job's any more.
    let own = job.origin.clone().filter(|path| {
        let since = path.metadata().and_then(|m| m.modified()).ok();
        since.is_some_and(|since| job.written.is_some_and(|written| since <= written))
    });
    doc.path.clone_from(&own);
    let (seat, note) = match (own, &job.origin) {
        (Some(path), _) => {
            let (seat, elsewhere) = Seat::take(&path, locks);
            (Some(seat), elsewhere)
        }
        (None, Some(path)) => {
            let moved = "was changed or moved since; save the recovered job under another name";
            (None, Some(format!("{} {moved}", path.display())))
        }
        (None, None) => (None, None),
    };
    let note = note.unwrap_or_else(|| "Recovered what was not saved".to_owned());
    Ok(Opened::Recovered { doc: Box::new(doc), seat, note, job })
}

/// The lane that reads grey pictures.
pub fn grey_lane(ctx: &Context) -> Lane<PathBuf, Result<GreyPicture, String>> {
    Lane::new("grey picture", ctx, Manner::FinishFirst, |path: PathBuf, _| {
        Some(read_grey(&path).map_err(|error| error.to_string()))
    })
}

/// Opens a job; of a damaged one, what is left.
fn open_job_file(path: &Path, locks: Option<&Path>, progress: &Progress) -> Result<Opened, String> {
    // Before it is read: what somebody saves while the artwork is decoded must differ from the stamp.
    let (seat, elsewhere) = Seat::take(path, locks);
    let (mut file, whole) = match open_job(path) {
        Ok(file) => (file, true),
        Err(error @ (JobFileError::Damaged { .. } | JobFileError::Settings { .. })) => match recover_job(path) {
            Ok(file) => (file, false),
            Err(_) => return Err(error.to_string()),
        },
        Err(error) => return Err(error.to_string()),
    };
    let received = match file.received_watched(progress) {
        Ok(received) => received,
        Err(error) if whole => return Err(error.to_string()),
        Err(_) => {
            let name = path.file_name().unwrap_or_default().display();
            let said = format!(
                "{name} has lost its artwork; open the client's picture, and the job's settings are used on it"
            );
            return Ok(Opened::Orphan(Box::new(file), said));
        }
    };
    let lost = std::mem::take(&mut file.lost);
    let note = file.screens_from().note();
    let mut doc = Document::of_file(file, received.art);
    doc.facts = Some(Arc::new(received.facts));
    if !whole {
        let note = Some(format!("{} is damaged; what is left of it was opened, save it under a name", path.display()));
        return Ok(Opened::Job { doc: Box::new(doc), seat: None, note, lost });
    }
    doc.path = Some(path.to_owned());
    Ok(Opened::Job { doc: Box::new(doc), seat: Some(seat), note: elsewhere.or(note), lost })
}

/// A new job for a picture: on white, as large as the shop's usual platen takes, six ordinary inks.
fn open_picture(path: &Path, shop: &Shop, profile: &ShopProfile, progress: &Progress) -> Result<Document, String> {
    let picture = ReceivedFile::read(path, 1, progress).map_err(|error| error.to_string())?;
    let white = shop.garments.iter().find(|g| g.is_white()).cloned();
    let garment = white.unwrap_or_else(|| Garment::of_color(strikeoff_core::color::Rgb8([255; 3])));
    let mut job = begin_job(&picture.name, garment, first_inks(shop), profile, |_| Ok::<(), String>(()))?;
    // A shop without platens keeps the art's own size.
    if !profile.platens.is_empty() {
        profile.fit_platen(&mut job, None)?;
    }
    let mut doc = Document::new(job, picture.received.art, &picture.name, picture.bytes);
    doc.facts = Some(Arc::new(picture.received.facts));
    Ok(doc)
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
    let starting = [
        of_role(InkRole::Black),
        nearest([200, 40, 45]),
        nearest([250, 215, 60]),
        nearest([35, 80, 170]),
        nearest([30, 140, 90]),
        of_role(InkRole::White),
    ];
    let mut inks: Vec<Ink> = Vec::new();
    for ink in starting.into_iter().flatten() {
        if inks.iter().all(|other| other.name != ink.name) {
            inks.push(ink.clone());
        }
    }
    inks
}

#[cfg(test)]
mod tests {
    use super::*;
    use strikeoff_files::demo;
    use strikeoff_files::job::save_job;

    #[test]
    fn what_another_program_saves_while_a_job_opens_is_not_overwritten() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("fair.strikeoff");
        let titled = |title: &str| {
            let mut job = demo::demo_job_on_white();
            job.info.title = title.into();
            JobFile::new(job, demo::DEMO_ART_NAME, demo::demo_art_png())
        };
        let mut between = 0;
        for wait_ms in 0..12 {
            save_job(&path, &titled("mine")).unwrap();
            let (other, theirs) = (path.clone(), titled("theirs"));
            let saving = std::thread::spawn(move || {
                std::thread::sleep(Duration::from_millis(wait_ms * 3));
                save_job(&other, &theirs).unwrap();
            });
            let opened = open_job_file(&path, None, &Progress::none()).unwrap();
            saving.join().unwrap();
            let Opened::Job { doc, seat, .. } = opened else { panic!("the job is whole") };
            if doc.job.info.title == "mine" {
                between += 1;
                let error = Seat::save(seat.as_ref(), &path, &titled("mine again"), None).unwrap_err();
                assert!(error.contains("changed on disk"), "{error}");
            }
        }
        assert!(between > 0, "nothing was ever saved in between");
    }
}
