//! Films: from screens to 1-bit TIFF and PDF files that any film printer takes.

mod composite;
mod furniture;
mod g4;
mod gang;
mod label;
mod layout;
mod names;
mod options;
mod page;
mod pdf;
mod plan;
mod rows;
mod screens;
mod shapes;
mod spots;
mod text;
mod tiff;
mod write;

pub use composite::colorant_names;
pub use g4::{BitString as G4Bits, Encoder as G4Encoder};
pub use names::safe_name;
pub use options::{FilmError, FilmFile, FilmOptions, FilmSet, Roll, SpotDepth};
pub use plan::{FilmPlan, MANIFEST_NAME, PlannedFile, PlannedFilm, PlannedPage, plan_films};
pub use screens::{SCREENS_MANIFEST, ScreenPictures, screens_into, write_screen_pictures};
pub use tiff::TiffCompression;
pub use write::{films_into, write_films};
