//! JPEG, baseline and progressive: grey, RGB, and four-ink files with Adobe's inverted samples.

use std::borrow::Cow;
use std::io::Cursor;

use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;

use super::error::{Fault, check_memory, check_size};
use super::raw::{Alpha, Model, Raw, Samples, Tagged};
use super::resolution::{aspect, from_per_metre, sensible};
use super::{ReadOptions, exif};
use crate::limits::MAX_JPEG_SCANS;

pub(super) fn decode(bytes: &[u8], _: ReadOptions) -> Result<Raw, Fault> {
    let marks = Marks::read(bytes)?;
    check_size(marks.size.0, marks.size.1)?;
    // A file with a fault in it is shown as far as it goes, and never without a word.
    match decode_as(bytes, &marks, true) {
        Err(first) => {
            let mut raw = decode_as(bytes, &marks, false).map_err(|_| first)?;
            raw.facts.notes.push(
                "The file is not sound: parts of the picture may be missing or out of place. Ask for it again.".into(),
            );
            Ok(raw)
        }
        sound => sound,
    }
}

fn decode_as(bytes: &[u8], marks: &Marks, strict: bool) -> Result<Raw, Fault> {
    let (width, height) = marks.size;
    let options = DecoderOptions::new_fast().set_max_width(65535).set_max_height(65535).set_strict_mode(strict);
    // The decoder takes an end marker for as many zeros as the picture lacks, and says nothing. Without the
    // marker it does say so; some zeros stay for what it reads ahead.
    let bytes: Cow<'_, [u8]> = match marks.sequential_end.filter(|_| strict) {
        Some(end) => [&bytes[..end], &[0; READ_AHEAD]].concat().into(),
        None => bytes.into(),
    };
    let mut decoder = JpegDecoder::new_with_options(Cursor::new(&*bytes), options);
    decoder.decode_headers().map_err(|e| Fault::Damaged(e.to_string()))?;
    if decoder.dimensions() != Some((width as usize, height as usize)) {
        return Err(Fault::Damaged("it states two sizes".into()));
    }
    let input = decoder.input_colorspace().unwrap_or(ColorSpace::YCbCr);
    let (output, model) = match input {
        ColorSpace::Luma => (ColorSpace::Luma, Model::Grey),
        ColorSpace::CMYK | ColorSpace::YCCK => (input, Model::Cmyk),
        _ => (ColorSpace::RGB, Model::Rgb),
    };
    decoder.set_options(options.jpeg_set_out_colorspace(output));
    let tagged = decoder.icc_profile().map_or(Tagged::Nothing, Tagged::Icc);
    let damaged = |e: zune_jpeg::errors::DecodeErrors| Fault::Damaged(e.to_string());
    check_memory(width, height, width * height * (model.channels() as u64 + marks.kept_bytes))?;
    let mut samples = decoder.decode().map_err(damaged)?;
    if input == ColorSpace::YCCK {
        samples.chunks_exact_mut(4).for_each(cmy_from_ycc);
    }
    if model == Model::Cmyk && marks.adobe {
        samples.iter_mut().for_each(|v| *v = 255 - *v);
    }
    let samples = Samples::U8(samples);
    let mut raw = Raw::new((width, height), samples, model, Alpha::None);
    raw.tagged = tagged;
    (raw.ppi, raw.aspect) = (marks.ppi, marks.aspect);
    if let Some(block) = decoder.exif() {
        let said = exif::read(block);
        raw.turn = said.turn;
        if raw.ppi.is_none() && said.ppi.is_some() {
            (raw.ppi, raw.aspect) = (said.ppi, said.aspect);
        }
    }
    raw.facts.jpeg_quality = marks.quality;
    Ok(raw)
}

/// Bytes that the decoder may take in before it needs them.
const READ_AHEAD: usize = 16;

