//! How near the print comes to the art: CIEDE2000 of the proof against the art on its garment.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::color::{ciede2000, lab_from_linear, linear_from_u16};
use crate::ink::Garment;
use crate::press::{Ground, Prover};
use crate::raster::{Picture, Rgba16};
use crate::screens::Screens;

/// Colour difference of a whole print, in CIEDE2000 units.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Quality {
    /// Mean.
    pub mean: f64,
    /// 95th percentile.
    pub p95: f64,
    /// Share of the print that differs by more than 5, 0..=1.
    pub share_over_5: f64,
}

impl Quality {
    /// From differences and their weights; nothing to weigh is no difference.
    pub(super) fn of_weighted(pairs: impl IntoIterator<Item = (f32, f64)>) -> Self {
        let mut pairs: Vec<(f32, f64)> = pairs.into_iter().collect();
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let total: f64 = pairs.iter().map(|p| p.1).sum();
        if total <= 0.0 {
            return Self::default();
        }
        let mean = pairs.iter().map(|p| f64::from(p.0) * p.1).sum::<f64>() / total;
        let share_over_5 = pairs.iter().filter(|p| p.0 > 5.0).map(|p| p.1).sum::<f64>() / total;
        let mut below = 0.0;
        let at95 = pairs.iter().find(|p| {
            below += p.1;
            below >= 0.95 * total
        });
        Self { mean, p95: at95.or(pairs.last()).map_or(0.0, |p| f64::from(p.0)), share_over_5 }
    }
}

/// Differences are counted in steps of this.
const STEP: f32 = 0.01;
const STEPS: usize = 20_000;

/// Compares a proof with the art on the garment, pixel by pixel. Fully clear art is not counted:
/// none was due there, and bare fabric would only flatter the mean.
///
/// # Panics
/// If the two differ in size: that is a mistake in the caller.
pub fn quality(proof: &Picture, art: &Picture, garment: &Garment) -> Quality {
    assert_eq!((proof.width(), proof.height()), (art.width(), art.height()), "proof and art differ in size");
    let fabric = garment.reflectance();
    let counts = proof
        .pixels()
        .data()
        .par_chunks(1 << 16)
        .zip(art.pixels().data().par_chunks(1 << 16))
        .map(|(proof, art)| {
            let mut counts = Counts::default();
            counts.add(proof, art.iter(), fabric);
            counts
        })
        .reduce(Counts::default, Counts::and);
    counts.quality()
}

/// Pixels that a whole print is judged on, about: with more, every second, third .. of a row is
/// taken. Figures of four million pixels differ from those of all in the third decimal.
const JUDGED: usize = 4_000_000;

/// The same from screens, without a proof in memory: the print that the model foresees against
/// the art.
///
/// # Panics
/// If the two differ in size.
pub fn print_quality(screens: &Screens, art: &Picture, ground: &Ground<'_>) -> Quality {
    assert_eq!((screens.width, screens.height), (art.width(), art.height()), "screens and art differ in size");
    let prover = Prover::new(screens, ground, |_| true);
    let fabric = ground.garment.reflectance();
    let step = (screens.width * screens.height).div_ceil(JUDGED).max(1);
    let counts = (0..screens.height)
        .into_par_iter()
        .with_min_len(32)
        .fold(Counts::default, |mut counts, y| {
            let mut proof = vec![[0; 4]; screens.width.div_ceil(step)];
            prover.row(y, step, &mut proof);
            counts.add(&proof, art.pixels().row(y).iter().step_by(step), fabric);
            counts
        })
        .reduce(Counts::default, Counts::and);
    counts.quality()
}

/// How many pixels differ by how much.
struct Counts {
    of_step: Vec<u64>,
    sum: u64,
}

impl Default for Counts {
    fn default() -> Self {
        Self { of_step: vec![0; STEPS + 1], sum: 0 }
    }
}

