//! The methods of separation and what each has of its own to decide.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::units::{MM_PER_INCH, Mm};

/// How a picture is turned into screens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// Continuous tones on every screen, halftoned later: photographs and paintings.
    #[default]
    SimulatedProcess,
    /// Flat areas of few colours, each printed with its own ink: logos and lettering.
    SpotArt,
    /// Square dots of one size, one ink each, scattered until they look like the picture: no
    /// ruling, no angles, no moire.
    Index,
}

impl Method {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::SimulatedProcess, Self::SpotArt, Self::Index];

    /// As people call it.
    pub fn label(self) -> &'static str {
        match self {
            Self::SimulatedProcess => "Simulated process",
            Self::SpotArt => "Spot art",
            Self::Index => "Index",
        }
    }
}

/// What a flat colour of spot art is printed with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SpotInks {
    /// One ink, solid, with an underbase where that comes nearer; or bare fabric.
    #[default]
    OneEach,
    /// The layers and tints that come nearest, by the same solver as simulated process.
    Layers,
}

/// What becomes of pixels that an outline crosses. Screens hold coverage; a film of dots renders what
/// lies between none and solid with dots like any tone, so an outline of shares comes out serrated
/// by up to a pixel of the art (0.08 mm at 300 ppi), at the ruling of the film, and is as wide as
/// the art has it. Where an outline is to be a plain edge on the film, it is to be hard, and the
/// working resolution high enough that its steps do not show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SpotEdges {
    /// Their share of each side: no stroke becomes wider or thinner, and soft art stays soft.
    #[default]
    AntiAliased,
    /// All to the larger side: none or solid everywhere, no dots anywhere.
    Hard,
}

/// Settings of spot art.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct SpotSettings {
    /// What a flat colour is printed with. Default one ink each.
    pub inks: SpotInks,
    /// How outlines are kept. Default anti-aliased.
    pub edges: SpotEdges,
    /// How far a light ink is spread under a darker one that is printed after it. Default 0.15 mm
    /// (common practice: half to one point, 0.18 to 0.35 mm, less on a well-kept press).
    #[schemars(transform = table::TRAP.schema())]
    pub trap_mm: Mm,
    /// Distance in OKLab up to which two flat areas count as one colour. Default 0.05.
    #[schemars(transform = table::SAME_WITHIN.schema())]
    pub same_within: f64,
    /// Least share of the print that makes a flat colour, 0..=0.5. Default 0.001.
    #[schemars(transform = table::LEAST_SHARE.schema())]
    pub least_share: f64,
}

impl Default for SpotSettings {
    fn default() -> Self {
        Self {
            inks: SpotInks::default(),
            edges: SpotEdges::default(),
            trap_mm: Mm::new(0.15).unwrap_or_else(|_| unreachable!()),
            same_within: 0.05,
            least_share: 0.001,
        }
    }
}

/// Settings of index separation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct IndexSettings {
    /// Side of the square dots, 0.05..=2 mm. Default 1/180 in (0.141 mm), four pixels of a film
    /// printer of 720 dpi.
    #[schemars(transform = table::INDEX_DOT.schema())]
    pub dot_mm: Mm,
    /// Whether flat areas take the dots of one ink where one comes near (CIEDE2000 6), rather than dots of a
    /// second ink scattered among them to correct a small difference. Default true.
    pub keep_flat: bool,
}

impl Default for IndexSettings {
    fn default() -> Self {
        Self { dot_mm: Mm::new(MM_PER_INCH / 180.0).unwrap_or_else(|_| unreachable!()), keep_flat: true }
    }
}

impl IndexSettings {
    /// Working resolution at which every dot has a whole number of pixels, as near as possible to
    /// the one requested.
    pub fn working_ppi(&self, requested: f64) -> f64 {
        let dots_per_inch = MM_PER_INCH / self.dot_mm.get().max(1e-3);
        (requested / dots_per_inch).round().max(1.0) * dots_per_inch
    }
}
