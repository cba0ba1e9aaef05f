//! What comes from disk and goes to disk: client art, job files, ink shelves, films, sheets.
//! Nothing here opens a window or knows the command line.

pub mod art;
mod aside;
pub mod calibration;
mod date;
pub mod demo;
pub mod film;
pub mod job;
pub mod measured;
pub mod picture;
pub mod profile;
pub mod sheet;
pub mod shelf;
pub mod text;

pub use aside::{WriteError, write_aside, write_bytes};
pub use date::today;
