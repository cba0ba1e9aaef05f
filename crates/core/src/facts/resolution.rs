//! True pixels of the art against the ruling. A halftone cell needs 1.5 to 2 pixels across
//! (common practice; 1.25 is the low end in one teaching text): under 1.5 tones go soft, under 1
//! the pixels themselves show.

use crate::units::Lpi;

/// What a resolution means at a ruling, in a sentence for people.
pub fn resolution_meaning(true_ppi: f64, ruling: Lpi) -> String {
    let ratio = true_ppi / ruling.get();
    let head = format!("{true_ppi:.0} ppi at print size, {ratio:.1}x the {ruling} lpi ruling");
    let tail = if ratio >= 3.0 {
        "more than the halftone can show; fine edges stay sharp"
    } else if ratio >= 1.5 {
        "enough for tones (1.5 to 2x is usual); sharp edges and small type will look soft"
    } else if ratio >= 1.0 {
        "too low for clean tones (at least 1.5x); the whole print will look soft"
    } else {
        "fewer pixels than dots; the pixels will show as steps"
    };
    format!("{head}: {tail}")
}