impl Counts {
    fn add<'a>(&mut self, proof: &[Rgba16], art: impl Iterator<Item = &'a Rgba16>, fabric: [f32; 3]) {
        let mut last = None;
        for (p, a) in proof.iter().zip(art).filter(|(_, a)| a[3] != 0) {
            // Flat art repeats itself; the difference is by far the dearest part.
            let step = match last {
                Some((lp, la, step)) if lp == *p && la == *a => step,
                _ => {
                    let alpha = f32::from(a[3]) / 65535.0;
                    let over = linear_from_u16(a);
                    let want = std::array::from_fn(|i| fabric[i] + alpha * (over[i] - fabric[i]));
                    let d = ciede2000(lab_from_linear(linear_from_u16(p)), lab_from_linear(want));
                    ((d / STEP).round() as usize).min(STEPS)
                }
            };
            last = Some((*p, *a, step));
            self.of_step[step] += 1;
            self.sum += step as u64;
        }
    }

    fn and(mut self, other: Self) -> Self {
        self.of_step.iter_mut().zip(other.of_step).for_each(|(a, b)| *a += b);
        self.sum += other.sum;
        self
    }

    fn quality(&self) -> Quality {
        let total: u64 = self.of_step.iter().sum();
        if total == 0 {
            return Quality::default();
        }
        let mut below = 0;
        let p95 = self.of_step.iter().position(|&c| {
            below += c;
            below as f64 >= 0.95 * total as f64
        });
        let over: u64 = self.of_step[(5.0 / STEP) as usize + 1..].iter().sum();
        Quality {
            mean: self.sum as f64 / total as f64 * f64::from(STEP),
            p95: p95.unwrap_or(0) as f64 * f64::from(STEP),
            share_over_5: over as f64 / total as f64,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    #[test]
    fn clear_art_is_not_counted_and_shares_are_of_the_print() {
        let full = u16::MAX;
        let art = Picture::new(Plane::from_fn(10, 10, |x, _| if x < 5 { [0, 0, 0, 0] } else { [full; 4] }));
        let proof = Picture::new(Plane::from_fn(10, 10, |_, y| if y < 5 { [full; 4] } else { [0, 0, 0, full] }));
        let q = quality(&proof, &art, &Garment::of_color("#FFFFFF".parse().unwrap()));
        // White against black is CIEDE2000 100 by the formula (lightness alone, S_L of 1.75 at
        // the mean of 50 gives 100 / 1 with the mean exactly 50).
        assert!((q.p95 - 100.0).abs() < 0.1, "{q:?}");
        assert_eq!(q.share_over_5, 0.5);
        assert!((q.mean - 50.0).abs() < 0.1, "{q:?}");
    }

    #[test]
    fn weights_count() {
        let q = Quality::of_weighted([(1.0, 94.0), (10.0, 6.0)]);
        assert!((q.mean - 1.54).abs() < 1e-6);
        assert_eq!((q.p95, q.share_over_5), (10.0, 0.06));
    }

    #[test]
    fn screens_are_judged_as_their_proof_is() {
        let ink = crate::ink::Ink {
            name: "red".into(),
            over_white: "#C8202F".parse().unwrap(),
            opacity: crate::units::Opacity::new(0.7).unwrap(),
            role: crate::ink::InkRole::Color,
            measured: false,
            spectra: None,
        };
        let coverage = Plane::from_fn(60, 40, |x, y| (x * 1000 + y * 100) as u16);
        let screen = crate::screens::Screen { name: "red".into(), ink, hits: 1, coverage };
        let ppi = crate::units::Ppi::new(100.0).unwrap();
        let screens = Screens { width: 60, height: 40, ppi, list: vec![screen] };
        let art = Picture::new(Plane::from_fn(60, 40, |x, y| {
            [60_000, (y * 1500) as u16, (x * 1000) as u16, if x < 5 { 0 } else { u16::MAX }]
        }));
        let (garment, press) = (Garment::of_color("#FFFFFF".parse().unwrap()), crate::press::PrintModel::default());
        let ground = Ground::by_chance(&garment, &press, crate::units::Lpi::new(45.0).unwrap());
        let proof = crate::press::proof_from_screens(&screens, &ground, |_| true);
        assert_eq!(print_quality(&screens, &art, &ground), quality(&proof, &art, &garment));
    }
}
