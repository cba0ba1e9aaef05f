//! Turns a film's rows into coded bands, in parallel and in order, a few bands at a time.

use rayon::prelude::*;
use strikeoff_core::{Cancelled, Progress};

use super::g4::{Band, Encoder};
use super::page::{FilmPage, PageCursor};

/// Rows of a band: one strip of the TIFF.
pub const BAND_ROWS: usize = 256;

/// Codes all of `page`, handing bands to `take` from the top down. Only a few bands are in
/// memory at any time.
pub fn encode_bands<E: From<Cancelled>>(
    page: &FilmPage<'_>,
    progress: impl Fn(f32) -> Result<(), Cancelled>,
    mut take: impl FnMut(Band) -> Result<(), E>,
) -> Result<(), E> {
    let bands = page.height_px.div_ceil(BAND_ROWS);
    let batch = rayon::current_num_threads() * 4;
    for start in (0..bands).step_by(batch) {
        progress(start as f32 / bands as f32)?;
        let coded: Vec<Band> =
            (start..(start + batch).min(bands)).into_par_iter().map(|band| encode_band(page, band)).collect();
        for band in coded {
            take(band)?;
        }
    }
    Ok(())
}

fn encode_band(page: &FilmPage<'_>, band: usize) -> Band {
    let first = band * BAND_ROWS;
    let end = (first + BAND_ROWS).min(page.height_px);
    let mut cursor = PageCursor::default();
    let mut row = vec![0; page.words()];
    let mut encoder = Encoder::new(page.width_px);
    let mut out = Band::default();
    if first > 0 {
        page.row(first - 1, &mut cursor, &mut row);
        encoder.set_above(&row);
    }
    page.row(first, &mut cursor, &mut row);
    encoder.encode(&row, &mut out.first_joined);
    encoder.set_above_white();
    encoder.encode(&row, &mut out.first_alone);
    for y in first + 1..end {
        page.row(y, &mut cursor, &mut row);
        encoder.encode(&row, &mut out.rest);
    }
    out
}

/// Progress of one part of a longer work: `from..to` of the whole.
pub fn part_of<'a>(
    progress: &'a Progress,
    what: &'a str,
    from: f32,
    to: f32,
) -> impl Fn(f32) -> Result<(), Cancelled> + 'a {
    move |done| progress.step(what, from + (to - from) * done)
}
