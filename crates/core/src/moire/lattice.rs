//! Two lattices and the beats between their harmonics.

use std::f64::consts::PI;

use crate::units::{Lpi, MM_PER_INCH};

/// Up to this width in mm a band is texture (our judgement): four dots, or 2 mm.
pub(crate) fn texture_mm(ruling: Lpi) -> f64 {
    (4.0 * MM_PER_INCH / ruling.get()).max(2.0)
}

/// Harmonics of a halftone are tried up to this i^2 + j^2.
const HIGHEST: usize = 18;

/// One beat of two lattices.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beat {
    /// Beats an inch.
    pub per_inch: f64,
    /// Direction of the frequency vector, degrees from the horizontal, 0..180; bands run across it.
    pub direction_deg: f64,
    /// Harmonic of the first lattice, always the halftone (or the halftone that prints first).
    pub halftone: (i32, i32),
    /// Harmonic of the other lattice.
    pub other: (i32, i32),
    /// Swing of the ink around its mean, a fraction.
    pub swing: f64,
}

impl Beat {
    /// Width of a band in mm.
    pub fn period_mm(&self) -> f64 {
        MM_PER_INCH / self.per_inch.max(1e-6)
    }

    /// Whether the eye sees it as a pattern: a band is wider than four dots and 2 mm (under that
    /// it is texture), and the ink swings by more than 2 %. Our judgement, not a standard.
    pub fn is_visible(&self, ruling: Lpi) -> bool {
        self.period_mm() >= texture_mm(ruling) && self.swing >= 0.02
    }

    /// Risk, 0..1: swing against 10 %, less for bands close to the limit of texture.
    pub fn risk(&self, ruling: Lpi) -> f64 {
        if self.is_visible(ruling) {
            (self.swing / 0.10).min(1.0) * (self.period_mm() / 6.0).min(1.0).sqrt()
        } else {
            0.0
        }
    }

    /// Squared order of the halftone's harmonic.
    fn order(&self) -> i32 {
        self.halftone.0.pow(2) + self.halftone.1.pow(2)
    }
}

/// The riskiest visible beat, if any.
pub fn worst_beat(beats: &[Beat], ruling: Lpi) -> Option<Beat> {
    beats.iter().copied().filter(|b| b.is_visible(ruling)).max_by(|a, b| a.risk(ruling).total_cmp(&b.risk(ruling)))
}

/// Film tones of a halftone of round dots, as far as beats need them: how strongly its harmonics
/// swing about the mean ink, by their order.
#[derive(Debug, Clone, PartialEq)]
pub struct Tones {
    swings: [f64; HIGHEST + 1],
}

impl Tones {
    /// From film coverages with their shares of the area.
    pub fn new(tones: &[(f64, f64)]) -> Self {
        Self { swings: std::array::from_fn(|square| dot_swing(tones, (square as f64).sqrt())) }
    }

    /// An even wedge: for advice before there are screens.
    pub fn even() -> Self {
        Self::new(&(1..20).map(|i| (f64::from(i) / 20.0, 1.0)).collect::<Vec<_>>())
    }

    /// From any number of film coverages with their shares, gathered in twenty steps; what is
    /// nearly clear or nearly solid has no dots to speak of.
    pub(crate) fn binned(tones: impl Iterator<Item = (f64, f64)>) -> Self {
        let mut slots = [(0.0, 0.0); 20];
        for (film, share) in tones.filter(|(film, _)| (0.02..0.98).contains(film)) {
            let slot = &mut slots[(film * 20.0) as usize];
            *slot = (slot.0 + film * share, slot.1 + share);
        }
        let filled = slots.iter().filter(|slot| slot.1 > 0.0);
        Self::new(&filled.map(|&(sum, share)| (sum / share, share)).collect::<Vec<_>>())
    }

    /// Swing of the harmonics at this distance from the origin, squared.
    pub(super) fn swing(&self, square: i32) -> f64 {
        self.swings.get(square as usize).copied().unwrap_or(0.0)
    }
}

/// The frequency vector of a harmonic, in an inch.
pub(super) fn lattice(lpi: f64, angle_deg: f64, i: i32, j: i32) -> [f64; 2] {
    let (s, c) = angle_deg.to_radians().sin_cos();
    let (i, j) = (f64::from(i), f64::from(j));
    [lpi * (i * c - j * s), lpi * (i * s + j * c)]
}

