//! Client art from disk: whatever was sent, decoded to the working space with its own physical
//! size, or one clear sentence on why not. Sizes and memory are bounded by [`crate::limits`], before any
//! of it is taken.

#[cfg(test)]
mod differential;
pub mod drawing;
mod error;
mod exif;
mod facts;
mod gamut;
#[cfg(test)]
pub(crate) mod generated;
#[cfg(test)]
mod hostile;
mod jpeg;
mod png;
mod raw;
mod read;
mod resolution;
mod simple;
mod tiff;
mod tiff_chunks;
mod transforms;
mod write;

pub use error::ArtError;
pub use facts::{FileFacts, Received};
pub use read::{
    ReadOptions, decode_art, read_art, read_art_file, receive_art, receive_bytes, receive_bytes_by,
    receive_bytes_watched,
};
pub use write::{WriteArtError, write_prepared, write_svg};
