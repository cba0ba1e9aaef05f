//! What films are to be made, and what was made.

use std::path::PathBuf;
use strikeoff_core::screens::ScreenName;

use serde::{Deserialize, Serialize};
use strikeoff_core::Cancelled;

use super::tiff::TiffCompression;
use crate::text::Missing;
use crate::{ManifestFile, WriteError};

/// Bits of a spot-channel TIFF's samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SpotDepth {
    /// 8 bits per sample: what most software takes.
    #[default]
    Eight,
    /// 16 bits a sample: the screens as they are.
    Sixteen,
}

/// What is written.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmOptions {
    /// Whether one 1-bit TIFF per screen is written. Default true.
    pub tiff: bool,
    /// How TIFF films are packed. Default CCITT Group 4.
    pub compression: TiffCompression,
    /// Whether a PDF with one page per screen is written. Default true.
    pub pdf: bool,
    /// Whether all films are put on one length of roll, with cut marks; needs the film printer's
    /// width. Default false.
    pub gang: bool,
    /// Whether a composite PDF of all screens, unscreened, one spot colour each, is written.
    /// Default false.
    pub composite: bool,
    /// Whether a TIFF with a channel a screen, unscreened, is written. Default none.
    pub spots: Option<SpotDepth>,
    /// Files that no film may replace: what the films are made from. Default none.
    pub keep: Vec<PathBuf>,
}

impl Default for FilmOptions {
    fn default() -> Self {
        Self {
            tiff: true,
            compression: TiffCompression::G4,
            pdf: true,
            gang: false,
            composite: false,
            spots: None,
            keep: Vec::new(),
        }
    }
}

/// One film that was written.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FilmFile {
    /// Name of the screen.
    pub screen: ScreenName,
    /// Name of its ink.
    pub ink: String,
    /// Names of the garments that it prints on.
    pub garments: Vec<String>,
    /// Its own TIFF, if one was requested.
    pub tiff: Option<PathBuf>,
    /// Device pixels across, as it lies in its file.
    pub width_px: usize,
    /// Device pixels down.
    pub height_px: usize,
    /// Size of the film in millimetres, upright.
    pub size_mm: [f64; 2],
    /// Whether it lies turned a right angle clockwise in its file.
    pub turned: bool,
    /// Upper left corner on the roll in millimetres, where films are ganged.
    pub on_roll_mm: Option<[f64; 2]>,
    /// Lines of the label that found no room on the film.
    pub label_lost: Vec<String>,
}

/// The roll of ganged films.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Roll {
    /// The TIFF, if one was requested.
    pub tiff: Option<PathBuf>,
    /// Width and length in millimetres.
    pub size_mm: [f64; 2],
    /// Share of it that is film.
    pub used: f64,
}

/// What was written.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FilmSet {
    /// In print order.
    pub films: Vec<FilmFile>,
    /// The roll, if films are ganged.
    pub roll: Option<Roll>,
    /// The PDF, if one was requested.
    pub pdf: Option<PathBuf>,
    /// The composite PDF, if one was requested.
    pub composite: Option<PathBuf>,
    /// The print as the composite should look, a picture, if a composite was requested.
    pub composite_proof: Option<PathBuf>,
    /// The spot-channel TIFF, if one was requested.
    pub spots: Option<PathBuf>,
    /// What whoever opens the files should know.
    pub notes: Vec<String>,
    /// Letters of labels that no font has.
    pub missing: Vec<Missing>,
    /// Every file but the manifest (`films.json`), with sizes and SHA-256.
    pub files: Vec<ManifestFile>,
    /// What a set that was stopped half way had left in the folder, and what was done about it.
    pub found: Vec<String>,
}

/// Why films could not be made. Nothing of the set is left behind.
#[derive(Debug, thiserror::Error)]
pub enum FilmError {
    /// The job has no screens.
    #[error("the job has no screens, so there are no films to make; separate the art first")]
    NoScreens,
    /// Film settings that cannot be followed.
    #[error("{0}")]
    Settings(String),
    /// The disk is too full.
    #[error(
        "the films need at least {needed_mb} MB and {} has {free_mb} MB free; make room, choose another folder or a \
         lower dpi",
        folder.display()
    )]
    NoSpace {
        /// Where the films should go.
        folder: PathBuf,
        /// Least space that the films take.
        needed_mb: u64,
        /// Space that is free.
        free_mb: u64,
    },
    /// A file could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
