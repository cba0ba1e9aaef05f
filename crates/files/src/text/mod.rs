//! Text set in lines: shaped, in the right direction, with a font for every script that this
//! machine has one for. Sheets and film labels set their words here.

mod fonts;
mod shape;

pub use fonts::{Font, MISSING_HELP};
pub use shape::{Glyph, Line, Run, missing, set};

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
