//! Films: from screens to 1-bit TIFF and PDF files that any film printer takes.

mod composite;
mod furniture;
mod g4;
mod label;
mod layout;
mod manifest;
mod names;
mod page;
mod pdf;
mod rows;
mod screens;
mod set_aside;
mod shapes;
mod text;
mod tiff;
mod write;

pub use composite::colorant_names;
pub use manifest::ManifestFile;
pub use names::safe_name;
pub use screens::write_screen_pictures;
pub use write::{FilmError, FilmFile, FilmOptions, FilmSet, write_films};
