//! How films are screened.

use serde::{Deserialize, Serialize};

use crate::units::{Degrees, Dpi, Lpi};

/// Shape of the halftone dot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DotShape {
    /// Round at every tone.
    #[default]
    Round,
}

/// Film settings of a job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct FilmSettings {
    /// Film printer resolution. Default 720 dpi.
    pub dpi: Dpi,
    /// Ruling. Default 45 lpi.
    pub ruling: Lpi,
    /// Angle. Default 22.5 degrees for every screen (the trade's one-angle rule).
    pub angle: Degrees,
    /// Dot shape. Default round.
    pub dot: DotShape,
}

impl Default for FilmSettings {
    fn default() -> Self {
        Self {
            dpi: Dpi::new(720.0).unwrap_or_else(|_| unreachable!()),
            ruling: Lpi::new(45.0).unwrap_or_else(|_| unreachable!()),
            angle: Degrees::new(22.5).unwrap_or_else(|_| unreachable!()),
            dot: DotShape::Round,
        }
    }
}
