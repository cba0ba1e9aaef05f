//! Every kernel at every level of vector instructions that this machine has, one thread, in nanoseconds a
//! pixel: the table of DEVELOPERS.md. Each level has processes of its own, which take turns, and the best of
//! them counts, since on a shared machine only that repeats. The last line is a curve of the proof read by
//! itself, which is done by hand with AVX2 (a gather) and AVX-512 (a permutation): what these bring.

use std::hint::black_box;
use std::process::Command;
use std::time::Instant;

use strikeoff_core::Progress;
use strikeoff_core::color::Rgb8;
use strikeoff_core::halftone::{DeviceGrid, DotShape, Dots, Field, FieldCursor, ToneTable};
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::prep::{PrepSettings, prepare, resized};
use strikeoff_core::press::{Composite, Ground, PrintModel, Stack};
use strikeoff_core::raster::{Art, Detail, Picture, Plane, choke};
use strikeoff_core::separate::ColorTable;
use strikeoff_core::simd::Level;
use strikeoff_core::units::{Degrees, Dpi, Lpi, Mm, Opacity, Ppi};

/// How a curve of the proof is read, by itself.
#[allow(dead_code, reason = "the bench reads whole rows alone")]
#[path = "../src/press/curve.rs"]
mod curve;

/// Set for the process that measures a level.
const LEVEL: &str = "STRIKEOFF_BENCH_LEVEL";
/// Processes of each level, and runs of each kernel in one.
const TURNS: usize = 3;
const RUNS: usize = 4;

/// Prints a kernel's time.
fn line(name: &str, pixels: usize, mut kernel: impl FnMut()) {
    // The first run warms caches and tables.
    kernel();
    let once = |kernel: &mut dyn FnMut()| {
        let start = Instant::now();
        kernel();
        start.elapsed().as_secs_f64()
    };
    let best = (0..RUNS).map(|_| once(&mut kernel)).fold(f64::MAX, f64::min);
    println!("{name}\t{}", best / pixels as f64 * 1e9);
}

fn noise(at: usize) -> u16 {
    let mut v = (at as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    v ^= v >> 29;
    (v.wrapping_mul(0xbf58_476d_1ce4_e5b9) >> 40) as u16
}

fn proofs() {
    let ink = |at: u8| Ink {
        name: format!("ink {at}"),
        over_white: Rgb8([40 * at, 250 - 35 * at, 17 * at]),
        opacity: Opacity::new(0.5 + 0.05 * f64::from(at)).expect("within 0..=1"),
        role: InkRole::Color,
        measured: false,
        spectra: None,
    };
    let inks: Vec<Ink> = (0..6).map(ink).collect();
    let garment = Garment::of_color(Rgb8([24, 24, 26]));
    let (width, height) = (1600, 300);
    let plane = |at: usize| -> Vec<u16> { (0..width).map(|x| ((x * (7919 * at + 104_729)) % 65_536) as u16).collect() };
    let planes: Vec<_> = (0..6).map(plane).collect();
    let rows: Vec<&[u16]> = planes.iter().map(Vec::as_slice).collect();
    for (name, compensate) in [("proof of six inks, with dot gain", false), ("proof of six inks, without", true)] {
        let press = PrintModel { compensate, ..PrintModel::default() };
        let list = inks.iter().map(|i| (i.name.as_str(), i, 1));
        let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).expect("a ruling"));
        let stack = Stack::of_inks(&ground, list);
        let composite = Composite::new(&stack);
        let mut out = vec![[0u8; 4]; width];
        line(name, width * height, || {
            (0..height).for_each(|_| composite.row(black_box(&rows), black_box(&mut out)));
        });
    }
}

fn films() {
    let plane = Plane::from_fn(4050, 300, |x, y| {
        let (u, v) = (x as f64 / 4050.0, y as f64 / 5400.0);
        let wave = (9.0 * u).sin() * (7.0 * v).cos() + 0.3 * (40.0 * u * v).sin();
        (((wave + 0.4) * 0.8).clamp(0.0, 1.0) * 65_535.0) as u16
    });
    let tone = ToneTable::identity();
    for (dpi, degrees) in [(1440.0, 22.5), (1440.0, 45.0), (2880.0, 22.5), (300.0, 22.5)] {
        let device = DeviceGrid::square(Dpi::new(dpi).expect("a resolution"));
        let angle = Degrees::new(degrees).expect("an angle");
        let dots = Dots::new(device, Lpi::new(45.0).expect("a ruling"), angle, &DotShape::Round);
        let (width, rows) = ((13.5 * dpi) as usize, 120);
        let field = Field::new(&plane, &tone, &dots, width, dpi as usize);
        let mut row = vec![0; field.words()];
        line(&format!("dots at {dpi} dpi, {degrees} degrees"), width * rows, || {
            let mut cursor = FieldCursor::default();
            for y in 0..rows {
                field.row(y, &mut cursor, &mut row);
                black_box(&row);
            }
        });
    }
}

