//! The days to come: a press prints heavier and lighter and lays down more and less ink from set-up to set-up. How
//! far a print stays true over such days. A price on what colours move by was tried in the solver, and brought
//! nothing worth a control (docs/layers.md).

use rayon::prelude::*;
use serde::Serialize;

use crate::color::{Lab, LinRgb, ciede2000, lab_from_linear, linear_from_u16};
use crate::press::{Ground, Layer, Stack};
use crate::raster::{Picture, spread_places};
use crate::screens::Screens;

/// Gain that a screen prints more or less than expected at half tone, one standard deviation (assumed; a shop that
/// prints wedges knows its own).
const GAIN: f32 = 0.06;
/// Share of its hiding that a screen's ink has more or less, one standard deviation (assumed).
const HIDING: f32 = 0.05;
/// Days that are looked at.
const DAYS: usize = 200;
/// Places of the print that are looked at, about.
const PLACES: usize = 1500;

/// How true a print stays over two hundred days, in CIEDE2000 against the art on its garment.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct OverDays {
    /// The mean over days and the print.
    pub mean: f64,
    /// The print's mean on a day that 19 of 20 days are better than.
    pub bad_day: f64,
    /// How far colours move from their own mean over the days.
    pub moves: f64,
}

/// Random numbers by a fixed sequence, so that prints are compared on the same days.
struct Sequence(u64);

impl Sequence {
    /// Steele, Lea and Flood's mixer (SplitMix, 2014) keeps the days apart.
    fn of_day(day: usize) -> Self {
        let mut z = (day as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        z = (z ^ z >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        Self((z ^ z >> 31) | 1)
    }

    fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Box and Muller 1958.
    fn normal(&mut self) -> f32 {
        ((-2.0 * self.uniform().ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()) as f32
    }
}

/// How the screens print on one day: points of gain, and layers that hide more or less.
fn on_a_day(stack: &Stack, day: usize) -> (Vec<f32>, Stack) {
    let mut sequence = Sequence::of_day(day);
    let points = stack.layers.iter().map(|_| GAIN * sequence.normal()).collect();
    let mut of_day = stack.clone();
    for layer in &mut of_day.layers {
        *layer = hiding(layer, 1.0 + HIDING * sequence.normal());
    }
    (points, of_day)
}

/// A layer that hides so many times as much; over white nothing changes.
fn hiding(layer: &Layer, times: f32) -> Layer {
    let scatter: LinRgb =
        std::array::from_fn(|b| (layer.scatter[b] * times).clamp(0.0, layer.scatter[b] + layer.through[b]));
    Layer { scatter, through: std::array::from_fn(|b| layer.through[b] + layer.scatter[b] - scatter[b]) }
}

/// The screens over the days to come, on places spread over the print.
pub fn over_days(screens: &Screens, art: &Picture, ground: &Ground<'_>) -> OverDays {
    let fabric = ground.garment.reflectance();
    let places = spread_places(screens.width, screens.height).take(PLACES * 40);
    let places = places.map(|(x, y)| y * screens.width + x).filter(|&at| art.pixels().data()[at][3] != 0);
    let places: Vec<(Vec<f32>, Lab)> = places
        .take(PLACES)
        .map(|at| {
            let pixel = art.pixels().data()[at];
            let (alpha, over) = (f32::from(pixel[3]) / 65_535.0, linear_from_u16(&pixel));
            let wanted = std::array::from_fn(|i| fabric[i] + alpha * (over[i] - fabric[i]));
            let a = screens.list.iter().map(|s| f32::from(s.coverage.data()[at]) / 65_535.0).collect();
            (a, lab_from_linear(wanted))
        })
        .collect();
    if places.is_empty() {
        return OverDays::default();
    }
    let stack = Stack::of_screens(ground, &screens.list);
    let prints: Vec<Vec<LinRgb>> = (0..DAYS)
        .into_par_iter()
        .map(|day| {
            let (points, stack) = on_a_day(&stack, day);
            let mut a = vec![0.0f32; points.len()];
            let print = |(meant, _): &(Vec<f32>, _)| {
                for ((a, &meant), points) in a.iter_mut().zip(meant).zip(&points) {
                    *a = (meant + points * 4.0 * meant * (1.0 - meant)).clamp(0.0, 1.0);
                }
                stack.reflectance(&a)
            };
            places.iter().map(print).collect()
        })
        .collect();
    let means: Vec<Lab> = (0..places.len())
        .into_par_iter()
        .map(|at| {
            let sum = prints.iter().fold([0.0f32; 3], |sum, day| std::array::from_fn(|b| sum[b] + day[at][b]));
            lab_from_linear(sum.map(|v| v / DAYS as f32))
        })
        .collect();
    let of_day = |day: &Vec<LinRgb>| {
        let (mut off, mut moved) = (0.0f64, 0.0f64);
        for ((print, (_, wanted)), mean) in day.iter().zip(&places).zip(&means) {
            let lab = lab_from_linear(*print);
            off += f64::from(ciede2000(lab, *wanted));
            moved += f64::from(ciede2000(lab, *mean));
        }
        (off / places.len() as f64, moved / places.len() as f64)
    };
    let days: Vec<(f64, f64)> = prints.par_iter().map(of_day).collect();
    let mut off: Vec<f64> = days.iter().map(|day| day.0).collect();
    off.sort_by(f64::total_cmp);
    OverDays {
        mean: off.iter().sum::<f64>() / DAYS as f64,
        bad_day: off[DAYS * 95 / 100],
        moves: days.iter().map(|day| day.1).sum::<f64>() / DAYS as f64,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_normal_and_hiding_keeps_the_colour_over_white() {
        let list: Vec<f64> = (0..20_000).map(|day| f64::from(Sequence::of_day(day).normal())).collect();
        let mean = list.iter().sum::<f64>() / list.len() as f64;
        let deviation = (list.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / list.len() as f64).sqrt();
        assert!(mean.abs() < 0.03 && (deviation - 1.0).abs() < 0.03, "{mean} {deviation}");
        let layer = Layer { scatter: [0.4, 0.1, 0.0], through: [0.3, 0.2, 0.5] };
        for times in [0.8, 1.2, 9.0] {
            for (now, before) in hiding(&layer, times).over([1.0; 3]).iter().zip(layer.over([1.0; 3])) {
                assert!((now - before).abs() < 1e-6);
            }
        }
    }
}
