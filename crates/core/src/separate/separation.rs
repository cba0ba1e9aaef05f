//! The separation as a whole.

use super::SeparationSettings;
use crate::ink::Garment;
use crate::job::Screens;
use crate::prep::Prepared;
use crate::press::PressSettings;
use crate::units::Lpi;
use crate::{Cancelled, Progress};

/// Why a picture cannot be separated.
#[derive(Debug, thiserror::Error)]
pub enum SeparateError {
    /// No inks were given.
    #[error("no inks to separate into; name at least one")]
    NoInks,
    /// Two screens share a name.
    #[error("two screens are called \"{0}\"; give each its own name")]
    SameName(String),
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Separates a prepared picture into the planned screens for a garment.
pub fn separate(
    prepared: &Prepared,
    garment: &Garment,
    settings: &SeparationSettings,
    press: &PressSettings,
    ruling: Lpi,
    progress: &Progress,
) -> Result<Screens, SeparateError> {
    let _ = (prepared, garment, press, ruling);
    progress.step("separate", 0.0)?;
    if settings.screens.is_empty() {
        return Err(SeparateError::NoInks);
    }
    Err(SeparateError::NoInks)
}
