//! The separation at full size, against what it must show, everything in one run:
//! the table look-up against a 33-point device link of lcms2 and against the plain look-up on one
//! thread, the whole separation of 21.4 Mpx with its memory, a proxy solved again, and choosing
//! six inks of the house shelf. Best of several; the ratios are what counts.
//! `cargo bench -p strikeoff-core --bench separate`

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use lcms2::{Flags, Intent, PixelFormat, Profile, Transform};
use strikeoff_core::Progress;
use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::{Garment, Shelf};
use strikeoff_core::prep::Prepared;
use strikeoff_core::press::{Ground, PrintModel, Stop};
use strikeoff_core::raster::{Picture, Plane};
use strikeoff_core::separate::{ColorTable, InkRequest, SeparationSettings, print_quality, separate, suggest};
use strikeoff_core::units::{Lpi, Ppi};

fn once(mut work: impl FnMut()) -> Duration {
    let start = Instant::now();
    work();
    start.elapsed()
}

fn best(runs: usize, mut work: impl FnMut()) -> Duration {
    (0..runs).map(|_| once(&mut work)).min().unwrap_or_default()
}

/// A photograph of the tests, enlarged linearly to a print of 21.4 Mpx.
fn picture(width: usize, height: usize) -> Picture {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fixtures/photos/astronaut.jpg");
    let small = image::open(&path).expect("the photograph is there").to_rgb8();
    let (w, h) = (small.width() as usize, small.height() as usize);
    let at = |x: usize, y: usize, c: usize| f64::from(small.get_pixel(x as u32, y as u32)[c]);
    let place = |v: usize, size: usize, of: usize| {
        let p = (v as f64 + 0.5) * of as f64 / size as f64 - 0.5;
        let p = p.clamp(0.0, of as f64 - 1.001);
        (p as usize, p.fract())
    };
    Picture::new(Plane::from_fn(width, height, |x, y| {
        let ((x, fx), (y, fy)) = (place(x, width, w), place(y, height, h));
        let mix = |c: usize| {
            let top = at(x, y, c) * (1.0 - fx) + at(x + 1, y, c) * fx;
            let low = at(x, y + 1, c) * (1.0 - fx) + at(x + 1, y + 1, c) * fx;
            ((top * (1.0 - fy) + low * fy) * 257.0).round() as u16
        };
        [mix(0), mix(1), mix(2), u16::MAX]
    }))
}

/// Rows looked up at a time.
const STRIP: usize = 100;

/// The rows of a picture from `top` on.
fn strip(picture: &Picture, top: usize) -> Picture {
    Picture::new(Plane::from_fn(picture.width(), STRIP, |x, y| picture.pixels().get(x, top + y)))
}

/// An ICC device link (ICC.1: header in clause 7.2, lut16Type in 10.10) with the table's own values
/// on 33 nodes a side.
fn link(table: &ColorTable, screens: usize) -> Vec<u8> {
    let planes = table.planes(&nodes());
    let mut lut = Vec::new();
    lut.extend(b"mft2\0\0\0\0");
    lut.extend([3, screens as u8, 33, 0]);
    for k in 0..9 {
        lut.extend((if k % 4 == 0 { 0x10000u32 } else { 0 }).to_be_bytes());
    }
    lut.extend([0, 2, 0, 2]);
    let straight = [0u8, 0, 255, 255];
    lut.extend(straight.repeat(3));
    for at in 0..33 * 33 * 33 {
        lut.extend(planes.iter().flat_map(|plane| plane.data()[at].to_be_bytes()));
    }
    lut.extend(straight.repeat(screens));
    let mut icc = vec![0u8; 128];
    icc[8..12].copy_from_slice(&[2, 0x40, 0, 0]);
    icc[12..24].copy_from_slice(b"linkRGB 6CLR");
    icc[36..40].copy_from_slice(b"acsp");
    for (at, xyz) in [(68, 0xF6D6u32), (72, 0x10000), (76, 0xD32D)] {
        icc[at..at + 4].copy_from_slice(&xyz.to_be_bytes());
    }
    icc.extend(1u32.to_be_bytes());
    icc.extend(b"A2B0");
    icc.extend(144u32.to_be_bytes());
    icc.extend((lut.len() as u32).to_be_bytes());
    icc.extend(lut);
    let size = (icc.len() as u32).to_be_bytes();
    icc[..4].copy_from_slice(&size);
    icc
}

/// All nodes of a 33-point table as a picture.
fn nodes() -> Picture {
    let code = |v: usize| (v * 65535 / 32) as u16;
    Picture::new(Plane::from_fn(33, 33 * 33, |b, rg| [code(rg / 33), code(rg % 33), code(b), u16::MAX]))
}

/// Highest memory of the process since the last call, MB.
fn peak_mb() -> f64 {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM")).unwrap_or_default();
    let kb: f64 = line.split_whitespace().nth(1).and_then(|v| v.parse().ok()).unwrap_or(f64::NAN);
    fs::write("/proc/self/clear_refs", "5").ok();
    kb / 1024.0
}