/// Beats of a halftone with another lattice, whose harmonics `vectors` have the frequencies and
/// swings that `other` gives. Harmonics of the halftone up to i^2 + j^2 = `highest` are tried. The
/// coarsest beat comes first.
pub(super) fn beats(
    (ruling, angle_deg, tones): (Lpi, f64, &Tones),
    highest: usize,
    vectors: &[(i32, i32)],
    other: impl Fn((i32, i32)) -> ([f64; 2], f64),
) -> Vec<Beat> {
    let reach = (highest.min(HIGHEST) as f64).sqrt() as i32;
    let mut out = Vec::new();
    for &vector in vectors {
        let (f, swing) = other(vector);
        for i in -reach..=reach {
            for j in -reach..=reach {
                let order = i * i + j * j;
                if order == 0 || order as usize > highest.min(HIGHEST) {
                    continue;
                }
                let [x, y] = lattice(ruling.get(), angle_deg, i, j);
                let d = [x - f[0], y - f[1]];
                let per_inch = d[0].hypot(d[1]);
                // Two lattices that coincide do not beat.
                if per_inch < 1e-6 {
                    continue;
                }
                out.push(Beat {
                    per_inch,
                    direction_deg: d[1].atan2(d[0]).to_degrees().rem_euclid(180.0),
                    halftone: (i, j),
                    other: vector,
                    // A product of two cosines of these swings has half of each in the difference.
                    swing: tones.swing(order) * swing * 2.0,
                });
            }
        }
    }
    out.sort_by(|a, b| {
        (a.per_inch, a.order()).partial_cmp(&(b.per_inch, b.order())).unwrap_or(std::cmp::Ordering::Equal)
    });
    out
}

/// Fourier coefficient of round dots (above one half: round holes) at a distance of `order`
/// pitches^-1 from the origin, relative to the mean ink, averaged over tones by area.
fn dot_swing(tones: &[(f64, f64)], order: f64) -> f64 {
    if order == 0.0 {
        return 0.0;
    }
    let (mut sum, mut area) = (0.0, 0.0);
    for &(a, share) in tones {
        let r = (a.min(1.0 - a) / PI).sqrt();
        sum += share * (r * bessel_j1(2.0 * PI * r * order) / order).abs() / a.max(0.02);
        area += share;
    }
    if area > 0.0 { sum / area } else { 0.0 }
}

pub(super) fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 { 1.0 } else { (PI * x).sin() / (PI * x) }
}

/// Bessel's J1 by its integral; the trapezium rule converges past double precision for the
/// arguments met here (under 20).
fn bessel_j1(x: f64) -> f64 {
    let steps = 64;
    (0..steps)
        .map(|k| {
            let t = 2.0 * PI * f64::from(k) / f64::from(steps);
            (t - x * t.sin()).cos()
        })
        .sum::<f64>()
        / f64::from(steps)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// moire_two_gratings.csv: two line gratings, closed formula.
    #[test]
    fn two_gratings_follow_the_closed_formula() {
        let path = format!("{}/../../tests/fixtures/reference/moire_two_gratings.csv", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let mut rows = 0;
        for line in text.lines().skip(2) {
            let row: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
            let (f1, f2) = (lattice(row[0], 0.0, 1, 0), lattice(row[1], row[2], 1, 0));
            assert_abs_diff_eq!((f1[0] - f2[0]).hypot(f1[1] - f2[1]), row[3], epsilon = 1e-4);
            rows += 1;
        }
        assert!(rows > 5);
    }

    /// J1(1), J1(3.8317) = 0 and J1(10): Abramowitz and Stegun, tables 9.1 and 9.5 (from memory).
    #[test]
    fn bessel_follows_the_handbook() {
        assert_abs_diff_eq!(bessel_j1(1.0), 0.440_050_585_7, epsilon = 1e-9);
        assert_abs_diff_eq!(bessel_j1(3.831_705_97), 0.0, epsilon = 1e-8);
        assert_abs_diff_eq!(bessel_j1(10.0), 0.043_472_746_2, epsilon = 1e-9);
    }
}
