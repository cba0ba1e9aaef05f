//! The one door for art: looks at the first bytes, not at the file's name, and hands over to the
//! decoder of the format.

use std::fs;
use std::io::Read;
use std::path::Path;

use strikeoff_core::Progress;
use strikeoff_core::raster::Art;

use super::drawing::{self, Artist, Kind};
use super::error::{ArtError, Fault};
use super::facts::Received;
use super::raw::Raw;
use super::{jpeg, png, simple, tiff};
use crate::limits::MAX_ART_FILE_BYTES;

/// Which part of a file with several pictures is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReadOptions {
    /// Page of a PDF or a multi-page TIFF, from 1. Default 1.
    pub page: usize,
}

impl Default for ReadOptions {
    fn default() -> Self {
        Self { page: 1 }
    }
}

/// Reads a client's picture from disk.
pub fn read_art(path: &Path) -> Result<Art, ArtError> {
    receive_art(path, ReadOptions::default()).map(|received| received.art)
}

/// Decodes a client's picture from the bytes of its file; `name` is only for messages.
pub fn decode_art(name: &str, bytes: &[u8]) -> Result<Art, ArtError> {
    receive_bytes(name, bytes, ReadOptions::default()).map(|received| received.art)
}

/// Reads a client's picture from disk, and what is to be known about the file.
pub fn receive_art(path: &Path, options: ReadOptions) -> Result<Received, ArtError> {
    let (name, bytes) = read_art_file(path)?;
    receive_bytes(&name, &bytes, options)
}

/// The name and the bytes of a client's file, at most [`MAX_ART_FILE_BYTES`] of them.
pub fn read_art_file(path: &Path) -> Result<(String, Vec<u8>), ArtError> {
    let wrap = |source| ArtError::Io { path: path.to_owned(), source };
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    let file = fs::File::open(path).map_err(wrap)?;
    let stated = file.metadata().map_err(wrap)?.len();
    let mut bytes = Vec::with_capacity(stated.min(MAX_ART_FILE_BYTES) as usize);
    // What is no plain file states no length.
    file.take(MAX_ART_FILE_BYTES + 1).read_to_end(&mut bytes).map_err(wrap)?;
    if bytes.len() as u64 > MAX_ART_FILE_BYTES {
        return Err(ArtError::FileTooLarge { name, bytes: stated.max(bytes.len() as u64) });
    }
    Ok((name, bytes))
}

/// Decodes a client's picture from the bytes of its file, and what is to be known about it;
/// `name` is only for messages.
pub fn receive_bytes(name: &str, bytes: &[u8], options: ReadOptions) -> Result<Received, ArtError> {
    receive_bytes_watched(name, bytes, options, &Progress::none())
}

/// Like [`receive_bytes`]; cancelling `progress` ends the drawing of an SVG or PDF.
pub fn receive_bytes_watched(
    name: &str,
    bytes: &[u8],
    options: ReadOptions,
    progress: &Progress,
) -> Result<Received, ArtError> {
    receive_bytes_by(&drawing::chosen(), name, bytes, options, progress)
}

/// Like [`receive_bytes_watched`], with an SVG or PDF drawn by `artist` whatever the program has chosen.
pub fn receive_bytes_by(
    artist: &Artist,
    name: &str,
    bytes: &[u8],
    options: ReadOptions,
    progress: &Progress,
) -> Result<Received, ArtError> {
    if bytes.is_empty() {
        return Err(ArtError::NoBytes { name: name.to_owned() });
    }
    let Some(way) = way_of(bytes) else {
        return Err(ArtError::UnknownFormat { name: name.to_owned() });
    };
    let (format, raw) = match way {
        Way::Decoded(format, decode) => (format, decode(bytes, options)),
        Way::Drawn(kind) => (kind.format(), drawing::decode(kind, bytes, options, artist, progress)),
    };
    raw.and_then(|raw| raw.into_art(format)).map_err(|fault| fault.named(name, format))
}

