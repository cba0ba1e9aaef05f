//! What separation makes, edits change and films are made from. It lies low, so that every stage can
//! speak of screens without knowing the job.

mod screen;

pub use screen::{Screen, Screens};
