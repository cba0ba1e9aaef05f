//! The edits.

use serde::{Deserialize, Serialize};

use crate::ink::Ink;
use crate::units::Coverage;

/// An edit with its switch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EditEntry {
    /// Whether it is applied.
    pub on: bool,
    /// What it does.
    pub edit: Edit,
}

/// One edit. Screens are named by their names.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum Edit {
    /// Multiplies the film values of `from` into `into`, and drops `from`.
    Merge {
        /// The screen that goes.
        from: String,
        /// The screen that stays.
        into: String,
    },
    /// Prints a screen with another ink.
    ReInk {
        /// The screen.
        screen: String,
        /// Its new ink.
        ink: Ink,
    },
    /// Takes a screen out.
    Drop {
        /// The screen.
        screen: String,
    },
    /// Sets the print order; screens not named follow in their present order.
    Order {
        /// First down first.
        screens: Vec<String>,
    },
    /// Takes coverage under a threshold out, and optionally all of it in the background.
    Trim {
        /// The screen.
        screen: String,
        /// Coverage below this becomes none.
        below: Coverage,
        /// Whether the screen is cleared where the art's background is.
        background: bool,
    },
}
