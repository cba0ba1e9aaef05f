//! What the user decided about the art before separation. All of it in physical units or
//! fractions, so that a proxy and the full size agree.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Turn;
use super::background::BackgroundSettings;
use super::specks::SpeckSettings;
use crate::units::{Degrees, Mm, Ppi};

/// A crop as fractions of the art's width and height, from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
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

/// How art is enlarged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Enlarging {
    /// Along edges and corrected against the art: crisp, without halos.
    #[default]
    Edges,
    /// By Lanczos's kernel alone.
    Plain,
}

/// The largest print that something takes: a platen, or the smallest garment of a run.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PrintArea {
    /// Across.
    pub width_mm: Mm,
    /// Down.
    pub height_mm: Mm,
}

/// Settings of the preparation, in the order in which they are applied.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PrepSettings {
    /// Page of the art's file that is used, from 1. Default 1.
    pub page: usize,
    /// Mirroring and quarter turns. Default none.
    pub turn: Turn,
    /// A further turn counter-clockwise, to straighten; the corners that come in are clear.
    /// Default 0 degrees.
    pub straighten: Degrees,
    /// Part of the turned art that is kept; all of it if absent.
    pub crop: Option<CropBox>,
    /// Crop further to the content with this margin on the print, in mm. Absent: no.
    pub content_margin_mm: Option<Mm>,
    /// Easing of JPEG block borders, 0..=1. Default 0, none.
    pub deblock: f64,
    /// Evening out of noise, 0..=1. Default 0, none.
    pub denoise: f64,
    /// Background removal. Absent: none.
    pub background: Option<BackgroundSettings>,
    /// Removal of stray specks. Absent: none.
    pub specks: Option<SpeckSettings>,
    /// Largest print width. Absent: no limit.
    pub max_width_mm: Option<Mm>,
    /// Largest print height. Absent: no limit. Without any limit the art's own size is kept;
    /// with some the print is as large as all of them allow.
    pub max_height_mm: Option<Mm>,
    /// Largest print of the platen. Absent: no limit.
    pub platen: Option<PrintArea>,
    /// Largest print of the smallest garment in the run, which governs the size. Absent: no limit.
    pub smallest_garment: Option<PrintArea>,
    /// Working resolution at print size. Default 300 ppi.
    pub ppi: Ppi,
    /// How art is enlarged. Default along edges.
    pub enlarging: Enlarging,
    /// Unsharp masking after sizing: radius on the print in mm. Default 0.15.
    pub sharpen_radius_mm: Mm,
    /// Strength of the sharpening, 0 none. Default 0.6.
    pub sharpen_amount: f64,
    /// Differences from the surroundings below this are not sharpened, as a part of the whole
    /// range of lightness. Default 0.01, about 3 levels of 255.
    pub sharpen_threshold: f64,
    /// How far sharpening may leave the range of the nearest pixels, as a part of the whole range
    /// of lightness: 0 makes no halo at all. Default 0.06.
    pub halo_limit: f64,
}

impl Default for PrepSettings {
    fn default() -> Self {
        Self {
            page: 1,
            turn: Turn::default(),
            straighten: Degrees::new(0.0).unwrap_or_else(|_| unreachable!()),
            crop: None,
            content_margin_mm: None,
            deblock: 0.0,
            denoise: 0.0,
            background: None,
            specks: None,
            max_width_mm: None,
            max_height_mm: None,
            platen: None,
            smallest_garment: None,
            ppi: Ppi::new(300.0).unwrap_or_else(|_| unreachable!()),
            enlarging: Enlarging::default(),
            sharpen_radius_mm: Mm::new(0.15).unwrap_or_else(|_| unreachable!()),
            sharpen_amount: 0.6,
            sharpen_threshold: 0.01,
            halo_limit: 0.06,
        }
    }
}

impl PrepSettings {
    /// The widest print that all limits allow.
    pub fn width_limit_mm(&self) -> Option<Mm> {
        self.limit(self.max_width_mm, |area| area.width_mm)
    }

    /// The highest print that all limits allow.
    pub fn height_limit_mm(&self) -> Option<Mm> {
        self.limit(self.max_height_mm, |area| area.height_mm)
    }

    fn limit(&self, asked: Option<Mm>, side: impl Fn(PrintArea) -> Mm) -> Option<Mm> {
        let limits = [asked, self.platen.map(&side), self.smallest_garment.map(&side)];
        limits.into_iter().flatten().min_by(|a, b| a.get().total_cmp(&b.get()))
    }
}
