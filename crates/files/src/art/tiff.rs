//! TIFF (revision 6 with its supplements): strips or tiles, chunky or planar, grey, RGB and CMYK
//! of 1 to 32 bits, with alpha, any page. Strips are decoded in parallel; plain colour of 8 bits goes
//! straight to pixels.

use std::io::Cursor;

use strikeoff_core::color;
use strikeoff_core::prep::Turn;
use strikeoff_core::raster::Rgba16;
use strikeoff_core::units::{MM_PER_INCH, Ppi};
use tiff::decoder::{Decoder, DecodingResult, Limits, ifd::Value};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

use super::ReadOptions;
use super::error::{Fault, check_memory, check_size};
use super::raw::{Alpha, Model, Raw, Samples, Tagged, widen};
use super::resolution::{aspect, sensible};
use super::tiff_chunks::{Chunks, Lzw, bands};
use super::transforms::can_widen;
use crate::limits::{MAX_PAGES, MAX_TAG_BYTES};

pub(super) type Reader<'a> = Decoder<Cursor<&'a [u8]>>;

/// Most bytes of decoded samples.
const MAX_BYTES: usize = 1 << 30;

pub(super) fn decode(bytes: &[u8], options: ReadOptions) -> Result<Raw, Fault> {
    let pages = pages(bytes)?;
    let page = options.page.wrapping_sub(1);
    if page >= pages {
        return Err(Fault::NoPage { page: options.page, pages });
    }
    let mut reader = open(bytes, page)?;
    let (width, height) = reader.dimensions().map_err(fault)?;
    check_size(width.into(), height.into())?;
    let color = reader.colortype().map_err(fault)?;
    let (model, mut alpha) = match color {
        ColorType::Gray(_) => (Model::Grey, Alpha::None),
        ColorType::GrayA(_) => (Model::Grey, Alpha::Straight),
        ColorType::RGB(_) | ColorType::YCbCr(_) => (Model::Rgb, Alpha::None),
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
    // A profile that is announced but cannot be read is a broken file, never "no profile".
    let mut tagged = match reader.find_tag(Tag::IccProfile).map_err(fault)? {
        Some(value) => Tagged::Icc(value.into_u8_vec().map_err(fault)?),
        None => Tagged::Nothing,
    };
    let shape = Shape::of(&mut reader, page, color)?;
    let straight = shape.is_rows() && color.bit_depth() == 8 && can_widen(model, alpha, &tagged);
    check_memory(width.into(), height.into(), shape.bytes_beside(color.bit_depth(), straight))?;
    let (samples, linear) = if straight {
        (Samples::Done(shape.pixels(bytes, model, alpha)?), false)
    } else {
        shape.samples(bytes, color.bit_depth())?
    };
    if linear && matches!(tagged, Tagged::Nothing) {
        tagged = Tagged::Linear;
    }
    let mut raw = Raw::new((width.into(), height.into()), samples, model, alpha);
    raw.facts.bits_per_sample = color.bit_depth();
    raw.facts.pages = pages;
    (raw.ppi, raw.aspect) = resolution(&mut reader);
    if let Ok(Some(value)) = reader.find_tag_unsigned::<u16>(Tag::Orientation) {
        raw.turn = Turn::from_exif(value);
    }
    raw.tagged = tagged;
    Ok(raw)
}

pub(super) fn open(bytes: &[u8], page: usize) -> Result<Reader<'_>, Fault> {
    let mut limits = Limits::default();
    limits.decoding_buffer_size = MAX_BYTES;
    limits.intermediate_buffer_size = MAX_BYTES;
    limits.ifd_value_size = MAX_TAG_BYTES;
    let mut reader = Decoder::new(Cursor::new(bytes)).map_err(fault)?.with_limits(limits);
    if page > 0 {
        reader.seek_to_image(page).map_err(fault)?;
    }
    Ok(reader)
}

/// Pages in the file; those behind a broken link do not count.
fn pages(bytes: &[u8]) -> Result<usize, Fault> {
    let mut reader = open(bytes, 0)?;
    let mut pages = 1;
    while pages < MAX_PAGES && reader.more_images() && reader.next_image().is_ok() {
        pages += 1;
    }
    Ok(pages)
}

/// How samples lie in the file.
struct Shape {
    page: usize,
    width: usize,
    height: usize,
    channels: usize,
    /// Separate planes, one a channel.
    planar: bool,
    chunk_w: usize,
    chunk_h: usize,
    lzw: Option<Lzw>,
}

