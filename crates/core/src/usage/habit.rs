//! The mesh that a shop usually takes, by what a screen prints.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;

/// Mesh counts in threads an inch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct MeshDefaults {
    /// Colours in tones or in dots of one size. Default 230 threads an inch (common practice, no source).
    #[schemars(transform = table::THREADS.schema())]
    pub halftone_tpi: f64,
    /// Underbase, which carries tones. Default 230 threads an inch (a screen supplier's table, for simulated
    /// process; a heavy solid base takes 110).
    #[schemars(transform = table::THREADS.schema())]
    pub underbase_tpi: f64,
    /// Colours of spot art, which print solid. Default 156 threads an inch (common practice, no source).
    #[schemars(transform = table::THREADS.schema())]
    pub solid_tpi: f64,
}

impl Default for MeshDefaults {
    fn default() -> Self {
        Self { halftone_tpi: 230.0, underbase_tpi: 230.0, solid_tpi: 156.0 }
    }
}
