//! The shop's own press: figures fitted to the patches of a calibration print, what they leave learned from the same
//! patches, and predictions that say how sure they are; see `docs/fingerprint.md`.

mod band;
mod compare;
mod design;
mod film;
mod fit;
mod linear;
mod patch;
mod predict;
mod press;
mod print;
mod prior;
mod rest;
mod spread;

pub use compare::Change;
pub use design::{MOST_READINGS, Planned, STEPS, design};
pub use patch::{MOST_INKS, Patch, Tint};
pub use predict::{Prediction, Predictor};
pub use print::{AssumedInk, Fingerprint, FitError};
pub use rest::Habit;
pub use spread::{farthest, spread};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;

/// The fitted figures of a press, in the order that the fit has them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Press {
    #[schemars(transform = table::PATCH_FIGURES.schema())]
    #[schemars(transform = table::PATCH_FIGURE.each())]
    figures: Vec<f64>,
}