impl Shape {
    fn of(reader: &mut Reader<'_>, page: usize, color: ColorType) -> Result<Self, Fault> {
        let (width, height) = reader.dimensions().map_err(fault)?;
        let (chunk_w, chunk_h) = reader.chunk_dimensions();
        let planar: Option<u16> = reader.find_tag_unsigned(Tag::PlanarConfiguration).ok().flatten();
        let channels = usize::from(color.num_samples());
        let bits = usize::from(color.bit_depth());
        let planar = planar == Some(2) && channels > 1;
        let shape = Self {
            page,
            lzw: Lzw::of(reader, color.bit_depth(), channels, planar),
            width: width as usize,
            height: height as usize,
            channels,
            planar,
            chunk_w: chunk_w as usize,
            chunk_h: (chunk_h as usize).min(height as usize),
        };
        if shape.chunk_w == 0 || shape.chunk_h == 0 {
            return Err(Fault::Damaged("its strips have no rows".into()));
        }
        if shape.width * shape.height * channels > MAX_BYTES / bits.div_ceil(8).max(1) {
            return Err(Fault::TooInvolved("its samples need over 1 GB".into()));
        }
        Ok(shape)
    }

    /// Most bytes that decoding holds beside the pixels: strips or tiles that are decoded at the same time,
    /// and, unless they go `straight` to pixels, all samples.
    fn bytes_beside(&self, bits: u8, straight: bool) -> u64 {
        let sample = u64::from(bits.div_ceil(8).next_power_of_two());
        let bands = self.height.div_ceil(self.chunk_h).min(rayon::current_num_threads()) as u64;
        let channels = if self.planar { 1 } else { self.channels };
        let chunk = (self.chunk_w as u64).saturating_mul((self.chunk_h * channels) as u64).saturating_mul(sample);
        let chunks = chunk.saturating_mul(bands);
        if straight {
            return chunks;
        }
        let pixels = (self.width * self.height) as u64;
        // The strips are gone when pixels are made.
        pixels * self.channels as u64 * sample.min(2) + chunks.saturating_sub(pixels * size_of::<Rgba16>() as u64)
    }

    /// All samples, and whether they were numbers of linear light.
    fn samples(&self, bytes: &[u8], bits: u8) -> Result<(Samples, bool), Fault> {
        let as_is = |error: &str| Fault::Unsupported(error.to_owned());
        Ok(match bits {
            1 | 2 | 4 if self.channels == 1 => {
                let full = (1_u16 << bits) - 1;
                let unpack = |result: DecodingResult, width: usize| match result {
                    DecodingResult::U8(v) => Ok(unpacked(&v, width, bits, (255 / full) as u8)),
                    _ => Err(as_is("its samples are not whole numbers")),
                };
                (Samples::U8(self.gather(bytes, unpack)?), false)
            }
            8 => {
                let take = |result: DecodingResult, _: usize| match result {
                    DecodingResult::U8(v) => Ok(v),
                    _ => Err(as_is("its samples have a sign")),
                };
                (Samples::U8(self.gather(bytes, take)?), false)
            }
            16 => {
                let linear = std::sync::atomic::AtomicBool::new(false);
                let take = |result: DecodingResult, _: usize| match result {
                    DecodingResult::U16(v) => Ok(v),
                    DecodingResult::F16(v) => {
                        linear.store(true, std::sync::atomic::Ordering::Relaxed);
                        Ok(v.iter().map(|x| encoded(x.to_f32())).collect())
                    }
                    _ => Err(as_is("its samples have a sign")),
                };
                let samples = Samples::U16(self.gather(bytes, take)?);
                (samples, linear.into_inner())
            }
            32 => {
                let take = |result: DecodingResult, _: usize| match result {
                    DecodingResult::F32(v) => Ok(v.iter().map(|&x| encoded(x)).collect()),
                    _ => Err(as_is("its samples are 32-bit whole numbers")),
                };
                (Samples::U16(self.gather(bytes, take)?), true)
            }
            other => return Err(Fault::Unsupported(format!("{other} bits a sample"))),
        })
    }

    /// Whether chunks are whole rows of pixels.
    fn is_rows(&self) -> bool {
        self.chunk_w == self.width && !self.planar
    }

    fn chunks<'a>(&'a self, bytes: &'a [u8]) -> impl Fn() -> Chunks<'a> + Sync {
        move || Chunks::new(bytes, self.page, self.lzw.as_ref())
    }

