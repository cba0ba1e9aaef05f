//! Text set in lines: shaped, in the right direction, with a font for every script that this
//! machine has one for. Sheets and film labels set their words here.

mod fonts;
mod missing;
mod order;
mod shape;

pub use fonts::{Bytes, Font};
pub use missing::{Gaps, Missing, missing_note};
pub use shape::{Glyph, Line, Run, font_for, missing, name, plain, set, words_by_eye};

/// Stands where no font has a letter (Unicode 23.8).
pub const REPLACEMENT: char = '\u{FFFD}';

/// The face a text is set in where it has the characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Face {
    /// DejaVu Sans, for running text.
    Sans,
    /// DejaVu Sans Bold, for headings.
    SansBold,
    /// Hack, every letter equally wide, for film labels.
    Mono,
}
