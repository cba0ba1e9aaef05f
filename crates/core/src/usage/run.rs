//! The press and the run: heads, meshes, register, place on the shirt, ink. None of it changes a
//! screen.

use crate::screens::ScreenName;
use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{InkUse, Mesh, mesh_shelf};
use crate::bounds::table;
use crate::fingerprint::Fingerprint;
use crate::units::Mm;

/// How a job is run. Screens are named by their names.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PressRun {
    /// Heads on the press, flashes and cool-downs included. Default 8.
    #[schemars(transform = table::HEADS.schema())]
    pub heads: u8,
    /// Mesh of every screen that is not named in `meshes`. Default 230/48.
    pub mesh: Mesh,
    /// Mesh by screen name, where it differs.
    #[schemars(transform = table::NAMED_SCREENS.schema())]
    #[schemars(transform = table::SCREEN_NAME.keys())]
    pub meshes: BTreeMap<ScreenName, Mesh>,
    /// Meshes that the shop has, to choose from and to be advised. Default none named: the shelf of usual ones.
    #[schemars(transform = table::MESHES.schema())]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub meshes_at_hand: Vec<Mesh>,
    /// How far screens may print out of register on the shirt, each way. Default 0.2 mm, assumed
    /// (a maintained press keeps 0.03 mm; garment and mesh move more).
    #[schemars(transform = table::REGISTER.schema())]
    pub register_mm: Mm,
    /// Distance of the print's upper edge from the collar's lower edge. Default 75 mm (three
    /// inches, common practice).
    #[schemars(transform = table::BELOW_COLLAR.schema())]
    pub below_collar_mm: Mm,
    /// What is assumed about ink on the run.
    pub ink: InkUse,
    /// What was measured of the press, its inks and its ground, as it was when the job was made; it says how sure the
    /// predicted colours are. Absent: every figure of the press is assumed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fingerprint: Option<Box<Fingerprint>>,
    /// Whether the print is there to be measured: its films are left uncompensated on purpose.
    /// Default false.
    pub calibration: bool,
}

impl PressRun {
    /// Register in mm, each way, as one standard deviation of a normal error: half of how far screens may be
    /// out, which nineteen set-ups of twenty then keep to (assumed).
    pub fn usual_register_mm(&self) -> f64 {
        self.register_mm.get() / 2.0
    }

    /// Meshes to choose from, coarse to fine: the shop's own, or the shelf of usual ones.
    pub fn meshes_to_choose(&self) -> Vec<&Mesh> {
        choose_from(&self.meshes_at_hand)
    }

    /// Mesh of a screen.
    pub fn mesh_of(&self, screen: &ScreenName) -> &Mesh {
        self.meshes.get(screen).unwrap_or(&self.mesh)
    }
}

/// Of a shop's own meshes, or of the shelf of usual ones where it names none: coarse to fine.
pub fn choose_from(own: &[Mesh]) -> Vec<&Mesh> {
    let mut list: Vec<&Mesh> = if own.is_empty() { mesh_shelf().iter().collect() } else { own.iter().collect() };
    list.sort_by(|a, b| a.threads_per_inch.total_cmp(&b.threads_per_inch));
    list
}

impl Default for PressRun {
    fn default() -> Self {
        Self {
            heads: 8,
            mesh: Mesh::default(),
            meshes: BTreeMap::new(),
            meshes_at_hand: Vec::new(),
            register_mm: Mm::new(0.2).unwrap_or_else(|_| unreachable!()),
            below_collar_mm: Mm::new(75.0).unwrap_or_else(|_| unreachable!()),
            ink: InkUse::default(),
            fingerprint: None,
            calibration: false,
        }
    }
}
