//! Edits on one screen or between screens, kept as data in the job, in order; and the history of
//! what the user did.

mod add;
mod apply;
mod background;
mod between;
mod compare;
mod conflict;
mod edit;
mod grey;
mod history;
mod morphology;
mod multiply;
mod region;
mod soften;
mod source;
mod spots;
mod tone;
mod words;

pub use add::{Ground, Place};
pub(crate) use apply::apply_edits_in;
pub use apply::{TuneError, apply_edits, planned};
pub use background::background;
pub use compare::{Comparison, Remake, ScreenDifference, SettingDifference, compare};
pub use conflict::{Conflict, Mend, conflicts, mend};
pub use edit::{Edit, EditEntry};
pub use grey::{GreyPicture, fitted};
pub use history::History;
pub use morphology::{choke, choke_in_place, spread, spread_in_place};
pub use multiply::{multiply_coverage, multiply_film};
pub use region::Region;
pub use source::Source;
pub use tone::{Curve, CurveError};
