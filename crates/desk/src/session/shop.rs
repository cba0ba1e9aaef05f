//! What the shop has at hand: inks on the shelf and garments to print on. Handed in by the
//! program, so that the bench never looks for files on its own.

use strikeoff_core::ink::{Garment, Shelf};

/// Inks and garments.
#[derive(Debug, Clone, Default)]
pub struct Shop {
    /// Inks to print with.
    pub shelf: Shelf,
    /// Garments to offer.
    pub garments: Vec<Garment>,
}
