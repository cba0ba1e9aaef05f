//! What decoding gives, against a library's answer and against what was written: 2,400 generated files a
//! format.

use std::io::Cursor;
use std::sync::atomic::{AtomicUsize, Ordering};

use miniz_oxide::deflate::core::CompressionStrategy;
use rayon::prelude::*;
use strikeoff_core::raster::Rgba16;
use tiff::decoder::{DecodingResult, Limits};
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;

use super::generated::{Dice, Layout, Png, Tiff, packed, samples, size, zlib};
use super::raw::{Raw, Samples};
use super::{ReadOptions, receive_bytes};

const FILES: usize = 2400;

/// Runs `check` on every number of a file, on all cores.
fn every_file(check: impl Fn(usize, &mut Dice) + Sync) {
    (0..FILES).into_par_iter().for_each(|at| check(at, &mut Dice::new(0x5eed_0000 + at as u64)));
}

/// The whole door: pixels of the working space.
fn read(bytes: &[u8], about: &str) -> Vec<Rgba16> {
    let received = receive_bytes("generated", bytes, ReadOptions::default());
    received.unwrap_or_else(|error| panic!("{about}: {error}")).art.picture.pixels().data().to_vec()
}

/// Samples of `bits` in whole bytes at 16 bits.
fn wide(value: u16, bits: u32) -> u16 {
    (u32::from(value) * 65_535 / ((1 << bits) - 1)) as u16
}

/// Grey, grey with alpha, RGB or RGBA samples as pixels.
fn straight(samples: &[u16], channels: usize, bits: u32) -> Vec<Rgba16> {
    let pixel = |p: &[u16]| {
        let at = |i: usize| wide(p[i], bits);
        match channels {
            1 => [at(0), at(0), at(0), u16::MAX],
            2 => [at(0), at(0), at(0), at(1)],
            3 => [at(0), at(1), at(2), u16::MAX],
            _ => [at(0), at(1), at(2), at(3)],
        }
    };
    samples.chunks_exact(channels).map(pixel).collect()
}

/// Every colour type and depth of the format.
const PNG_KINDS: [(u8, u32); 15] = [
    (0, 1),
    (0, 2),
    (0, 4),
    (0, 8),
    (0, 16),
    (2, 8),
    (2, 16),
    (3, 1),
    (3, 2),
    (3, 4),
    (3, 8),
    (4, 8),
    (4, 16),
    (6, 8),
    (6, 16),
];

#[test]
fn png_equals_what_was_written_and_both_libraries() {
    every_file(|at, dice| {
        // Every other file is of the usual kind, whose rows go straight to pixels.
        let usual = at % 2 == 0;
        let (color_type, bits) = if usual { dice.of(&[(0, 8), (2, 8), (6, 8)]) } else { dice.of(&PNG_KINDS) };
        let interlaced = !usual && dice.once_in(2);
        let size = size(dice, at / 2);
        let channels = Png::channels(color_type);
        let samples = samples(dice, size, channels, bits);
        let about = format!("file {at}: {size:?}, colour type {color_type}, {bits} bits, interlaced {interlaced}");
        let palette: Option<Vec<u8>> = (color_type == 3).then(|| (0..3 << bits).map(|_| dice.next() as u8).collect());
        let clear = match color_type {
            3 if dice.once_in(2) => Some((0..1 << bits).map(|_| dice.next() as u8).collect::<Vec<u8>>()),
            0 | 2 if !usual && dice.once_in(3) => {
                Some(samples[..channels].iter().flat_map(|v| v.to_be_bytes()).collect())
            }
            _ => None,
        };
        let png = Png { size, color_type, bits, samples: &samples, interlaced, palette, clear };
        let want = meant(&png);
        let file = png.write(dice);
        assert!(read(&file, &about) == want, "{about}: other pixels than were written");
        assert!(by_png(&file) == want, "{about}: png");
        // It takes neither a palette with alpha for every entry nor the odd lengths apart.
        if bits == 8 && color_type != 3 && png.clear.is_none() {
            assert!(by_zune_png(&file) == want, "{about}: zune-png");
        }
    });
}

/// The pixels that a PNG means (PNG, third edition, 4.4, 11.2.2 and 11.3.1).
fn meant(png: &Png<'_>) -> Vec<Rgba16> {
    let channels = Png::channels(png.color_type);
    let clear_color: Option<Vec<u16>> = (png.clear.iter().filter(|_| png.color_type != 3))
        .map(|bytes| bytes.chunks_exact(2).map(|b| u16::from_be_bytes([b[0], b[1]])).collect())
        .next();
    match &png.palette {
        Some(palette) => {
            let at = |entry: &u16| {
                let entry = usize::from(*entry);
                let alpha = png.clear.as_ref().map_or(255, |clear| clear[entry]);
                [palette[3 * entry], palette[3 * entry + 1], palette[3 * entry + 2], alpha].map(|v| u16::from(v) * 257)
            };
            png.samples.iter().map(at).collect()
        }
        None => {
            let mut pixels = straight(png.samples, channels, png.bits);
            for (pixel, samples) in pixels.iter_mut().zip(png.samples.chunks_exact(channels)) {
                if clear_color.as_deref() == Some(samples) {
                    pixel[3] = 0;
                }
            }
            pixels
        }
    }
}

