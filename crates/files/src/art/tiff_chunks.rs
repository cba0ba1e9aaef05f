//! Strips and tiles of a TIFF, decoded one by one, from any thread. Those of LZW, the usual
//! compression of large art, go straight from the file's bytes through a decoder made for whole
//! buffers, and horizontal differences are undone in place: the `tiff` crate refuses a sound chunk
//! whose table fills up on the last code (libtiff reads it). Everything else goes through the crate.
//! `benches/decode.rs`: LZW 1.86 times as fast as the crate's `read_image` (1.10 times its chunks read
//! in parallel), deflate 1.55 times, uncompressed 0.76 times.

use rayon::prelude::*;
use tiff::decoder::{ChunkType, DecodingResult};
use tiff::tags::{ByteOrder, Tag};
use weezl::BitOrder;
use weezl::LzwStatus;
use weezl::decode::{Configuration, Decoder};

use super::error::Fault;
use super::tiff::{Reader, fault, open};

/// Largest chunk that is decoded here: a whole A4 page at 600 ppi in one strip, and more.
const MAX_CHUNK: usize = 1 << 28;

/// LZW's chunks in a file (TIFF 6, section 13; differences, section 14).
pub(super) struct Lzw {
    /// First byte and length of each chunk.
    places: Vec<(u64, u64)>,
    /// Samples in a row of a chunk, between neighbours of one channel, and in the last one down.
    row: usize,
    step: usize,
    chunk_rows: usize,
    /// Rows of chunks and of the picture; the last strip is shorter.
    down: usize,
    last_rows: usize,
    differences: bool,
    wide: bool,
    swapped: bool,
}

impl Lzw {
    /// What it takes, if the page is of that kind: whole numbers of 8 or 16 bits as grey from
    /// black, RGB or CMYK.
    pub(super) fn of(reader: &mut Reader<'_>, bits: u8, channels: usize, planar: bool) -> Option<Self> {
        let mut number = |tag| reader.find_tag_unsigned::<u64>(tag).ok().flatten();
        let plain = number(Tag::Compression) == Some(5)
            && matches!(number(Tag::PhotometricInterpretation), Some(1 | 2 | 5))
            && number(Tag::FillOrder).unwrap_or(1) == 1
            && matches!(bits, 8 | 16);
        let differences = match number(Tag::Predictor).unwrap_or(1) {
            1 => false,
            2 => true,
            _ => return None,
        };
        let tiled = reader.get_chunk_type() == ChunkType::Tile;
        let mut list = |tag| reader.find_tag_unsigned_vec::<u64>(tag).ok().flatten();
        let whole = list(Tag::SampleFormat).is_none_or(|formats| formats.iter().all(|&f| f == 1));
        let (places, lengths) = if tiled {
            (list(Tag::TileOffsets)?, list(Tag::TileByteCounts)?)
        } else {
            (list(Tag::StripOffsets)?, list(Tag::StripByteCounts)?)
        };
        let (_, height) = reader.dimensions().ok()?;
        let (chunk_w, chunk_h) = reader.chunk_dimensions();
        let chunk_rows = if tiled { chunk_h } else { chunk_h.min(height) } as usize;
        let step = if planar { 1 } else { channels };
        let row = chunk_w as usize * step;
        let fits = row.checked_mul(chunk_rows).is_some_and(|samples| samples > 0 && samples <= MAX_CHUNK);
        if !(plain && whole && fits) {
            return None;
        }
        let down = (height as usize).div_ceil(chunk_rows);
        Some(Self {
            places: places.into_iter().zip(lengths).collect(),
            row,
            step,
            chunk_rows,
            down,
            last_rows: if tiled { chunk_rows } else { height as usize - (down - 1) * chunk_rows },
            differences,
            wide: bits == 16,
            swapped: (reader.byte_order() == ByteOrder::BigEndian) != cfg!(target_endian = "big"),
        })
    }

    fn chunk(&self, decoder: &mut Decoder, bytes: &[u8], index: usize, band: usize) -> Result<DecodingResult, Fault> {
        let outside = || Fault::Damaged("a strip lies beyond its end".into());
        let &(from, length) = self.places.get(index).ok_or_else(outside)?;
        let to = from.checked_add(length).ok_or_else(outside)?;
        let packed = bytes.get(from as usize..to as usize).ok_or_else(outside)?;
        let rows = if band + 1 == self.down { self.last_rows } else { self.chunk_rows };
        let samples = self.row * rows;
        if !self.wide {
            let mut out = vec![0_u8; samples];
            unpack(decoder, packed, &mut out)?;
            if self.differences {
                out.chunks_exact_mut(self.row).for_each(|row| undo(row, self.step, u8::wrapping_add));
            }
            return Ok(DecodingResult::U8(out));
        }
        let mut out = vec![0_u16; samples];
        unpack(decoder, packed, bytemuck::cast_slice_mut(&mut out))?;
        if self.swapped {
            out.iter_mut().for_each(|v| *v = v.swap_bytes());
        }
        if self.differences {
            out.chunks_exact_mut(self.row).for_each(|row| undo(row, self.step, u16::wrapping_add));
        }
        Ok(DecodingResult::U16(out))
    }
}

