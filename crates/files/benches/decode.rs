//! Decoding of 21 Mpx files against Pillow and against plain use of the libraries, in the same run, as
//! ratios. "Plain" is a library's call for a whole picture and then pixels of the working space from its
//! samples, on all cores: the same result as ours, to the last bit. Pillow gives its own 8-bit pixels.
//! Two pictures: one with a camera's own detail in every pixel (`fine`), and one enlarged to that size,
//! which hardly has any (`soft`): there a file is so small that taking the memory of the pixels is most
//! of the work. Needs python3-pil, python3-scipy. `cargo bench -p strikeoff-files --bench decode`

use std::fs;
use std::io::Cursor;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use rayon::prelude::*;
use strikeoff_files::art::decode_art;
use tiff::decoder::{DecodingResult, Limits};
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;

/// Writes the files into the folder of argument 1, or times their decoding.
const PILLOW: &str = r#"
import sys, time, os, warnings
warnings.simplefilter("ignore")
from PIL import Image
folder = sys.argv[1]
names = [f"{kind}.{end}" for kind in ["fine", "soft"]
         for end in ["png", "rgba.png", "jpg", "lzw.tif", "deflate.tif", "plain.tif"]]
if sys.argv[2] == "write":
    import numpy as np
    from scipy import misc
    face = misc.face()
    twice = np.concatenate([face, face[:, ::-1]], 1)
    four = np.concatenate([twice, twice[::-1]], 0)
    fine = Image.fromarray(np.tile(four, (4, 2, 1))[:5400, :3960].copy())
    for kind, art in [("fine", fine), ("soft", Image.fromarray(face).resize((3960, 5400), Image.BICUBIC))]:
        art.save(f"{folder}/{kind}.png")
        clear = art.copy()
        clear.putalpha(art.convert("L"))
        clear.save(f"{folder}/{kind}.rgba.png")
        art.save(f"{folder}/{kind}.jpg", quality=90)
        art.save(f"{folder}/{kind}.lzw.tif", compression="tiff_lzw")
        art.save(f"{folder}/{kind}.deflate.tif", compression="tiff_adobe_deflate")
        art.save(f"{folder}/{kind}.plain.tif")
else:
    for name in names:
        best = 1e9
        for _ in range(3):
            start = time.perf_counter()
            Image.open(f"{folder}/{name}").load()
            best = min(best, time.perf_counter() - start)
        print(name, best)
"#;

type Pixels = Vec<[u16; 4]>;
type Plain = fn(&[u8]) -> Pixels;

fn main() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let pillow = |what: &str| {
        let folder = dir.path().to_str().expect("a plain path");
        let run = Command::new("/usr/bin/python3").args(["-c", PILLOW, folder, what]).output();
        let out = run.expect("python3 runs: apt-get install python3-pil python3-scipy");
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).expect("text")
    };
    pillow("write");
    for line in pillow("time").lines() {
        let (name, theirs) = line.split_once(' ').expect("name and seconds");
        let theirs: f64 = theirs.parse().expect("seconds");
        against_libraries(name, theirs, dir.path());
    }
}

/// Ours and each plain way, by turns, best of five.
fn against_libraries(name: &str, pillow: f64, dir: &Path) {
    let bytes = fs::read(dir.join(name)).expect("the file was just written");
    let peers: &[(&str, Plain)] = match name.rsplit('.').next() {
        Some("png") => &[("png", png_plain), ("zune-png", zune_png_plain)],
        Some("jpg") => &[("zune-jpeg", zune_jpeg_plain)],
        _ => &[("tiff", tiff_plain), ("tiff by chunks", tiff_chunks)],
    };
    let ours: Plain = |bytes| decode_art("art", bytes).expect("decodes").picture.pixels().data().to_vec();
    let kept = ours(&bytes);
    let mut best = vec![f64::INFINITY; peers.len() + 1];
    for _ in 0..5 {
        let start = Instant::now();
        std::hint::black_box(decode_art("art", &bytes).expect("decodes"));
        best[0] = best[0].min(start.elapsed().as_secs_f64());
        for ((peer, plain), best) in peers.iter().zip(&mut best[1..]) {
            let start = Instant::now();
            let made = plain(&bytes);
            *best = best.min(start.elapsed().as_secs_f64());
            assert!(made == kept, "{peer} gives other pixels of {name}");
        }
    }
    let ours = best[0];
    print!("{name:16} ours {ours:.3} s; Pillow {pillow:.3} s, {:.2} of ours", pillow / ours);
    for ((peer, _), best) in peers.iter().zip(&best[1..]) {
        print!("; {peer} {best:.3} s, {:.2}", best / ours);
    }
    println!();
}

