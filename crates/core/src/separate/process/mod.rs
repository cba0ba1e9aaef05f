//! Simulated process: every colour of the picture is solved once, as a table over the sRGB cube,
//! and looked up for every pixel.

mod base_under;
#[cfg(test)]
mod checks;
mod color_table;
mod corners;
mod fade;
mod lookup;
mod lookup_rows;
mod planes;
mod table;

pub use color_table::ColorTable;
pub(super) use planes::planes;
pub(super) use table::target_color;
