//! Pictures and planes to PNG and TIFF, with resolution and colour space in the file.

use std::borrow::Cow;
use std::io::{Cursor, Write};
use std::path::Path;

use moxcms::{CmsError, ColorDateTime, ColorProfile};
use png::{BitDepth, ColorType, Encoder, Info, PixelDimensions, SrgbRenderingIntent, Unit};
use strikeoff_core::raster::{FULL, Picture, Plane};
use strikeoff_core::units::Ppi;
use tiff::encoder::colortype::{RGB8, RGBA8};
use tiff::encoder::{Compression, DeflateLevel, Rational, TiffEncoder};
use tiff::tags::{ResolutionUnit, Tag};

use crate::{WriteError, write_aside};

/// Why a picture was not written.
#[derive(Debug, thiserror::Error)]
pub enum PictureError {
    /// Neither PNG nor TIFF.
    #[error("{0} does not say which kind of picture to write; end its name in .png or .tif")]
    Kind(String),
    /// The system refused.
    #[error(transparent)]
    Write(#[from] WriteError),
}

/// The sRGB profile as ICC bytes. It bears a fixed date, so that the same job gives the same file.
pub(crate) fn srgb_profile() -> Result<Vec<u8>, CmsError> {
    let mut profile = ColorProfile::new_srgb();
    profile.creation_date_time =
        ColorDateTime { year: 2000, month: 1, day_of_the_month: 1, hours: 0, minutes: 0, seconds: 0 };
    profile.encode()
}

/// Writes a picture with 8 bits a channel, RGB or RGBA as it needs, with its resolution and an sRGB
/// ICC profile: a PNG (third edition, chunks iCCP and pHYs) or a TIFF (Revision 6.0, deflate, tag
/// 34675), by the ending of its name.
pub fn write_picture(path: &Path, picture: &Picture, ppi: Ppi) -> Result<(), PictureError> {
    let profile = srgb_profile().unwrap_or_default();
    let alpha = picture.has_alpha();
    let bytes = bytes_of(picture);
    let other = |e: &dyn std::fmt::Display| WriteError::io(path, std::io::Error::other(e.to_string()));
    match path.extension().map(|e| e.to_string_lossy().to_lowercase()).as_deref() {
        Some("png") => write_aside(path, |out| {
            let mut info = Info::with_size(picture.width() as u32, picture.height() as u32);
            info.bit_depth = BitDepth::Eight;
            info.color_type = if alpha { ColorType::Rgba } else { ColorType::Rgb };
            info.icc_profile = Some(Cow::Owned(profile));
            info.pixel_dims = Some(pixel_dimensions(ppi));
            let encoder = Encoder::with_info(out, info).map_err(|e| other(&e))?;
            Ok(finish(encoder, &bytes).map_err(|e| other(&e))?)
        }),
        Some("tif" | "tiff") => {
            let mut out = Cursor::new(Vec::new());
            encode_tiff(&mut out, picture, ppi, &profile, &bytes).map_err(|e| other(&e))?;
            Ok(write_aside(path, |file| file.write_all(out.get_ref()).map_err(|e| WriteError::io(path, e)))?)
        }
        _ => Err(PictureError::Kind(path.display().to_string())),
    }
}

fn encode_tiff(
    out: &mut Cursor<Vec<u8>>,
    picture: &Picture,
    ppi: Ppi,
    profile: &[u8],
    bytes: &[u8],
) -> tiff::TiffResult<()> {
    let (width, height) = (picture.width() as u32, picture.height() as u32);
    let resolution = Rational { n: (ppi.get() * 1000.0).round() as u32, d: 1000 };
    let mut encoder = TiffEncoder::new(out)?.with_compression(Compression::Deflate(DeflateLevel::Fast));
    macro_rules! image {
        ($kind:ty, $alpha:expr) => {{
            let mut image = encoder.new_image::<$kind>(width, height)?;
            image.resolution(ResolutionUnit::Inch, resolution);
            image.encoder().write_tag(Tag::IccProfile, profile)?;
            if $alpha {
                // Unassociated alpha.
                image.encoder().write_tag(Tag::ExtraSamples, &[2_u16][..])?;
            }
            image.write_data(bytes)
        }};
    }
    if picture.has_alpha() { image!(RGBA8, true) } else { image!(RGB8, false) }
}

/// RGB, or RGBA where there is alpha, 8 bits each.
fn bytes_of(picture: &Picture) -> Vec<u8> {
    let bytes = picture.to_rgba8();
    if picture.has_alpha() { bytes } else { bytes.chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect() }
}

/// Writes a picture as an 8-bit PNG, RGB or RGBA as it needs, marked sRGB and with its
/// resolution (PNG third edition, chunks sRGB and pHYs).
pub fn write_png(path: &Path, picture: &Picture, ppi: Ppi) -> Result<(), WriteError> {
    write_aside(path, |out| encode_picture(out, picture, ppi).map_err(|e| WriteError::io(path, e.into())))
}

/// Width, height and 8-bit RGBA pixels of a small PNG of our own; none if it cannot be read.
pub fn small_png_pixels(png: &[u8]) -> Option<([usize; 2], Vec<u8>)> {
    let picture = image::load_from_memory_with_format(png, image::ImageFormat::Png).ok()?.to_rgba8();
    Some(([picture.width() as usize, picture.height() as usize], picture.into_raw()))
}

/// The same PNG in memory.
pub fn png_bytes(picture: &Picture, ppi: Ppi) -> Vec<u8> {
    let mut out = Vec::new();
    encode_picture(&mut out, picture, ppi).unwrap_or_else(|error| unreachable!("PNG into memory: {error}"));
    out
}

fn encode_picture<W: Write>(out: W, picture: &Picture, ppi: Ppi) -> Result<(), png::EncodingError> {
    let alpha = picture.has_alpha();
    let bytes = bytes_of(picture);
    let mut encoder = encoder(out, picture.width(), picture.height(), ppi);
    encoder.set_color(if alpha { ColorType::Rgba } else { ColorType::Rgb });
    encoder.set_depth(BitDepth::Eight);
    encoder.set_source_srgb(SrgbRenderingIntent::RelativeColorimetric);
    finish(encoder, &bytes)
}

/// A coverage plane as a 16-bit grey PNG in film sense: ink black on white.
pub fn film_png(coverage: &Plane<u16>, ppi: Ppi) -> Vec<u8> {
    let bytes: Vec<u8> = coverage.data().iter().flat_map(|&v| (FULL - v).to_be_bytes()).collect();
    let mut out = Vec::new();
    let mut encoder = encoder(&mut out, coverage.width(), coverage.height(), ppi);
    encoder.set_color(ColorType::Grayscale);
    encoder.set_depth(BitDepth::Sixteen);
    finish(encoder, &bytes).unwrap_or_else(|error| unreachable!("PNG into memory: {error}"));
    out
}

fn encoder<W: Write>(out: W, width: usize, height: usize, ppi: Ppi) -> Encoder<'static, W> {
    let mut encoder = Encoder::new(out, width as u32, height as u32);
    encoder.set_pixel_dims(Some(pixel_dimensions(ppi)));
    encoder
}

fn pixel_dimensions(ppi: Ppi) -> PixelDimensions {
    let per_metre = (ppi.get() / 0.0254).round() as u32;
    PixelDimensions { xppu: per_metre, yppu: per_metre, unit: Unit::Meter }
}

fn finish<W: Write>(encoder: Encoder<'_, W>, bytes: &[u8]) -> Result<(), png::EncodingError> {
    let mut writer = encoder.write_header()?;
    writer.write_image_data(bytes)?;
    writer.finish()
}
