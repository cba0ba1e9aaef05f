//! Simulated process: every colour of the picture is solved once, as a table over the sRGB cube,
//! and looked up for every pixel.

mod base_under;
#[cfg(test)]
mod checks;
mod color_table;
mod lookup;
#[cfg(target_arch = "x86_64")]
mod lookup_simd;
mod planes;
mod table;

pub use color_table::ColorTable;
pub(super) use planes::planes;
pub(super) use table::wanted;
