//! What a separation refuses, and the check of its settings that comes before any work.

use super::SeparationSettings;
use super::model::{MAX_GARMENTS, MAX_SCREENS};
use crate::Cancelled;
use crate::bounds::{self, OutOfBounds};
use crate::screens::ScreenName;

/// Why a picture cannot be separated.
#[derive(Debug, thiserror::Error)]
pub enum SeparateError {
    /// No inks were given.
    #[error("no inks to separate into; name at least one")]
    NoInks,
    /// Two screens share a name.
    #[error("two screens are called \"{0}\"; give each its own name")]
    SameName(ScreenName),
    /// More screens than the solver takes.
    #[error("{0} screens are more than a separation can have; leave at most {MAX_SCREENS}")]
    TooMany(usize),
    /// A setting is out of its range.
    #[error(transparent)]
    Setting(#[from] OutOfBounds),
    /// Spot art without flat areas.
    #[error(
        "the artwork has no area of one colour, so it cannot be separated as spot art; use simulated process or index, \
         or count smaller areas"
    )]
    NoFlatColors,
    /// No garment, or more than are solved for together.
    #[error("a separation is for 1 to {MAX_GARMENTS} garments, not {count}")]
    Garments {
        /// How many there are.
        count: usize,
    },
    /// Dots of one size that lie beside each other are another choice on every garment.
    #[error(
        "index separation is for one garment; make a job for each garment, or choose simulated process or spot art, \
         whose films serve several"
    )]
    IndexOnSeveral,
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Whether the settings can be separated with.
pub(super) fn check(settings: &SeparationSettings) -> Result<(), SeparateError> {
    let screens = &settings.screens;
    if screens.is_empty() {
        return Err(SeparateError::NoInks);
    }
    if screens.len() > MAX_SCREENS {
        return Err(SeparateError::TooMany(screens.len()));
    }
    for (at, screen) in screens.iter().enumerate() {
        if screens[..at].iter().any(|other| other.name == screen.name) {
            return Err(SeparateError::SameName(screen.name.clone()));
        }
    }
    Ok(bounds::check(settings)?)
}