/// ITU-T T.871's YCbCr to RGB on the first three samples, and from there to the inks that YCCK means:
/// what red, green and blue lack.
fn cmy_from_ycc(pixel: &mut [u8]) {
    let [y, cb, cr] = [f32::from(pixel[0]), f32::from(pixel[1]) - 128.0, f32::from(pixel[2]) - 128.0];
    let rgb = [y + 1.402 * cr, y - 0.344_136 * cb - 0.714_136 * cr, y + 1.772 * cb];
    for (to, from) in pixel.iter_mut().zip(rgb) {
        *to = (255.0 - from).round().clamp(0.0, 255.0) as u8;
    }
}

/// What the marker segments say.
struct Marks {
    size: (u64, u64),
    ppi: Option<strikeoff_core::units::Ppi>,
    aspect: f64,
    adobe: bool,
    quality: Option<u8>,
    /// Bytes a pixel that a decoder keeps until the last scan: the coefficients of a picture in several.
    kept_bytes: u64,
    /// Where the data of a picture end that is coded from the top down, in one go: at the end marker.
    sequential_end: Option<usize>,
}

impl Marks {
    /// Walks the segments (ITU-T T.81, B.1) and looks for the end marker, so that a file cut
    /// short is refused and not shown half grey.
    fn read(bytes: &[u8]) -> Result<Self, Fault> {
        let cut = || Fault::Damaged("it ends before the picture does".into());
        let mut marks = Self {
            size: (0, 0),
            ppi: None,
            aspect: 1.0,
            adobe: false,
            quality: None,
            kept_bytes: 0,
            sequential_end: None,
        };
        let (mut sized, mut sequential) = (false, false);
        let mut at = 2;
        loop {
            let &[mark, code] = bytes.get(at..at + 2).ok_or_else(cut)? else { return Err(cut()) };
            if mark != 0xff {
                return Err(Fault::Damaged("its segments do not join".into()));
            }
            at += 1;
            match code {
                0xff => continue,
                0x01 | 0xd0..=0xd8 => {
                    at += 1;
                    continue;
                }
                0xd9 => return Err(cut()),
                _ => at += 1,
            }
            let length = bytes.get(at..at + 2).map(|b| usize::from(b[0]) << 8 | usize::from(b[1])).ok_or_else(cut)?;
            let body = bytes.get(at + 2..at + length.max(2)).ok_or_else(cut)?;
            at += length.max(2);
            match code {
                0xc0..=0xc3 | 0xc5..=0xc7 | 0xc9..=0xcb | 0xcd..=0xcf if body.len() >= 5 => {
                    let word = |i: usize| u64::from(body[i]) << 8 | u64::from(body[i + 1]);
                    marks.size = (word(3), word(1));
                    sized = true;
                    sequential = code <= 0xc1;
                    let components = body.get(5).map_or(4, |&count| u64::from(count.min(4)));
                    marks.kept_bytes = if sequential { 0 } else { 2 * components };
                }
                0xe0 if body.starts_with(b"JFIF\0") && body.len() >= 12 => {
                    let [density, down] = [8, 10].map(|at| f64::from(u16::from_be_bytes([body[at], body[at + 1]])));
                    // Unit 0 states the shape of a pixel alone (ITU-T T.871): as wide as the
                    // first number, as high as the second, so the other way round than densities.
                    marks.aspect = if body[7] == 0 { aspect(down, density) } else { aspect(density, down) };
                    marks.ppi = match body[7] {
                        1 => sensible(density),
                        2 => from_per_metre(density * 100.0),
                        _ => None,
                    };
                }
                0xdb if marks.quality.is_none() => marks.quality = quality(body),
                0xee if body.starts_with(b"Adobe") => marks.adobe = true,
                0xda => break,
                _ => {}
            }
        }
        if !sized {
            return Err(Fault::Damaged("it has no picture header".into()));
        }
        let end = at + bytes[at..].windows(2).position(|pair| pair == [0xff, 0xd9]).ok_or_else(cut)?;
        // More scans (0xda) before the end: the picture is in several parts.
        let more = bytes[at..end].windows(2).filter(|pair| *pair == [0xff, 0xda]).count();
        if more >= MAX_JPEG_SCANS {
            return Err(Fault::TooInvolved(format!("it has {} scans, more than {MAX_JPEG_SCANS}", more + 1)));
        }
        marks.sequential_end = (sequential && more == 0).then_some(end);
        Ok(marks)
    }
}

