//! Softening and sharpening of one screen by a Gaussian, its standard deviation on the print.
//! Edges of the plane are taken as going on.

use rayon::prelude::*;

use crate::raster::{FULL, Plane};
use crate::{Cancelled, Progress};

/// Gaussian blur, separable, cut at four standard deviations.
pub(super) fn blur(plane: &Plane<u16>, sigma_px: f64, progress: &Progress) -> Result<Plane<u16>, Cancelled> {
    let soft = blurred(plane, sigma_px, progress)?;
    let mut out = plane.clone();
    out.data_mut().par_iter_mut().zip(&soft).with_min_len(1 << 14).for_each(|(o, &s)| *o = round(s));
    Ok(out)
}

/// Unsharp masking: `c + amount (c - blurred c)`.
pub(super) fn sharpen(
    plane: &Plane<u16>,
    sigma_px: f64,
    amount: f64,
    progress: &Progress,
) -> Result<Plane<u16>, Cancelled> {
    let soft = blurred(plane, sigma_px, progress)?;
    let mut out = plane.clone();
    let amount = amount as f32;
    out.data_mut().par_iter_mut().zip(&soft).with_min_len(1 << 14).for_each(|(o, &s)| {
        let c = f32::from(*o);
        *o = round(c + amount * (c - s));
    });
    Ok(out)
}

fn round(v: f32) -> u16 {
    (v + 0.5).clamp(0.0, f32::from(FULL)) as u16
}

fn kernel(sigma_px: f64) -> Vec<f32> {
    let reach = (4.0 * sigma_px).ceil() as i64;
    let weights: Vec<f64> = (-reach..=reach).map(|i| (-0.5 * (i as f64 / sigma_px).powi(2)).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|w| (w / sum) as f32).collect()
}

fn blurred(plane: &Plane<u16>, sigma_px: f64, progress: &Progress) -> Result<Vec<f32>, Cancelled> {
    let (w, h) = (plane.width(), plane.height());
    if sigma_px < 0.05 {
        return Ok(plane.data().iter().map(|&v| f32::from(v)).collect());
    }
    let kernel = kernel(sigma_px.min((w + h) as f64));
    let reach = kernel.len() / 2;
    let mut across = vec![0f32; w * h];
    progress.step("soften", 0.0)?;
    across.par_chunks_mut(w).enumerate().for_each_init(Vec::new, |long, (y, out)| {
        let row = plane.row(y);
        long.clear();
        long.extend((0..w + 2 * reach).map(|i| f32::from(row[i.saturating_sub(reach).min(w - 1)])));
        for (k, &weight) in kernel.iter().enumerate() {
            for (o, &v) in out.iter_mut().zip(&long[k..]) {
                *o += weight * v;
            }
        }
    });
    progress.step("soften", 0.5)?;
    let mut out = vec![0f32; w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(y, out)| {
        for (k, &weight) in kernel.iter().enumerate() {
            let from = (y + k).saturating_sub(reach).min(h - 1);
            for (o, &v) in out.iter_mut().zip(&across[from * w..][..w]) {
                *o += weight * v;
            }
        }
    });
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flat_stays_flat_and_a_step_becomes_the_error_function() {
        let none = Progress::none();
        let flat = Plane::filled(30, 20, 12_345);
        assert_eq!(blur(&flat, 2.5, &none).unwrap(), flat);
        assert_eq!(sharpen(&flat, 2.5, 1.5, &none).unwrap(), flat);
        let step = Plane::from_fn(81, 3, |x, _| if x >= 40 { FULL } else { 0 });
        let soft = blur(&step, 4.0, &none).unwrap();
        // Normal distribution at 1 standard deviation, handbook value: 0.8413. The step lies
        // half a pixel before pixel 40, so 4 pixels on is between 43 and 44.
        let at = (f64::from(soft.get(43, 1)) + f64::from(soft.get(44, 1))) / 2.0 / 65_535.0;
        assert!((at - 0.8413).abs() < 0.002, "{at}");
    }
}
