//! A badge of 1024 x 1024 pixels, clean: the redraw, its films' coverage at 10 times the size, and a general open
//! tracer on the same pixels in the same run.
//! `cargo bench -p strikeoff-redraw`

use criterion::{Criterion, criterion_group, criterion_main};
use strikeoff_redraw::{Art, Settings, redraw};
use visioncortex::ColorImage;
use vtracer::{Config, Preset};

const SIDE: usize = 1024;

/// Rings, spokes and dots; each pixel is the mean of sixteen points.
fn badge() -> Vec<u8> {
    let at = |x: f64, y: f64| -> [u8; 3] {
        let (dx, dy) = (x - 512.0, y - 512.0);
        let (r, a) = (dx.hypot(dy), dy.atan2(dx));
        let spoke = (a * 12.0).sin() > 0.3;
        let dot = ((x % 64.0) - 32.0).hypot((y % 64.0) - 32.0) < 9.0;
        match r {
            r if r > 490.0 => [255, 255, 255],
            r if r > 450.0 => [24, 44, 96],
            r if r > 440.0 => [240, 190, 40],
            r if r > 250.0 && spoke => [190, 30, 45],
            r if r > 250.0 => [250, 244, 230],
            _ if dot => [40, 130, 90],
            _ => [24, 44, 96],
        }
    };
    let mut bytes = Vec::with_capacity(SIDE * SIDE * 4);
    for i in 0..SIDE * SIDE {
        let (x, y) = ((i % SIDE) as f64, (i / SIDE) as f64);
        let mut sum = [0.0; 3];
        for k in 0..16 {
            let c = at(x + (f64::from(k % 4) + 0.5) / 4.0, y + (f64::from(k / 4) + 0.5) / 4.0);
            (0..3).for_each(|j| sum[j] += f64::from(c[j]) / 16.0);
        }
        bytes.extend([sum[0].round() as u8, sum[1].round() as u8, sum[2].round() as u8, 255]);
    }
    bytes
}

fn benches(c: &mut Criterion) {
    let bytes = badge();
    let art = Art::new(SIDE, SIDE, &bytes).expect("the size fits");
    let made = redraw(&art, &Settings::default()).expect("the badge is flat");
    let mut group = c.benchmark_group("1 Mpx");
    group.sample_size(10);
    group.bench_function("redraw", |b| b.iter(|| redraw(&art, &Settings::default())));
    group.bench_function("peer", |b| {
        let image = ColorImage { pixels: bytes.clone(), width: SIDE, height: SIDE };
        let pipeline = Config::from_preset(Preset::Poster).build().expect("the preset is sound");
        b.iter(|| pipeline.to_svg(&image));
    });
    group.bench_function("coverage of one colour, 1024 rows at 10 times", |b| {
        b.iter(|| made.coverage(0, 10.0, 4096..5120));
    });
    group.finish();
}

criterion_group!(all, benches);
criterion_main!(all);
