//! From the art as received to a picture at working resolution and print size.

mod prepare;
mod resample;
mod resized;
mod settings;
mod sharpen;
mod transfer;

pub use prepare::{PrepError, Prepared, prepare};
pub use resized::resized;
pub use settings::{CropBox, PrepSettings};
