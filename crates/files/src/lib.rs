//! What comes from disk and goes to disk: client art, job files, ink shelves, films, sheets.
//! Nothing here opens a window or knows the command line.

pub mod art;
pub mod begin;
pub mod calibration;
mod date;
pub mod demo;
mod disk;
pub mod film;
pub mod ink_room;
pub mod job;
pub mod job_shelf;
pub mod limits;
pub mod measured;
pub mod photo;
pub mod picture;
pub mod press_print;
pub mod profile;
pub mod reorder;
pub mod sheet;
pub mod shelf;
pub mod text;

pub use date::today;
pub use disk::{
    FileSet, Growing, ManifestFile, SetState, WriteError, check_place, look, same_file, verify, write_aside,
    write_bytes,
};

/// Names of the manifests of all sets of files.
pub const MANIFESTS: [&str; 3] = [film::MANIFEST_NAME, film::SCREENS_MANIFEST, demo::DEMO_MANIFEST];
