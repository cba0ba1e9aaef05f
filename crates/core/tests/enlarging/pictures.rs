//! Held-out pictures, what is done to them, and how near two pictures are.

use image::codecs::jpeg::JpegEncoder;
use image::{ImageFormat, Rgb, RgbImage};
use strikeoff_core::Progress;
use strikeoff_core::prep::{Enlarging, PrepSettings, Prepared, prepare};
use strikeoff_core::raster::{Art, Detail, Picture};
use strikeoff_core::units::Ppi;

/// Resolution of the pictures whole; reduced ones have it divided, so that the print is the same size.
pub const PPI: f64 = 144.0;

pub fn held_out(name: &str) -> RgbImage {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets/enlarger/held-out");
    image::open(format!("{folder}/{name}.png")).unwrap().to_rgb8()
}

/// To light and back by the curve of IEC 61966-2-1.
fn light(code: u8) -> f64 {
    let v = f64::from(code) / 255.0;
    if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
}

fn code(light: f64) -> u8 {
    let v = if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    (v * 255.0).round() as u8
}

/// Means of blocks of `times` x `times` pixels in linear light.
pub fn reduced(whole: &RgbImage, times: u32) -> RgbImage {
    RgbImage::from_fn(whole.width() / times, whole.height() / times, |x, y| {
        let mut sum = [0.0; 3];
        for (dx, dy) in (0..times * times).map(|i| (i % times, i / times)) {
            let pixel = whole.get_pixel(x * times + dx, y * times + dy);
            (0..3).for_each(|i| sum[i] += light(pixel[i]));
        }
        Rgb(sum.map(|s| code(s / f64::from(times * times))))
    })
}

/// As the `image` library writes JPEG: colour whole.
pub fn through_jpeg(picture: &RgbImage, quality: u8) -> RgbImage {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, quality).encode_image(picture).unwrap();
    image::load_from_memory_with_format(&bytes, ImageFormat::Jpeg).unwrap().to_rgb8()
}

/// The art at its size on the print, at [`PPI`], without sharpening.
pub fn prepared(small: &RgbImage, times: u32, enlarging: Enlarging) -> Prepared {
    let rgba: Vec<u8> = small.pixels().flat_map(|p| [p[0], p[1], p[2], 255]).collect();
    let picture = Picture::from_rgba8(small.width() as usize, small.height() as usize, &rgba);
    let art = Art { picture, ppi: Ppi::new(PPI / f64::from(times)).unwrap() };
    let settings =
        PrepSettings { enlarging, sharpen_amount: 0.0, ppi: Ppi::new(PPI).unwrap(), ..PrepSettings::default() };
    prepare(&art, &settings, Detail::Full, &Progress::none()).unwrap()
}

pub fn enlarged(small: &RgbImage, times: u32, enlarging: Enlarging) -> RgbImage {
    let picture = prepared(small, times, enlarging).picture;
    let rgba = picture.to_rgba8();
    let (width, height) = (picture.width() as u32, picture.height() as u32);
    assert_eq!([width, height], [small.width() * times, small.height() * times]);
    RgbImage::from_fn(width, height, |x, y| {
        let at = (y * width + x) as usize * 4;
        Rgb([rgba[at], rgba[at + 1], rgba[at + 2]])
    })
}

/// Peak signal-to-noise ratio of luma in dB.
pub fn psnr(a: &RgbImage, b: &RgbImage) -> f64 {
    let luma = |p: &Rgb<u8>| 0.299 * f64::from(p[0]) + 0.587 * f64::from(p[1]) + 0.114 * f64::from(p[2]);
    let squares: f64 = a.pixels().zip(b.pixels()).map(|(a, b)| (luma(a) - luma(b)).powi(2)).sum();
    10.0 * (255.0 * 255.0 * f64::from(a.width() * a.height()) / squares.max(1e-9)).log10()
}
