//! From a picture and a list of inks to one coverage plane an ink.

mod advise;
mod base_under;
#[cfg(test)]
mod checks;
#[cfg(test)]
mod choice_checks;
mod choke;
mod choose;
mod corners;
mod diffuse;
mod flat;
mod index;
mod index_colors;
mod lookup;
mod lookup_rows;
mod methods;
#[cfg(test)]
mod methods_checks;
mod model;
mod palette;
mod problem;
mod quality;
mod separation;
mod settings;
mod spot;
mod spot_areas;
mod spot_recipe;
mod table;
mod trap;
mod worth;

pub use advise::{MethodAdvice, advise_method};
pub use choose::{Choice, InkRequest, SuggestError, Suggestion, suggest, usual_order};
pub use flat::{FlatColor, flat_colors};
pub use methods::{IndexSettings, Method, SpotEdges, SpotInks, SpotSettings};
pub use model::MAX_SCREENS;
pub use quality::{Quality, print_quality, quality};
pub use separation::{ColorTable, SeparateError, separate};
pub use settings::{BlackPlace, HighlightSettings, PlannedScreen, ScreenPart, SeparationSettings, UnderbaseSettings};
pub use spot::{SpotColor, spot_colors};
pub use worth::{DropCost, MergeCost, Worth, screen_worth};