fn unpack(decoder: &mut Decoder, mut packed: &[u8], mut out: &mut [u8]) -> Result<(), Fault> {
    decoder.reset();
    while !out.is_empty() {
        let done = decoder.decode_bytes(packed, out);
        (packed, out) = (&packed[done.consumed_in..], &mut out[done.consumed_out..]);
        match done.status {
            Ok(LzwStatus::Ok) if done.consumed_in + done.consumed_out > 0 => {}
            Ok(_) if out.is_empty() => {}
            Ok(_) => return Err(Fault::Damaged("a strip is shorter than its size".into())),
            Err(error) => return Err(Fault::Damaged(error.to_string())),
        }
    }
    Ok(())
}

/// Values from differences to the value `step` before.
fn undo<T: Copy>(row: &mut [T], step: usize, add: impl Fn(T, T) -> T) {
    // The usual steps as constants, so that what came before stays in registers.
    match step {
        1 => undo_of::<T, 1>(row, add),
        3 => undo_of::<T, 3>(row, add),
        4 => undo_of::<T, 4>(row, add),
        _ => (step..row.len()).for_each(|at| row[at] = add(row[at], row[at - step])),
    }
}

fn undo_of<T: Copy, const N: usize>(row: &mut [T], add: impl Fn(T, T) -> T) {
    let (pixels, _) = row.as_chunks_mut::<N>();
    let Some((&mut first, rest)) = pixels.split_first_mut() else { return };
    let mut before = first;
    for pixel in rest {
        (0..N).for_each(|c| pixel[c] = add(pixel[c], before[c]));
        before = *pixel;
    }
}

/// Gives chunks of one page, on one thread.
pub(super) struct Chunks<'a> {
    bytes: &'a [u8],
    page: usize,
    own: Option<(&'a Lzw, Box<Decoder>)>,
    /// Opened for the first chunk that ours does not take.
    library: Option<Box<Reader<'a>>>,
}

impl<'a> Chunks<'a> {
    pub(super) fn new(bytes: &'a [u8], page: usize, lzw: Option<&'a Lzw>) -> Self {
        let how = Configuration::with_tiff_size_switch(BitOrder::Msb, 8).with_yield_on_full_buffer(true);
        let own = lzw.map(|lzw| (lzw, Box::new(how.build())));
        Self { bytes, page, own, library: None }
    }

    /// The chunk `index`, which lies in row `band` of them, and the pixels in a row of it: ours are whole
    /// tiles, the library's are cut to the picture. What ours refuses is the library's to judge.
    pub(super) fn get(&mut self, index: usize, band: usize) -> Result<(DecodingResult, usize), Fault> {
        if let Some((lzw, decoder)) = &mut self.own
            && let Ok(chunk) = lzw.chunk(decoder, self.bytes, index, band)
        {
            return Ok((chunk, lzw.row / lzw.step));
        }
        let library = match &mut self.library {
            Some(library) => library,
            none => none.insert(Box::new(open(self.bytes, self.page)?)),
        };
        let chunk = library.read_chunk(index as u32).map_err(fault)?;
        Ok((chunk, library.chunk_data_dimensions(index as u32).0 as usize))
    }
}

/// Runs `put` on every band of `out`, `length` long, in parallel, each thread with chunks of its
/// own.
pub(super) fn bands<'a, T: Send>(
    out: &mut [T],
    length: usize,
    chunks: impl Fn() -> Chunks<'a> + Sync,
    put: impl Fn(&mut Chunks<'a>, usize, &mut [T]) -> Result<(), Fault> + Sync,
) -> Result<(), Fault> {
    out.par_chunks_mut(length).enumerate().try_for_each_init(&chunks, |chunks, (band, rows)| put(chunks, band, rows))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_are_undone_for_every_step() {
        for step in [1, 2, 3, 4, 5] {
            let values: Vec<u8> = (0..60).map(|i| (i * i * 7 + i) as u8).collect();
            let mut row: Vec<u8> =
                (0..60).map(|i: usize| values[i].wrapping_sub(if i >= step { values[i - step] } else { 0 })).collect();
            undo(&mut row, step, u8::wrapping_add);
            assert_eq!(row, values);
        }
    }
}
