//! Why a photograph is not good enough, and what to do.

/// A photograph that cannot be read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PhotoError {
    /// Too few pixels.
    #[error(
        "a millimetre of the print is {found:.1} pixels and must be {least:.1}; go nearer, so that print and strip fill the picture"
    )]
    Small {
        /// Pixels a millimetre.
        found: f64,
        /// Needed.
        least: f64,
    },
    /// Too small a picture altogether.
    #[error("the picture is only {0} pixels wide or high; photograph print and strip with at least 1000")]
    Tiny(usize),
    /// No corner marks of the print.
    #[error(
        "the {0} squares in the corners of the print were not found; photograph the whole print of this job, flat, its upper \
         left mark with the hole, with nothing over the marks"
    )]
    NoMarks(usize),
    /// A corner outside.
    #[error("a corner of the {0} lies outside the picture; photograph it whole, with some garment round it")]
    Cropped(&'static str),
    /// No reference strip.
    #[error(
        "the reference strip was not found; lay it beside the print, flat and whole in the picture (strikeoff calibrate \
         --strip FILE draws it)"
    )]
    NoStrip,
    /// Edges too soft.
    #[error(
        "the picture is blurred: edges are {0:.1} mm wide and may be 1.8; hold the camera still, focus on the print and use more light"
    )]
    Blurred(f64),
    /// Perspective too steep.
    #[error(
        "the picture is taken too steeply: the near side is {0:.1} times as large as the far one; hold the camera above the print"
    )]
    Steep(f64),
    /// Clipped.
    #[error(
        "{what} is overexposed or has glare: its pixels are at the end of the scale; use less exposure, and light from the side"
    )]
    Clipped {
        /// Which part.
        what: String,
    },
    /// Not even within.
    #[error("{what} is not even: a reflection, a shadow or a stain lies on it; take it away and photograph again")]
    Spotted {
        /// Which part.
        what: String,
    },
    /// The light has edges.
    #[error(
        "the light changes abruptly on the {0}, by {1:.0} %: a shadow or a reflection; light it evenly and photograph again"
    )]
    Uneven(&'static str, f64),
    /// Too little light.
    #[error("the picture is too dark: the white of the strip is at {0:.0} % of the scale; expose it longer")]
    Dark(f64),
    /// Pixels too noisy.
    #[error("the picture is too noisy: a reading would be {0:.1} off in L*; use more light and a lower sensitivity")]
    Noisy(f64),
    /// Greys out of order.
    #[error("the greys of the strip do not get darker from field 0 to 7; is it the strip that was drawn, and clean?")]
    Greys,
    /// Another strip.
    #[error(
        "the colours of the strip are {0:.1} from what they are to be (CIEDE2000); give its measured values with --strip"
    )]
    OtherStrip(f64),
    /// A line of a strip's values.
    #[error(
        "line {line}: \"{text}\" is no field of the strip; write a number from 0 to 15 and L* a* b*, for example: 3 61 0 -1"
    )]
    StripLine {
        /// From 1.
        line: usize,
        /// As found.
        text: String,
    },
    /// A grey is missing.
    #[error("the strip's values lack the grey field {0}; all of 0 to 7 are needed")]
    StripGrey(usize),
}
