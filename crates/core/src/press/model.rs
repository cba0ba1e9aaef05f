//! What the press makes of the screens: what stops between them, gain, and how dots meet.

use crate::screens::ScreenName;
use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::DotGain;
use crate::bounds::table;
use crate::units::Coverage;

/// What happens on the press after a screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Stop {
    /// A flash cures the surface: the next screen prints on a dry layer.
    Flash,
    /// A flash and an empty head to cool down.
    FlashAndCoolDown,
}

/// How an ink lies on the wet ink of another, as measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WetPair {
    /// Name of the ink below.
    #[schemars(transform = table::INK_NAME.schema())]
    pub below: String,
    /// Name of the ink that prints on it.
    #[schemars(transform = table::INK_NAME.schema())]
    pub above: String,
    /// Opacity that the ink above keeps, 0..=1.
    pub keeps: Coverage,
}

/// The print model's settings. Screens are named by their names.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PrintModel {
    /// What follows a screen, by screen name. Screens not named are followed by the next one
    /// wet on wet.
    #[schemars(transform = table::NAMED_SCREENS.schema())]
    #[schemars(transform = table::SCREEN_NAME.keys())]
    pub stops: BTreeMap<ScreenName, Stop>,
    /// Opacity that an ink keeps where it prints on unflashed ink, 0..=1. Default 0.85, assumed.
    pub wet_on_wet: Coverage,
    /// Pairs of inks that were measured wet on wet; all others keep `wet_on_wet`.
    #[schemars(transform = table::WET_PAIRS.schema())]
    pub wet_pairs: Vec<WetPair>,
    /// Dot gain from film to shirt. Default 28 points at 50 %, assumed.
    pub gain: DotGain,
    /// Whether films carry the inverse of the gain, so that the shirt shows the coverage that
    /// the screens mean. Default true.
    pub compensate: bool,
    /// Yule-Nielsen's n. Default 1: the gain curve carries the optical part.
    #[schemars(transform = table::YULE_NIELSEN.schema())]
    pub yule_nielsen: f64,
}

impl Default for PrintModel {
    fn default() -> Self {
        Self {
            stops: BTreeMap::new(),
            wet_on_wet: Coverage::new(0.85).unwrap_or_else(|_| unreachable!()),
            wet_pairs: Vec::new(),
            gain: DotGain::default(),
            compensate: true,
            yule_nielsen: 1.0,
        }
    }
}
