//! From a picture and a list of inks to one coverage plane an ink.

mod separation;
mod settings;

pub use separation::{SeparateError, separate};
pub use settings::{PlannedScreen, SeparationSettings};
