//! What the user decided about the separation.

use serde::{Deserialize, Serialize};

use crate::ink::Ink;

/// One screen that the separation shall make.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedScreen {
    /// Name of the screen, unique in the job (case ignored). Usually the ink's.
    pub name: String,
    /// The ink it prints.
    pub ink: Ink,
    /// Prints of this screen, one on the other. Default 1.
    #[serde(default = "one")]
    pub hits: u8,
}

fn one() -> u8 {
    1
}

/// Settings of the separation.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SeparationSettings {
    /// In print order, first down first.
    pub screens: Vec<PlannedScreen>,
}
