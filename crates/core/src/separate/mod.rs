//! From a picture and a list of inks to one coverage plane an ink.

#[cfg(test)]
mod checks;
mod choke;
mod choose;
mod lookup;
#[cfg(target_arch = "x86_64")]
mod lookup_simd;
mod model;
mod palette;
mod problem;
mod quality;
mod separation;
mod settings;
mod table;
mod worth;

pub use choose::{Choice, InkRequest, SuggestError, Suggestion, suggest, usual_order};
pub use model::MAX_SCREENS;
pub use quality::{Quality, quality};
pub use separation::{ColorTable, SeparateError, separate};
pub use settings::{HighlightSettings, Method, PlannedScreen, ScreenPart, SeparationSettings, UnderbaseSettings};
pub use worth::{DropCost, MergeCost, Worth, screen_worth};
