//! Our Neugebauer sum against 1617 printed and measured patches: FOGRA39L.ti3 (Fogra 2006, offset
//! on coated paper, zlib licence, Debian package icc-profiles-free), read from where the package
//! puts it. `neugebauer_fogra39_accuracy.csv` holds what an independent program reaches.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;

use strikeoff_core::color::{Lab, ciede2000};
use strikeoff_core::press::{effective_area, neugebauer};

const DATA: &str = "/usr/share/color/icc/FOGRA39L.ti3";
const D50: [f64; 3] = [96.42, 100.0, 82.49];

struct Patch {
    inks: [f64; 4],
    xyz: [f64; 3],
    lab: [f64; 3],
}

fn patches() -> Vec<Patch> {
    let text = std::fs::read_to_string(DATA)
        .unwrap_or_else(|e| panic!("{DATA}: {e}; install it with: apt-get install icc-profiles-free"));
    text.lines()
        .skip_while(|line| line.trim() != "BEGIN_DATA")
        .skip(1)
        .take_while(|line| line.trim() != "END_DATA")
        .filter(|line| !line.trim().is_empty())
        .map(|line| {
            let v: Vec<f64> = line.split_whitespace().skip(1).map(|v| v.parse().unwrap()).collect();
            Patch {
                inks: [v[0], v[1], v[2], v[3]].map(|c| c / 100.0),
                xyz: [v[4], v[5], v[6]],
                lab: [v[7], v[8], v[9]],
            }
        })
        .collect()
}

fn mean(of: &[[f64; 3]]) -> [f64; 3] {
    std::array::from_fn(|b| of.iter().map(|x| x[b]).sum::<f64>() / of.len() as f64)
}

fn lab(xyz: [f64; 3]) -> [f64; 3] {
    let f: [f64; 3] = std::array::from_fn(|i| {
        let r = xyz[i] / D50[i];
        if r > 216.0 / 24389.0 { r.cbrt() } else { (24389.0 / 27.0 * r + 16.0) / 116.0 }
    });
    [116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])]
}

fn difference(a: [f64; 3], b: [f64; 3]) -> f64 {
    let lab = |v: [f64; 3]| Lab::new(v[0] as f32, v[1] as f32, v[2] as f32);
    f64::from(ciede2000(lab(a), lab(b)))
}

/// Effective area of one ink at its wedge's steps, read in the band it absorbs most.
fn ramp(patches: &[Patch], ink: usize, band: usize, n: f64) -> Vec<(f64, f64)> {
    let mut steps: BTreeMap<u64, Vec<[f64; 3]>> = BTreeMap::new();
    for patch in patches.iter().filter(|p| (0..4).all(|j| j == ink || p.inks[j] == 0.0)) {
        steps.entry((patch.inks[ink] * 1e6).round() as u64).or_default().push(patch.xyz);
    }
    let steps: Vec<(f64, f64)> = steps.iter().map(|(&c, v)| (c as f64 / 1e6, mean(v)[band])).collect();
    let (ground, solid) = (steps[0].1, steps[steps.len() - 1].1);
    steps.iter().map(|&(c, v)| (c, effective_area(ground, solid, v, n))).collect()
}

fn interpolate(curve: &[(f64, f64)], x: f64) -> f64 {
    let right = curve.partition_point(|(c, _)| *c < x).clamp(1, curve.len() - 1);
    let ((x0, y0), (x1, y1)) = (curve[right - 1], curve[right]);
    y0 + (y1 - y0) * (x - x0) / (x1 - x0)
}

#[test]
fn accuracy_on_measured_patches_is_what_an_independent_program_finds() {
    let patches = patches();
    assert_eq!(patches.len(), 1617);
    let primaries: Vec<[f64; 3]> = (0..16usize)
        .map(|k| {
            let corner: [f64; 4] = std::array::from_fn(|i| (k >> i & 1) as f64);
            mean(&patches.iter().filter(|p| p.inks == corner).map(|p| p.xyz).collect::<Vec<_>>())
        })
        .collect();
    let table = include_str!("../fixtures/reference/neugebauer_fogra39_accuracy.csv");
    let mut rows = 0;
    for line in table.lines().skip(2) {
        let v: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
        let (curves, n) = (v[0] == 1.0, v[1]);
        let ramps: Vec<_> = [0, 1, 2, 1].iter().enumerate().map(|(ink, &band)| ramp(&patches, ink, band, n)).collect();
        let mut errors: Vec<f64> = patches
            .iter()
            .map(|patch| {
                let a: Vec<f64> = (0..4)
                    .map(|i| if curves { interpolate(&ramps[i], patch.inks[i]) } else { patch.inks[i] })
                    .collect();
                difference(lab(neugebauer(&a, n, |k| primaries[k])), patch.lab)
            })
            .collect();
        errors.sort_by(f64::total_cmp);
        let mean = errors.iter().sum::<f64>() / errors.len() as f64;
        // Linear interpolation between ranks, as statistics packages do by default.
        let at = 0.95 * (errors.len() - 1) as f64;
        let p95 = errors[at as usize] + at.fract() * (errors[at as usize + 1] - errors[at as usize]);
        for (what, got, want) in [("mean", mean, v[2]), ("p95", p95, v[3]), ("max", errors[errors.len() - 1], v[4])] {
            assert!((got - want).abs() <= 0.02, "curves {curves}, n {n}: {what} {got:.3}, reference {want}");
        }
        rows += 1;
    }
    assert_eq!(rows, 10);
}
