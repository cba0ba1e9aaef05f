//! From the art as received to a picture at working resolution and print size.

mod prepare;
mod settings;

pub use prepare::{PrepError, Prepared, prepare};
pub use settings::{CropBox, PrepSettings};
