//! Unsharp masking of lightness: the difference between the picture's luma and its Gaussian blur
//! is added to all three channels alike, so that edges gain contrast without colour fringes.
//! Works in encoded values, where light and dark halos look alike. Radius is on the print.

use rayon::prelude::*;

use super::prepare::PrepError;
use crate::Progress;
use crate::raster::{Picture, Rgba16};

/// Rows a thread takes at a time.
const STRIP: usize = 64;

/// Sharpens in place; `sigma_px` is the Gaussian's standard deviation.
pub(super) fn sharpen(picture: &mut Picture, sigma_px: f64, amount: f64, progress: &Progress) -> Result<(), PrepError> {
    if amount <= 0.0 || sigma_px < 0.2 {
        return Ok(());
    }
    let (width, height) = (picture.width(), picture.height());
    // Luma and alpha of the whole picture, so that strips can read their neighbours' old values.
    let before: Vec<[u16; 2]> = picture.pixels().data().par_iter().map(|p| [luma(p), p[3]]).collect();
    let kernel = gaussian(sigma_px);
    let reach = kernel.len() - 1;
    let strips = height.div_ceil(STRIP);
    picture.pixels_mut().data_mut().par_chunks_mut(STRIP * width).enumerate().try_for_each(|(strip, out)| {
        progress.step("sharpen", strip as f32 / strips as f32)?;
        let top = strip * STRIP;
        let rows = out.len() / width;
        let mut sums = vec![[0.0_f32; 2]; width];
        let mut padded = vec![[0.0_f32; 2]; width + 2 * reach];
        for y in 0..rows {
            // Down the columns, weighted by alpha: what is clear has no say.
            sums.fill([0.0; 2]);
            for k in 0..=2 * reach {
                let weight = kernel[k.abs_diff(reach)];
                let from = (top + y + k).saturating_sub(reach).min(height - 1);
                for (sum, &[l, a]) in sums.iter_mut().zip(&before[from * width..(from + 1) * width]) {
                    let w = weight * f32::from(a);
                    sum[0] += w * f32::from(l);
                    sum[1] += w;
                }
            }
            // Along the row.
            for (x, to) in padded.iter_mut().enumerate() {
                *to = sums[x.saturating_sub(reach).min(width - 1)];
            }
            for x in 0..width {
                let pixel = &mut out[y * width + x];
                if pixel[3] == 0 {
                    continue;
                }
                let mut sum = [0.0_f32; 2];
                for (k, from) in padded[x..=x + 2 * reach].iter().enumerate() {
                    let weight = kernel[k.abs_diff(reach)];
                    sum[0] += weight * from[0];
                    sum[1] += weight * from[1];
                }
                let own = f32::from(before[(top + y) * width + x][0]);
                let lift = amount as f32 * (own - sum[0] / sum[1].max(1e-6));
                for c in &mut pixel[..3] {
                    *c = (f32::from(*c) + lift + 0.5).clamp(0.0, 65535.0) as u16;
                }
            }
        }
        Ok(())
    })
}

/// Luma of encoded values (ITU-R BT.709 weights).
fn luma(p: &Rgba16) -> u16 {
    (0.2126 * f32::from(p[0]) + 0.7152 * f32::from(p[1]) + 0.0722 * f32::from(p[2]) + 0.5) as u16
}

/// Half of a normalised Gaussian, its middle first, cut at three deviations.
fn gaussian(sigma: f64) -> Vec<f32> {
    let reach = (3.0 * sigma).ceil().max(1.0) as usize;
    let half: Vec<f64> = (0..=reach).map(|i| (-0.5 * (i as f64 / sigma).powi(2)).exp()).collect();
    let sum = half[0] + 2.0 * half[1..].iter().sum::<f64>();
    half.iter().map(|v| (v / sum) as f32).collect()
}
