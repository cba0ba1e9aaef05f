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

/// Strength of the wave with `fx`, `fy` cycles a pixel, under a Hann window.
fn wave(rows: &[Vec<u64>], width: usize, fx: f64, fy: f64) -> f64 {
    let height = rows.len();
    let hann = |i: usize, n: usize| 0.5 - 0.5 * (TAU * (i as f64 + 0.5) / n as f64).cos();
    let across: Vec<(f64, f64)> = (0..width)
        .map(|x| {
            let (sin, cos) = (TAU * fx * x as f64).sin_cos();
            (hann(x, width) * cos, hann(x, width) * sin)
        })
        .collect();
    let (mut re, mut im) = (0.0, 0.0);
    for (y, row) in rows.iter().enumerate() {
        let (mut row_re, mut row_im) = (0.0, 0.0);
        for_each_ink(row, |x| {
            row_re += across[x].0;
            row_im += across[x].1;
        });
        let (sin, cos) = (TAU * fy * y as f64).sin_cos();
        re += hann(y, height) * (row_re * cos - row_im * sin);
        im += hann(y, height) * (row_re * sin + row_im * cos);
    }
    re.hypot(im)
}

fn for_each_ink(row: &BitRow, mut f: impl FnMut(usize)) {
    for (at, &word) in row.iter().enumerate() {
        let mut left = word;
        while left != 0 {
            f(at * 64 + left.trailing_zeros() as usize);
            left &= left - 1;
        }
    }
}

/// Climbs to the peak near a guess given in lpi and degrees.
fn peak(rows: &[Vec<u64>], width: usize, dpi: [f64; 2], lpi: f64, degrees: f64) -> (f64, f64) {
    let strength = |lpi: f64, degrees: f64| {
        let (sin, cos) = degrees.to_radians().sin_cos();
        // Rows run down while angles turn counter-clockwise.
        wave(rows, width, lpi * cos / dpi[0], -lpi * sin / dpi[1])
    };
    let (mut at_lpi, mut at_degrees) = (lpi, degrees);
    let (mut step_lpi, mut step_degrees) = (lpi * 0.01, 0.5);
    let mut best = strength(at_lpi, at_degrees);
    while step_lpi > lpi * 2e-4 {
        let mut moved = false;
        for (dl, dd) in [(step_lpi, 0.0), (-step_lpi, 0.0), (0.0, step_degrees), (0.0, -step_degrees)] {
            let s = strength(at_lpi + dl, at_degrees + dd);
            if s > best {
                (best, at_lpi, at_degrees, moved) = (s, at_lpi + dl, at_degrees + dd, true);
            }
        }
        if !moved {
            step_lpi *= 0.5;
            step_degrees *= 0.5;
        }
    }
    (at_lpi, at_degrees)
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
            let (lpi, degrees) = peak(&rows, 1440, [720.0; 2], 45.0, 22.5);
            assert!((lpi / 45.0 - 1.0).abs() < 0.002, "{percent} %: {lpi} lpi");
            assert!((degrees - 22.5).abs() < 0.1, "{percent} %: {degrees} degrees");
        }
    }
}

#[test]
fn every_dot_keeps_area_ruling_and_angle_on_any_device() {
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
    for (dot, shape) in shapes.iter().enumerate() {
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
                if percent == 30 && (dot + at) % 3 == 0 {
                    // Lines along the screen's axis repeat across it.
                    let turned = if *shape == DotShape::Line { degrees + 90.0 } else { degrees };
                    let (got_lpi, got_degrees) = peak(&rows, width, [x_dpi, y_dpi], lpi, turned);
                    assert!((got_lpi / lpi - 1.0).abs() < 0.002, "{shape:?} case {at}: {got_lpi} lpi");
                    assert!((got_degrees - turned).abs() < 0.1, "{shape:?} case {at}: {got_degrees} degrees");
                }
                before = Some(rows);
            }
        }
    }
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
/// The area is weighed by a window of four cosines (Blackman and Harris), which sees no edge.
#[test]
fn all_tints_of_all_shapes_keep_their_area_on_the_usual_devices() {
    let ellipse = DotShape::usual_ellipse();
    let shapes = [DotShape::Round, DotShape::Euclidean, ellipse, DotShape::Square, DotShape::Diamond, DotShape::Line];
    for shape in shapes {
        let cell = Cell::new(&shape);
        let mut cases = Vec::new();
        for dpi in [720.0, 1440.0, 2880.0] {
            for lpi in [20.0, 45.0, 65.0, 85.0] {
                for degrees in [0.0, 7.5, 22.5, 45.0, 61.0, 90.0] {
                    cases.push((dpi, lpi, degrees));
                }
            }
        }
        let off: Vec<String> = cases
            .par_iter()
            .filter_map(|&(dpi, lpi, degrees)| {
                let device = DeviceGrid::square(Dpi::new(dpi).unwrap());
                let grid = DotGrid::of_cell(device, Lpi::new(lpi).unwrap(), Degrees::new(degrees).unwrap(), &cell);
                let side = ((dpi / lpi * 7.0) as usize).max(360);
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
                // A grid at a right angle or half of one whose cells are no whole number of pixels nearly
                // repeats, and the equal places of a symmetric dot then come and go together: over the few
                // cells that are seen here that makes steps of up to 5 %, which even out over the film.
                let whole = degrees != 45.0 && (dpi / lpi).fract() == 0.0 && dpi / lpi <= 128.0;
                let nearly_repeats = degrees % 45.0 == 0.0 && !whole;
                let allowed = if nearly_repeats { 0.05 } else { 0.003f64.max(0.51 / levels) };
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
    let told = python("python3-numpy", script, &args);
    assert_eq!(told.lines().count(), what.len(), "{told}");
    for (line, (dot, percent)) in told.lines().zip(what) {
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
        let told = python("python3-scipy python3-pil", script, &[path(set.films[0].tiff.as_ref().unwrap())]);
        let mut lines = told.lines();
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
