//! Edits on one screen or between screens, kept as data in the job, in order; and the history of
//! what the user did.

mod add;
mod apply;
mod background;
mod between;
mod conflict;
mod edit;
pub mod edits;
mod grey;
mod history;
mod multiply;
mod region;
mod soften;
mod source;
mod spots;
mod tone;

pub use add::Place;
pub(crate) use apply::apply_edits_in;
pub use apply::{TuneError, apply_edits, planned};
pub use background::background;
pub use conflict::{Conflict, ConflictFix, conflicts, fix_conflict};
pub use edit::EditEntry;
pub use edits::Edit;
pub use grey::{GreyPicture, fitted};
pub use history::History;
pub use multiply::{multiply_coverage, multiply_film};
pub use region::Region;
pub use source::Source;
pub use tone::{Curve, CurveError};
