//! What a separation refuses, and the check of its settings that comes before any work.

use super::SeparationSettings;
use super::model::MAX_SCREENS;
use crate::Cancelled;

/// Why a picture cannot be separated.
#[derive(Debug, thiserror::Error)]
pub enum SeparateError {
    /// No inks were given.
    #[error("no inks to separate into; name at least one")]
    NoInks,
    /// Two screens share a name.
    #[error("two screens are called \"{0}\"; give each its own name")]
    SameName(String),
    /// More screens than the solver takes.
    #[error("{0} screens are more than a separation can have; leave at most {MAX_SCREENS}")]
    TooMany(usize),
    /// A setting is out of its range.
    #[error("{what} must be {min} to {max}, not {value}")]
    Setting {
        /// The setting.
        what: &'static str,
        /// Least value.
        min: f64,
        /// Greatest value.
        max: f64,
        /// As given.
        value: f64,
    },
    /// Spot art without flat areas.
    #[error(
        "the artwork has no area of one colour, so it cannot be separated as spot art; use simulated process or index, \
         or count smaller areas"
    )]
    NoFlatColors,
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
        if screens[..at].iter().any(|other| other.name.eq_ignore_ascii_case(&screen.name)) {
            return Err(SeparateError::SameName(screen.name.clone()));
        }
    }
    let hl = &settings.highlight;
    let mut ranges = vec![
        ("black strength", settings.black_strength, 0.0, 1.0),
        ("cleanliness", settings.cleanliness, 0.0, 1.0),
        ("the total ink limit", settings.total_ink_limit, 0.1, MAX_SCREENS as f64),
        ("hue keeping", settings.hue_keeping, 0.0, 1.0),
        ("the strength of the underbase", settings.underbase.strength, 0.0, 1.0),
        ("the lightness at which the highlight white starts", hl.starts_at_l, 0.0, 100.0),
        ("the lightness at which the highlight white is full", hl.full_at_l, 0.0, 100.0),
        ("the chroma at which the highlight white ends", hl.max_chroma, 0.0, 200.0),
        ("the hold of the highlight white", hl.hold, 0.0, 1.0),
        ("the trap in mm", settings.spot.trap_mm.get(), 0.0, 5.0),
        ("the distance of one flat colour", settings.spot.same_within, 0.005, 0.5),
        ("the least share of a flat colour", settings.spot.least_share, 0.0, 0.5),
        ("the side of an index dot in mm", settings.index.dot_mm.get(), 0.05, 2.0),
    ];
    ranges.extend(screens.iter().map(|s| ("the willingness of a screen", s.willingness, -1.0, 1.0)));
    for (what, value, min, max) in ranges {
        if !(min..=max).contains(&value) {
            return Err(SeparateError::Setting { what, min, max, value });
        }
    }
    Ok(())
}
