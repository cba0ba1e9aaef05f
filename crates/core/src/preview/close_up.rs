//! A close-up of a tint through a mesh: dots, threads and whatever beats between them, drawn at
//! a scale where the eye can judge it.

use std::f64::consts::PI;

use crate::raster::Plane;
use crate::units::{Lpi, MM_PER_INCH};
use crate::usage::Mesh;

/// Ink that comes through, 0 none to 65535 full, on a square of `side_mm`, `side_px` pixels wide,
/// for a tint of film coverage `tone` in round dots. Each pixel is the mean of 4 x 4 points; with
/// coarse pixels that leaves just the beat, as the eye sees it from afar.
pub fn moire_close_up(mesh: &Mesh, ruling: Lpi, angle_deg: f64, tone: f64, side_mm: f64, side_px: usize) -> Plane<u16> {
    let (s, c) = angle_deg.to_radians().sin_cos();
    let open = mesh.opening_um() / (mesh.opening_um() + mesh.thread_um) / 2.0;
    // Dots below one half, holes above.
    let tone = tone.clamp(0.0, 1.0);
    let r2 = tone.min(1.0 - tone) / PI;
    let per_px = side_mm / MM_PER_INCH / side_px.max(1) as f64;
    Plane::from_fn(side_px, side_px, |px, py| {
        let mut through = 0u32;
        for sub in 0..16 {
            let x = (px as f64 + (sub % 4) as f64 / 4.0 + 0.125) * per_px;
            let y = (py as f64 + (sub / 4) as f64 / 4.0 + 0.125) * per_px;
            let (u, v) = ((x * c + y * s) * ruling.get(), (-x * s + y * c) * ruling.get());
            let (u, v) = (u - u.round(), v - v.round());
            let inside = u * u + v * v <= r2;
            let opening = |p: f64| {
                let p = p * mesh.threads_per_inch;
                (p - p.round()).abs() <= open
            };
            through += u32::from((inside == (tone <= 0.5)) && opening(x) && opening(y));
        }
        (through * 65535 / 16) as u16
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ink_through_is_tone_times_open_area() {
        let mesh = Mesh::named("156/64").unwrap();
        let open = (mesh.opening_um() / (mesh.opening_um() + mesh.thread_um)).powi(2);
        for tone in [0.2, 0.7] {
            let plane = moire_close_up(&mesh, Lpi::new(45.0).unwrap(), 22.5, tone, 40.0, 900);
            let mean = plane.mean_coverage();
            assert!((mean / (tone * open) - 1.0).abs() < 0.03, "{mean} for {}", tone * open);
        }
    }
}