    /// Whole rows of bytes in the working space straight to pixels.
    fn pixels(&self, bytes: &[u8], model: Model, alpha: Alpha) -> Result<Vec<Rgba16>, Fault> {
        let mut out = vec![[0; 4]; self.width * self.height];
        bands(&mut out, self.chunk_h * self.width, self.chunks(bytes), |chunks, band, pixels| {
            let (DecodingResult::U8(chunk), _) = chunks.get(band, band)? else {
                return Err(Fault::Unsupported("its samples have a sign".into()));
            };
            let rows = chunk.get(..pixels.len() * self.channels);
            let rows = rows.ok_or_else(|| Fault::Damaged("a strip is shorter than its size".into()))?;
            widen(rows, model, alpha, pixels);
            Ok(())
        })?;
        Ok(out)
    }

    /// Decodes all strips or tiles into one buffer of rows.
    fn gather<T: Copy + Default + Send + Sync>(
        &self,
        bytes: &[u8],
        take: impl Fn(DecodingResult, usize) -> Result<Vec<T>, Fault> + Sync,
    ) -> Result<Vec<T>, Fault> {
        let across = self.width.div_ceil(self.chunk_w);
        let down = self.height.div_ceil(self.chunk_h);
        let (planes, in_chunk) = if self.planar { (self.channels, 1) } else { (1, self.channels) };
        let row = self.width * self.channels;
        let mut out = vec![T::default(); row * self.height];
        // A band is a row of tiles, or one strip: bands do not overlap in the output.
        bands(&mut out, self.chunk_h * row, self.chunks(bytes), |chunks, band, rows| {
            let band_rows = rows.len() / row;
            for (plane, column) in (0..planes).flat_map(|p| (0..across).map(move |c| (p, c))) {
                let (chunk, chunk_w) = chunks.get(plane * across * down + band * across + column, band)?;
                let chunk = take(chunk, chunk_w)?;
                let width = self.chunk_w.min(self.width - column * self.chunk_w);
                let stride = chunk_w * in_chunk;
                if chunk_w < width || chunk.len() < stride * (band_rows - 1) + width * in_chunk {
                    return Err(Fault::Damaged("a strip is shorter than its size".into()));
                }
                for (to, from) in rows.chunks_exact_mut(row).zip(chunk.chunks(stride)) {
                    let to = &mut to[column * self.chunk_w * self.channels..];
                    if self.planar {
                        for (pixel, &v) in to.chunks_exact_mut(self.channels).zip(&from[..width]) {
                            pixel[plane] = v;
                        }
                    } else {
                        to[..width * in_chunk].copy_from_slice(&from[..width * in_chunk]);
                    }
                }
            }
            Ok(())
        })?;
        Ok(out)
    }
}

/// One byte a sample from rows of `width` packed ones; each row starts on a byte.
fn unpacked(packed: &[u8], width: usize, bits: u8, step: u8) -> Vec<u8> {
    let bits = usize::from(bits);
    let mask = (1_u8 << bits) - 1;
    packed
        .chunks_exact((width * bits).div_ceil(8).max(1))
        .flat_map(|r| (0..width).map(move |x| (r[x * bits / 8] >> (8 - bits - x * bits % 8) & mask) * step))
        .collect()
}

/// Linear light to the code of the working space; what is no number is black.
fn encoded(linear: f32) -> u16 {
    color::encode_u16([if linear.is_nan() { 0.0 } else { linear }; 3])[0]
}

/// Resolution across, and across against down.
fn resolution(reader: &mut Reader<'_>) -> (Option<Ppi>, f64) {
    let mut number = |tag| match reader.find_tag(tag).ok()?? {
        Value::Rational(n, d) => Some(f64::from(n) / f64::from(d)),
        Value::Float(v) => Some(f64::from(v)),
        other => other.into_u32().ok().map(f64::from),
    };
    let (across, down) = (number(Tag::XResolution), number(Tag::YResolution));
    // ResolutionUnit 2 is the inch and the default, 3 the centimetre, 1 no absolute unit.
    let ppi = across.and_then(|value| match reader.find_tag_unsigned::<u16>(Tag::ResolutionUnit).ok()?.unwrap_or(2) {
        2 => sensible(value),
        3 => sensible(value * MM_PER_INCH / 10.0),
        _ => None,
    });
    (ppi, across.zip(down).map_or(1.0, |(across, down)| aspect(across, down)))
}

pub(super) fn fault(error: TiffError) -> Fault {
    match error {
        TiffError::UnsupportedError(what) => Fault::Unsupported(what.to_string()),
        TiffError::LimitsExceeded => Fault::TooInvolved("it asks for more memory than a picture may".into()),
        other => Fault::Damaged(other.to_string()),
    }
}
