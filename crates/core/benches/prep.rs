//! Preparing 1080 x 1512 art to 3960 x 5400: the plain way against `fast_image_resize` alone on
//! RGB8, the way along edges and the repairing one, in the same run. Best of several, as ratios.
//! `cargo bench -p strikeoff-core --bench prep`

use std::time::{Duration, Instant};

use fast_image_resize::images::Image;
use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer};
use strikeoff_core::Progress;
use strikeoff_core::prep::{Enlarging, PrepSettings, prepare};
use strikeoff_core::raster::{Art, Detail, Picture, Plane};
use strikeoff_core::units::{Mm, Ppi};

fn best(runs: usize, mut work: impl FnMut()) -> Duration {
    let one = |work: &mut dyn FnMut()| {
        let start = Instant::now();
        work();
        start.elapsed()
    };
    (0..runs).map(|_| one(&mut work)).min().unwrap_or_default()
}

fn art(width: usize, height: usize) -> Art {
    let pixels = Plane::from_fn(width, height, |x, y| {
        let wave = |p: f64| ((((x as f64 * p).sin() + (y as f64 * p * 1.3).cos()) * 0.25 + 0.5) * 65535.0) as u16;
        [wave(0.013), wave(0.11), wave(0.4), 65535]
    });
    Art { picture: Picture::new(pixels), ppi: Ppi::new(90.0).expect("in range") }
}

fn main() {
    let art = art(1080, 1512);
    let settings = |enlarging| PrepSettings {
        enlarging,
        sharpen_amount: 0.0,
        max_width_mm: Some(Mm::from_inches(13.2).expect("in range")),
        max_height_mm: Some(Mm::from_inches(18.0).expect("in range")),
        ..PrepSettings::default()
    };
    let run = |settings: &PrepSettings, detail| {
        let made = prepare(&art, settings, detail, &Progress::none()).expect("prepares");
        std::hint::black_box(made);
    };

    let rgb: Vec<u8> = art.picture.to_rgba8().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    let source = Image::from_vec_u8(1080, 1512, rgb, PixelType::U8x3).expect("fits");
    let options = ResizeOptions::new().resize_alg(ResizeAlg::Convolution(FilterType::Lanczos3));
    let alone = best(5, || {
        let mut made = Image::new(3960, 5400, PixelType::U8x3);
        Resizer::new().resize(&source, &mut made, &options).expect("resizes");
        std::hint::black_box(made);
    });
    let ratio = |time: Duration| time.as_secs_f64() / alone.as_secs_f64();
    let plain = best(5, || run(&settings(Enlarging::Plain), Detail::Full));
    let edges = best(3, || run(&settings(Enlarging::Edges), Detail::Full));
    let repaired = best(3, || run(&settings(Enlarging::Repair), Detail::Full));
    let sharpened = PrepSettings { sharpen_amount: 0.6, ..settings(Enlarging::Plain) };
    let sharp = best(3, || run(&sharpened, Detail::Full));
    let proxy = best(5, || run(&settings(Enlarging::Edges), Detail::Proxy { longest_px: 1200 }));
    println!("fast_image_resize alone, RGB8   {alone:>10.1?}  1.00x");
    println!("plain way, linear light, 16 bit {plain:>10.1?}  {:.2}x", ratio(plain));
    println!("plain way and sharpening        {sharp:>10.1?}  {:.2}x", ratio(sharp));
    println!("along edges                     {edges:>10.1?}  {:.2}x", ratio(edges));
    println!("repairing                       {repaired:>10.1?}  {:.2}x", ratio(repaired));
    println!("proxy of 1200 pixels            {proxy:>10.1?}  {:.2}x", ratio(proxy));
}
