//! Index: square dots of one size and one ink each, scattered until they look like the picture.

mod colors;
mod diffuse;
mod planes;

pub(super) use colors::{dot_colors, nearest_mix};
pub(super) use planes::planes;
