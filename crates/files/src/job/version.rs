//! Named states of a job inside its file: what the client saw, what was printed. A version holds
//! the settings and, where they were at hand, the very screens, so that it prints again as it was
//! whatever the program has learnt since.

use std::sync::Arc;

use rayon::prelude::*;
use strikeoff_core::bounds::table;
use strikeoff_core::job::{Job, JobInfo, RunRecord};
use strikeoff_core::names::{find, same, short};
use strikeoff_core::reorder::ShopState;
use strikeoff_core::screens::{Screen, Screens};

use super::manifest::{ScreenEntry, ScreensEntry};
use super::{JobFile, KeptScreens, film_png};
use crate::limits::{Budget, MAX_JOB_VERSIONS, Tally};

/// A named state of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedVersion {
    /// Unique in the job, as on a shelf: case, blanks, `-` and `_` ignored.
    pub name: String,
    /// Whatever is worth knowing.
    pub note: String,
    /// Date, as the user writes it.
    pub date: String,
    /// The settings.
    pub job: Job,
    /// What the shop had when this state was printed; none: it was kept and not printed.
    pub shop: Option<Box<ShopState>>,
    /// Its screens, packed; none if there were none that fitted.
    pub screens: Option<PackedScreens>,
}

/// Screens as they lie in the file: compressed, to be unpacked when needed.
#[derive(Debug, Clone, PartialEq)]
pub struct PackedScreens {
    pub(super) entry: ScreensEntry,
    pub(super) pngs: Arc<Vec<Vec<u8>>>,
}

/// A version cannot be kept or found.
#[derive(Debug, thiserror::Error)]
pub enum VersionError {
    /// No name.
    #[error("a version needs a name, such as \"client proof 1\" or \"as printed\"")]
    NoName,
    /// A text that is too long or holds control codes.
    #[error("{0}")]
    Text(String),
    /// The name is taken.
    #[error("the job already has a version \"{0}\"; choose another name")]
    NameTaken(String),
    /// There are as many as there may be.
    #[error("the job has {MAX_JOB_VERSIONS} versions, the most that it may have; delete some first")]
    TooMany,
    /// There is none of that name.
    #[error("the job has no version \"{name}\"; it has {known}")]
    Unknown {
        /// The name requested.
        name: String,
        /// The names that are there.
        known: String,
    },
    /// Its screens cannot be packed or unpacked.
    #[error("the screens of version \"{name}\" are damaged: {what}")]
    Damaged {
        /// The version.
        name: String,
        /// How.
        what: String,
    },
}

impl PackedScreens {
    /// Packs screens; members are named in `folder` of the container.
    pub(super) fn pack(kept: &KeptScreens, folder: &str) -> Result<Self, String> {
        let pngs = (kept.screens.list.par_iter().map(|s| film_png::encode(&s.coverage)))
            .collect::<Result<Vec<_>, _>>()
            .map_err(|e| e.to_string())?;
        let entry = ScreensEntry {
            width_px: kept.screens.width,
            height_px: kept.screens.height,
            ppi: kept.screens.ppi,
            algorithm_version: kept.algorithm_version,
            made_from: kept.made_from.clone(),
            list: (kept.screens.list.iter().enumerate())
                .map(|(at, screen)| ScreenEntry {
                    name: screen.name.clone(),
                    ink: screen.ink.clone(),
                    hits: screen.hits,
                    file: format!("{folder}/{:02}.png", at + 1),
                })
                .collect(),
        };
        Ok(Self { entry, pngs: Arc::new(pngs) })
    }

    /// The same under another folder.
    pub(super) fn moved(&self, folder: &str) -> Self {
        let mut moved = self.clone();
        for (at, screen) in moved.entry.list.iter_mut().enumerate() {
            screen.file = format!("{folder}/{:02}.png", at + 1);
        }
        moved
    }

    /// Version of the algorithm that made them.
    pub fn algorithm_version(&self) -> u32 {
        self.entry.algorithm_version
    }

    /// The screens; refused where they would take more than half of the machine's memory.
    pub fn unpack(&self) -> Result<KeptScreens, String> {
        self.unpack_within(&mut Tally::new(Budget::of_machine()))
    }

    /// The screens, if `held` has room for them.
    pub(super) fn unpack_within(&self, held: &mut Tally) -> Result<KeptScreens, String> {
        let (width, height, screens) = (self.entry.width_px, self.entry.height_px, self.entry.list.len());
        let bytes = (width as u64).saturating_mul(height as u64).saturating_mul(2 * screens as u64);
        held.take(bytes).map_err(|over| format!("{screens} screens of {width} x {height} pixels {over}"))?;
        let list = (self.entry.list.par_iter().zip(self.pngs.as_slice()))
            .map(|(screen, png)| {
                let coverage =
                    film_png::decode(png, width, height).map_err(|e| format!("screen \"{}\": {e}", screen.name))?;
                Ok(Screen { name: screen.name.clone(), ink: screen.ink.clone(), hits: screen.hits, coverage })
            })
            .collect::<Result<Vec<_>, String>>()?;
        Ok(KeptScreens {
            screens: Screens { width, height, ppi: self.entry.ppi, list },
            algorithm_version: self.entry.algorithm_version,
            made_from: self.entry.made_from.clone(),
        })
    }
}