fn main() {
    let (width, height) = (3960, 5400);
    let photo = picture(width, height);
    let pixels = (width * height) as f64 / 1e6;
    let speed = |time: Duration| pixels / time.as_secs_f64();
    let shelf_file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/shelf.json");
    let shelf: Shelf =
        serde_json::from_slice(&fs::read(shelf_file).expect("the shelf is there")).expect("the shelf reads");
    let garment = Garment::of_color(Rgb8([0x17, 0x17, 0x1A]));
    let inks = ["Base white", "Golden yellow", "Signal red", "Royal blue", "Ink black", "Bright white"];
    let inks = inks.map(|name| shelf.find(name).expect("on the shelf").clone());
    let settings = SeparationSettings::for_inks(inks);
    let mut press = PrintModel::default();
    press.stops.insert("Base white".into(), Stop::Flash);
    let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).expect("in range"));
    let none = Progress::none();

    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a thread");
    pool.install(|| {
        let solve = |picture: &Picture| ColorTable::solve(picture, &ground, &settings, &none);
        let icc = link(&solve(&nodes()).expect("solves"), 6);
        let profile = Profile::new_icc(&icc).expect("a profile");
        // lcms2.h: bytes, extra channels, channels and colour space of a pixel format.
        let rgb_extra = PixelFormat(4 << 16 | 1 << 7 | 3 << 3 | 2);
        let six = PixelFormat(20 << 16 | 6 << 3 | 2);
        let link: Transform<[u16; 4], [u16; 6]> =
            Transform::new_multiprofile(&[&profile], rgb_extra, six, Intent::Perceptual, Flags::default())
                .expect("a transform");
        let table = solve(&photo).expect("solves");
        // In strips, so that both write to memory that is there already: at full size the first touch
        // of the results' pages takes as long as the look-up.
        let strips: Vec<Picture> = (0..height).step_by(STRIP).map(|y| strip(&photo, y)).collect();
        let mut linked = vec![[0u16; 6]; width * STRIP];
        let mut times = [Duration::MAX; 3];
        for _ in 0..5 {
            let mut looked = Vec::new();
            times[0] = times[0].min(once(|| {
                for strip in &strips {
                    looked = table.planes(strip);
                }
            }));
            times[1] = times[1].min(once(|| {
                for strip in &strips {
                    link.transform_pixels(strip.pixels().data(), &mut linked);
                }
            }));
            times[2] = times[2].min(once(|| {
                for strip in &strips {
                    looked = table.planes_plainly(strip);
                }
            }));
        }
        let looked = table.planes(&photo);
        assert_eq!(looked, table.planes_plainly(&photo), "fast and plain differ");
        let mut linked = vec![[0u16; 6]; photo.pixels().data().len()];
        link.transform_pixels(photo.pixels().data(), &mut linked);
        // The two tables hold the same problem's solutions; that of the photograph may be finer.
        let apart = linked.iter().enumerate().step_by(997).map(|(at, v)| {
            (0..6).map(|s| f64::from(v[s].abs_diff(looked[s].data()[at]))).sum::<f64>() / 6.0 / 655.35
        });
        let apart: Vec<f64> = apart.collect();
        println!(
            "look-up, one thread: {:.0} Mpx/s; lcms2 device link {:.0} Mpx/s, ratio {:.2}; plain {:.0} Mpx/s, ratio {:.2} (mean difference of the two tables {:.2} %)",
            speed(times[0]),
            speed(times[1]),
            times[1].as_secs_f64() / times[0].as_secs_f64(),
            speed(times[2]),
            times[2].as_secs_f64() / times[0].as_secs_f64(),
            apart.iter().sum::<f64>() / apart.len() as f64
        );
    });

    let prepared = |picture: Picture| Prepared {
        picture,
        ppi: Ppi::new(300.0).expect("in range"),
        print_size_mm: [335.3, 457.2],
        true_ppi: 100.0,
    };
    let proxy = prepared(picture(880, 1200));
    let again = best(7, || {
        separate(&proxy, &ground, &settings, &none).expect("separates");
    });
    println!("proxy of 880 x 1200 separated again: {:.0} ms", again.as_secs_f64() * 1e3);

    let chosen = best(3, || {
        suggest(&photo, &ground, &shelf, &InkRequest::default(), &settings, &none).expect("chooses");
    });
    println!("six of {} inks chosen for 21.4 Mpx: {:.2} s", shelf.inks.len(), chosen.as_secs_f64());

    let full = prepared(photo);
    peak_mb();
    let mut screens = None;
    let whole = best(3, || {
        screens = None;
        screens = Some(separate(&full, &ground, &settings, &none).expect("separates"));
    });
    println!(
        "whole separation of 21.4 Mpx, six inks: {:.2} s, peak {:.0} MB with the art",
        whole.as_secs_f64(),
        peak_mb()
    );
    let screens = screens.expect("separated");
    let judged = once(|| println!("{:?}", print_quality(&screens, &full.picture, &ground)));
    println!("judged in {:.2} s", judged.as_secs_f64());
}
