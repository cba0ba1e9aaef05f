//! What is to be known about a client's file before anything is done with it.

use serde::Serialize;
use strikeoff_core::raster::Art;

/// A client's picture and the facts of its file.
#[derive(Debug, Clone)]
pub struct Received {
    /// The picture in the working space.
    pub art: Art,
    /// What the file says and what had to be assumed.
    pub facts: FileFacts,
}

/// Facts of a file.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct FileFacts {
    /// "PNG", "JPEG", ...
    pub format: String,
    /// Pixels across, as shown upright.
    pub width_px: usize,
    /// Pixels down.
    pub height_px: usize,
    /// "RGB", "grey" or "CMYK".
    pub samples: String,
    /// Bits of each sample in the file.
    pub bits_per_sample: u8,
    /// Whether some of it is see-through.
    pub transparent: bool,
    /// Name of the colour profile, or what was assumed without one.
    pub color_profile: String,
    /// Share of its pixels, 0..=1, whose colour lies visibly outside sRGB and was brought to its edge:
    /// the working space has sRGB's primaries.
    pub outside_srgb: f64,
    /// Resolution that the file states; absent: it states none, and 96 ppi is taken.
    pub stated_ppi: Option<f64>,
    /// Pages or frames in the file.
    pub pages: usize,
    /// JPEG only: quality on the common scale 1..=100, from the file's luminance table against
    /// the example table of ITU-T T.81 annex K.
    pub jpeg_quality: Option<u8>,
    /// What else the user should know, a sentence each: missing fonts, pictures left out.
    pub notes: Vec<String>,
}

impl FileFacts {
    /// What became of colours outside sRGB, for people; nothing where there are hardly any.
    pub fn clipped_colors(&self) -> Option<String> {
        let percent = 100.0 * self.outside_srgb;
        (percent >= 0.1).then(|| {
            format!(
                "{percent:.1} % of its pixels have colours outside sRGB, brought to its edge: inks and proofs are in \
                 sRGB. A neon ink may come nearer on the shirt."
            )
        })
    }
}
