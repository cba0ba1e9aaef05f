//! Beats of a halftone with its mesh.

use super::lattice::{beats, sinc};
use super::{Beat, Tones};
use crate::units::Lpi;
use crate::usage::Mesh;

/// Harmonics of the mesh that are tried: threads each way, both together, and the second order.
pub const MESH_VECTORS: [(i32, i32); 6] = [(1, 0), (0, 1), (1, 1), (1, -1), (2, 0), (0, 2)];

/// Beats of a halftone of round dots with a mesh whose threads lie at 0 and 90 degrees. Harmonics
/// up to i^2 + j^2 = 18 are tried. The coarsest beat comes first.
pub fn mesh_beats(mesh: &Mesh, ruling: Lpi, angle_deg: f64, tones: &Tones) -> Vec<Beat> {
    let open = mesh.opening_um() / (mesh.opening_um() + mesh.thread_um);
    let other = |(m, n): (i32, i32)| {
        let at = [f64::from(m) * mesh.threads_per_inch, f64::from(n) * mesh.threads_per_inch];
        (at, (sinc(f64::from(m) * open) * sinc(f64::from(n) * open)).abs())
    };
    beats((ruling, angle_deg, tones), 18, &MESH_VECTORS, other)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moire::{safest_angle, worst_beat};
    use approx::assert_abs_diff_eq;
    use std::f64::consts::PI;

    fn mesh(count: f64) -> Mesh {
        Mesh::named(&format!("{count}/{}", if count > 200.0 { 34 } else { 64 })).unwrap()
    }

    /// moire_mesh_halftone.csv: 54 sets of mesh, ruling and angle, computed by another program.
    #[test]
    fn coarsest_beats_match_the_table() {
        let path = format!("{}/../../tests/fixtures/reference/moire_mesh_halftone.csv", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let mut rows = 0;
        for line in text.lines().skip(2) {
            let row: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
            let ruling = Lpi::new(row[1]).unwrap();
            let beat = mesh_beats(&mesh(row[0]), ruling, row[2], &Tones::even())[0];
            assert_abs_diff_eq!(beat.per_inch, row[4], epsilon = 1e-3);
            assert_abs_diff_eq!(beat.period_mm(), row[9], epsilon = 0.006);
            let order = |i: f64, j: f64| (i * i + j * j) as i32;
            assert_eq!(beat.halftone.0.pow(2) + beat.halftone.1.pow(2), order(row[5], row[6]), "{row:?}");
            rows += 1;
        }
        assert_eq!(rows, 54);
    }

    /// 55 lpi at 45 degrees on 156 mesh: 0.44 beats an inch, 58 mm. It must be seen, and an angle
    /// without it must be offered; 45 lpi at 22.5 on 230 must stay quiet.
    #[test]
    fn the_beat_that_ratio_rules_miss_is_seen() {
        let (ruling, tones) = (Lpi::new(55.0).unwrap(), Tones::even());
        let coarse = Mesh::named("156/64").unwrap();
        let beat = worst_beat(&mesh_beats(&coarse, ruling, 45.0, &tones), ruling).unwrap();
        assert_abs_diff_eq!(beat.per_inch, 0.437, epsilon = 1e-3);
        assert!(beat.risk(ruling) > 0.4, "{beat:?}");
        let (angle, left) = safest_angle(&coarse, ruling, &tones, &[]);
        assert_eq!(left, 0.0, "at {angle}");
        let usual = Lpi::new(45.0).unwrap();
        assert!(worst_beat(&mesh_beats(&Mesh::default(), usual, 22.5, &tones), usual).is_none());
    }

    /// Dots and threads drawn, multiplied and transformed: the low-frequency peak of the picture
    /// lies where the vectors say and is as strong as they say.
    #[test]
    fn a_drawn_mesh_and_halftone_beat_where_and_as_strongly_as_predicted() {
        let mesh = Mesh::named("156/64").unwrap();
        let a = 0.35;
        let open = mesh.opening_um() / (mesh.opening_um() + mesh.thread_um);
        for (lpi, angle) in [(54.0, 45.0f64), (55.0, 0.0), (50.0, 0.0)] {
            let beat = mesh_beats(&mesh, Lpi::new(lpi).unwrap(), angle, &Tones::new(&[(a, 1.0)]))[0];
            let (size_in, n) = (2.0, 2400);
            assert!(beat.per_inch * size_in > 5.0, "enough bands to measure");
            let (s, c) = angle.to_radians().sin_cos();
            let t = beat.direction_deg.to_radians();
            let (fx, fy) = (beat.per_inch * t.cos(), beat.per_inch * t.sin());
            // Fourier sums of the drawn product at the predicted frequency and beside it, under a
            // Hann window so that neighbours do not leak in.
            let (mut ink, mut weight, mut peak, mut beside) = (0.0, 0.0, [0.0f64; 2], [0.0f64; 2]);
            for at in 0..n * n {
                let (x, y) = ((at % n) as f64 + 0.5, (at / n) as f64 + 0.5);
                let (x, y) = (x / n as f64 * size_in, y / n as f64 * size_in);
                let w = (1.0 - (2.0 * PI * x / size_in).cos()) * (1.0 - (2.0 * PI * y / size_in).cos());
                weight += w;
                let (u, v) = ((x * c + y * s) * lpi, (-x * s + y * c) * lpi);
                let (u, v) = (u - u.round(), v - v.round());
                let opening = |p: f64| {
                    let p = p * mesh.threads_per_inch;
                    (p - p.round()).abs() <= open / 2.0
                };
                if u * u + v * v > a / PI || !opening(x) || !opening(y) {
                    continue;
                }
                ink += w;
                for (sum, (fx, fy)) in [(&mut peak, (fx, fy)), (&mut beside, (1.7 * fx + 2.3, 1.7 * fy + 3.1))] {
                    let phase = 2.0 * PI * (fx * x + fy * y);
                    sum[0] += w * phase.cos();
                    sum[1] += w * phase.sin();
                }
            }
            assert_abs_diff_eq!(ink / weight, a * open * open, epsilon = 0.01);
            let seen = 2.0 * peak[0].hypot(peak[1]) / ink;
            let noise = 2.0 * beside[0].hypot(beside[1]) / ink;
            assert!(seen > 5.0 * noise, "{lpi} at {angle}: {seen} against {noise}");
            assert!((seen / beat.swing - 1.0).abs() < 0.25, "{lpi} at {angle}: drawn {seen}, predicted {}", beat.swing);
        }
    }
}
