//! What a person chooses.

/// A flat colour of the art in encoded sRGB. Opacity 0 is clear, 255 solid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Colour {
    /// Encoded sRGB; black where clear.
    pub rgb: [u8; 3],
    /// 0 clear, 255 solid.
    pub opacity: u8,
}

impl Colour {
    /// No colour at all: the ground shows.
    pub const CLEAR: Self = Self { rgb: [0; 3], opacity: 0 };

    /// A solid colour.
    pub fn solid(rgb: [u8; 3]) -> Self {
        Self { rgb, opacity: 255 }
    }

    /// Whether nothing is drawn here.
    pub fn is_clear(self) -> bool {
        self.opacity == 0
    }
}

/// How the art's maker blended colours along an edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Blending {
    /// Found from the edges themselves: their pixels are half of either colour on average.
    #[default]
    Found,
    /// In encoded sRGB, as most programs do.
    Encoded,
    /// In linear light.
    Linear,
}

/// One change to the found colours. Changes are applied in order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ColourEdit {
    /// One colour more: the one that explains most of what is now drawn wrongly.
    More,
    /// One colour less: the two that cost least to draw as one.
    Fewer,
    /// The second colour is drawn as the first. Each is the found colour next to it.
    Merge {
        /// The colour that stays.
        keep: Colour,
        /// The colour that goes.
        away: Colour,
    },
    /// The colour of this pixel too, from the left and from the top.
    Add {
        /// Column, 0 at the left.
        x: usize,
        /// Row, 0 at the top.
        y: usize,
    },
}

/// How art is redrawn. Lengths and areas are in pixels of the art as received.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// How many colours, clear among them, 2 to 64. None: as many as the art has.
    pub colours: Option<usize>,
    /// Changes to the found colours, in order.
    pub edits: Vec<ColourEdit>,
    /// 0 keeps every turn of an outline, 1 draws the calmest outline that the art allows. Default 0.5.
    pub smoothness: f64,
    /// Regions smaller than this are drawn as what lies around them, square pixels. Default 2.
    pub least_area_px: f64,
    /// Colours nearer than this in OKLab are one. Default 0.03.
    pub alike: f64,
    /// Outlines turn sharply where they turn by more than this at one place, degrees. Default 24.
    pub corner_degrees: f64,
    /// How the art's maker blended colours along edges.
    pub blending: Blending,
    /// Least share of pixels that the redraw must explain, 0 to 1. Default 0.9; 0 takes any art.
    pub least_flatness: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            colours: None,
            edits: Vec::new(),
            smoothness: 0.5,
            least_area_px: 2.0,
            alike: 0.03,
            corner_degrees: 24.0,
            blending: Blending::Found,
            least_flatness: 0.9,
        }
    }
}
