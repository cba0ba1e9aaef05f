//! Why a client's file cannot be used, in words that can be passed on to the client.

use std::io;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use strikeoff_core::raster::Rgba16;

use super::drawing::one_line;
use crate::limits::{Budget, MAX_ART_BYTES, MAX_ART_PIXELS, MAX_ART_SIDE_PX, OverBudget};

/// Art could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ArtError {
    /// The system refused.
    #[error("cannot read {}: {source}", path.display())]
    Io {
        /// The file that was to be read.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Not a format we know.
    #[error("{name} is not a picture that can be opened; ask for PNG, JPEG, TIFF, WebP, SVG or PDF")]
    UnknownFormat {
        /// The file.
        name: String,
    },
    /// Nothing in it.
    #[error("{name} is empty: it has no bytes; ask for the file again")]
    NoBytes {
        /// The file.
        name: String,
    },
    /// The file is broken.
    #[error("{name} is damaged or cut short ({reason}); ask for the {format} file again")]
    Damaged {
        /// The file.
        name: String,
        /// Its format.
        format: &'static str,
        /// What the decoder met.
        reason: String,
    },
    /// A sound file of a kind we cannot decode.
    #[error("{name} is a kind of {format} that cannot be opened ({what}); ask for an RGB or CMYK {format}")]
    Unsupported {
        /// The file.
        name: String,
        /// Its format.
        format: &'static str,
        /// What is special about it.
        what: String,
    },
    /// Width or height is zero.
    #[error("{name} is {width} x {height} pixels: there is no picture in it")]
    Empty {
        /// The file.
        name: String,
        /// Pixels across.
        width: u64,
        /// Pixels down.
        height: u64,
    },
    /// More pixels than the limit.
    #[error(
        "{name} says it is {width} x {height} pixels; artwork may have at most {} million pixels (about 1 GB in \
         memory) and {MAX_ART_SIDE_PX} on a side, so have it scaled down first",
        MAX_ART_PIXELS / 1_000_000
    )]
    TooLarge {
        /// The file.
        name: String,
        /// Pixels across.
        width: u64,
        /// Pixels down.
        height: u64,
    },
    /// Decoding it needs more memory than may be used.
    #[error("{name} is {width} x {height} pixels and {over}; have it scaled down or saved with 8 bits a channel first")]
    Memory {
        /// The file.
        name: String,
        /// Pixels across.
        width: u64,
        /// Pixels down.
        height: u64,
        /// How much.
        over: OverBudget,
    },
    /// The file itself is too large to take in.
    #[error("{name} is {} MB; files up to 1 GB are read, so have it saved smaller first", bytes / 1_000_000)]
    FileTooLarge {
        /// The file.
        name: String,
        /// Its size.
        bytes: u64,
    },
    /// A page that is not there.
    #[error("{name} has {pages} page(s), so there is no page {page}; choose one of them")]
    NoPage {
        /// The file.
        name: String,
        /// The page requested, from 1.
        page: usize,
        /// Pages there are.
        pages: usize,
    },
    /// Needs too long or too much memory to draw.
    #[error("{name} is too involved to draw ({reason}); ask for a PNG or TIFF of it at print size")]
    TooInvolved {
        /// The file.
        name: String,
        /// What it asks for.
        reason: String,
    },
    /// The part of the program that draws could not do its work.
    #[error("{name} cannot be drawn: {reason}; start the program again, or ask for a PNG or TIFF at print size")]
    NotDrawn {
        /// The file.
        name: String,
        /// Why.
        reason: String,
    },
    /// The user stopped it.
    #[error("cancelled")]
    Cancelled,
    /// The embedded colour profile cannot be used.
    #[error("{name} carries a colour profile that cannot be used ({reason}); have it converted to sRGB first")]
    Profile {
        /// The file.
        name: String,
        /// Why.
        reason: String,
    },
}

/// What went wrong inside one decoder; [`Fault::named`] adds the file's name and format.
#[derive(Debug, Serialize, Deserialize)]
pub(super) enum Fault {
    Damaged(String),
    Unsupported(String),
    Empty(u64, u64),
    TooLarge(u64, u64),
    /// Of this process's own decoders alone.
    #[serde(skip)]
    Memory(u64, u64, OverBudget),
    Profile(String),
    NoPage {
        page: usize,
        pages: usize,
    },
    TooInvolved(String),
    NotDrawn(String),
    Cancelled,
}

impl Fault {
    pub(super) fn named(self, name: &str, format: &'static str) -> ArtError {
        let name = name.to_owned();
        match self {
            Self::Damaged(reason) => ArtError::Damaged { name, format, reason },
            Self::Unsupported(what) => ArtError::Unsupported { name, format, what },
            Self::Empty(width, height) => ArtError::Empty { name, width, height },
            Self::TooLarge(width, height) => ArtError::TooLarge { name, width, height },
            Self::Memory(width, height, over) => ArtError::Memory { name, width, height, over },
            Self::NoPage { page, pages } => ArtError::NoPage { name, page, pages },
            Self::TooInvolved(reason) => ArtError::TooInvolved { name, reason },
            Self::NotDrawn(reason) => ArtError::NotDrawn { name, reason },
            Self::Cancelled => ArtError::Cancelled,
            Self::Profile(reason) => ArtError::Profile { name, reason },
        }
    }

    /// Words from another process: in one line, and no longer than so many characters.
    pub(super) fn in_one_line(mut self, most: usize) -> Self {
        if let Self::Damaged(words)
        | Self::Unsupported(words)
        | Self::Profile(words)
        | Self::TooInvolved(words)
        | Self::NotDrawn(words) = &mut self
        {
            *words = one_line(words, most);
        }
        self
    }
}

/// Refuses sizes without pixels or beyond the limit, before anything of that size is allocated.
pub(super) fn check_size(width: u64, height: u64) -> Result<(usize, usize), Fault> {
    if width == 0 || height == 0 {
        return Err(Fault::Empty(width, height));
    }
    match width.checked_mul(height) {
        Some(pixels) if pixels <= MAX_ART_PIXELS as u64 && width.max(height) <= MAX_ART_SIDE_PX as u64 => {
            Ok((width as usize, height as usize))
        }
        _ => Err(Fault::TooLarge(width, height)),
    }
}

/// Refuses a picture whose decoding holds more than may be used, before any of that is taken: `beside` bytes
/// and its pixels.
pub(super) fn check_memory(width: u64, height: u64, beside: u64) -> Result<(), Fault> {
    let needs = width.saturating_mul(height).saturating_mul(size_of::<Rgba16>() as u64).saturating_add(beside);
    let budget = Budget::of_machine().at_most(MAX_ART_BYTES);
    budget.check(needs).map_err(|over| Fault::Memory(width, height, over))
}
