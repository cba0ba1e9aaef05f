//! What the ways to enlarge promise, on small pictures that the net never saw in training (licences beside them in
//! `assets/enlarger/held-out/manifest.json`). They are reduced by area in linear light, some then saved as JPEG of
//! quality 75, and enlarged back. The peers are bicubic (Catmull-Rom) and Lanczos of the `image` library; the measure
//! is the peak signal-to-noise ratio of luma as ITU-R BT.601 weights it, the usual one for enlarging.
//!
//! `cargo test -p strikeoff-core --test enlarging -- --nocapture` prints every figure.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

mod pictures;
mod screens;

use image::RgbImage;
use image::imageops::{FilterType, resize};
use strikeoff_core::prep::Enlarging;

use pictures::{enlarged, held_out, psnr, reduced, through_jpeg};

/// Least gain in dB of the repairing way over the best of the peers and of the way along edges.
struct Promise {
    pictures: &'static [&'static str],
    times: u32,
    jpeg: bool,
    gain_db: f64,
}

const DRAWINGS: &[&str] = &["drawing-heron", "drawing-lantern"];
const LETTERING: &[&str] = &["lettering-ticket"];
const PHOTOGRAPHS: &[&str] = &["photograph-cat", "photograph-osprey", "photograph-spices"];

/// About two thirds of what was measured for drawings and lettering; photographs gain little, and lose nothing.
const PROMISES: [Promise; 9] = [
    Promise { pictures: DRAWINGS, times: 2, jpeg: false, gain_db: 3.0 },
    Promise { pictures: DRAWINGS, times: 2, jpeg: true, gain_db: 3.0 },
    Promise { pictures: DRAWINGS, times: 4, jpeg: false, gain_db: 2.5 },
    Promise { pictures: DRAWINGS, times: 4, jpeg: true, gain_db: 2.0 },
    Promise { pictures: LETTERING, times: 2, jpeg: false, gain_db: 2.5 },
    Promise { pictures: LETTERING, times: 2, jpeg: true, gain_db: 2.0 },
    Promise { pictures: LETTERING, times: 4, jpeg: true, gain_db: 0.4 },
    Promise { pictures: PHOTOGRAPHS, times: 2, jpeg: false, gain_db: 0.1 },
    Promise { pictures: PHOTOGRAPHS, times: 2, jpeg: true, gain_db: 0.1 },
];

#[test]
fn repairing_comes_nearer_than_kernels_and_edges() {
    let mut broken = Vec::new();
    for Promise { pictures, times, jpeg, gain_db } in PROMISES {
        let mut sums = [0.0; 4];
        for name in pictures {
            let whole = held_out(name);
            let small = reduced(&whole, times);
            let small = if jpeg { through_jpeg(&small, 75) } else { small };
            let kernel = |filter| resize(&small, whole.width(), whole.height(), filter);
            let ways: [RgbImage; 4] = [
                kernel(FilterType::CatmullRom),
                kernel(FilterType::Lanczos3),
                enlarged(&small, times, Enlarging::Edges),
                enlarged(&small, times, Enlarging::Repair),
            ];
            for (sum, way) in sums.iter_mut().zip(&ways) {
                *sum += psnr(&whole, way) / pictures.len() as f64;
            }
        }
        let [bicubic, lanczos, edges, repair] = sums;
        let line = format!(
            "{} x{times}{}: bicubic {bicubic:.2}, Lanczos {lanczos:.2}, edges {edges:.2}, repair {repair:.2} dB",
            pictures[0],
            if jpeg { " JPEG 75" } else { "" }
        );
        println!("{line}");
        if repair < bicubic.max(lanczos).max(edges) + gain_db {
            broken.push(format!("{line}; {gain_db} dB are promised"));
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}
