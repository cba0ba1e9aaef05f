//! What a shop prints with: inks, the shelf they stand on, and garments.

mod coat;
mod garment;
mod order;
mod shelf;
mod spectra;

pub use coat::Coat;
pub use garment::{Garment, Knit};
pub use order::{UsualRank, usual_order};
pub use shelf::{Ink, InkRole, Shelf, ShelfError};
pub use spectra::InkSpectra;
