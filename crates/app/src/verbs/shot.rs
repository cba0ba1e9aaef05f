//! Photographs of prints, for the verbs that read them.

use std::path::Path;

use anyhow::{Context, Result};
use strikeoff_core::raster::Picture;
use strikeoff_files::art::{decode_art, read_art_file};
use strikeoff_files::photo::Shot;

/// The picture of a file.
pub(super) fn picture(path: &Path) -> Result<Picture> {
    let (name, bytes) = read_art_file(path)?;
    Ok(decode_art(&name, &bytes).with_context(|| path.display().to_string())?.picture)
}

/// What a photograph was like, in a line.
pub(super) fn told(shot: &Shot) -> String {
    let strip = match (shot.strip_miss, shot.strip_measured) {
        (None, false) => "no reference strip: taken as an sRGB scan".to_owned(),
        (None, true) => "strip measured, greys alone: colours are assumed to be the camera's".to_owned(),
        (Some(miss), measured) => {
            let from = if measured { "as measured" } else { "as drawn, which is assumed" };
            format!("the strip's colours come out within {miss:.1} (CIEDE2000), {from}")
        }
    };
    format!("{:.1} pixels a millimetre, noise of a reading {:.2}; {strip}\n", shot.px_mm, shot.noise)
}
