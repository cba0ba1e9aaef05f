//! Dots measured from outside: area, ruling and angle of every shape, spectra of stochastic dots,
//! gradients without seams.

use std::f64::consts::TAU;

use rayon::prelude::*;
use strikeoff_core::halftone::{
    BitRow, Cell, DeviceGrid, DotGrid, DotShape, Dots, Field, FieldCursor, ToneTable, count_ink,
};
use strikeoff_core::raster::Plane;
use strikeoff_core::units::{Coverage, Degrees, Dpi, Lpi, Mm};

use super::{films, path, python, small_job};

/// A flat tint of `side` device pixels as rows of bits.
fn tint(grid: &Dots, coverage: f64, width: usize, height: usize) -> Vec<Vec<u64>> {
    let plane = Plane::filled(1, 1, (coverage * 65_535.0).round() as u16);
    let tone = ToneTable::identity();
    let field = Field::new(&plane, &tone, grid, width, height);
    let mut cursor = FieldCursor::default();
    (0..height)
        .map(|y| {
            let mut row = vec![0; field.words()];
            field.row(y, &mut cursor, &mut row);
            row
        })
        .collect()
}

fn area(rows: &[Vec<u64>], width: usize) -> f64 {
    rows.iter().map(|row| count_ink(row)).sum::<u64>() as f64 / (rows.len() * width) as f64
}

/// Strength of waves with each of `fx` cycles a pixel across and each of `fy` down, under a Hann window.
fn waves(rows: &[Vec<u64>], width: usize, fx: [f64; 3], fy: [f64; 3]) -> [[f64; 3]; 3] {
    let height = rows.len();
    let hann = |i: usize, n: usize| 0.5 - 0.5 * (TAU * (i as f64 + 0.5) / n as f64).cos();
    // Sums of the six waves to the left of each pixel: a run of ink is worth the difference of two.
    let mut left = vec![[0.0; 6]];
    for x in 0..width {
        let [a, b, c] = fx.map(|f| (TAU * f * x as f64).sin_cos());
        let mut sums = left[x];
        for (sum, wave) in sums.iter_mut().zip([a.1, a.0, b.1, b.0, c.1, c.0]) {
            *sum += wave * hann(x, width);
        }
        left.push(sums);
    }
    let mut sums = [[[0.0; 2]; 3]; 3];
    for (y, row) in rows.iter().enumerate() {
        let mut line = [0.0; 6];
        for_each_change(row, width, |x, ink| {
            let sign = if ink { -1.0 } else { 1.0 };
            line.iter_mut().zip(&left[x]).for_each(|(sum, left)| *sum += sign * left);
        });
        for (sums, fy) in sums.iter_mut().zip(fy) {
            let (sin, cos) = (TAU * fy * y as f64).sin_cos();
            for (sum, wave) in sums.iter_mut().zip(line.chunks_exact(2)) {
                sum[0] += hann(y, height) * (wave[0] * cos - wave[1] * sin);
                sum[1] += hann(y, height) * (wave[0] * sin + wave[1] * cos);
            }
        }
    }
    sums.map(|sums| sums.map(|[re, im]| f64::hypot(re, im)))
}

/// Where runs of ink begin (true) and end.
fn for_each_change(row: &BitRow, width: usize, mut f: impl FnMut(usize, bool)) {
    let mut before = 0;
    for (at, &word) in row.iter().enumerate() {
        let mut edges = word ^ (word << 1 | before);
        before = word >> 63;
        while edges != 0 {
            let bit = edges.trailing_zeros();
            f(at * 64 + bit as usize, word >> bit & 1 == 1);
            edges &= edges - 1;
        }
    }
    if width.is_multiple_of(64) && before == 1 {
        f(width, false);
    }
}

