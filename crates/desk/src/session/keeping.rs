//! Nothing is lost: every change goes to the recovery folder once the user has paused, what a
//! killed window left is offered, and two windows on one job see each other. All files are
//! touched on a thread of their own, in the order in which they were requested.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::Instant;

use egui::Context;
use strikeoff_files::job::{Autosave, JobFile, JobFileError, JobLock, Recoverable, Stamp, recoverable};

use super::{Document, Revision};

/// What the keeper is to do.
pub enum Ask {
    /// Look for jobs that a killed window left.
    Look,
    /// Write the document as it stands at a revision.
    Write {
        /// Its state.
        revision: Revision,
        /// The document.
        doc: Box<Document>,
    },
    /// The job is as in the file at its place: nothing is left to recover.
    Saved(Option<PathBuf>),
    /// Another job comes onto the bench; an unsaved one stays to be offered.
    Leave,
    /// A recovered job is on the bench and written again: its old file is not needed any more.
    Discard(Box<Recoverable>),
}

/// What the keeper has to say.
pub enum Report {
    /// Jobs that a killed window left, and why others cannot be had.
    Found(Vec<Recoverable>, Vec<String>),
    /// The job that went off the bench unsaved.
    Left(Vec<Recoverable>),
    /// This state is written.
    Written(Revision),
    /// Something failed, in one sentence.
    Failed(String),
}

/// The thread with the recovery folder.
pub struct Keeper {
    asks: Option<Sender<Ask>>,
    reports: Receiver<Report>,
    thread: Option<JoinHandle<()>>,
    folder: PathBuf,
}

impl Keeper {
    /// Starts it on a folder and looks for what is left there.
    pub fn new(folder: PathBuf, ctx: &Context) -> Self {
        let (asks, waiting) = channel::<Ask>();
        let (report, reports) = channel();
        let (ctx, place) = (ctx.clone(), folder.clone());
        let body = move || {
            let mut autosave = None;
            while let Some(list) = next(&waiting) {
                for ask in list {
                    if let Some(answer) = answer(ask, &place, &mut autosave)
                        && report.send(answer).is_err()
                    {
                        return;
                    }
                    ctx.request_repaint();
                }
            }
        };
        let thread = thread::Builder::new().name("keep".to_owned()).spawn(body);
        let keeper = Self { asks: Some(asks), reports, thread: thread.ok(), folder };
        keeper.ask(Ask::Look);
        keeper
    }

    /// Asks for something; answers come later.
    pub fn ask(&self, ask: Ask) {
        if let Some(asks) = &self.asks {
            // It fails only when the thread is gone with the program.
            let _ = asks.send(ask);
        }
    }

    /// What was answered since the last call.
    pub fn reports(&self) -> Vec<Report> {
        self.reports.try_iter().collect()
    }

    /// The recovery folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }
}

