//! Help with deciding: which method suits the art, which inks from the shelf, and what each screen
//! is worth.

mod advise;
#[cfg(test)]
mod checks;
mod choose;
mod judge;
mod palette;
mod worth;

pub use advise::{MethodAdvice, advise_method};
pub use choose::{Choice, InkRequest, SuggestError, Suggestion, suggest};
pub use worth::{DropCost, MergeCost, Worth, screen_worth};