/// The spectrum's peak near a guess given in lpi and degrees: the top of a parabola through the logarithm
/// of three strengths each way, half a line of the spectrum apart, moved until it stands still. None if
/// there is no peak there.
fn peak(rows: &[Vec<u64>], width: usize, dpi: [f64; 2], lpi: f64, degrees: f64) -> Option<(f64, f64)> {
    let (sin, cos) = degrees.to_radians().sin_cos();
    // Rows run down while angles turn counter-clockwise.
    let mut at = [lpi * cos / dpi[0], -lpi * sin / dpi[1]];
    let step = [0.5 / width as f64, 0.5 / rows.len() as f64];
    for _ in 0..3 {
        let around = |axis: usize| [-1.0, 0.0, 1.0].map(|k| at[axis] + k * step[axis]);
        let strength = waves(rows, width, around(0), around(1)).map(|line| line.map(f64::ln));
        let [x, y] = [strength[1], [strength[0][1], strength[1][1], strength[2][1]]];
        for (axis, [before, here, after]) in [x, y].into_iter().enumerate() {
            let bend = before - 2.0 * here + after;
            // The middle must be the strongest, or the peak lies elsewhere.
            if bend >= 0.0 || here < before.max(after) {
                return None;
            }
            at[axis] += 0.5 * (before - after) / bend * step[axis];
        }
    }
    let (fx, fy) = (at[0] * dpi[0], -at[1] * dpi[1]);
    Some((fx.hypot(fy), fy.atan2(fx).to_degrees()))
}

#[test]
fn flat_tints_at_45_lpi_have_their_area_ruling_and_angle() {
    let grid = Dots::new(
        DeviceGrid::square(Dpi::new(720.0).unwrap()),
        Lpi::new(45.0).unwrap(),
        Degrees::new(22.5).unwrap(),
        &DotShape::Round,
    );
    for percent in (2..=98).step_by(4) {
        let nominal = f64::from(percent) / 100.0;
        let rows = tint(&grid, nominal, 1440, 1440);
        let got = area(&rows, 1440);
        assert!((got - nominal).abs() < 0.003, "{percent} %: {got}");
        if percent % 24 == 2 {
            let (lpi, degrees) = peak(&rows, 1440, [720.0; 2], 45.0, 22.5).unwrap();
            assert!((lpi / 45.0 - 1.0).abs() < 0.002, "{percent} %: {lpi} lpi");
            assert!((degrees - 22.5).abs() < 0.1, "{percent} %: {degrees} degrees");
            // A guess beside the truth is no peak.
            assert_eq!(peak(&rows, 1440, [720.0; 2], 45.0, 24.5), None);
            assert_eq!(peak(&rows, 1440, [720.0; 2], 46.5, 22.5), None);
        }
    }
}

#[test]
fn every_dot_keeps_its_area_on_any_device() {
    let ellipse =
        DotShape::Ellipse { first_join: Coverage::new(0.4).unwrap(), second_join: Coverage::new(0.6).unwrap() };
    let shapes = [DotShape::Round, DotShape::Euclidean, ellipse, DotShape::Square, DotShape::Diamond, DotShape::Line];
    let cases = [
        (720.0, 720.0, 20.0, 7.5),
        (720.0, 1440.0, 45.0, 22.5),
        (1440.0, 1440.0, 65.0, 52.5),
        (1440.0, 2880.0, 55.0, 82.5),
        (2880.0, 2880.0, 85.0, 15.0),
        (720.0, 720.0, 85.0, 67.5),
    ];
    for shape in shapes.iter() {
        for (at, &(x_dpi, y_dpi, lpi, degrees)) in cases.iter().enumerate() {
            let device = DeviceGrid { x_dpi: Dpi::new(x_dpi).unwrap(), y_dpi: Dpi::new(y_dpi).unwrap() };
            let grid = Dots::new(device, Lpi::new(lpi).unwrap(), Degrees::new(degrees).unwrap(), shape);
            let (width, height) = ((x_dpi * 1.4) as usize, (y_dpi * 1.4) as usize);
            let mut before: Option<Vec<Vec<u64>>> = None;
            for percent in [1, 5, 30, 50, 51, 77, 95, 99] {
                let nominal = f64::from(percent) / 100.0;
                let rows = tint(&grid, nominal, width, height);
                let got = area(&rows, width);
                // Edge cells of a 1.4 in patch add to the dots' own accuracy, more for coarse dots.
                let allowed = 0.003f64.max(0.15 / (lpi * 1.4)).min(0.004);
                assert!((got - nominal).abs() < allowed, "{shape:?} case {at}, {percent} %: {got}");
                // A darker tint keeps every pixel of a lighter one.
                if let Some(before) = &before {
                    assert!(before.iter().zip(&rows).all(|(a, b)| a.iter().zip(b).all(|(a, b)| a & !b == 0)));
                }
                before = Some(rows);
            }
        }
    }
}

/// Devices on which dots are measured.
const DEVICES_DPI: [[f64; 2]; 5] =
    [[720.0, 720.0], [1440.0, 1440.0], [2880.0, 2880.0], [720.0, 1440.0], [1440.0, 2880.0]];
