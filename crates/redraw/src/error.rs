//! What can go wrong, each in one sentence.

use crate::art::{MAX_PIXELS, MAX_SIDE_PX};

/// Why art is not redrawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RedrawError {
    /// Too many pixels, or none.
    #[error(
        "The art has {width} x {height} pixels, and a redraw takes 1 to {MAX_SIDE_PX} a side and at most {} million in \
         all: make it smaller first.", MAX_PIXELS / 1_000_000
    )]
    Size {
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
    },
    /// Bytes that are not 4 a pixel.
    #[error("{width} x {height} pixels need {} bytes, and there are {bytes}: give 4 bytes a pixel.", width * height * 4)]
    Bytes {
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
        /// Bytes given.
        bytes: usize,
    },
    /// A pixel beyond the art.
    #[error("There is no pixel {x}, {y} in art of {width} x {height} pixels: choose one inside.")]
    Outside {
        /// Column asked for.
        x: usize,
        /// Row asked for.
        y: usize,
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
    },
    /// A photograph, or art with shading.
    #[error(
        "The art is not flat: a redraw in {colours} colours explains {:.0} % of it where {:.0} % are needed, so print it \
         as a picture, or allow less.", flatness * 100.0, needed * 100.0
    )]
    NotFlat {
        /// Share of pixels explained.
        flatness: f64,
        /// Share needed, from the settings.
        needed: f64,
        /// Colours found.
        colours: usize,
    },
}
