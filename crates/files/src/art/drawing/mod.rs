//! Drawings: SVG and PDF are programs of someone else's, in effect, that are run to get a picture.
//! They can ask for any memory, never end, nest until the stack is used up. So they are drawn by a
//! child process of the same program, fenced in by the system: a limit on memory and time, no files,
//! no network. Whatever becomes of the child, the parent says it in one sentence and goes on.
//!
//! A program that opens drawings says once how they are drawn ([`draw_with`]) and answers as the
//! child when it is started for that ([`serve`]):
//!
//! ```no_run
//! use strikeoff_files::art::drawing::{Artist, draw_with, serve};
//!
//! fn main() -> std::process::ExitCode {
//!     if std::env::args().nth(1).is_some_and(|verb| verb == "draw-art") {
//!         return serve();
//!     }
//!     draw_with(Artist::this_program(["draw-art"]).expect("the program has a path"));
//!     std::process::ExitCode::SUCCESS
//! }
//! ```

mod artist;
mod child;
mod deep;
mod fence;
mod fonts;
mod limits;
mod message;
mod own;
mod parent;
mod pdf;
mod svg;

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use strikeoff_core::Progress;
use strikeoff_core::units::Ppi;

pub use artist::{Artist, draw_with};
pub use child::serve;
pub use limits::Limits;

pub(super) use artist::chosen;
pub(super) use message::one_line;
pub(crate) use own::draw_own_page;

use super::ReadOptions;
use super::error::Fault;
use super::raw::{Alpha, Model, Raw, Samples, Tagged};
use fonts::Fonts;

/// Longer side that drawings are drawn at: 18 in at 300 ppi, the largest usual print.
pub const LONGEST_PX: u32 = 5400;

/// The formats that are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(super) enum Kind {
    Svg,
    Pdf,
}

impl Kind {
    pub(super) fn format(self) -> &'static str {
        match self {
            Self::Svg => "SVG",
            Self::Pdf => "PDF",
        }
    }
}

/// What is to be drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
struct Request {
    kind: Kind,
    /// From 1.
    page: usize,
    /// Of the picture's longer side.
    longest_px: u32,
    /// Length of the drawing's file.
    bytes: u64,
}

/// What is known of a picture that was drawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Facts {
    width_px: u32,
    height_px: u32,
    /// Pixels an inch at the size that the file states; none if it states no usable one.
    ppi: Option<f64>,
    pages: usize,
    /// A sentence each.
    notes: Vec<String>,
}

/// A picture: its facts and its pixels, RGBA of 8 bits with sRGB colours multiplied by alpha.
struct Drawn {
    facts: Facts,
    rgba: Vec<u8>,
}

/// Draws a file by `artist`.
pub(super) fn decode(
    kind: Kind,
    bytes: &[u8],
    options: ReadOptions,
    artist: &Artist,
    progress: &Progress,
) -> Result<Raw, Fault> {
    let request = Request { kind, page: options.page, longest_px: LONGEST_PX, bytes: bytes.len() as u64 };
    let drawn = match artist {
        Artist::Child(program) => parent::draw(program, &request, bytes, progress)?,
        Artist::InProcess => {
            let bytes = Arc::new(bytes.to_vec());
            deep::on_a_deep_stack(|| draw(&request, bytes, Fonts::of_the_system))?
        }
        Artist::Nobody => return Err(Fault::NotDrawn("this program has not said how it draws".into())),
    };
    Ok(raw(drawn))
}

/// Draws here and now; `fonts` is called where text may need them.
fn draw(request: &Request, bytes: Arc<Vec<u8>>, fonts: impl FnOnce() -> Fonts) -> Result<Drawn, Fault> {
    match request.kind {
        Kind::Svg => svg::draw(&bytes, request.longest_px, fonts()),
        Kind::Pdf => pdf::draw(bytes, request.page, request.longest_px),
    }
}

fn raw(drawn: Drawn) -> Raw {
    let Drawn { facts, rgba } = drawn;
    let size = (u64::from(facts.width_px), u64::from(facts.height_px));
    let mut raw = Raw::new(size, Samples::U8(rgba), Model::Rgb, Alpha::Premultiplied);
    raw.tagged = Tagged::Srgb;
    raw.ppi = facts.ppi.and_then(|ppi| Ppi::new(ppi).ok());
    raw.facts.pages = facts.pages;
    raw.facts.notes = facts.notes;
    raw
}