const RULINGS_LPI: [f64; 5] = [20.0, 45.0, 55.0, 65.0, 85.0];
const ANGLES: [f64; 8] = [0.0, 7.5, 22.5, 37.0, 45.0, 61.0, 75.0, 90.0];

/// The seven shapes of growing dots (an ellipse of two kinds) with their threshold tables.
fn growing_dots() -> Vec<(DotShape, Cell)> {
    let at = |v| Coverage::new(v).unwrap();
    let long = DotShape::Ellipse { first_join: at(0.35), second_join: at(0.7) };
    let kinds = DotShape::kinds().into_iter().filter(|dot| dot.size_mm().is_none());
    kinds.chain([long]).map(|dot| (dot, Cell::new(&dot))).collect()
}

/// Every shape at every ruling, angle and device of the grid above: the peak of the spectrum is the
/// ruling within 0.2 % and the angle within 0.1 degrees. The tint changes from case to case.
#[test]
fn every_dot_has_its_ruling_and_angle_on_every_device() {
    let dots = growing_dots();
    let mut cases = Vec::new();
    for device in DEVICES_DPI {
        for lpi in RULINGS_LPI {
            for degrees in ANGLES {
                cases.extend(dots.iter().map(|(shape, cell)| (device, lpi, degrees, shape, cell)));
            }
        }
    }
    let off: Vec<String> = (cases.par_iter().enumerate())
        .filter_map(|(at, &(dpi, lpi, degrees, shape, cell))| {
            let percent = [8, 30, 50, 71, 90][at % 5];
            let device = DeviceGrid { x_dpi: Dpi::new(dpi[0]).unwrap(), y_dpi: Dpi::new(dpi[1]).unwrap() };
            let grid = Dots::of_cell(device, Lpi::new(lpi).unwrap(), Degrees::new(degrees).unwrap(), cell);
            let side = |dpi: f64| ((12.0 * dpi / lpi) as usize).max(540);
            let rows = tint(&grid, f64::from(percent) / 100.0, side(dpi[0]), side(dpi[1]));
            // Lines along the screen's axis repeat across it.
            let turned = if *shape == DotShape::Line { degrees + 90.0 } else { degrees };
            let got = peak(&rows, side(dpi[0]), dpi, lpi, turned);
            let right = |(got_lpi, got_degrees): (f64, f64)| {
                (got_lpi / lpi - 1.0).abs() < 0.002
                    && ((got_degrees - turned + 180.0).rem_euclid(360.0) - 180.0).abs() < 0.1
            };
            (!got.is_some_and(right))
                .then(|| format!("{shape} {lpi} lpi {turned} degrees {dpi:?} dpi {percent} %: {got:?}\n"))
        })
        .collect();
    assert!(off.is_empty(), "{} of {}:\n{}", off.len(), cases.len(), off.concat());
}

#[test]
fn right_angles_reach_the_grey_level_limit() {
    // Exact 16-pixel cells: (720 / 45)^2 = 256 levels (formula of halftone tables: levels = (dpi/lpi)^2 + 1).
    for degrees in [0.0, 90.0] {
        let grid = Dots::new(
            DeviceGrid::square(Dpi::new(720.0).unwrap()),
            Lpi::new(45.0).unwrap(),
            Degrees::new(degrees).unwrap(),
            &DotShape::Round,
        );
        for percent in 1..=99 {
            let nominal = f64::from(percent) / 100.0;
            let got = area(&tint(&grid, nominal, 160, 160), 160);
            assert!((got - nominal).abs() <= 0.51 / 256.0, "{degrees} degrees, {percent} %: {got}");
        }
    }
}

