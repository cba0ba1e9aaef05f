//! What separation makes, edits change and films are made from. It lies low, so that every stage can
//! speak of screens without knowing the job.

mod name;
mod screen;

use crate::bounds::table;

/// Most screens that a job may have at any step: twice what a separation makes.
pub const MAX_JOB_SCREENS: usize = table::SCREENS.most;

pub use name::{NewName, ScreenName, joined};
pub use screen::{Screen, Screens};
