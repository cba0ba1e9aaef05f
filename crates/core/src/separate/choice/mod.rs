//! Help with deciding: which method suits the art, which inks from the shelf, and which others for a screen.

mod advise;
#[cfg(test)]
mod checks;
mod choose;
mod judge;
mod other_inks;
mod palette;
mod search;

pub use advise::{MethodAdvice, advise_method};
pub use choose::{Choice, InkRequest, LEAST_GAIN, LEAST_P95_GAIN, Reason, SuggestError, Suggestion, earns, suggest};
pub use other_inks::{inks_tried, mixed_inks};