/// Every shape at 20 to 85 lpi, 0 to 90 degrees, 720 to 2880 dpi: all tints from 1 to 99 % within 0.3 %
/// of their area, or within the device's own levels, (dpi / lpi)^2 + 1, where those are coarser. A tint's
/// pixels are those whose threshold lies under it, so a darker tint never loses one of a lighter one.
/// The area is weighed over 14 cells (8 mm at 45 lpi, a patch of a wedge) and at least 480 pixels by a window of four
/// cosines (Blackman and Harris), which sees no edge.
#[test]
fn all_tints_of_all_shapes_keep_their_area_on_the_usual_devices() {
    for (shape, cell) in growing_dots() {
        let mut cases = Vec::new();
        for [dpi, _] in &DEVICES_DPI[..3] {
            for lpi in RULINGS_LPI {
                cases.extend(ANGLES.map(|degrees| (*dpi, lpi, degrees)));
            }
        }
        let off: Vec<String> = cases
            .par_iter()
            .filter_map(|&(dpi, lpi, degrees)| {
                let device = DeviceGrid::square(Dpi::new(dpi).unwrap());
                let grid = DotGrid::of_cell(device, Lpi::new(lpi).unwrap(), Degrees::new(degrees).unwrap(), &cell);
                let side = ((dpi / lpi * 14.0) as usize).max(480);
                let window: Vec<f64> = (0..side)
                    .map(|i| TAU * (i as f64 + 0.5) / side as f64)
                    .map(|t| 0.35875 - 0.48829 * t.cos() + 0.14128 * (2.0 * t).cos() - 0.01168 * (3.0 * t).cos())
                    .collect();
                // Weight under each tint of a percent.
                let mut under = vec![0.0; 101];
                for (y, down) in window.iter().enumerate() {
                    for (x, across) in window.iter().enumerate() {
                        let threshold = grid.threshold(x, y);
                        let tint = (u32::from(threshold) + 1) * 100;
                        let tint = tint.div_ceil(65_535);
                        under[tint as usize] += across * down;
                    }
                }
                let total: f64 = under.iter().sum();
                let levels = (dpi / lpi).powi(2);
                let allowed = 0.003f64.max(0.51 / levels);
                let mut so_far = 0.0;
                let mut worst = (0.0, 0);
                for (percent, weight) in under.iter().enumerate().take(100) {
                    so_far += weight;
                    let off = (so_far / total - percent as f64 / 100.0).abs();
                    if off > worst.0 {
                        worst = (off, percent);
                    }
                }
                (worst.0 > allowed).then(|| {
                    let (off, percent) = worst;
                    format!(
                        "{lpi} lpi {degrees} degrees {dpi} dpi, {percent} %: {:.2} % off, {:.2} % allowed\n",
                        off * 100.0,
                        allowed * 100.0
                    )
                })
            })
            .collect();
        assert!(off.is_empty(), "{shape}:\n{}", off.concat());
    }
}

/// R. Ulichney, "Dithering with blue noise", Proc. IEEE 76 (1988) 56-79: the radially averaged power
/// spectrum of blue noise at a grey level g, relative to its variance g (1 - g), has little or no energy
/// under the principal frequency sqrt(g) (for g to 1/2; sqrt(1 - g) above) an inverse dot, a peak near
/// it and is flat above it. Past one quarter the principal frequency lies outside what a square grid
/// has along its sides, 1/2, which is taken instead for the low end. White noise is 1 everywhere.
/// The transform is numpy's.
#[test]
fn stochastic_dots_have_the_spectrum_of_blue_noise() {
    let script = "\
import sys, numpy as np
for name in sys.argv[1:]:
    a = np.fromfile(name, np.uint8).astype(float)
    n = int(np.sqrt(a.size)); a = a.reshape(n, n); g = a.mean()
    p = np.abs(np.fft.fft2(a - g)) ** 2 / (n * n * g * (1 - g))
    f = np.fft.fftfreq(n); r = np.hypot(*np.meshgrid(f, f))
    fg = np.sqrt(min(g, 1 - g)); low = min(fg, 0.5)
    ring = lambda lo, hi: p[(r > lo) & (r <= hi)].mean()
    top = ring(0.85 * fg, min(1.2 * fg, 0.7072))
    print(g, ring(0, 0.5 * low), ring(0.5 * low, 0.7 * low), top)
";
    // One device pixel a dot: 254 dpi and dots of 0.1 mm.
    let device = DeviceGrid::square(Dpi::new(254.0).unwrap());
    let size_mm = Mm::new(0.1).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let (mut names, mut what) = (Vec::new(), Vec::new());
    for dot in [DotShape::BlueNoise { size_mm }, DotShape::Diffusion { size_mm }] {
        let dots = Dots::new(device, Lpi::new(45.0).unwrap(), Degrees::new(0.0).unwrap(), &dot);
        for percent in [3, 6, 12, 25, 40, 50, 75, 94] {
            let rows = tint(&dots, f64::from(percent) / 100.0, 512, 512);
            let bytes: Vec<u8> = (128..384)
                .flat_map(|y| (128..384).map(move |x| (x, y)))
                .map(|(x, y): (usize, usize)| (rows[y][x / 64] >> (x % 64) & 1) as u8)
                .collect();
            let name = dir.path().join(format!("{}-{percent}", dot.name()));
            std::fs::write(&name, bytes).unwrap();
            names.push(path(&name).to_owned());
            what.push((dot, percent));
        }
    }
    let args: Vec<&str> = names.iter().map(String::as_str).collect();
    let report = python("python3-numpy", script, &args);
    assert_eq!(report.lines().count(), what.len(), "{report}");
    for (line, (dot, percent)) in report.lines().zip(what) {
        let n: Vec<f64> = line.split_whitespace().map(|v| v.parse().unwrap()).collect();
        let [g, low, middle, top] = n[..] else { panic!("{line}") };
        assert!((g - f64::from(percent) / 100.0).abs() < 0.01, "{dot} {percent} %: {g}");
        assert!(low < 0.12, "{dot} {percent} %: {low} of white noise under half the principal frequency");
        assert!(middle < 0.65, "{dot} {percent} %: {middle} between half and seven tenths of it");
        assert!(top > 1.0, "{dot} {percent} %: {top} at it");
    }
}

