//! What a shop prints with: inks, the shelf they stand on, and garments.

mod garment;
mod shelf;
mod spectra;

pub use garment::{Garment, Knit};
pub use shelf::{Ink, InkRole, Shelf, ShelfError};
pub use spectra::InkSpectra;
