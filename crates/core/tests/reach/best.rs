//! The nearest print of a colour that a set of inks can make at all: a plain solver of its own.
//!
//! Inks as ISO 6504-3 has them (contrast ratio: over black, over white), light going back and forth between a coat
//! and what lies under it (Kubelka 1948: `R + P G / (1 - R G)`), every overprint worked out by itself and weighed as
//! dots that meet by chance (Demichel 1924; Neugebauer 1937); difference in CIELAB, by projected Gauss-Newton steps
//! with numeric slopes from twenty starts; the best by CIEDE2000 counts.

use strikeoff_core::color::{Lab, ciede2000, lab_from_linear};
use strikeoff_core::separate::SeparationSettings;

/// Inks on a garment: the colour of every overprint in linear light, bit i set where screen i prints.
pub struct Inks {
    screens: usize,
    overprints: Vec<[f32; 3]>,
}

impl Inks {
    /// In print order; a base is flashed, all others lie wet on wet and keep so much of their opacity.
    pub fn new(garment: [f32; 3], settings: &SeparationSettings, wet: f32) -> Self {
        let screens = settings.screens.len();
        let overprint = |set: usize| {
            let mut light = garment;
            for (i, screen) in settings.screens.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1) {
                let on_wet = i > 0 && settings.screens[i - 1].ink.name != "Base white";
                let share = screen.ink.opacity.get() as f32 * if on_wet { wet } else { 1.0 };
                light = std::array::from_fn(|band| {
                    // IEC 61966-2-1.
                    let v = f32::from(screen.ink.over_white.0[band]) / 255.0;
                    let white = if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) };
                    let back = share * white;
                    back + (white - back) * (1.0 - back) * light[band] / (1.0 - back * light[band])
                });
            }
            light
        };
        Self { screens, overprints: (0..1usize << screens).map(overprint).collect() }
    }

    /// Reflectance at coverages.
    pub fn print(&self, a: &[f32]) -> [f32; 3] {
        let mut mixed = self.overprints.clone();
        for (i, a) in a.iter().enumerate().rev() {
            let half = 1 << i;
            for set in 0..half {
                mixed[set] = std::array::from_fn(|b| mixed[set][b] + a * (mixed[set + half][b] - mixed[set][b]));
            }
        }
        mixed[0]
    }
}

fn difference(inks: &Inks, a: &[f32], art: Lab) -> [f32; 3] {
    let lab = lab_from_linear(inks.print(a));
    [lab.l - art.l, lab.a - art.a, lab.b - art.b]
}

/// CIEDE2000 of the best print found; `near` is one of the starts, `limit` the most ink.
pub fn best_print(inks: &Inks, art: Lab, near: &[f32], limit: f32) -> f32 {
    let n = inks.screens;
    let start = |k: usize| -> Vec<f32> {
        match k {
            0 => near.to_vec(),
            1 => vec![0.05; n],
            k if k < n + 2 => (0..n).map(|i| if i == k - 2 { 0.9 } else { 0.1 }).collect(),
            // Multiples of the roots of primes: evenly spread.
            k => (0..n).map(|i| (k as f32 * [2.0f32, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0][i % 7].sqrt()).fract()).collect(),
        }
    };
    let mut best = f32::INFINITY;
    for k in 0..20 {
        let a = descend(inks, start(k), art, limit);
        best = best.min(ciede2000(lab_from_linear(inks.print(&a)), art));
        if best < 0.1 {
            break;
        }
    }
    best
}

fn held(mut a: Vec<f32>, limit: f32) -> Vec<f32> {
    a.iter_mut().for_each(|v| *v = v.clamp(0.0, 1.0));
    let sum: f32 = a.iter().sum();
    if sum > limit {
        a.iter_mut().for_each(|v| *v *= limit / sum);
    }
    a
}

/// Damped steps along each screen in turn and all together, as long as the difference falls.
fn descend(inks: &Inks, start: Vec<f32>, art: Lab, limit: f32) -> Vec<f32> {
    let n = start.len();
    let square = |a: &[f32]| difference(inks, a, art).iter().map(|d| d * d).sum::<f32>();
    let mut a = held(start, limit);
    let mut value = square(&a);
    let mut damping = 1.0f32;
    for _ in 0..60 {
        let d = difference(inks, &a, art);
        let slopes: Vec<[f32; 3]> = (0..n)
            .map(|i| {
                let step = if a[i] > 0.5 { -1e-3 } else { 1e-3 };
                let mut moved = a.clone();
                moved[i] += step;
                let there = difference(inks, &moved, art);
                std::array::from_fn(|k| (there[k] - d[k]) / step)
            })
            .collect();
        // Minimise |d + J s|^2 + damping |s|^2 within the box, a screen at a time.
        let mut s = vec![0.0f32; n];
        let mut left = d;
        for _ in 0..30 {
            for i in 0..n {
                let j = slopes[i];
                let along: f32 = (0..3).map(|k| j[k] * left[k]).sum::<f32>() + damping * s[i];
                let norm: f32 = j.iter().map(|v| v * v).sum::<f32>() + damping;
                let to = (s[i] - along / norm).clamp(-a[i], 1.0 - a[i]);
                for k in 0..3 {
                    left[k] += j[k] * (to - s[i]);
                }
                s[i] = to;
            }
        }
        let next = held(a.iter().zip(&s).map(|(a, s)| a + s).collect(), limit);
        let there = square(&next);
        if there < value {
            let gained = value - there;
            (a, value) = (next, there);
            damping = (damping * 0.3).max(1e-3);
            if gained < 1e-5 {
                break;
            }
        } else {
            damping *= 5.0;
            if damping > 1e6 {
                break;
            }
        }
    }
    a
}
