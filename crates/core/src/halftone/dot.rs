//! Dot shapes as spot functions: the higher the value, the earlier the place takes ink.

use super::DotShape;

/// A spot function over one cell, each axis -0.5..0.5 with the dot in the middle.
pub(super) type SpotFunction = Box<dyn Fn(f64, f64) -> f64 + Send + Sync>;

impl DotShape {
    /// The order in which a cell fills.
    pub(super) fn spot_function(&self) -> SpotFunction {
        match self {
            Self::Round => Box::new(|x, y| -(x * x + y * y)),
        }
    }
}
