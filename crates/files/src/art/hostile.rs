//! Property test: whatever bytes of a good file are changed or cut, reading ends in a picture of
//! the stated size or in one sentence, never in a panic.

use std::io::Cursor;

use image::{DynamicImage, ImageFormat, Rgba, RgbaImage};
use proptest::prelude::*;

use strikeoff_core::Progress;

use super::drawing::Artist;
use super::{ArtError, ReadOptions, Received, receive_bytes_by};

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

/// Drawings, very flat so that they are drawn in a moment.
fn drawings() -> Vec<Vec<u8>> {
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='200' height='2'><defs><linearGradient id='g'><stop \
               offset='0' stop-color='red'/><stop offset='1'/></linearGradient></defs><rect width='90' height='2' \
               fill='url(#g)'/><text x='3' y='2'>ab</text><path d='M0 0L9 1C1 2 3 4 5 6Z'/><use href='#g'/></svg>";
    let content = "0.2 0.4 0.6 rg 0 0 72 144 re f 1 0 0 RG 3 w 0 0 m 9 1 l 1 2 3 4 5 6 c S";
    let mut pdf = b"%PDF-1.4\n".to_vec();
    let objects = [
        "<</Type/Catalog/Pages 2 0 R>>".to_owned(),
        "<</Type/Pages/Count 1/Kids[4 0 R]>>".to_owned(),
        format!("<</Length {}>>stream\n{content}\nendstream", content.len()),
        "<</Type/Page/Parent 2 0 R/MediaBox[0 0 400 4]/Contents 3 0 R/Resources<<>>>>".to_owned(),
    ];
    for (at, object) in objects.iter().enumerate() {
        pdf.extend(format!("{} 0 obj\n{object}\nendobj\n", at + 1).bytes());
    }
    pdf.extend(b"trailer<</Size 5/Root 1 0 R>>\n%%EOF");
    vec![svg.as_bytes().to_vec(), pdf]
}

/// Drawings are drawn here: a panic in one would not show from outside its process.
fn receive(name: &str, bytes: &[u8]) -> Result<Received, ArtError> {
    receive_bytes_by(&Artist::InProcess, name, bytes, ReadOptions::default(), &Progress::none())
}

/// Changes bytes of a file, then cuts it.
fn harmed(mut bytes: Vec<u8>, changes: Vec<(f64, u8)>, cut: Option<f64>) -> Vec<u8> {
    let length = bytes.len() as f64;
    for (place, value) in changes {
        bytes[(place * length) as usize] = value;
    }
    if let Some(cut) = cut {
        bytes.truncate((cut * length) as usize);
    }
    bytes
}

fn ends_well(bytes: &[u8]) -> Result<(), TestCaseError> {
    match receive("fuzzed", bytes) {
        Ok(received) => {
            prop_assert_eq!(received.facts.width_px, received.art.picture.width());
            prop_assert!(received.art.picture.width() > 0 && received.art.picture.height() > 0);
        }
        Err(error) => {
            let said = error.to_string();
            prop_assert!(said.contains("fuzzed") && !said.contains('\n'), "{}", said);
        }
    }
    Ok(())
}

#[test]
fn the_seeds_themselves_are_good() {
    for (at, seed) in seeds().iter().chain(&drawings()).enumerate() {
        let read = receive("seed", seed);
        assert!(read.is_ok(), "seed {at}: {:?}", read.err());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]
    #[test]
    fn changed_bytes_never_panic(
        seed in 0_usize..7,
        changes in prop::collection::vec((0.0_f64..1.0, any::<u8>()), 0..8),
        cut in prop::option::of(0.0_f64..1.0),
    ) {
        ends_well(&harmed(seeds().swap_remove(seed), changes, cut))?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    #[test]
    fn changed_drawings_never_panic(
        seed in 0_usize..2,
        changes in prop::collection::vec((0.0_f64..1.0, any::<u8>()), 0..4),
        cut in prop::option::weighted(0.2, 0.0_f64..1.0),
    ) {
        ends_well(&harmed(drawings().swap_remove(seed), changes, cut))?;
    }
}
