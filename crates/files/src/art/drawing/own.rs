//! A page of a PDF that this program wrote itself a moment ago: drawn by the process itself, as nothing of anybody
//! else's is in it.

use std::sync::Arc;

use super::pdf;

/// A page as drawn.
pub(crate) struct OwnPage {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Pages of the file.
    pub pages: usize,
    /// Red, green, blue, multiplied by alpha, and alpha.
    pub rgba: Vec<u8>,
}

/// Draws page `page`, from 1, with `longest_px` pixels on its longer side.
pub(crate) fn draw_own_page(bytes: Vec<u8>, page: usize, longest_px: u32) -> Result<OwnPage, String> {
    let drawn = pdf::draw(Arc::new(bytes), page, longest_px)
        .map_err(|_| "the page cannot be drawn here; write the file and look at it".to_owned())?;
    let facts = drawn.facts;
    Ok(OwnPage {
        width: facts.width_px as usize,
        height: facts.height_px as usize,
        pages: facts.pages,
        rgba: drawn.rgba,
    })
}
