//! From a picture and a list of inks to one coverage plane an ink. A folder a method
//! ([`Method`]); they share the plan that the solver works to. `choice` helps to decide.

#[cfg(test)]
mod checks;
mod choice;
mod choke;
mod correction;
mod days;
mod error;
mod flat;
mod index;
mod methods;
mod model;
mod plan;
mod printing;
mod problem;
mod process;
mod quality;
#[cfg(test)]
mod samples;
mod separation;
mod settings;
mod solids;
mod spot;

pub use choice::{
    Choice, InkRequest, LEAST_GAIN, LEAST_P95_GAIN, MethodAdvice, Reason, SuggestError, Suggestion, advise_method,
    earns, inks_tried, mixed_inks, suggest,
};
pub use days::{OverDays, over_days};
pub use error::SeparateError;
pub use flat::{FlatColor, flat_colors};
pub use methods::{IndexSettings, Method, SpotEdges, SpotInks, SpotSettings};
pub use model::{MAX_GARMENTS, MAX_SCREENS};
pub use printing::Printing;
pub use process::ColorTable;
pub use quality::{Quality, print_quality, quality};
pub use separation::{separate, separate_on};
pub use settings::{BlackPlace, HighlightSettings, PlannedScreen, ScreenPart, SeparationSettings, UnderbaseSettings};
pub use spot::{SpotColor, spot_colors};
