//! Decoding of 21 Mpx files against Pillow, in the same run, as ratios. Pillow gives its own
//! 8-bit pixels; ours are 16-bit pixels of the working space. Two pictures: one with a camera's own
//! detail in every pixel (`fine`), and one enlarged to that size, which hardly has any (`soft`): there
//! a JPEG is so small that taking the memory of the pixels is most of the work. Needs python3-pil,
//! python3-scipy. `cargo bench -p strikeoff-files --bench decode`

use std::process::Command;
use std::time::Instant;

use strikeoff_files::art::read_art;

/// Writes the files into the folder of argument 1, or times their decoding.
const PILLOW: &str = r#"
import sys, time, os, warnings
warnings.simplefilter("ignore")
from PIL import Image
folder = sys.argv[1]
names = [f"{kind}.{end}" for kind in ["fine", "soft"] for end in ["png", "jpg", "lzw.tif", "deflate.tif"]]
if sys.argv[2] == "write":
    import numpy as np
    from scipy import misc
    face = misc.face()
    twice = np.concatenate([face, face[:, ::-1]], 1)
    four = np.concatenate([twice, twice[::-1]], 0)
    fine = Image.fromarray(np.tile(four, (4, 2, 1))[:5400, :3960].copy())
    for kind, art in [("fine", fine), ("soft", Image.fromarray(face).resize((3960, 5400), Image.BICUBIC))]:
        art.save(f"{folder}/{kind}.png")
        art.save(f"{folder}/{kind}.jpg", quality=90)
        art.save(f"{folder}/{kind}.lzw.tif", compression="tiff_lzw")
        art.save(f"{folder}/{kind}.deflate.tif", compression="tiff_adobe_deflate")
else:
    for name in names:
        best = 1e9
        for _ in range(3):
            start = time.perf_counter()
            Image.open(f"{folder}/{name}").load()
            best = min(best, time.perf_counter() - start)
        print(name, best)
"#;

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
        let ours = (0..3)
            .map(|_| {
                let start = Instant::now();
                std::hint::black_box(read_art(&dir.path().join(name)).expect("decodes"));
                start.elapsed().as_secs_f64()
            })
            .fold(f64::INFINITY, f64::min);
        println!("{name:16} Pillow {theirs:.3} s, ours {ours:.3} s: {:.2}x", ours / theirs);
    }
}