/// A gradient across a whole film, with the dots averaged away, follows the gradient, and what is
/// left of it repeats neither with the bands that films are made in (256 rows) nor with the runs of
/// 16 pixels that dots are made of: its autocorrelation there is no higher than beside it.
#[test]
fn a_gradient_has_no_seam() {
    let (mut job, screens) = small_job();
    job.press.compensate = false;
    // 14.4 pixels a dot: neither 16 nor a part of it.
    job.film.ruling = Lpi::new(50.0).unwrap();
    job.film.marks = false;
    job.film.label = false;
    job.film.wedge = false;
    job.film.margin = Mm::new(0.0).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let script = "\
import sys, numpy as np; from PIL import Image
from scipy.ndimage import gaussian_filter
a = 1.0 - np.asarray(Image.open(sys.argv[1]).convert('L')) / 255.0
h, w = a.shape
src = np.clip((np.arange(w) + 0.5) * 354 / w - 0.5, 0, 353) / 353.0
cell = 720 / 50
soft = gaussian_filter(a, 1.2 * cell)
want = gaussian_filter(np.broadcast_to(src, a.shape).copy(), 1.2 * cell)
m = int(5 * cell)
left = (soft - want)[m:-m, m:-m]
print(np.abs(left).max())
def seam(b, axis, lag):
    # Mean of each row (column) against the gradient, and how it repeats.
    line = (b - src)[m:-m, m:-m].mean(axis=1 - axis)
    line = line - line.mean()
    f = np.fft.fft(line, 2 * len(line))
    c = np.fft.ifft(np.abs(f) ** 2).real[:len(line)]
    c = c / c[0]
    return c[lag] - np.concatenate([c[lag - 7:lag - 2], c[lag + 3:lag + 8]]).max()
marked = a.copy(); marked[::256] = 0
print(seam(marked, 0, 256))
marked = a.copy(); marked[:, ::16] = 0
print(seam(marked, 1, 16))
for axis, lags in ((0, (128, 256, 512)), (1, (16, 32, 64, 128))):
    for lag in lags:
        print(axis, lag, seam(a, axis, lag))
";
    for dot in ["round", "euclidean", "ellipse", "blue-noise:80um"] {
        job.film.dot = dot.parse().unwrap();
        let set = films(&job, &screens, &dir.path().join(dot.replace(':', "-")));
        let report = python("python3-scipy python3-pil", script, &[path(set.films[0].tiff.as_ref().unwrap())]);
        let mut lines = report.lines();
        let most: f64 = lines.next().unwrap().parse().unwrap();
        let allowed = if dot.starts_with("blue") { 0.03 } else { 0.012 };
        assert!(most < allowed, "{dot}: {most} off the gradient");
        // A row or column that is wrong on purpose is found.
        for line in lines.by_ref().take(2) {
            assert!(line.parse::<f64>().unwrap() > 0.4, "{dot}: a seam made on purpose is missed: {line}");
        }
        for line in lines {
            let above: f64 = line.split_whitespace().last().unwrap().parse().unwrap();
            assert!(above < 0.2, "{dot}: axis and lag {line}");
        }
    }
}
