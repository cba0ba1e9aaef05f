//! Turns a page's rows into coded bands, in parallel and in order, a few bands at a time.

use std::io::Write;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use rayon::prelude::*;
use strikeoff_core::{Cancelled, Progress};

use super::g4::{Band, Encoder};
use super::page::{FilmPage, PageCursor};
use super::tiff::TiffCompression;

/// Rows of a band: one strip of the TIFF.
pub const BAND_ROWS: usize = 256;

/// In which forms bands are coded.
#[derive(Debug, Clone, Copy)]
pub struct Forms {
    /// As Group 4, for a TIFF or a PDF.
    pub g4: bool,
    /// As a TIFF strip packed otherwise.
    pub packed: Option<TiffCompression>,
}

/// A band in the forms requested.
#[derive(Debug, Default)]
pub struct Coded {
    /// Group 4.
    pub g4: Band,
    /// A strip packed otherwise.
    pub packed: Vec<u8>,
}

/// Codes all of `page`, handing bands to `take` from the top down. Only a few bands are in
/// memory at any time.
pub fn encode_bands<E: From<Cancelled>>(
    page: &FilmPage<'_>,
    forms: Forms,
    progress: impl Fn(f32) -> Result<(), Cancelled>,
    mut take: impl FnMut(Coded) -> Result<(), E>,
) -> Result<(), E> {
    let bands = page.height_px.div_ceil(BAND_ROWS);
    let batch = rayon::current_num_threads() * 4;
    for start in (0..bands).step_by(batch) {
        progress(start as f32 / bands as f32)?;
        let coded: Vec<Coded> =
            (start..(start + batch).min(bands)).into_par_iter().map(|band| encode_band(page, forms, band)).collect();
        for band in coded {
            take(band)?;
        }
    }
    Ok(())
}

fn encode_band(page: &FilmPage<'_>, forms: Forms, band: usize) -> Coded {
    let first = band * BAND_ROWS;
    let end = (first + BAND_ROWS).min(page.height_px);
    let mut cursor = PageCursor::default();
    let mut row = vec![0; page.words()];
    let mut encoder = Encoder::new(page.width_px);
    let mut out = Coded::default();
    let stride = page.width_px.div_ceil(8);
    let mut plain = Vec::with_capacity(if forms.packed.is_some() { stride * (end - first) } else { 0 });
    if forms.g4 && first > 0 {
        page.row(first - 1, &mut cursor, &mut row);
        encoder.set_above(&row);
    }
    for y in first..end {
        page.row(y, &mut cursor, &mut row);
        if forms.g4 && y == first {
            encoder.encode(&row, &mut out.g4.first_joined);
            encoder.set_above_white();
            encoder.encode(&row, &mut out.g4.first_alone);
        } else if forms.g4 {
            encoder.encode(&row, &mut out.g4.rest);
        }
        if forms.packed.is_some() {
            // FillOrder 1: the leftmost pixel is the highest bit.
            let from = plain.len();
            plain.extend(row.iter().flat_map(|word| word.reverse_bits().to_be_bytes()));
            plain.truncate(from + stride);
        }
    }
    out.packed = match forms.packed {
        Some(TiffCompression::Deflate) => deflate(&plain),
        Some(_) => plain,
        None => Vec::new(),
    };
    out
}

/// A zlib stream of its own.
pub fn deflate(bytes: &[u8]) -> Vec<u8> {
    let mut packed = ZlibEncoder::new(Vec::with_capacity(bytes.len() / 4), Compression::new(4));
    packed.write_all(bytes).and_then(|()| packed.finish()).unwrap_or_else(|e| unreachable!("deflate into memory: {e}"))
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