/// Bytes of RGB or RGBA to pixels, on all cores.
fn widened(bytes: &[u8], channels: usize) -> Pixels {
    let mut pixels = vec![[0; 4]; bytes.len() / channels];
    let wide = |v: u8| u16::from(v) * 257;
    pixels.par_chunks_mut(4096).zip(bytes.par_chunks(4096 * channels)).for_each(|(to, from)| match channels {
        3 => to.iter_mut().zip(from.as_chunks::<3>().0).for_each(|(to, &[r, g, b])| {
            *to = [wide(r), wide(g), wide(b), u16::MAX];
        }),
        _ => to.iter_mut().zip(from.as_chunks::<4>().0).for_each(|(to, p)| *to = p.map(wide)),
    });
    pixels
}

fn png_plain(bytes: &[u8]) -> Pixels {
    let mut decoder = png::Decoder::new_with_limits(Cursor::new(bytes), png::Limits { bytes: usize::MAX });
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().expect("a header");
    let mut samples = vec![0; reader.output_buffer_size().expect("a size")];
    let frame = reader.next_frame(&mut samples).expect("a picture");
    widened(&samples, frame.color_type.samples())
}

fn zune_png_plain(bytes: &[u8]) -> Pixels {
    let options = DecoderOptions::new_fast().set_max_width(1 << 20).set_max_height(1 << 20);
    let mut decoder = zune_png::PngDecoder::new_with_options(zune_core::bytestream::ZCursor::new(bytes), options);
    let samples = decoder.decode_raw().expect("a picture");
    widened(&samples, decoder.colorspace().expect("a colour type").num_components())
}

fn zune_jpeg_plain(bytes: &[u8]) -> Pixels {
    let options = DecoderOptions::new_fast().jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = zune_jpeg::JpegDecoder::new_with_options(Cursor::new(bytes), options);
    widened(&decoder.decode().expect("a picture"), 3)
}

fn tiff_reader(bytes: &[u8]) -> tiff::decoder::Decoder<Cursor<&[u8]>> {
    tiff::decoder::Decoder::new(Cursor::new(bytes)).expect("a header").with_limits(Limits::unlimited())
}

fn tiff_plain(bytes: &[u8]) -> Pixels {
    let Ok(DecodingResult::U8(samples)) = tiff_reader(bytes).read_image() else { panic!("8 bits") };
    widened(&samples, 3)
}

/// The library's strips, read on all cores.
fn tiff_chunks(bytes: &[u8]) -> Pixels {
    let mut reader = tiff_reader(bytes);
    let ((width, height), (_, rows)) = (reader.dimensions().expect("a size"), reader.chunk_dimensions());
    let mut pixels = vec![[0; 4]; (width * height) as usize];
    let strips = pixels.par_chunks_mut((width * rows) as usize).enumerate();
    strips.for_each_init(
        || tiff_reader(bytes),
        |reader, (strip, to)| {
            let Ok(DecodingResult::U8(samples)) = reader.read_chunk(strip as u32) else { panic!("8 bits") };
            let wide = |v: u8| u16::from(v) * 257;
            to.iter_mut().zip(samples.as_chunks::<3>().0).for_each(|(to, &[r, g, b])| {
                *to = [wide(r), wide(g), wide(b), u16::MAX];
            });
        },
    );
    pixels
}