fn by_png(file: &[u8]) -> Vec<Rgba16> {
    let mut decoder = png::Decoder::new(Cursor::new(file));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().unwrap();
    let mut buffer = vec![0; reader.output_buffer_size().unwrap()];
    let frame = reader.next_frame(&mut buffer).unwrap();
    let samples: Vec<u16> = match frame.bit_depth {
        png::BitDepth::Sixteen => buffer.chunks_exact(2).map(|b| u16::from_be_bytes([b[0], b[1]])).collect(),
        _ => buffer.iter().map(|&v| u16::from(v)).collect(),
    };
    straight(&samples, frame.color_type.samples(), frame.bit_depth as u32)
}

fn by_zune_png(file: &[u8]) -> Vec<Rgba16> {
    let mut decoder = zune_png::PngDecoder::new(zune_core::bytestream::ZCursor::new(file));
    let bytes = decoder.decode_raw().unwrap();
    let samples: Vec<u16> = bytes.iter().map(|&v| u16::from(v)).collect();
    straight(&samples, decoder.colorspace().unwrap().num_components(), 8)
}

/// Photometric interpretation, channels, and whether the last is alpha.
const TIFF_KINDS: [(u16, usize, bool); 6] =
    [(1, 1, false), (1, 2, true), (2, 3, false), (2, 4, true), (5, 4, false), (0, 1, false)];

#[test]
fn tiff_equals_what_was_written_and_the_library() {
    // Samples of under 8 bits are the library's alone, and it misses the end of some LZW tiles.
    let refused = AtomicUsize::new(0);
    every_file(|at, dice| {
        let (photometric, channels, alpha) = dice.of(&TIFF_KINDS);
        let bits = if channels == 1 { dice.of(&[1, 2, 4, 8, 8, 16]) } else { dice.of(&[8, 8, 16]) };
        let size = size(dice, at);
        let compression = dice.of(&[1, 5, 5, 5, 8, 32_773]);
        let most_rows = if dice.once_in(3) { size[1] } else { 40 };
        let side = |dice: &mut Dice| 16 * (1 + dice.under(8));
        let layout = Layout {
            little: dice.once_in(2),
            compression,
            differences: bits >= 8 && matches!(compression, 5 | 8) && dice.once_in(2),
            planar: channels > 1 && dice.once_in(4),
            strip: 1 + dice.under(most_rows),
            tile: dice.once_in(4).then(|| [side(dice), side(dice)]),
        };
        let samples = samples(dice, size, channels, bits);
        let about = format!("file {at}: {size:?}, kind {photometric}, {channels} x {bits} bits, {layout:?}");
        let file = Tiff { size, channels, bits, photometric, alpha, samples: &samples, layout }.write(dice);
        // White is 0 there (TIFF 6, section 4).
        let full = ((1_u32 << bits) - 1) as u16;
        let meant: Vec<u16> = match photometric {
            0 => samples.iter().map(|v| full - v).collect(),
            _ => samples.clone(),
        };
        let library = by_tiff(&file, &meant, size[0] * channels, bits);
        let raw = match super::tiff::decode(&file, ReadOptions::default()) {
            Ok(raw) => raw,
            Err(_) if bits < 8 && library.is_none() => {
                refused.fetch_add(1, Ordering::Relaxed);
                return;
            }
            Err(error) => panic!("{about}: {error:?}"),
        };
        assert!(as_16_bits(&raw) == wide_samples(&raw, &meant, channels, bits), "{about}: other samples");
        if photometric != 5 {
            assert!(read(&file, &about) == straight(&meant, channels, bits), "{about}: other pixels");
        }
        // The library reads the whole of a picture only where planes are not apart.
        if !layout.planar {
            assert!(library == Some(true), "{about}: the library gives other samples");
        }
    });
    // Libtiff reads them.
    assert!(refused.into_inner() <= FILES / 400, "the library refuses more than a few of its own kind");
}

/// What was decoded, at 16 bits a sample or as pixels.
fn as_16_bits(raw: &Raw) -> Vec<u16> {
    match &raw.samples {
        Samples::U8(v) => v.iter().map(|&v| u16::from(v) * 257).collect(),
        Samples::U16(v) => v.clone(),
        Samples::Done(v) => v.as_flattened().to_vec(),
    }
}

