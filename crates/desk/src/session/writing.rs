//! Off the table into files: jobs, named versions, films, sheets.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::Context;
use strikeoff_core::Progress;
use strikeoff_core::findings::Outlook;
use strikeoff_core::job::{Job, Level, RunRecord};
use strikeoff_core::reorder::ShopState;
use strikeoff_core::screens::Screens;
use strikeoff_files::film::{FilmError, FilmOptions, write_films};
use strikeoff_files::job::NamedVersion;
use strikeoff_files::sheet::{Paper, SheetKind, SheetOf};
use strikeoff_files::text::missing_note;

use super::keeping::Seat;
use super::{Document, Evaluate};
use crate::background::{Lane, Manner};

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
        /// Its screens at the size of a proxy, if they are at hand: for the thumbnail.
        small: Option<Arc<Screens>>,
        /// The job's place on the disk, if it has one.
        seat: Option<Seat>,
        /// Where locks on jobs lie.
        locks: Option<PathBuf>,
    },
    /// Keep the job as it is under a name, with its screens.
    Version {
        /// The name.
        name: String,
        /// Whatever is worth knowing.
        note: String,
        /// The job.
        doc: Box<Document>,
        /// Its screens, if they are at hand at full size; else they are made first.
        screens: Option<Arc<Screens>>,
    },
    /// Write a run down and keep the job as it was printed.
    Run {
        /// The run.
        run: Box<RunRecord>,
        /// What the shop has.
        shop: Box<ShopState>,
        /// The job.
        doc: Box<Document>,
        /// Its screens, if they are at hand at full size; else they are made first.
        screens: Option<Arc<Screens>>,
    },
    /// Write a sheet.
    Sheet {
        /// Which.
        kind: SheetKind,
        /// Where.
        path: PathBuf,
        /// On which paper.
        paper: Paper,
        /// Of which job.
        job: Box<Job>,
        /// Its art and screens at full size.
        level: Arc<Level>,
        /// Its findings and facts.
        outlook: Arc<Outlook>,
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
    /// The job is saved.
    Job {
        /// Where.
        seat: Seat,
        /// What.
        doc: Box<Document>,
    },
    /// A version is kept of the job with this art.
    Version(Box<NamedVersion>, Arc<Vec<u8>>),
    /// A run of the job with this art, and the version that was printed if it is new.
    Run(Box<RunRecord>, Option<Box<NamedVersion>>, Arc<Vec<u8>>),
    /// So many films lie there; what a set that was stopped half way had left there, and letters that no
    /// font has.
    Films(usize, PathBuf, Vec<String>),
    /// A sheet lies there; letters that no font has.
    Sheet(SheetKind, PathBuf, Option<String>),
    /// It failed, in one sentence.
    Failed(String),
}

/// The lane that writes. It says nothing when the user stopped it.
pub fn write_lane(ctx: &Context) -> Lane<Write, Written> {
    Lane::new("write", ctx, Manner::FinishFirst, |work, progress| match work {
        Write::Job { path, doc, screens, small, seat, locks } => {
            let mut file = doc.to_file(screens.as_deref());
            if let Some(small) = small {
                file.make_thumbnail(&small);
            }
            Some(match Seat::save(seat.as_ref(), &path, &file, locks.as_deref()) {
                Ok(seat) => Written::Job { seat, doc },
                Err(text) => Written::Failed(text),
            })
        }
        Write::Version { name, note, doc, screens } => version(&name, &note, &doc, screens, progress),
        Write::Run { run, shop, doc, screens } => self::run(*run, *shop, &doc, screens, progress),
        Write::Sheet { kind, path, paper, job, level, outlook } => {
            let (job, screens) = (&job.seen_on(0), &*job.printed(&level.screens));
            let of = SheetOf { job, prepared: &level.prepared, screens, outlook: &outlook };
            Some(match of.write(kind, &path, paper) {
                Ok(missing) => Written::Sheet(kind, path, missing_note(&missing)),
                Err(error) => Written::Failed(error.to_string()),
            })
        }
        Write::Films { folder, doc, screens, options } => films(&folder, &doc, screens, &options, progress),
    })
}

/// The job's screens at full size, made if they are not at hand. `Err(None)`: stopped.
fn screens_of(
    doc: &Document,
    screens: Option<Arc<Screens>>,
    progress: &Progress,
) -> Result<Arc<Screens>, Option<String>> {
    if let Some(screens) = screens {
        return Ok(screens);
    }
    match Evaluate::new(doc).full(progress) {
        Ok(screens) => Ok(screens),
        Err(_) if progress.step("screens", 0.0).is_err() => Err(None),
        Err(error) => Err(Some(error.to_string())),
    }
}

fn version(
    name: &str,
    note: &str,
    doc: &Document,
    screens: Option<Arc<Screens>>,
    progress: &Progress,
) -> Option<Written> {
    let screens = match screens_of(doc, screens, progress) {
        Ok(screens) => screens,
        Err(why) => return why.map(Written::Failed),
    };
    let mut file = doc.to_file(Some(&screens));
    let kept = file.keep_version(name, note, &strikeoff_files::today());
    Some(match (kept, file.versions.pop()) {
        (Ok(()), Some(version)) => Written::Version(Box::new(version), doc.art_bytes.clone()),
        (Err(error), _) => Written::Failed(error.to_string()),
        (Ok(()), None) => unreachable!("a version was just kept"),
    })
}

fn run(
    run: RunRecord,
    shop: ShopState,
    doc: &Document,
    screens: Option<Arc<Screens>>,
    progress: &Progress,
) -> Option<Written> {
    let screens = match screens_of(doc, screens, progress) {
        Ok(screens) => screens,
        Err(why) => return why.map(Written::Failed),
    };
    let mut file = doc.to_file(Some(&screens));
    let before = file.versions.len();
    Some(match file.keep_run(run, shop) {
        Err(error) => Written::Failed(error.to_string()),
        Ok(()) => {
            let new = file.versions.drain(before..).next().map(Box::new);
            let Some(run) = file.job.info.runs.pop() else { unreachable!("a run was just kept") };
            Written::Run(Box::new(run), new, doc.art_bytes.clone())
        }
    })
}

fn films(
    folder: &Path,
    doc: &Document,
    screens: Option<Arc<Screens>>,
    options: &FilmOptions,
    progress: &Progress,
) -> Option<Written> {
    let screens = match screens_of(doc, screens, progress) {
        Ok(screens) => screens,
        Err(why) => return why.map(Written::Failed),
    };
    match write_films(&doc.job, &screens, folder, options, progress) {
        Ok(set) => {
            let notes = set.found.into_iter().chain(missing_note(&set.missing)).collect();
            Some(Written::Films(set.films.len(), folder.to_owned(), notes))
        }
        Err(FilmError::Cancelled(_)) => None,
        Err(error) => Some(Written::Failed(error.to_string())),
    }
}
