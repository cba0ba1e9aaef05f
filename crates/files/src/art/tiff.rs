//! TIFF (revision 6 with its supplements): strips or tiles, chunky, 8 or 16 bits, grey, RGB and
//! CMYK, with alpha. Strips are decoded in parallel, each thread with a reader of its own.

use std::io::Cursor;

use rayon::prelude::*;
use strikeoff_core::units::{MM_PER_INCH, Ppi};
use tiff::decoder::{Decoder, DecodingResult, Limits, ifd::Value};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

use super::error::{Fault, check_size};
use super::raw::{Alpha, Model, Raw, Samples};
use super::resolution::sensible;

type Reader<'a> = Decoder<Cursor<&'a [u8]>>;

pub(super) fn decode(bytes: &[u8]) -> Result<Raw, Fault> {
    let mut reader = open(bytes)?;
    let (width, height) = reader.dimensions().map_err(fault)?;
    check_size(width.into(), height.into())?;
    let color = reader.colortype().map_err(fault)?;
    let (model, mut alpha) = match color {
        ColorType::Gray(_) => (Model::Grey, Alpha::None),
        ColorType::GrayA(_) => (Model::Grey, Alpha::Straight),
        ColorType::RGB(_) => (Model::Rgb, Alpha::None),
        ColorType::RGBA(_) => (Model::Rgb, Alpha::Straight),
        ColorType::CMYK(_) => (Model::Cmyk, Alpha::None),
        ColorType::CMYKA(_) => (Model::Cmyk, Alpha::Straight),
        ColorType::Multiband { num_samples: 2, .. } => (Model::Grey, Alpha::Straight),
        other => return Err(Fault::Unsupported(format!("samples are {other:?}"))),
    };
    // ExtraSamples 1: colour is multiplied by alpha (TIFF 6, section 18).
    let extra: Option<Vec<u16>> = reader.find_tag_unsigned_vec(Tag::ExtraSamples).ok().flatten();
    if alpha != Alpha::None && extra.as_deref().and_then(|e| e.first()) == Some(&1) {
        alpha = Alpha::Premultiplied;
    }
    let planar: Option<u16> = reader.find_tag_unsigned(Tag::PlanarConfiguration).ok().flatten();
    if planar == Some(2) {
        return Err(Fault::Unsupported("samples lie in separate planes".into()));
    }
    let icc = match reader.find_tag(Tag::IccProfile) {
        Ok(Some(value)) => value.into_u8_vec().ok(),
        _ => None,
    };
    let ppi = resolution(&mut reader);
    let channels = usize::from(color.num_samples());
    let samples = match color.bit_depth() {
        8 => Samples::U8(chunks(bytes, &mut reader, channels, |result| match result {
            DecodingResult::U8(v) => Some(v),
            _ => None,
        })?),
        16 => Samples::U16(chunks(bytes, &mut reader, channels, |result| match result {
            DecodingResult::U16(v) => Some(v),
            _ => None,
        })?),
        other => return Err(Fault::Unsupported(format!("{other} bits a sample"))),
    };
    Ok(Raw { width: width.into(), height: height.into(), samples, model, alpha, icc, ppi })
}

fn open(bytes: &[u8]) -> Result<Reader<'_>, Fault> {
    let mut limits = Limits::default();
    limits.decoding_buffer_size = 1 << 30;
    limits.intermediate_buffer_size = 1 << 30;
    limits.ifd_value_size = 1 << 26;
    Ok(Decoder::new(Cursor::new(bytes)).map_err(fault)?.with_limits(limits))
}

/// Decodes all strips or tiles into one buffer of rows.
fn chunks<T: Copy + Default + Send + Sync>(
    bytes: &[u8],
    reader: &mut Reader<'_>,
    channels: usize,
    pick: impl Fn(DecodingResult) -> Option<Vec<T>> + Sync,
) -> Result<Vec<T>, Fault> {
    let (width, height) = reader.dimensions().map_err(fault)?;
    let (width, height) = (width as usize, height as usize);
    let (chunk_w, chunk_h) = reader.chunk_dimensions();
    let (chunk_w, chunk_h) = (chunk_w as usize, chunk_h as usize);
    if chunk_w == 0 || chunk_h == 0 {
        return Err(Fault::Damaged("its strips have no rows".into()));
    }
    let across = width.div_ceil(chunk_w);
    let mut out = vec![T::default(); width * height * channels];
    // A band is a row of tiles, or one strip: bands do not overlap in the output.
    out.par_chunks_mut(chunk_h * width * channels).enumerate().try_for_each_init(
        || open(bytes),
        |reader, (band, rows)| {
            let reader = reader.as_mut().map_err(|_| Fault::Damaged("it cannot be opened twice".into()))?;
            for column in 0..across {
                let index = (band * across + column) as u32;
                let (got_w, got_h) = reader.chunk_data_dimensions(index);
                let (got_w, got_h) = (got_w as usize, got_h as usize);
                let chunk = pick(reader.read_chunk(index).map_err(fault)?)
                    .ok_or_else(|| Fault::Unsupported("its samples are not whole numbers".into()))?;
                if chunk.len() < got_w * got_h * channels || got_h * width * channels > rows.len() {
                    return Err(Fault::Damaged("a strip is shorter than its size".into()));
                }
                let left = column * chunk_w * channels;
                for (to, from) in rows.chunks_exact_mut(width * channels).zip(chunk.chunks_exact(got_w * channels)) {
                    to[left..left + got_w * channels].copy_from_slice(from);
                }
            }
            Ok(())
        },
    )?;
    Ok(out)
}

fn resolution(reader: &mut Reader<'_>) -> Option<Ppi> {
    let value = match reader.find_tag(Tag::XResolution).ok()?? {
        Value::Rational(n, d) => f64::from(n) / f64::from(d),
        Value::Float(v) => f64::from(v),
        other => other.into_u32().ok().map(f64::from)?,
    };
    // ResolutionUnit 2 is the inch and the default, 3 the centimetre, 1 no absolute unit.
    match reader.find_tag_unsigned::<u16>(Tag::ResolutionUnit).ok()?.unwrap_or(2) {
        2 => sensible(value),
        3 => sensible(value * MM_PER_INCH / 10.0),
        _ => None,
    }
}

fn fault(error: TiffError) -> Fault {
    match error {
        TiffError::UnsupportedError(what) => Fault::Unsupported(what.to_string()),
        TiffError::LimitsExceeded => Fault::Damaged("it asks for more memory than a picture may".into()),
        other => Fault::Damaged(other.to_string()),
    }
}
