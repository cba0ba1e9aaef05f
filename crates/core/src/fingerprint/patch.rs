//! A printed and measured patch.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::press::flashed_between;
use crate::bounds::table;

/// Most inks of a fingerprint: their overprints double with each.
pub const MOST_INKS: usize = 8;

/// Coverages of the films, in print order, and where the press flashes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tint {
    /// Coverage of each film, 0..=1.
    #[schemars(transform = table::PATCH_FILMS.schema())]
    #[schemars(transform = table::PATCH_COVERAGE.each())]
    pub film: Vec<f64>,
    /// Bit i: a flash before ink i. 0 is wet on wet throughout.
    #[serde(default)]
    #[schemars(transform = table::PATCH_FLASHES.schema())]
    pub flashed: u32,
}

impl Tint {
    /// Wet on wet.
    pub fn wet(film: Vec<f64>) -> Self {
        Self { film, flashed: 0 }
    }

    /// A flash after every ink.
    pub fn dry(film: Vec<f64>) -> Self {
        Self { film, flashed: u32::MAX >> (32 - MOST_INKS) }
    }

    /// Whether it lies on the bare ground.
    pub fn is_bare(&self) -> bool {
        self.film.iter().all(|a| *a == 0.0)
    }

    /// Where it stands among others: its coverages, and how much ink lies on wet ink.
    pub(super) fn place(&self) -> Vec<f64> {
        let on_wet = |upper: usize| {
            let bare: f64 = (0..upper)
                .filter(|lower| !flashed_between(self.flashed, *lower, upper))
                .map(|lower| 1.0 - self.film[lower])
                .product();
            self.film[upper] * (1.0 - bare)
        };
        let wet = (0..self.film.len()).map(on_wet).sum();
        self.film.iter().copied().chain(std::iter::once(wet)).collect()
    }
}

/// A patch as measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Patch {
    /// What was printed.
    pub tint: Tint,
    /// CIELAB, of one white for all patches.
    #[schemars(transform = table::PATCH_LAB.each())]
    pub lab: [f64; 3],
}
