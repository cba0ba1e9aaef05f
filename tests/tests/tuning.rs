//! Edits on screens against published formulas and values.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

use std::fs;
use std::path::Path;
use std::process::Command;

use strikeoff_core::Progress;
use strikeoff_core::raster::{FULL, Plane};
use strikeoff_core::tune::{choke, multiply_film, spread};

fn run(program: &str, args: &[&str], install: &str) {
    let done = Command::new(program).args(args).output();
    let done = done.unwrap_or_else(|e| panic!("cannot run {program} ({e}); apt-get install {install}"));
    assert!(done.status.success(), "{program}: {}; apt-get install {install}", String::from_utf8_lossy(&done.stderr));
}

/// W3C Compositing and Blending Level 1, "multiply": `B(cb, cs) = cb x cs`; the table holds 64
/// pairs of 8-bit values, the exact product and what Pillow's `ImageChops.multiply` gives.
#[test]
fn multiply_agrees_with_the_blend_table() {
    let table = include_str!("../fixtures/blend_8x8.csv");
    let mut rows = 0;
    for line in table.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (backdrop, source): (u16, u16) = (cells[0].parse().unwrap(), cells[1].parse().unwrap());
        let exact: f64 = cells[2].parse().unwrap();
        let pillow: f64 = cells[4].parse().unwrap();
        let ours = f64::from(multiply_film(backdrop * 257, source * 257)) / 257.0;
        // The table has four decimals of 255; 16 bits resolve 1/514 of a level.
        assert!((ours - exact).abs() <= 0.5 / 257.0 + 5e-5, "{backdrop} x {source}: {ours} for {exact}");
        assert!((ours - pillow).abs() <= 1.0, "{backdrop} x {source}: {ours}, Pillow {pillow}");
        rows += 1;
    }
    assert_eq!(rows, 64);
}

/// Every pair of 8-bit values, multiplied by Pillow (`ImageChops.multiply`) and by ImageMagick
/// (`-compose multiply`): within 1 level of 255. Any natural picture holds only such pairs.
#[test]
fn multiply_agrees_with_pillow_and_imagemagick_on_every_pair() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let pgm = |name: &str, f: fn(u32, u32) -> u8| {
        let mut bytes = b"P5 256 256 255\n".to_vec();
        bytes.extend((0..65_536).map(|i| f(i % 256, i / 256)));
        fs::write(at(name), bytes).unwrap();
    };
    pgm("a.pgm", |x, _| x as u8);
    pgm("b.pgm", |_, y| y as u8);
    let (a, b) = (at("a.pgm"), at("b.pgm"));
    let script = "import sys; from PIL import Image, ImageChops; \
                  a, b = (Image.open(n) for n in sys.argv[1:3]); ImageChops.multiply(a, b).save(sys.argv[3])";
    run("/usr/bin/python3", &["-c", script, &a, &b, &at("pillow.pgm")], "python3-pil");
    let magick = ["-depth", "8", &a, &b, "-compose", "multiply", "-composite", &at("magick.pgm")];
    run("convert", &magick, "imagemagick");
    for tool in ["pillow.pgm", "magick.pgm"] {
        let theirs = fs::read(at(tool)).unwrap();
        let pixels = &theirs[theirs.len() - 65_536..];
        for (i, &theirs) in pixels.iter().enumerate() {
            let (x, y) = ((i % 256) as u16, (i / 256) as u16);
            let ours = f64::from(multiply_film(x * 257, y * 257)) / 257.0;
            assert!((ours - f64::from(theirs)).abs() <= 1.0, "{tool}: {x} x {y} is {theirs}, ours {ours}");
        }
    }
}

/// SciPy's `ndimage.grey_erosion` and `grey_dilation` with a disk of pixels whose centres lie
/// within the radius: equal, on binary shapes and on 16-bit noise.
#[test]
fn choke_and_spread_equal_scipys_morphology() {
    let dir = tempfile::tempdir().unwrap();
    let (width, height) = (173, 121);
    let noise = |x: usize, y: usize| ((x * 40_503) ^ (y * 30_011)).wrapping_mul(2_654_435_761) >> 7;
    let shapes = Plane::from_fn(width, height, |x, y| {
        let disk = (x as f64 - 60.0).hypot(y as f64 - 50.0) < 33.0 && (x as f64 - 66.0).hypot(y as f64 - 48.0) > 9.5;
        if disk || (x > 110 && (x + 2 * y) % 37 < 19) { FULL } else { 0 }
    });
    let grey = Plane::from_fn(width, height, |x, y| noise(x / 3, y / 2) as u16);
    let script = r"
import sys, numpy as np
from scipy import ndimage as n
d = sys.argv[1]
for name in ('shapes', 'grey'):
    a = np.fromfile(f'{d}/{name}', '<u2').reshape(121, 173)
    for r in (1, 2, 3, 7, 12):
        y, x = np.mgrid[-r:r+1, -r:r+1]
        k = x*x + y*y <= r*r
        n.grey_erosion(a, footprint=k, mode='constant', cval=65535).tofile(f'{d}/{name}-choke-{r}')
        n.grey_dilation(a, footprint=k, mode='constant', cval=0).tofile(f'{d}/{name}-spread-{r}')
";
    let bytes = |plane: &Plane<u16>| plane.data().iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<u8>>();
    for (name, plane) in [("shapes", &shapes), ("grey", &grey)] {
        fs::write(dir.path().join(name), bytes(plane)).unwrap();
    }
    run("/usr/bin/python3", &["-c", script, dir.path().to_str().unwrap()], "python3-numpy python3-scipy");
    let read = |path: &Path| fs::read(path).unwrap();
    for (name, plane) in [("shapes", &shapes), ("grey", &grey)] {
        for radius in [1, 2, 3, 7, 12] {
            let none = Progress::none();
            let choked = choke(plane, f64::from(radius), &none).unwrap();
            let spreaded = spread(plane, f64::from(radius), &none).unwrap();
            assert!(bytes(&choked) == read(&dir.path().join(format!("{name}-choke-{radius}"))), "{name} {radius}");
            assert!(bytes(&spreaded) == read(&dir.path().join(format!("{name}-spread-{radius}"))), "{name} {radius}");
            assert_ne!(choked, *plane);
        }
    }
}
