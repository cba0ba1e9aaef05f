//! WebP, BMP and GIF (first frame), through the `image` crate's decoders.

use std::io::Cursor;

use image::codecs::{bmp::BmpDecoder, gif::GifDecoder, webp::WebPDecoder};
use image::{DynamicImage, ImageDecoder, ImageError, Limits};

use super::error::{Fault, check_memory, check_size};
use super::raw::{Alpha, Model, Raw, Samples, Tagged};
use super::resolution::{aspect, from_per_metre};
use super::{ReadOptions, exif};
use crate::limits::MAX_ART_PIXELS;

pub(super) fn decode_webp(bytes: &[u8], _: ReadOptions) -> Result<Raw, Fault> {
    let decoder = WebPDecoder::new(Cursor::new(bytes)).map_err(fault)?;
    let animated = decoder.has_animation();
    let mut raw = decode(decoder)?;
    if animated {
        raw.facts.notes.push("The file is an animation; its first frame is used.".into());
    }
    Ok(raw)
}

pub(super) fn decode_gif(bytes: &[u8], _: ReadOptions) -> Result<Raw, Fault> {
    let mut raw = decode(GifDecoder::new(Cursor::new(bytes)).map_err(fault)?)?;
    raw.facts.notes.push("A GIF holds at most 256 colours, so soft tones are already broken up.".into());
    Ok(raw)
}

pub(super) fn decode_bmp(bytes: &[u8], _: ReadOptions) -> Result<Raw, Fault> {
    let mut raw = decode(BmpDecoder::new(Cursor::new(bytes)).map_err(fault)?)?;
    // biXPelsPerMeter and biYPelsPerMeter of the information header (40 bytes or longer).
    let word = |at: usize| bytes.get(at..at + 4).map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]));
    if word(14).is_some_and(|header| header >= 40) {
        raw.ppi = word(38).and_then(|per_metre| from_per_metre(f64::from(per_metre)));
        raw.aspect = word(38).zip(word(42)).map_or(1.0, |(x, y)| aspect(f64::from(x), f64::from(y)));
    }
    Ok(raw)
}

fn decode(mut decoder: impl ImageDecoder) -> Result<Raw, Fault> {
    let (width, height) = decoder.dimensions();
    check_size(width.into(), height.into())?;
    check_memory(width.into(), height.into(), u64::from(width) * u64::from(height) * 4)?;
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(MAX_ART_PIXELS as u64 * 8);
    decoder.set_limits(limits).map_err(fault)?;
    let icc = decoder.icc_profile().ok().flatten();
    let block = decoder.exif_metadata().ok().flatten();
    let (samples, model, alpha) = match DynamicImage::from_decoder(decoder).map_err(fault)? {
        DynamicImage::ImageLuma8(v) => (Samples::U8(v.into_raw()), Model::Grey, Alpha::None),
        DynamicImage::ImageLumaA8(v) => (Samples::U8(v.into_raw()), Model::Grey, Alpha::Straight),
        DynamicImage::ImageRgb8(v) => (Samples::U8(v.into_raw()), Model::Rgb, Alpha::None),
        DynamicImage::ImageRgba8(v) => (Samples::U8(v.into_raw()), Model::Rgb, Alpha::Straight),
        other => (Samples::U16(other.into_rgba16().into_raw()), Model::Rgb, Alpha::Straight),
    };
    let mut raw = Raw::new((width.into(), height.into()), samples, model, alpha);
    if let Some(icc) = icc {
        raw.tagged = Tagged::Icc(icc);
    }
    if let Some(block) = block {
        let said = exif::read(&block);
        (raw.turn, raw.ppi, raw.aspect) = (said.turn, said.ppi, said.aspect);
    }
    Ok(raw)
}

fn fault(error: ImageError) -> Fault {
    match error {
        ImageError::Unsupported(what) => Fault::Unsupported(what.to_string()),
        ImageError::Limits(_) => Fault::TooInvolved("it asks for more memory than a picture may".into()),
        other => Fault::Damaged(other.to_string()),
    }
}
