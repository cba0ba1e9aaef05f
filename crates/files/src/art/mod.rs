//! Client art from disk: whatever was sent, decoded to the working space with its own physical
//! size, or one clear sentence on why not. Memory is bounded by [`MAX_ART_PIXELS`].

mod error;
mod jpeg;
mod png;
mod raw;
mod read;
mod resolution;
mod tiff;

pub use error::ArtError;
pub use read::{MAX_ART_PIXELS, decode_art, read_art};
