//! The job: everything the user decided, as data. Job and art together give every output, always
//! the same on any number of threads; pixels are caches.

mod cache;

pub use cache::{Cache, Level, StageKeys, evaluate_with};

use std::sync::Arc;

use cache::evaluate_once;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::Progress;
use crate::halftone::{DotShape, FilmSettings};
use crate::ink::{Garment, Ink};
use crate::prep::{PrepError, PrepSettings, Prepared};
use crate::press::PressSettings;
use crate::raster::{Picture, Plane};
use crate::separate::{Method, SeparateError, SeparationSettings};
use crate::tune::{EditEntry, Ground, TuneError};
use crate::units::{Mm, Ppi};

/// Version of the computation from art to screens. It goes up whenever the same job and art would
/// give other screens, so that a job file can say so and keep the screens that were printed.
pub const ALGORITHM_VERSION: u32 = 3;

/// The client's picture, decoded to the working space.
#[derive(Debug, Clone, PartialEq)]
pub struct Art {
    /// Its pixels.
    pub picture: Picture,
    /// Resolution the file states, or a sane default: gives the art's own physical size.
    pub ppi: Ppi,
}

/// One screen: what a film is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct Screen {
    /// Unique in the job, case ignored.
    pub name: String,
    /// The ink it prints.
    pub ink: Ink,
    /// Prints of it, one on the other.
    pub hits: u8,
    /// Coverage meant on the shirt: 0 none, 65535 solid.
    pub coverage: Plane<u16>,
}

/// All screens of a job at one resolution, in print order.
#[derive(Debug, Clone, PartialEq)]
pub struct Screens {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Resolution at print size.
    pub ppi: Ppi,
    /// First down first.
    pub list: Vec<Screen>,
}

impl Screens {
    /// Where a screen stands in the print order, by name, case ignored.
    pub fn position(&self, name: &str) -> Option<usize> {
        self.list.iter().position(|s| s.name.eq_ignore_ascii_case(name))
    }
}

/// Who the job is for; printed on films and sheets.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct JobInfo {
    /// Name of the job.
    pub title: String,
    /// The client.
    pub client: String,
    /// Version or proof number, as the user writes it.
    pub version: String,
    /// Date, as the user writes it.
    pub date: String,
    /// Shirts to print.
    pub quantity: u32,
    /// Sizes of the run, as the user writes them ("S 20, M 60, L 50, XL 20").
    pub sizes: String,
    /// Runs of this job so far, a line each, as the user writes them.
    pub history: Vec<String>,
}

/// Everything the user decided.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Who it is for.
    #[serde(default)]
    pub info: JobInfo,
    /// What it is printed on.
    pub garment: Garment,
    /// How the art is prepared.
    #[serde(default)]
    pub prep: PrepSettings,
    /// How it is separated.
    #[serde(default)]
    pub separation: SeparationSettings,
    /// What was changed on the screens afterwards, in order.
    #[serde(default)]
    pub edits: Vec<EditEntry>,
    /// How the press runs.
    #[serde(default)]
    pub press: PressSettings,
    /// How films are screened.
    #[serde(default)]
    pub film: FilmSettings,
}

impl Job {
    /// A job with defaults on a garment.
    pub fn new(garment: Garment) -> Self {
        Self {
            info: JobInfo::default(),
            garment,
            prep: PrepSettings::default(),
            separation: SeparationSettings::default(),
            edits: Vec::new(),
            press: PressSettings::default(),
            film: FilmSettings::default(),
        }
    }

    /// What its screens are printed on, and how.
    pub fn ground(&self) -> Ground<'_> {
        Ground { garment: &self.garment, press: &self.press, ruling: self.film.ruling }
    }

    /// Chooses a method. Films of an index separation carry its square dots as they are; films of
    /// another method that had such dots get round ones.
    pub fn set_method(&mut self, method: Method) {
        self.separation.method = method;
        self.film.dot = match self.film.dot {
            _ if method == Method::Index => DotShape::Index { size_mm: self.separation.index.dot_mm },
            DotShape::Index { .. } => DotShape::Round,
            dot => dot,
        };
    }

    /// Chooses the size of index dots, on the films too.
    pub fn set_index_dot(&mut self, dot_mm: Mm) {
        self.separation.index.dot_mm = dot_mm;
        self.set_method(self.separation.method);
    }

    /// The preparation with the working resolution that the method needs: dots of an index
    /// separation have a whole number of pixels.
    pub fn working_prep(&self) -> PrepSettings {
        let mut prep = self.prep.clone();
        if self.separation.method == Method::Index {
            let ppi = self.separation.index.working_ppi(prep.ppi.get());
            prep.ppi = Ppi::new(ppi).unwrap_or(prep.ppi);
        }
        prep
    }
}

/// How finely a job is evaluated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// At the working resolution: what films are made from.
    Full,
    /// At a lower resolution for looking: the longer side has at most `longest_px` pixels.
    Proxy {
        /// Most pixels on the longer side.
        longest_px: usize,
    },
}

/// What a job gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluated {
    /// The art at print size.
    pub prepared: Prepared,
    /// The screens in print order.
    pub screens: Screens,
}

/// Why a job cannot be evaluated.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// In preparation.
    #[error(transparent)]
    Prep(#[from] PrepError),
    /// In separation.
    #[error(transparent)]
    Separate(#[from] SeparateError),
    /// In an edit.
    #[error(transparent)]
    Tune(#[from] TuneError),
}

/// Runs the chain from art to screens: the one way for window and verbs. [`evaluate_with`] is the same
/// with a cache.
pub fn evaluate(job: &Job, art: &Art, detail: Detail, progress: &Progress) -> Result<Evaluated, JobError> {
    let Level { prepared, screens } = evaluate_once(job, art, detail, progress)?;
    // Nobody else holds them.
    Ok(Evaluated { prepared: Arc::unwrap_or_clone(prepared), screens: Arc::unwrap_or_clone(screens) })
}