/// Whether two jobs print the same with the same screens and run: all but who they are for.
fn same_but_ticket(a: &Job, b: &Job) -> bool {
    let bare = |job: &Job| Job { info: JobInfo::default(), ..job.clone() };
    bare(a) == bare(b)
}

impl JobFile {
    /// Keeps the job as it is now, with its fitting screens if it has them, under a name.
    pub fn keep_version(&mut self, name: &str, note: &str, date: &str) -> Result<(), VersionError> {
        let name = name.trim();
        if name.is_empty() {
            return Err(VersionError::NoName);
        }
        let texts = [(table::VERSION_NAME, name), (table::NOTE, note), (table::DATE, date)];
        if let Some(what) = texts.into_iter().find_map(|(bound, text)| bound.fault(text)) {
            return Err(VersionError::Text(what));
        }
        if self.versions.iter().any(|v| same(&v.name, name)) {
            return Err(VersionError::NameTaken(name.to_owned()));
        }
        if self.versions.len() >= MAX_JOB_VERSIONS {
            return Err(VersionError::TooMany);
        }
        let packed = self.fitting_screens().map(|kept| PackedScreens::pack(kept, "screens")).transpose();
        let screens = packed.map_err(|what| VersionError::Damaged { name: name.to_owned(), what })?;
        self.versions.push(NamedVersion {
            name: name.to_owned(),
            note: note.to_owned(),
            date: date.to_owned(),
            job: self.job.clone(),
            shop: None,
            screens,
        });
        Ok(())
    }

    /// Writes down a run of the job as it is now. The state that was printed is kept as a version with its screens;
    /// a run of the same state, by a shop that has the same, is a run of the same version.
    pub fn keep_run(&mut self, mut run: RunRecord, shop: ShopState) -> Result<(), VersionError> {
        run.agrees().map_err(VersionError::Text)?;
        if self.job.info.runs.len() >= table::RUNS.most {
            return Err(VersionError::Text(format!(
                "the job has {} runs, the most that it may have",
                table::RUNS.most
            )));
        }
        let printed = |v: &&NamedVersion| v.shop.as_deref() == Some(&shop) && same_but_ticket(&v.job, &self.job);
        run.version = match self.versions.iter().find(printed) {
            Some(version) => version.name.clone(),
            None => {
                let name = self.free_version_name(&format!("Printed {}", run.date.words()));
                self.keep_version(&name, "", &run.date.to_string())?;
                if let Some(version) = self.versions.last_mut() {
                    version.shop = Some(Box::new(shop));
                }
                name
            }
        };
        self.job.info.runs.push(run);
        Ok(())
    }

    fn free_version_name(&self, wish: &str) -> String {
        let more = (2..).map(|n| format!("{wish}, {n}"));
        let free = |name: &String| !self.versions.iter().any(|v| same(&v.name, name));
        std::iter::once(wish.to_owned()).chain(more).find(free).unwrap_or_default()
    }

    /// Takes a version out; refused where a run names it, which would not know any more what was printed.
    pub fn delete_version(&mut self, name: &str) -> Result<(), VersionError> {
        // Refused with the names that there are if it is not one of them.
        let name = self.version_named(name)?.name.clone();
        if let Some(run) = self.job.info.runs.iter().find(|run| same(&run.version, &name)) {
            let day = run.date.words();
            return Err(VersionError::Text(format!(
                "version \"{name}\" is what was printed on {day}; delete the run first: strikeoff run JOB delete NUMBER"
            )));
        }
        self.versions.retain(|v| v.name != name);
        Ok(())
    }

    fn version_named(&self, name: &str) -> Result<&NamedVersion, VersionError> {
        find(&self.versions, name, |v| &v.name).ok_or_else(|| VersionError::Unknown {
            name: short(name),
            known: match self.versions.len() {
                0 => "none".to_owned(),
                _ => self.versions.iter().map(|v| format!("\"{}\"", v.name)).collect::<Vec<_>>().join(", "),
            },
        })
    }

    /// A version as a job file of its own, with the art and all versions of this one.
    pub fn version(&self, name: &str) -> Result<Self, VersionError> {
        let version = self.version_named(name)?;
        let screens = version.screens.as_ref().map(PackedScreens::unpack).transpose();
        let screens = screens.map_err(|what| VersionError::Damaged { name: version.name.clone(), what })?;
        // Runs are of all versions.
        let mut job = version.job.clone();
        job.info.runs.clone_from(&self.job.info.runs);
        Ok(Self { job, screens, thumbnail: None, lost: Vec::new(), ..self.clone() })
    }
}
