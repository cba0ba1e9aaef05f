//! Beats of two halftones where both print.

use super::lattice::{beats, lattice};
use super::{Beat, Tones};
use crate::units::Lpi;

/// Beats of two halftones, each with its ruling, angle and film tones. Equal ruling and angle have
/// none. Only the lowest harmonics of both are tried.
pub fn screen_beats(a: (Lpi, f64, &Tones), b: (Lpi, f64, &Tones)) -> Vec<Beat> {
    let other = |(m, n): (i32, i32)| (lattice(b.0.get(), b.1, m, n), b.2.swing(m * m + n * n));
    beats(a, 2, &[(1, 0), (0, 1), (1, 1), (1, -1)], other)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use std::f64::consts::PI;

    /// Two drawn halftones, one over the other as multiplied light, summed over Fourier at the
    /// predicted frequency: the beat is there and as strong as said. 45 lpi at 22.5 and 27.5
    /// degrees: 2 * 45 * sin(2.5 deg) = 3.93 an inch (equal gratings, moire_two_gratings.csv).
    #[test]
    fn two_drawn_screens_beat_where_and_as_strongly_as_predicted() {
        let ruling = Lpi::new(45.0).unwrap();
        for (tone, second, expected) in [(0.3, 27.5, 3.926), (0.45, 32.5, 7.844)] {
            let tones = Tones::new(&[(tone, 1.0)]);
            let beat = screen_beats((ruling, 22.5, &tones), (ruling, second, &tones))[0];
            assert_abs_diff_eq!(beat.per_inch, expected, epsilon = 2e-3);
            let (size_in, n) = (3.0, 2400);
            let t = beat.direction_deg.to_radians();
            let (fx, fy) = (beat.per_inch * t.cos(), beat.per_inch * t.sin());
            let dot = |x: f64, y: f64, angle: f64| {
                let (s, c) = angle.to_radians().sin_cos();
                let (u, v) = ((x * c + y * s) * 45.0, (-x * s + y * c) * 45.0);
                let (u, v) = (u - u.round(), v - v.round());
                u * u + v * v <= tone / PI
            };
            let (mut both, mut peak, mut beside) = (0.0, [0.0f64; 2], [0.0f64; 2]);
            for at in 0..n * n {
                let (x, y) = ((at % n) as f64 / n as f64 * size_in, (at / n) as f64 / n as f64 * size_in);
                if !dot(x, y, 22.5) || !dot(x, y, second) {
                    continue;
                }
                let w = (1.0 - (2.0 * PI * x / size_in).cos()) * (1.0 - (2.0 * PI * y / size_in).cos());
                both += w;
                for (sum, k) in [(&mut peak, 1.0), (&mut beside, 1.63)] {
                    let phase = 2.0 * PI * k * (fx * x + fy * y);
                    sum[0] += w * phase.cos();
                    sum[1] += w * phase.sin();
                }
            }
            let seen = 2.0 * peak[0].hypot(peak[1]) / both;
            let noise = 2.0 * beside[0].hypot(beside[1]) / both;
            assert!(seen > 4.0 * noise, "{second}: {seen} against {noise}");
            assert!((seen / beat.swing - 1.0).abs() < 0.25, "{second}: drawn {seen}, predicted {}", beat.swing);
        }
    }
}