/// Quality on the scale that most writers use, from the sum of the first quantisation table
/// against the example luminance table (ITU-T T.81, table K.1, whose 64 steps sum to 3688).
fn quality(tables: &[u8]) -> Option<u8> {
    let (&kind, steps) = tables.split_first()?;
    let sum: u32 = if kind >> 4 == 0 {
        steps.get(..64)?.iter().map(|&s| u32::from(s)).sum()
    } else {
        steps.get(..128)?.chunks_exact(2).map(|s| u32::from(s[0]) << 8 | u32::from(s[1])).sum()
    };
    let percent = 100.0 * f64::from(sum) / 3688.0;
    let quality = if percent <= 100.0 { (200.0 - percent) / 2.0 } else { 5000.0 / percent };
    Some(quality.round().clamp(1.0, 100.0) as u8)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::codecs::jpeg::JpegEncoder;

    fn encoded(width: u32, height: u32, quality: u8, color: impl Fn(u32, u32) -> [u8; 3]) -> Vec<u8> {
        let picture = image::RgbImage::from_fn(width, height, |x, y| image::Rgb(color(x, y)));
        let mut bytes = Vec::new();
        JpegEncoder::new_with_quality(&mut bytes, quality).encode_image(&picture).unwrap();
        bytes
    }

    fn with_height(mut bytes: Vec<u8>, height: u16) -> Vec<u8> {
        let frame = bytes.windows(2).position(|pair| pair == [0xff, 0xc0]).unwrap();
        bytes[frame + 5..frame + 7].copy_from_slice(&height.to_be_bytes());
        bytes
    }

    fn notes(bytes: &[u8]) -> usize {
        decode(bytes, ReadOptions::default()).unwrap().facts.notes.len()
    }

    /// Pictures whose rows take hardly a byte, down to one block a row, are where a decoder reads furthest
    /// ahead.
    #[test]
    fn sound_files_of_any_shape_are_sound() {
        for (width, height) in [(1, 1), (3, 2000), (8, 8), (17, 33), (640, 9), (300, 200)] {
            for quality in [1, 50, 100] {
                assert_eq!(notes(&encoded(width, height, quality, |_, _| [255; 3])), 0, "{width} {height} white");
                let detail = |x: u32, y: u32| [(x * 37 + y * 11) as u8, (x * y) as u8, (y * 53) as u8];
                assert_eq!(notes(&encoded(width, height, quality, detail)), 0, "{width} {height} {quality}");
            }
        }
    }

    /// A scan of a few bytes costs a pass over the whole picture.
    #[test]
    fn a_picture_in_hundreds_of_scans_is_refused() {
        let mut bytes = encoded(64, 64, 80, |_, _| [255; 3]);
        let end = bytes.len() - 2;
        let scan = [0xff, 0xda, 0, 8, 1, 1, 0, 0, 63, 0, 0];
        bytes.splice(end..end, scan.repeat(300));
        let refused = decode(&bytes, ReadOptions::default());
        assert!(matches!(&refused, Err(Fault::TooInvolved(why)) if why.contains("301 scans")), "{:?}", refused.err());
    }

    #[test]
    fn rows_that_the_file_states_and_does_not_hold_are_told() {
        let detail = |x: u32, y: u32| [(x * 37 + y * 11) as u8, (x * y) as u8, (y * 53) as u8];
        for (width, height, stated) in [(300, 200, 400), (300, 200, 232), (64, 64, 2000), (2000, 16, 48)] {
            let bytes = encoded(width, height, 80, detail);
            assert_eq!(notes(&with_height(bytes, stated)), 1, "{width} {height} {stated}");
        }
    }
}
