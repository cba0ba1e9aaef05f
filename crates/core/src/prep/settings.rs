//! What the user decided about the art before separation. All of it in physical units or
//! fractions, so that a proxy and the full size agree.

use serde::{Deserialize, Serialize};

use crate::units::{Mm, Ppi};

/// A crop as fractions of the art's width and height, from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CropBox {
    /// Left edge, 0..1.
    pub left: f64,
    /// Top edge, 0..1.
    pub top: f64,
    /// Width, up to 1.
    pub width: f64,
    /// Height, up to 1.
    pub height: f64,
}

/// Settings of the preparation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PrepSettings {
    /// Part of the art that is kept; all of it if absent.
    pub crop: Option<CropBox>,
    /// Largest print width. Absent: no limit.
    pub max_width_mm: Option<Mm>,
    /// Largest print height. Absent: no limit. With neither limit the art's own size is kept.
    pub max_height_mm: Option<Mm>,
    /// Working resolution at print size. Default 300 ppi.
    pub ppi: Ppi,
    /// Unsharp masking after sizing: radius on the print in mm. Default 0.15.
    pub sharpen_radius_mm: Mm,
    /// Strength of the sharpening, 0 none. Default 0.6.
    pub sharpen_amount: f64,
}

impl Default for PrepSettings {
    fn default() -> Self {
        Self {
            crop: None,
            max_width_mm: None,
            max_height_mm: None,
            ppi: Ppi::new(300.0).unwrap_or_else(|_| unreachable!()),
            sharpen_radius_mm: Mm::new(0.15).unwrap_or_else(|_| unreachable!()),
            sharpen_amount: 0.6,
        }
    }
}
