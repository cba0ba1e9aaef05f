//! All findings and facts of a 21.4 Mpx job of six screens (13.2 x 18 in at 300 ppi), beside the
//! plain cost of reading every screen once. Best of several; the ratio is what lasts on any machine.
//! `cargo bench -p strikeoff-core --bench findings`

use std::time::{Duration, Instant};

use strikeoff_core::Progress;
use strikeoff_core::findings::outlook;
use strikeoff_core::ink::{Garment, Ink};
use strikeoff_core::job::Job;
use strikeoff_core::prep::Prepared;
use strikeoff_core::press::{Stop, proof_from_screens};
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::units::Ppi;

fn best(runs: usize, mut work: impl FnMut()) -> Duration {
    let one = |work: &mut dyn FnMut()| {
        let start = Instant::now();
        work();
        start.elapsed()
    };
    (0..runs).map(|_| one(&mut work)).min().unwrap_or_default()
}

fn ink(name: &str, color: &str, opacity: f64, role: &str) -> Ink {
    let value = serde_json::json!({ "name": name, "over_white": color, "opacity": opacity, "role": role });
    serde_json::from_value(value).expect("an ink")
}

fn main() {
    let (width, height) = (3960, 5400);
    let ppi = Ppi::new(300.0).expect("in range");
    let inks = [
        ink("Base", "#F0F0EC", 0.86, "base-white"),
        ink("Yellow", "#FBBE22", 0.6, "color"),
        ink("Red", "#D8232A", 0.7, "color"),
        ink("Teal", "#14808A", 0.74, "color"),
        ink("Black", "#17171A", 0.95, "black"),
        ink("White", "#FAFAF7", 0.82, "white"),
    ];
    // Blends, hard discs and a fine texture, as a picture has them.
    let list = inks.iter().enumerate().map(|(i, ink)| {
        let (p, q) = (0.0011 * (i + 1) as f64, 0.0017 * (i + 2) as f64);
        let coverage = Plane::from_fn(width, height, |x, y| {
            let (x, y) = (x as f64, y as f64);
            let soft = ((x * p).sin() + (y * q).cos()) * 0.3 + 0.4;
            let disc = ((x / 400.0).fract() - 0.5).hypot((y / 500.0).fract() - 0.5) < 0.2 + 0.03 * i as f64;
            let fine = ((x * 0.9).sin() * (y * 0.8).cos()) * 0.06;
            let a = if disc { soft + 0.5 } else { soft + fine - 0.25 };
            (a.clamp(0.0, 1.0) * 65535.0) as u16
        });
        Screen { name: ink.name.as_str().into(), ink: ink.clone(), hits: 1, coverage }
    });
    let screens = Screens { width, height, ppi, list: list.collect() };
    let mut job = Job::new(Garment::of_color("#141416".parse().expect("a colour")));
    job.press.stops.insert("Base".into(), Stop::FlashAndCoolDown);
    job.info.quantity = 150;
    let inks: Vec<_> = screens.list.iter().map(|screen| (screen.name.clone(), Some(&screen.ink))).collect();
    job.film.give_angles(&inks);
    let picture = proof_from_screens(&screens, &job.ground(), |_| true);
    let prepared = Prepared { picture, ppi, print_size_mm: [335.3, 457.2], true_ppi: 150.0 };

    let plain = best(3, || {
        let sum: u64 = screens.list.iter().flat_map(|s| s.coverage.data()).map(|&v| u64::from(v)).sum();
        std::hint::black_box(sum);
    });
    let all = best(3, || {
        let look = outlook(&job, &prepared, &screens, &Progress::none()).expect("not cancelled");
        std::hint::black_box(look.findings.len());
    });
    let ratio = all.as_secs_f64() / plain.as_secs_f64();
    println!("reading six screens once   {plain:>10.1?}  1.0x");
    println!("findings and facts         {all:>10.1?}  {ratio:.1}x   (aim: under 3 s)");
}