/// How a file becomes pixels.
enum Way {
    /// By a decoder of its format.
    Decoded(&'static str, fn(&[u8], ReadOptions) -> Result<Raw, Fault>),
    /// By drawing it.
    Drawn(Kind),
}

fn way_of(bytes: &[u8]) -> Option<Way> {
    let starts = |magic: &[u8]| bytes.starts_with(magic);
    let head = &bytes[..bytes.len().min(4096)];
    let holds = |text: &[u8]| head.windows(text.len()).any(|w| w == text);
    if starts(b"\x89PNG\r\n\x1a\n") {
        Some(Way::Decoded("PNG", png::decode))
    } else if starts(b"\xff\xd8\xff") {
        Some(Way::Decoded("JPEG", jpeg::decode))
    } else if starts(b"II*\0") || starts(b"MM\0*") || starts(b"II+\0") || starts(b"MM\0+") {
        Some(Way::Decoded("TIFF", tiff::decode))
    } else if starts(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        Some(Way::Decoded("WebP", simple::decode_webp))
    } else if starts(b"GIF87a") || starts(b"GIF89a") {
        Some(Way::Decoded("GIF", simple::decode_gif))
    } else if starts(b"BM") {
        Some(Way::Decoded("BMP", simple::decode_bmp))
    } else if holds(b"%PDF-") {
        Some(Way::Drawn(Kind::Pdf))
    } else if holds(b"<svg") {
        Some(Way::Drawn(Kind::Svg))
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use image::{DynamicImage, ImageFormat, Rgb, RgbImage, Rgba, RgbaImage};

    use super::*;

    fn bytes(image: &DynamicImage, format: ImageFormat) -> Vec<u8> {
        let mut out = Cursor::new(Vec::new());
        image.write_to(&mut out, format).unwrap();
        out.into_inner()
    }

    fn sample() -> DynamicImage {
        RgbImage::from_fn(37, 23, |x, y| Rgb([(x * 6) as u8, (y * 10) as u8, (x + y) as u8])).into()
    }

    #[test]
    fn lossless_formats_keep_every_value() {
        let rgba: DynamicImage =
            RgbaImage::from_fn(9, 7, |x, y| Rgba([x as u8 * 20, y as u8 * 30, 200, 255 - x as u8])).into();
        for image in [sample(), rgba, DynamicImage::from(sample().to_luma8()), DynamicImage::from(sample().to_rgb16())]
        {
            for format in [ImageFormat::Png, ImageFormat::Tiff] {
                let art = decode_art("a", &bytes(&image, format)).unwrap();
                let want: Vec<[u16; 4]> = image.to_rgba16().pixels().map(|p| p.0).collect();
                assert_eq!(art.picture.pixels().data(), want, "{format:?} {:?}", image.color());
                assert_eq!(art.ppi.get(), 96.0);
            }
        }
    }

    #[test]
    fn jpeg_is_near() {
        let art = decode_art("a.jpg", &bytes(&sample(), ImageFormat::Jpeg)).unwrap();
        let want = sample().to_rgba16();
        let worst = art.picture.pixels().data().iter().zip(want.pixels()).map(|(a, b)| a[1].abs_diff(b[1])).max();
        assert!(worst.unwrap() < 20 * 257);
    }

    #[test]
    fn one_pixel_works() {
        let image: DynamicImage = RgbImage::from_pixel(1, 1, Rgb([10, 20, 30])).into();
        for format in [ImageFormat::Png, ImageFormat::Tiff, ImageFormat::Jpeg] {
            let art = decode_art("a", &bytes(&image, format)).unwrap();
            assert_eq!((art.picture.width(), art.picture.height()), (1, 1));
        }
    }

    #[test]
    fn a_file_cut_short_is_refused_in_one_sentence() {
        for format in [ImageFormat::Png, ImageFormat::Tiff, ImageFormat::Jpeg] {
            let whole = bytes(&sample(), format);
            for quarter in 0..4 {
                let error = decode_art("shirt.x", &whole[..whole.len() * quarter / 4]).unwrap_err().to_string();
                assert!(error.contains("shirt.x") && error.contains("ask for") && !error.contains('\n'), "{error}");
            }
        }
    }

    #[test]
    fn sizes_are_checked_before_memory_is_taken() {
        // Only the header says 60000 x 60000; PNG's own check sum is made right again.
        let mut png = bytes(&sample(), ImageFormat::Png);
        png[16..24].copy_from_slice(&[0, 0, 0xea, 0x60, 0, 0, 0xea, 0x60]);
        let mut crc = flate2::Crc::new();
        crc.update(&png[12..29]);
        png[29..33].copy_from_slice(&crc.sum().to_be_bytes());
        let error = decode_art("big.png", &png).unwrap_err().to_string();
        assert!(error.contains("60000 x 60000") && error.contains("115 million"), "{error}");

        let mut jpeg = bytes(&sample(), ImageFormat::Jpeg);
        let frame = jpeg.windows(2).position(|w| w == [0xff, 0xc0]).unwrap();
        jpeg[frame + 5..frame + 9].copy_from_slice(&[0xea, 0x60, 0xea, 0x60]);
        assert!(matches!(decode_art("big.jpg", &jpeg), Err(ArtError::TooLarge { .. })));
        jpeg[frame + 5..frame + 9].copy_from_slice(&[0, 0, 0, 9]);
        let error = decode_art("none.jpg", &jpeg).unwrap_err().to_string();
        assert!(error.contains("9 x 0 pixels"), "{error}");
    }

    #[test]
    fn other_files_are_named_as_unknown() {
        let error = decode_art("heron.png", b"").unwrap_err().to_string();
        assert_eq!(error, "heron.png is empty: it has no bytes; ask for the file again");
        for bytes in [&b"hello"[..], b"PK\x03\x04 not a picture"] {
            assert!(matches!(decode_art("notes.txt", bytes), Err(ArtError::UnknownFormat { .. })));
        }
        let error = read_art(Path::new("/no/such/art.png")).unwrap_err().to_string();
        assert!(error.contains("/no/such/art.png"), "{error}");
    }
}
