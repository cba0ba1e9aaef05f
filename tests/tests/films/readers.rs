//! Film files in general-purpose readers: size, resolution, polarity and bits.

use strikeoff_core::Progress;
use strikeoff_files::film::{FilmOptions, TiffCompression, write_films};

use super::{bits_by_libtiff, films, path, python, run, small_job};

/// Pillow, libvips and ImageMagick see the same picture as libtiff in each packing: ink black.
#[test]
fn every_packing_reads_alike_in_four_readers() {
    let (job, screens) = small_job();
    let dir = tempfile::tempdir().unwrap();
    let mut first: Option<Vec<u8>> = None;
    for (compression, report) in [
        (TiffCompression::G4, "CCITT Group 4"),
        (TiffCompression::Deflate, "AdobeDeflate"),
        (TiffCompression::None, "None"),
    ] {
        let folder = dir.path().join(format!("{compression:?}"));
        let options = FilmOptions { compression, pdf: false, ..FilmOptions::default() };
        let set = write_films(&job, &screens, &folder, &options, &Progress::none()).unwrap();
        let film = &set.films[1];
        let tiff = film.tiff.as_ref().unwrap();
        let info = run("tiffinfo", "libtiff-tools", &[path(tiff)]);
        assert!(info.contains(&format!("Compression Scheme: {report}")), "{info}");
        assert!(!info.to_lowercase().contains("warning"), "{info}");
        let (width, height, bits) = bits_by_libtiff(tiff, dir.path());
        assert_eq!((width, height), (film.width_px, film.height_px));
        match &first {
            None => first = Some(bits.clone()),
            Some(first) => assert!(*first == bits, "{compression:?}: other bits than Group 4"),
        }
        // As bytes, 0 where ink is.
        let stride = width.div_ceil(8);
        let ink = |x: usize, y: usize| bits[y * stride + x / 8] >> (7 - x % 8) & 1 == 1;
        let want: Vec<u8> = (0..height)
            .flat_map(|y| (0..width).map(move |x| (x, y)))
            .map(|(x, y)| if ink(x, y) { 0 } else { 255 })
            .collect();
        let same = |reader: &str, got: &[u8]| {
            assert_eq!(got.len(), want.len(), "{compression:?} in {reader}: size");
            assert!(got == want, "{compression:?} in {reader}: other pixels");
        };

        let script = "import sys; from PIL import Image; Image.MAX_IMAGE_PIXELS = None\n\
                      i = Image.open(sys.argv[1]); print(i.size, i.mode, tuple(float(d) for d in i.info['dpi']))\n\
                      open(sys.argv[2], 'wb').write(i.convert('L').tobytes())";
        let raw = dir.path().join("raw");
        let said = python("python3-pil", script, &[path(tiff), path(&raw)]);
        assert!(said.starts_with(&format!("({width}, {height}) 1 (720.0, 720.0)")), "{said}");
        same("Pillow", &std::fs::read(&raw).unwrap());

        let header = run("vipsheader", "libvips-tools", &["-a", path(tiff)]);
        // Pixels a millimetre.
        let per_mm: f64 = header.lines().find_map(|l| l.strip_prefix("xres: ")).unwrap().trim().parse().unwrap();
        assert!((per_mm * 25.4 - 720.0).abs() < 0.01, "{header}");
        let pgm = dir.path().join("vips.pgm");
        run("vips", "libvips-tools", &["copy", path(tiff), path(&pgm)]);
        let bytes = std::fs::read(&pgm).unwrap();
        same("libvips", &bytes[bytes.len() - want.len()..]);

        let said = run("identify", "imagemagick", &["-format", "%w %h %x %U", path(tiff)]);
        assert!(said.starts_with(&format!("{width} {height} 720 PixelsPerInch")), "{said}");
        let gray = format!("gray:{}", path(&raw));
        run("convert", "imagemagick", &[path(tiff), "-depth", "8", &gray]);
        same("ImageMagick", &std::fs::read(&raw).unwrap());
    }
}

/// libtiff's own Group 4 of the same bits is the same picture (tiffcmp), and ours is no larger.
#[test]
fn group_4_is_what_libtiff_makes_of_it() {
    let (job, screens) = small_job();
    let dir = tempfile::tempdir().unwrap();
    let set = films(&job, &screens, dir.path());
    for film in &set.films {
        let tiff = film.tiff.as_ref().unwrap();
        let theirs = dir.path().join("theirs.tif");
        run("tiffcp", "libtiff-tools", &["-c", "g4", "-r", "256", path(tiff), path(&theirs)]);
        run("tiffcmp", "libtiff-tools", &["-t", path(tiff), path(&theirs)]);
        let size = |p: &std::path::Path| std::fs::metadata(p).unwrap().len();
        assert!(size(tiff) <= size(&theirs) + 600, "{} against {}", size(tiff), size(&theirs));
    }
}

/// Screens as 16-bit greys, read by Pillow and libvips.
#[test]
fn grey_screens_keep_16_bits_and_their_resolution() {
    let (_, screens) = small_job();
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().join("out");
    let files = strikeoff_files::film::write_screen_pictures(&screens, &out, &[], &Progress::none()).unwrap().files;
    let raw = dir.path().join("raw");
    let script = "import sys, numpy as np; from PIL import Image\n\
                  i = Image.open(sys.argv[1]); print(i.mode, round(i.info['dpi'][0], 1))\n\
                  np.asarray(i).astype('<u2').tofile(sys.argv[2])";
    let said = python("python3-pil python3-numpy", script, &[path(&files[0]), path(&raw)]);
    assert!(said.starts_with("I;16 150.0") || said.starts_with("I 150.0"), "{said}");
    let got = std::fs::read(&raw).unwrap();
    for (got, want) in got.chunks_exact(2).zip(screens.list[0].coverage.data()) {
        assert_eq!(u16::from_le_bytes([got[0], got[1]]), 65_535 - want);
    }
    let header = run("vipsheader", "libvips-tools", &["-a", path(&files[0])]);
    assert!(header.contains("ushort"), "{header}");
}
