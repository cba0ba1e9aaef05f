//! How the press runs a job: what stops between screens, gain, and the model's assumptions.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::DotGain;
use crate::units::{Coverage, Mm};
use crate::usage::{InkUse, Mesh};

/// What happens on the press after a screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Stop {
    /// A flash cures the surface: the next screen prints on a dry layer.
    Flash,
    /// A flash and an empty head to cool down.
    FlashAndCoolDown,
}

/// Press settings of a job. Screens are named by their names.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PressSettings {
    /// Heads on the press, flashes and cool-downs included. Default 8.
    pub heads: u8,
    /// What follows a screen, by screen name. Screens not named are followed by the next one
    /// wet on wet.
    pub stops: BTreeMap<String, Stop>,
    /// Opacity kept by a screen that prints on unflashed ink, 0..=1. Default 0.85, assumed.
    pub wet_on_wet: Coverage,
    /// Dot gain from film to shirt. Default 28 points at 50 %, assumed.
    pub gain: DotGain,
    /// Whether films carry the inverse of the gain, so that the shirt shows the coverage that
    /// the screens mean. Default true.
    pub compensate: bool,
    /// Whether the print is there to be measured: its films are left uncompensated on purpose.
    /// Default false.
    pub calibration: bool,
    /// Yule-Nielsen's n. Default 1: the gain curve carries the optical part.
    pub yule_nielsen: f64,
    /// Mesh of every screen that is not named in `meshes`. Default 230/48.
    pub mesh: Mesh,
    /// Mesh by screen name, where it differs.
    pub meshes: BTreeMap<String, Mesh>,
    /// How far screens may stand off each other on the shirt, each way. Default 0.2 mm, assumed
    /// (a maintained press keeps 0.03 mm; garment and mesh move more).
    pub register_mm: Mm,
    /// Distance of the print's upper edge from the collar's lower edge. Default 75 mm (three
    /// inches, common practice).
    pub below_collar_mm: Mm,
    /// What is assumed about ink on the run.
    pub ink: InkUse,
}

impl PressSettings {
    /// Mesh of a screen.
    pub fn mesh_of(&self, screen: &str) -> &Mesh {
        self.meshes.get(screen).unwrap_or(&self.mesh)
    }
}

impl Default for PressSettings {
    fn default() -> Self {
        Self {
            heads: 8,
            stops: BTreeMap::new(),
            wet_on_wet: Coverage::new(0.85).unwrap_or_else(|_| unreachable!()),
            gain: DotGain::default(),
            compensate: true,
            calibration: false,
            yule_nielsen: 1.0,
            mesh: Mesh::default(),
            meshes: BTreeMap::new(),
            register_mm: Mm::new(0.2).unwrap_or_else(|_| unreachable!()),
            below_collar_mm: Mm::new(75.0).unwrap_or_else(|_| unreachable!()),
            ink: InkUse::default(),
        }
    }
}