/// What was written, in the form in which it was decoded.
fn wide_samples(raw: &Raw, meant: &[u16], channels: usize, bits: u32) -> Vec<u16> {
    match raw.samples {
        Samples::Done(_) => straight(meant, channels, bits).into_flattened(),
        _ => meant.iter().map(|&v| wide(v, bits)).collect(),
    }
}

/// Whether rows of so many bits are the same; what fills up a row's last byte is anything.
fn same_but_for_padding(a: &[u8], b: &[u8], row_bits: usize) -> bool {
    let row = row_bits.div_ceil(8);
    let last = 0xff_u8 << (8 * row - row_bits);
    let rows = a.chunks(row).zip(b.chunks(row));
    a.len() == b.len()
        && rows.map(|(a, b)| (a.split_last(), b.split_last())).all(|rows| match rows {
            (Some((x, a)), Some((y, b))) => a == b && x & last == y & last,
            _ => false,
        })
}

/// Whether the library reads the same samples; none where it reads nothing.
fn by_tiff(file: &[u8], meant: &[u16], row: usize, bits: u32) -> Option<bool> {
    let mut reader = tiff::decoder::Decoder::new(Cursor::new(file)).ok()?.with_limits(Limits::unlimited());
    Some(match reader.read_image().ok()? {
        DecodingResult::U8(v) => same_but_for_padding(&v, &packed(meant, row, bits, false), row * bits as usize),
        DecodingResult::U16(v) => v == meant,
        _ => false,
    })
}

#[test]
fn jpeg_equals_the_library() {
    use image::ExtendedColorType::{L8, Rgb8};
    use image::codecs::jpeg::JpegEncoder;
    every_file(|at, dice| {
        let size @ [width, height] = size(dice, at);
        let (color, channels) = dice.of(&[(L8, 1), (Rgb8, 3)]);
        let bytes: Vec<u8> = samples(dice, size, channels, 8).iter().map(|&v| v as u8).collect();
        let mut file = Vec::new();
        let quality = 1 + dice.under(100) as u8;
        JpegEncoder::new_with_quality(&mut file, quality).encode(&bytes, width as u32, height as u32, color).unwrap();
        let about = format!("file {at}: {size:?}, {color:?}, quality {quality}");
        let mut library = zune_jpeg::JpegDecoder::new(Cursor::new(&file));
        let output = if channels == 1 { ColorSpace::Luma } else { ColorSpace::RGB };
        library.set_options(DecoderOptions::new_fast().jpeg_set_out_colorspace(output));
        let meant: Vec<u16> = library.decode().unwrap().iter().map(|&v| u16::from(v)).collect();
        assert!(read(&file, &about) == straight(&meant, channels, 8), "{about}: other pixels");
    });
}

/// A flat picture is so small when it is compressed that its last rows come in the same step as the end of the
/// image data; a decoder that goes on waiting for that end refuses a sound file.
#[test]
fn flat_pngs_are_read_to_their_end() {
    for (color_type, channels) in [(0, 1), (2, 3), (6, 4)] {
        for size @ [width, height] in [[1, 1], [31, 40], [945, 1260], [3000, 4000]] {
            let samples = vec![255; width * height * channels];
            let (palette, clear) = (None, None);
            let png = Png { size, color_type, bits: 8, samples: &samples, interlaced: false, palette, clear };
            let rows = [vec![0], vec![255; width * channels]].concat().repeat(height);
            let file = png.with_image_data(&[&zlib(&rows, 6, CompressionStrategy::Default)]);
            assert!(read(&file, "white") == vec![[u16::MAX; 4]; width * height], "{color_type} {size:?}");
        }
    }
}

/// Ours wants each strip to lie within the file; the library reads on until the strip is whole, and the
/// stated length of the last one is a careless writer's.
#[test]
fn a_tiff_that_ours_refuses_is_read_by_the_library() {
    let size = [60, 41];
    let samples: Vec<u16> = (0..size[0] * size[1] * 3).map(|i| (i * i % 251) as u16).collect();
    let layout = Layout { little: true, compression: 5, differences: true, planar: false, strip: 41, tile: None };
    let tiff = Tiff { size, channels: 3, bits: 8, photometric: 2, alpha: false, samples: &samples, layout };
    let mut file = tiff.write(&mut Dice::new(3));
    let entry = file.windows(4).rposition(|w| w == [0x17, 0x01, 0x03, 0x00]).expect("StripByteCounts, SHORT");
    file[entry + 8..entry + 10].copy_from_slice(&65_000_u16.to_le_bytes());
    assert!((file.len() as u64) < 65_000);
    assert!(read(&file, "a strip of careless length") == straight(&samples, 3, 8));
}
