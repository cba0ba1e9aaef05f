//! Flat art redrawn: from a small picture of few flat colours, anti-aliased and perhaps damaged by JPEG, to
//! its colours, its regions and their outlines as lines and curves, sharp at any size.
//!
//! [`redraw`] is the whole of it; [`Redrawing`] gives shapes, [`Redrawing::to_svg`] and
//! [`Redrawing::coverage`] at any size. How it works is told in `docs/redraw.md`.

mod area;
mod art;
mod coverage;
mod cracks;
mod cubic;
mod divide;
mod error;
mod fit;
mod labels;
mod modes;
mod outline;
mod palette;
mod path;
mod place;
mod primitive;
mod reading;
mod redrawing;
mod refine;
mod settings;
mod space;
mod svg;
mod wrong;

pub use art::Art;
pub use error::RedrawError;
pub use redrawing::{Edge, Redrawing, Shape, redraw};
pub use settings::{Blending, Colour, ColourEdit, Settings};
