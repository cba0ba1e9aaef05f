//! Pictures and planes to PNG, with resolution and colour space in the file.

use std::io::Write;
use std::path::Path;

use png::{BitDepth, ColorType, Encoder, PixelDimensions, SrgbRenderingIntent, Unit};
use strikeoff_core::raster::{FULL, Picture, Plane};
use strikeoff_core::units::Ppi;

use crate::{WriteError, write_aside};

/// Writes a picture as an 8-bit PNG, RGB or RGBA as it needs, marked sRGB and with its
/// resolution (PNG third edition, chunks sRGB and pHYs).
pub fn write_png(path: &Path, picture: &Picture, ppi: Ppi) -> Result<(), WriteError> {
    write_aside(path, |out| encode_picture(out, picture, ppi).map_err(|e| WriteError::io(path, e.into())))
}

/// The same PNG in memory.
pub fn png_bytes(picture: &Picture, ppi: Ppi) -> Vec<u8> {
    let mut out = Vec::new();
    encode_picture(&mut out, picture, ppi).unwrap_or_else(|error| unreachable!("PNG into memory: {error}"));
    out
}

fn encode_picture<W: Write>(out: W, picture: &Picture, ppi: Ppi) -> Result<(), png::EncodingError> {
    let alpha = picture.has_alpha();
    let mut bytes = picture.to_rgba8();
    if !alpha {
        bytes = bytes.chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    }
    let mut encoder = encoder(out, picture.width(), picture.height(), ppi);
    encoder.set_color(if alpha { ColorType::Rgba } else { ColorType::Rgb });
    encoder.set_depth(BitDepth::Eight);
    encoder.set_source_srgb(SrgbRenderingIntent::RelativeColorimetric);
    finish(encoder, &bytes)
}

/// Writes a coverage plane as a 16-bit grey PNG in film sense: ink black on white.
pub fn write_film_png(path: &Path, coverage: &Plane<u16>, ppi: Ppi) -> Result<(), WriteError> {
    let bytes: Vec<u8> = coverage.data().iter().flat_map(|&v| (FULL - v).to_be_bytes()).collect();
    write_aside(path, |out| {
        let mut encoder = encoder(out, coverage.width(), coverage.height(), ppi);
        encoder.set_color(ColorType::Grayscale);
        encoder.set_depth(BitDepth::Sixteen);
        finish(encoder, &bytes).map_err(|e| WriteError::io(path, e.into()))
    })
}

fn encoder<W: Write>(out: W, width: usize, height: usize, ppi: Ppi) -> Encoder<'static, W> {
    let mut encoder = Encoder::new(out, width as u32, height as u32);
    let per_metre = (ppi.get() / 0.0254).round() as u32;
    encoder.set_pixel_dims(Some(PixelDimensions { xppu: per_metre, yppu: per_metre, unit: Unit::Meter }));
    encoder
}

fn finish<W: Write>(encoder: Encoder<'_, W>, bytes: &[u8]) -> Result<(), png::EncodingError> {
    let mut writer = encoder.write_header()?;
    writer.write_image_data(bytes)?;
    writer.finish()
}
