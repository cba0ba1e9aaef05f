//! The proof's pixels: six inks with dot gain on a view of 2 Mpx, one thread, against a plain loop
//! over the pixels with the same tables.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use strikeoff_core::color::{Rgb8, encode_u16};
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::press::{Composite, Ground, PrintModel, Stack};
use strikeoff_core::units::{Lpi, Opacity};

const WIDTH: usize = 1600;
const HEIGHT: usize = 1250;

/// One pass, pixel by pixel: a gain table of every code, one of 8-bit codes.
struct Plain {
    gain: Option<Vec<f32>>,
    codes: Vec<u8>,
}

impl Plain {
    fn new(stack: &Stack) -> Self {
        let gain = stack.gain.first().map(|c| (0..=u16::MAX).map(|v| c.print(f32::from(v) / 65535.0)).collect());
        let codes = (0..4096).map(|i| (encode_u16([(i as f32 / 4095.0).powi(2); 3])[0] >> 8) as u8).collect();
        Self { gain, codes }
    }

    fn row(&self, stack: &Stack, rows: &[&[u16]], out: &mut [[u8; 4]]) {
        for (x, out) in out.iter_mut().enumerate() {
            let mut r = stack.garment;
            for (layer, row) in stack.layers.iter().zip(rows) {
                let a = match &self.gain {
                    Some(gain) => gain[usize::from(row[x])],
                    None => f32::from(row[x]) * (1.0 / 65535.0),
                };
                for ((r, scatter), through) in r.iter_mut().zip(layer.scatter).zip(layer.through) {
                    *r += a * (scatter + (through - 1.0) * *r);
                }
            }
            let [r, g, b] = r.map(|r| self.codes[(r.clamp(0.0, 1.0).sqrt() * 4095.0 + 0.5) as usize]);
            *out = [r, g, b, 255];
        }
    }
}

fn composite(c: &mut Criterion) {
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
    let plane = |at: usize| -> Vec<u16> { (0..WIDTH).map(|x| ((x * (7919 * at + 104_729)) % 65_536) as u16).collect() };
    let planes: Vec<_> = (0..6).map(plane).collect();
    let rows: Vec<&[u16]> = planes.iter().map(Vec::as_slice).collect();
    let mut out = vec![[0u8; 4]; WIDTH];
    for (name, compensate) in [("with gain", false), ("no gain", true)] {
        let press = PrintModel { compensate, ..PrintModel::default() };
        let list = inks.iter().map(|i| (i.name.as_str(), i, 1));
        let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).expect("a ruling"));
        let stack = Stack::of_inks(&ground, list);
        let (composite, plain) = (Composite::new(&stack), Plain::new(&stack));
        let mut group = c.benchmark_group(name);
        group.throughput(Throughput::Elements((WIDTH * HEIGHT) as u64)).sample_size(20);
        group.bench_function("plain loop", |b| {
            b.iter(|| (0..HEIGHT).for_each(|_| plain.row(&stack, black_box(&rows), black_box(&mut out))));
        });
        group.bench_function("composite", |b| {
            b.iter(|| (0..HEIGHT).for_each(|_| composite.row(black_box(&rows), black_box(&mut out))));
        });
        group.finish();
    }
}

criterion_group!(benches, composite);
criterion_main!(benches);
