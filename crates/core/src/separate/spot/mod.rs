//! Spot art: every flat colour of the art gets an ink of its own, or layers of a few.

mod areas;
mod planes;
mod recipe;
mod trap;

pub(super) use planes::planes;
pub use planes::{SpotColor, spot_colors};
pub(super) use recipe::printed_with;
