//! Edits on one screen or between screens, kept as data in the job, in order.

mod apply;
mod background;
mod edit;
mod history;
mod multiply;

pub use apply::{TuneError, apply_edits};
pub use background::background;
pub use edit::{Edit, EditEntry};
pub use history::History;
pub use multiply::{multiply_coverage, multiply_film};
