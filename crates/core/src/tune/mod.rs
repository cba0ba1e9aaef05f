//! Edits on one screen or between screens, kept as data in the job, in order.

mod apply;
mod edit;

pub use apply::{TuneError, apply_edits};
pub use edit::{Edit, EditEntry};
