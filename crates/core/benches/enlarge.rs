//! Enlarging 512 x 512 pixels of art 4 times at every level of vector instructions, one thread and two: the repairing
//! way against the way along edges in the same run. `cargo bench -p strikeoff-core --bench enlarge`

use std::hint::black_box;
use std::time::Instant;

use strikeoff_core::Progress;
use strikeoff_core::prep::{Enlarging, PrepSettings, prepare};
use strikeoff_core::raster::{Art, Detail, Picture, Plane};
use strikeoff_core::simd::Level;
use strikeoff_core::units::Ppi;

const SIDE: usize = 512;
const RUNS: usize = 3;

fn main() {
    let wave =
        |x: usize, y: usize, p: f64| (((x as f64 * p).sin() + (y as f64 * p * 1.3).cos()) * 0.25 + 0.5) * 65_535.0;
    let pixels = Plane::from_fn(SIDE, SIDE, |x, y| [0.013, 0.11, 0.4].map(|p| wave(x, y, p) as u16));
    let picture = Picture::new(pixels.map(|[r, g, b]| [r, g, b, u16::MAX]));
    let art = Art { picture, ppi: Ppi::new(72.0).expect("a resolution") };
    let seconds = |enlarging| {
        let settings = PrepSettings {
            enlarging,
            sharpen_amount: 0.0,
            ppi: Ppi::new(288.0).expect("a resolution"),
            ..PrepSettings::default()
        };
        let once = || {
            let start = Instant::now();
            black_box(prepare(&art, &settings, Detail::Full, &Progress::none()).expect("prepares"));
            start.elapsed().as_secs_f64()
        };
        (0..RUNS).map(|_| once()).fold(f64::MAX, f64::min)
    };
    for threads in [1, 2] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        for level in Level::available() {
            level.force().expect("it is there");
            let [edges, repair] = [Enlarging::Edges, Enlarging::Repair].map(|way| pool.install(|| seconds(way)));
            let per_pixel = |seconds: f64| seconds * 1e9 / (SIDE * SIDE) as f64;
            println!(
                "{:10}{threads} threads: repairing {:6.0} ns a pixel of art, along edges {:6.0}, {:.2}x",
                level.name(),
                per_pixel(repair),
                per_pixel(edges),
                repair / edges
            );
        }
    }
}
