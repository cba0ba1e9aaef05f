//! From a picture and a list of inks to one coverage plane an ink.

mod lookup;
mod model;
mod problem;
mod separation;
mod settings;
mod table;

pub use model::MAX_SCREENS;
pub use separation::{SeparateError, separate};
pub use settings::{HighlightSettings, Method, PlannedScreen, ScreenPart, SeparationSettings, UnderbaseSettings};