fn pictures() {
    let art = |width: usize, height: usize, clear: bool| {
        Picture::new(Plane::from_fn(width, height, |x, y| {
            let alpha = if clear && (x / 40 + y / 40) % 2 == 0 { noise(x + y * width) } else { u16::MAX };
            [noise(x / 5 + y), ((x * 311 + y * 411) % 65_536) as u16, noise(x + y / 3), alpha]
        }))
    };
    for (name, clear, width, height) in [
        ("resampling to 2.5 times", false, 1300, 900),
        ("the same with transparency", true, 1300, 900),
        ("resampling to 1.1 times", false, 572, 418),
        ("resampling to 0.4 times", false, 208, 152),
    ] {
        let picture = art(520, 380, clear);
        line(name, width * height, || {
            black_box(resized(&picture, width, height, &Progress::none()).expect("it fits"));
        });
    }
    let small = Art { picture: art(300, 220, false), ppi: Ppi::new(72.0).expect("a resolution") };
    let settings = PrepSettings {
        max_width_mm: Some(Mm::new(72.0).expect("a width")),
        sharpen_amount: 0.0,
        ..PrepSettings::default()
    };
    let enlarge = || prepare(&small, &settings, Detail::Full, &Progress::none()).expect("it fits").picture;
    let made = enlarge();
    line("enlarging along edges", made.width() * made.height(), || {
        black_box(enlarge());
    });
    for reach_px in [2.5, 12.0] {
        let plane = Plane::from_fn(1600, 500, |x, y| noise(x / 9 + y / 7 * 3));
        line(&format!("choke by {reach_px} pixels"), 1600 * 500, || {
            black_box(choke(&plane, reach_px, &Progress::none()).expect("not cancelled"));
        });
    }
    for screens in [6, 11] {
        let picture =
            Picture::new(Plane::from_fn(1000, 400, |x, y| [noise(x / 3 + y * 7), noise(x + 3), noise(y), u16::MAX]));
        let table = ColorTable::of_nodes(screens, |node, screen| noise(node * 16 + screen));
        line(&format!("colours to {screens} screens"), 1000 * 400, || {
            black_box(table.planes(&picture));
        });
    }
}

fn curves() {
    let level = fearless_simd::Level::new();
    #[cfg(target_arch = "x86_64")]
    let level = match Level::in_use() {
        Level::Avx512 => level,
        Level::Avx2 => level.as_avx2().map_or(level, fearless_simd::Simd::level),
        _ => level.as_sse2().map_or(level, fearless_simd::Simd::level),
    };
    let curve = curve::Curve::<4>::new(&|v| (v + 0.3 * v.sqrt() * (1.0 - v)) * 65_535.0, 40.0);
    let row: Vec<u16> = (0..1600).map(noise).collect();
    let mut out = vec![0; row.len()];
    line("a curve, a value", 1600 * 600, || {
        (0..600).for_each(|_| curve.read(level, black_box(&row), black_box(&mut out)));
    });
}

fn main() {
    if let Some(level) = std::env::var_os(LEVEL) {
        level.to_string_lossy().parse::<Level>().and_then(Level::force).expect("a level of this machine");
        rayon::ThreadPoolBuilder::new().num_threads(1).build_global().expect("a thread");
        proofs();
        films();
        pictures();
        curves();
        return;
    }
    let levels = Level::available();
    let mut table: Vec<(String, Vec<f64>)> = Vec::new();
    for _ in 0..TURNS {
        for (column, level) in levels.iter().enumerate() {
            let child = std::env::current_exe().and_then(|exe| Command::new(exe).env(LEVEL, level.name()).output());
            let child = child.expect("this bench");
            assert!(child.status.success(), "{}", String::from_utf8_lossy(&child.stderr));
            for (at, line) in String::from_utf8_lossy(&child.stdout).lines().enumerate() {
                let (name, time) = line.split_once('\t').expect("a name and a time");
                if table.len() == at {
                    table.push((name.to_owned(), vec![f64::MAX; levels.len()]));
                }
                let best = &mut table[at].1[column];
                *best = best.min(time.parse().expect("a number"));
            }
        }
    }
    let names: Vec<&str> = levels.into_iter().map(Level::name).collect();
    println!("| ns a pixel | {} |\n|---|{}", names.join(" | "), "---|".repeat(names.len()));
    for (name, times) in table {
        let times: Vec<String> = times.into_iter().map(|time| format!("{time:.2}")).collect();
        println!("| {name} | {} |", times.join(" | "));
    }
}
