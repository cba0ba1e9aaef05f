//! The garment under the print.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::color::{LinRgb, Rgb8, lab_from_linear};

/// A garment: a name and the colour of its fabric.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Garment {
    /// As the shop calls it.
    #[schemars(transform = table::GARMENT_NAME.schema())]
    pub name: String,
    /// Colour of the fabric.
    pub color: Rgb8,
    /// What the fabric is made of, if known ("cotton", "polyester", ...).
    #[schemars(transform = table::FABRIC.schema())]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fabric: Option<String>,
    /// Its knit, counted on the cloth, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub knit: Option<Knit>,
}

/// Loops of a jersey, counted with a glass.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Knit {
    /// Columns of loops an inch.
    #[schemars(transform = table::WALES.schema())]
    pub wales_per_inch: f64,
    /// Rows of loops an inch.
    #[schemars(transform = table::COURSES.schema())]
    pub courses_per_inch: f64,
}

impl Default for Knit {
    /// A usual T-shirt jersey (from memory, no source): 36 wales and 48 courses an inch.
    fn default() -> Self {
        Self { wales_per_inch: 36.0, courses_per_inch: 48.0 }
    }
}

impl Garment {
    /// A garment named after its colour.
    pub fn of_color(color: Rgb8) -> Self {
        Self { name: color.to_string(), color, fabric: None, knit: None }
    }

    /// Reflectance of the fabric, linear light.
    pub fn reflectance(&self) -> LinRgb {
        self.color.linear()
    }

    /// Whether art prints on it without an underbase: near-white fabric, L* of 85 or more
    /// (an assumption of ours; the user decides in the end).
    pub fn is_white(&self) -> bool {
        let lab = lab_from_linear(self.reflectance());
        lab.l >= 85.0 && lab.a.hypot(lab.b) <= 12.0
    }
}
