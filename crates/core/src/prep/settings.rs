//! What the user decided about the art before separation. All of it in physical units or
//! fractions, so that a proxy and the full size agree.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Turn;
use super::background::BackgroundSettings;
use super::specks::SpeckSettings;
use crate::bounds::table;
use crate::names::short;
use crate::units::{Degrees, Mm, ParseUnitError, Ppi};

/// A crop as fractions of the art's width and height, from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CropBox {
    /// Left edge, 0..1.
    #[schemars(transform = table::CROP_FROM.schema())]
    pub left: f64,
    /// Top edge, 0..1.
    #[schemars(transform = table::CROP_FROM.schema())]
    pub top: f64,
    /// Width, up to 1.
    #[schemars(transform = table::CROP_SIDE.schema())]
    pub width: f64,
    /// Height, up to 1.
    #[schemars(transform = table::CROP_SIDE.schema())]
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
    /// By a small trained net, which draws sharp edges again and takes away what compression left. It takes
    /// longer, and lettering under about 6 pixels of art becomes strokes that are no letters.
    Repair,
    /// Flat art redrawn as outlines, sharp at any size: for logos, badges and type of few flat colours. Other
    /// art is refused.
    Redraw,
}

/// The largest print that something takes: a platen, or the smallest garment of a run.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PrintArea {
    /// Across.
    #[schemars(transform = table::PRINT_WIDTH.schema())]
    pub width_mm: Mm,
    /// Down.
    #[schemars(transform = table::PRINT_HEIGHT.schema())]
    pub height_mm: Mm,
}

impl std::str::FromStr for PrintArea {
    type Err = ParseUnitError;

    /// Width and height, `14in x 40cm`; `14x18in` has one unit for both.
    fn from_str(text: &str) -> Result<Self, ParseUnitError> {
        let bad =
            || ParseUnitError::Form { text: short(text), what: "width and height", example: "14x18in or 356x457mm" };
        let (width, height) = text.split_once(['x', 'X', '\u{d7}']).ok_or_else(bad)?;
        let length = |text: &str| {
            text.parse::<Mm>().map_err(|e| if matches!(e, ParseUnitError::Form { .. }) { bad() } else { e })
        };
        let unit = height.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ' '));
        let width = width.trim_end();
        let own_unit = width.ends_with(|c: char| !c.is_ascii_digit() && c != '.');
        let width_mm = if own_unit { length(width)? } else { length(&format!("{width}{unit}"))? };
        Ok(Self { width_mm, height_mm: length(height)? })
    }
}

/// Settings of the preparation, in the order in which they are applied.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PrepSettings {
    /// Page of the art's file that is used, from 1. Default 1.
    #[schemars(transform = table::PAGE.schema())]
    pub page: usize,
    /// Mirroring and quarter turns. Default none.
    pub turn: Turn,
    /// A further turn counter-clockwise, to straighten; the corners that come in are clear.
    /// Default 0 degrees.
    #[schemars(transform = table::STRAIGHTEN.schema())]
    pub straighten: Degrees,
    /// Part of the turned art that is kept; all of it if absent.
    pub crop: Option<CropBox>,
    /// Crop further to the content with this margin on the print, in mm. Absent: no.
    #[schemars(transform = table::CONTENT_MARGIN.schema())]
    pub content_margin_mm: Option<Mm>,
    /// Easing of JPEG block borders, 0..=1. Default 0, none.
    #[schemars(transform = table::DEBLOCK.schema())]
    pub deblock: f64,
    /// Evening out of noise, 0..=1. Default 0, none.
    #[schemars(transform = table::DENOISE.schema())]
    pub denoise: f64,
    /// Background removal. Absent: none.
    pub background: Option<BackgroundSettings>,
    /// Removal of stray specks. Absent: none.
    pub specks: Option<SpeckSettings>,
    /// Largest print width. Absent: no limit.
    #[schemars(transform = table::PRINT_WIDTH.schema())]
    pub max_width_mm: Option<Mm>,
    /// Largest print height. Absent: no limit. Without any limit the art's own size is kept;
    /// with some the print is as large as all of them allow.
    #[schemars(transform = table::PRINT_HEIGHT.schema())]
    pub max_height_mm: Option<Mm>,
    /// Largest print of the platen. Absent: no limit.
    pub platen: Option<PrintArea>,
    /// Largest print of the smallest garment in the run, which governs the size. Absent: no limit.
    pub smallest_garment: Option<PrintArea>,
    /// Working resolution at print size. Default 300 ppi.
    #[schemars(transform = table::WORKING_PPI.schema())]
    pub ppi: Ppi,
    /// How art is enlarged. Default along edges.
    pub enlarging: Enlarging,
    /// How much of the damage found in the art is told to the repairing way, 0..=1: less keeps more of
    /// the grain, and of the damage. Default 1, all of it.
    #[schemars(transform = table::REPAIR.schema())]
    pub repair: f64,
    /// Colours of a redraw, clear among them. Absent: as many as the art has.
    #[schemars(transform = table::REDRAW_COLOURS.schema())]
    pub redraw_colours: Option<u32>,
    /// How calm the outlines of a redraw are: 0 keeps every turn, 1 the calmest that the art allows. Default 0.5.
    #[schemars(transform = table::REDRAW_SMOOTHNESS.schema())]
    pub redraw_smoothness: f64,
    /// Unsharp masking after sizing: radius on the print in mm. Default 0.15.
    #[schemars(transform = table::SHARPEN_RADIUS.schema())]
    pub sharpen_radius_mm: Mm,
    /// Strength of the sharpening, 0 none. Default 0.6.
    #[schemars(transform = table::SHARPEN_AMOUNT.schema())]
    pub sharpen_amount: f64,
    /// Differences from the surroundings below this are not sharpened, as a part of the whole
    /// range of lightness. Default 0.01, about 3 levels of 255.
    #[schemars(transform = table::SHARPEN_THRESHOLD.schema())]
    pub sharpen_threshold: f64,
    /// How far sharpening may leave the range of the nearest pixels, as a part of the whole range
    /// of lightness: 0 makes no halo at all. Default 0.06.
    #[schemars(transform = table::HALO_LIMIT.schema())]
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
            repair: 1.0,
            redraw_colours: None,
            redraw_smoothness: 0.5,
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

    fn limit(&self, own: Option<Mm>, side: impl Fn(PrintArea) -> Mm) -> Option<Mm> {
        let limits = [own, self.platen.map(&side), self.smallest_garment.map(&side)];
        limits.into_iter().flatten().min_by(|a, b| a.get().total_cmp(&b.get()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn areas_read_as_people_write_them() {
        for (text, [width, height]) in
            [("14x18in", [355.6, 457.2]), ("356 x 457 mm", [356.0, 457.0]), ("14in x 40cm", [355.6, 400.0])]
        {
            let got: PrintArea = text.parse().unwrap();
            let off = [got.width_mm.get() - width, got.height_mm.get() - height];
            assert!(off.iter().all(|d| d.abs() < 1e-6), "{text}");
        }
        for text in ["14", "14x18", "x3in", "ax3in", "14x18ft"] {
            assert!(text.parse::<PrintArea>().unwrap_err().to_string().contains("14x18in"), "{text}");
        }
    }
}
