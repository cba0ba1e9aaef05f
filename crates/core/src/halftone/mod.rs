//! Coverage planes to 1-bit film rows.

mod settings;

pub use settings::{DotShape, FilmSettings};