impl Drop for Keeper {
    /// Waits until all that was requested is done, so that a window that closes loses nothing.
    fn drop(&mut self) {
        self.asks = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// What waits, of writes only the newest.
fn next(waiting: &Receiver<Ask>) -> Option<Vec<Ask>> {
    let mut list = vec![waiting.recv().ok()?];
    for ask in waiting.try_iter() {
        if matches!((&ask, list.last()), (Ask::Write { .. }, Some(Ask::Write { .. }))) {
            list.pop();
        }
        list.push(ask);
    }
    Some(list)
}

fn answer(ask: Ask, folder: &Path, autosave: &mut Option<Autosave>) -> Option<Report> {
    let failed = |error: &dyn std::fmt::Display| Some(Report::Failed(format!("no recovery copy is kept: {error}")));
    match ask {
        Ask::Look => {
            let (jobs, broken) = recoverable(folder);
            Some(Report::Found(jobs, broken.iter().map(JobFileError::to_string).collect()))
        }
        Ask::Write { revision, doc } => {
            let now = Instant::now();
            let file = doc.to_file(None);
            let mut keeper = match autosave.take() {
                Some(keeper) => keeper,
                None => match Autosave::new(folder, doc.path.as_deref(), 0, now) {
                    Ok(keeper) => keeper,
                    Err(error) => return failed(&error),
                },
            };
            let written = keeper.write(&file);
            *autosave = Some(keeper);
            match written {
                Ok(()) => Some(Report::Written(revision)),
                Err(error) => failed(&error),
            }
        }
        Ask::Saved(origin) => {
            let gone = match (autosave.take(), origin) {
                (Some(mut keeper), Some(path)) => {
                    let gone = keeper.saved(&path);
                    *autosave = Some(keeper);
                    gone
                }
                (Some(keeper), None) => keeper.close(),
                (None, _) => Ok(()),
            };
            gone.err().and_then(|error| failed(&error))
        }
        Ask::Leave => {
            let keeper = autosave.take()?;
            keeper.leave();
            // All others are held: by their windows, or by the list of those found before.
            Some(Report::Left(recoverable(folder).0))
        }
        Ask::Discard(job) => job.discard().err().and_then(|error| failed(&error)),
    }
}

/// A job's place on the disk: what the file was when it was opened or saved last, and the lock that
/// other windows see.
#[derive(Debug, Clone)]
pub struct Seat {
    /// The job file.
    pub path: PathBuf,
    stamp: Stamp,
    lock: Option<Arc<JobLock>>,
}

impl Seat {
    /// Takes the seat of a job that is opened. Locks lie in `locks`; without such a folder only
    /// changes on the disk are seen. The sentence says that another window has the job.
    pub fn take(path: &Path, locks: Option<&Path>) -> (Self, Option<String>) {
        let stamp = Stamp::of(path);
        let seat = |lock| Self { path: path.to_owned(), stamp, lock };
        match locks.map(|folder| JobLock::take(folder, path)) {
            None => (seat(None), None),
            Some(Ok(Some(lock))) => (seat(Some(Arc::new(lock))), None),
            Some(Ok(None)) => (seat(None), Some(elsewhere(path))),
            Some(Err(error)) => (seat(None), Some(format!("other windows cannot be seen: {error}"))),
        }
    }

    /// Saves a job: on this seat if it is that of `path`, else on a new one, which is given back.
    /// Refused if another window has the job or the file has changed since this seat was taken.
    pub fn save(held: Option<&Self>, path: &Path, file: &JobFile, locks: Option<&Path>) -> Result<Self, String> {
        let mut seat = match held.filter(|seat| seat.path == path) {
            Some(seat) => seat.clone(),
            None => Self { path: path.to_owned(), stamp: Stamp::of(path), lock: None },
        };
        if let (None, Some(folder)) = (&seat.lock, locks) {
            match JobLock::take(folder, path) {
                Ok(Some(lock)) => seat.lock = Some(Arc::new(lock)),
                Ok(None) => return Err(elsewhere(path)),
                Err(error) => return Err(error.to_string()),
            }
        }
        seat.stamp.save(path, file).map_err(|error| error.to_string())?;
        Ok(seat)
    }
}

fn elsewhere(path: &Path) -> String {
    format!("{} is open in another window; save under another name, or close it there first", path.display())
}

#[cfg(test)]
mod tests {
    use super::*;
    use strikeoff_core::color::Rgb8;
    use strikeoff_core::ink::Garment;
    use strikeoff_core::job::Job;
    use strikeoff_core::raster::Art;
    use strikeoff_core::raster::{Picture, Plane};
    use strikeoff_core::units::Ppi;
    use strikeoff_files::job::{open_job, save_job};

    fn file(title: &str) -> JobFile {
        let mut job = Job::new(Garment::of_color(Rgb8([255; 3])));
        job.info.title = title.into();
        JobFile::new(job, "a.png", vec![1])
    }

    #[test]
    fn a_job_open_twice_is_saved_by_one_window_only() {
        let dir = tempfile::tempdir().unwrap();
        let (path, locks) = (dir.path().join("a.strikeoff"), dir.path().join("locks"));
        save_job(&path, &file("first")).unwrap();
        let (first, said) = Seat::take(&path, Some(&locks));
        assert_eq!(said, None);
        let (yours, said) = Seat::take(&path, Some(&locks));
        assert!(said.unwrap().contains("another window"));
        let error = Seat::save(Some(&yours), &path, &file("yours"), Some(&locks)).unwrap_err();
        assert!(error.contains("another window"), "{error}");
        let mine = Seat::save(Some(&first), &path, &file("mine"), Some(&locks)).unwrap();
        assert_eq!(open_job(&path).unwrap().job.info.title, "mine");
        // The other window closes; the first one's change is still noticed.
        drop((first, mine));
        let error = Seat::save(Some(&yours), &path, &file("yours"), Some(&locks)).unwrap_err();
        assert!(error.contains("changed on disk"), "{error}");
        assert_eq!(open_job(&path).unwrap().job.info.title, "mine");
        // Under another name it goes.
        let aside = dir.path().join("b.strikeoff");
        Seat::save(Some(&yours), &aside, &file("yours"), Some(&locks)).unwrap();
        assert_eq!(open_job(&aside).unwrap().job.info.title, "yours");
    }

    #[test]
    fn the_keeper_writes_and_offers_in_order() {
        let dir = tempfile::tempdir().unwrap();
        let ctx = Context::default();
        let keeper = Keeper::new(dir.path().to_owned(), &ctx);
        for state in 1..=3 {
            let pixels = Plane::filled(1, 1, [0; 4]);
            let art = Art { picture: Picture::new(pixels), ppi: Ppi::new(96.0).unwrap() };
            let doc = Box::new(Document::of_file(file(&format!("state {state}")), art));
            keeper.ask(Ask::Write { revision: Revision::of(&doc), doc });
        }
        drop(keeper);
        let next = Keeper::new(dir.path().to_owned(), &ctx);
        let found = next.reports.recv().unwrap();
        let Report::Found(mut jobs, broken) = found else { panic!("it looks first") };
        assert_eq!((jobs.len(), broken.len()), (1, 0));
        assert_eq!(jobs[0].title, "state 3");
        next.ask(Ask::Discard(Box::new(jobs.remove(0))));
        drop(next);
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
    }
}
