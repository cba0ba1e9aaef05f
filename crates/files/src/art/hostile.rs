//! Property test: whatever bytes of a good file are changed or cut, reading ends in a picture of
//! the stated size or in one sentence, never in a panic.

use std::io::Cursor;

use image::{DynamicImage, ImageFormat, Rgba, RgbaImage};
use proptest::prelude::*;

use super::{ReadOptions, receive_bytes};

fn seeds() -> Vec<Vec<u8>> {
    let clear = RgbaImage::from_fn(19, 13, |x, y| Rgba([x as u8 * 13, y as u8 * 19, (x * y) as u8, 255 - x as u8]));
    let solid = DynamicImage::from(DynamicImage::from(clear.clone()).to_rgb8());
    let clear = DynamicImage::from(clear);
    let mut seeds: Vec<Vec<u8>> = [
        (&clear, ImageFormat::Png),
        (&solid, ImageFormat::Jpeg),
        (&clear, ImageFormat::Tiff),
        (&clear, ImageFormat::WebP),
        (&clear, ImageFormat::Gif),
        (&solid, ImageFormat::Bmp),
    ]
    .into_iter()
    .map(|(image, format)| {
        let mut out = Cursor::new(Vec::new());
        image.write_to(&mut out, format).unwrap();
        out.into_inner()
    })
    .collect();
    let compressed = {
        use tiff::encoder::{Compression, TiffEncoder, colortype::RGB8};
        let mut out = Cursor::new(Vec::new());
        let mut encoder = TiffEncoder::new(&mut out).unwrap().with_compression(Compression::Lzw);
        encoder.write_image::<RGB8>(19, 13, solid.as_bytes()).unwrap();
        out.into_inner()
    };
    seeds.push(compressed);
    seeds
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]
    #[test]
    fn changed_bytes_never_panic(
        seed in 0_usize..7,
        changes in prop::collection::vec((0.0_f64..1.0, any::<u8>()), 0..8),
        cut in prop::option::of(0.0_f64..1.0),
    ) {
        let mut bytes = seeds().swap_remove(seed);
        let length = bytes.len() as f64;
        for (place, value) in changes {
            bytes[(place * length) as usize] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate((cut * length) as usize);
        }
        match receive_bytes("fuzzed", &bytes, ReadOptions::default()) {
            Ok(received) => {
                prop_assert_eq!(received.facts.width_px, received.art.picture.width());
                prop_assert!(received.art.picture.width() > 0 && received.art.picture.height() > 0);
            }
            Err(error) => {
                let said = error.to_string();
                prop_assert!(said.contains("fuzzed") && !said.contains('\n'), "{}", said);
            }
        }
    }
}
