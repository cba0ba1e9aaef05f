//! A look at a page of a sheet before it is written: the file's own page, drawn.

use strikeoff_core::raster::Picture;

use super::canvas::SheetPdf;
use crate::art::drawing::draw_own_page;

/// Draws page `page`, from 1, of a sheet on white, with `longest_px` pixels on its longer side. With it comes how
/// many pages there are.
///
/// # Errors
/// A sentence if the page cannot be drawn.
pub fn look_at_page(sheet: &SheetPdf, page: usize, longest_px: u32) -> Result<(Picture, usize), String> {
    let drawn = draw_own_page(sheet.bytes.clone(), page, longest_px)?;
    let rgba: Vec<u8> = drawn.rgba.chunks_exact(4).flat_map(over_white).collect();
    Ok((Picture::from_rgba8(drawn.width, drawn.height, &rgba), drawn.pages))
}

/// A pixel whose colours are multiplied by alpha on white paper.
fn over_white(pixel: &[u8]) -> [u8; 4] {
    let [r, g, b] = [0, 1, 2].map(|at| pixel[at].saturating_add(255 - pixel[3]));
    [r, g, b, 255]
}
