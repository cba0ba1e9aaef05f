//! Unsharp masking of lightness: the difference between the picture's luma and its Gaussian blur
//! is added to all three channels alike, so that edges gain contrast without colour fringes.
//! Works in encoded values, where light and dark halos look alike. Radius is on the print.

use rayon::prelude::*;

use super::prepare::PrepError;
use crate::Progress;
use crate::raster::{Picture, Rgba16};

/// Rows a thread takes at a time.
const STRIP: usize = 64;

/// How to sharpen.
pub(super) struct Sharpening {
    /// The Gaussian's standard deviation.
    pub sigma_px: f64,
    /// Strength.
    pub amount: f64,
    /// Smallest difference that is sharpened, of a range of 1.
    pub threshold: f64,
    /// How far luma may leave the range of its 3 x 3 neighbours, of a range of 1.
    pub halo_limit: f64,
}

/// Sharpens in place.
pub(super) fn sharpen(picture: &mut Picture, how: &Sharpening, progress: &Progress) -> Result<(), PrepError> {
    if how.amount <= 0.0 || how.sigma_px < 0.2 {
        return Ok(());
    }
    let (width, height) = (picture.width(), picture.height());
    let clear = picture.has_alpha();
    // Luma of the whole picture, so that strips can read their neighbours' old values; alpha is
    // not changed and is only copied where there is any.
    let before: Vec<u16> = picture.pixels().data().par_iter().map(luma).collect();
    let alpha: Vec<u16> = if clear { picture.pixels().data().par_iter().map(|p| p[3]).collect() } else { Vec::new() };
    let kernel = gaussian(how.sigma_px);
    let reach = kernel.len() - 1;
    let strips = height.div_ceil(STRIP);
    let (amount, threshold) = (how.amount as f32, how.threshold as f32 * 65535.0);
    let limit = how.halo_limit.max(0.0) as f32 * 65535.0;
    picture.pixels_mut().data_mut().par_chunks_mut(STRIP * width).enumerate().try_for_each(|(strip, out)| {
        progress.step("sharpen", strip as f32 / strips as f32)?;
        let mut sums = vec![0.0_f32; width + 2 * reach];
        let mut weights = vec![0.0_f32; if clear { width + 2 * reach } else { 0 }];
        let mut blurred = vec![0.0_f32; width];
        let mut shares = vec![1.0_f32; width];
        let mut range = vec![[0_u16; 2]; width];
        for (y, row) in out.chunks_exact_mut(width).enumerate() {
            let y = strip * STRIP + y;
            // Down the columns, weighted by alpha: what is clear has no say.
            sums.fill(0.0);
            weights.fill(0.0);
            for k in 0..=2 * reach {
                let weight = kernel[k.abs_diff(reach)];
                let from = (y + k).saturating_sub(reach).min(height - 1) * width;
                let line = &before[from..from + width];
                if clear {
                    let solid = &alpha[from..from + width];
                    let sums = sums[reach..].iter_mut().zip(weights[reach..].iter_mut());
                    for ((sum, total), (&l, &a)) in sums.zip(line.iter().zip(solid)) {
                        let w = weight * f32::from(a);
                        *sum += w * f32::from(l);
                        *total += w;
                    }
                } else {
                    sums[reach..].iter_mut().zip(line).for_each(|(sum, &l)| *sum += weight * f32::from(l));
                }
            }
            along(&mut sums, &kernel, &mut blurred);
            if clear {
                along(&mut weights, &kernel, &mut shares);
            }
            near_range(&before, width, y, height, &mut range);
            for (x, pixel) in row.iter_mut().enumerate() {
                if pixel[3] == 0 {
                    continue;
                }
                let own = f32::from(before[y * width + x]);
                let differs = own - blurred[x] / shares[x].max(1e-6);
                let lift = amount * (differs.abs() - threshold).max(0.0).copysign(differs);
                let [low, high] = range[x].map(f32::from);
                let lift = (own + lift).clamp(low - limit, high + limit) - own;
                for c in &mut pixel[..3] {
                    *c = (f32::from(*c) + lift + 0.5).clamp(0.0, 65535.0) as u16;
                }
            }
        }
        Ok(())
    })
}

/// Blurs a row that lies in the middle of `padded`, whose ends are filled here.
fn along(padded: &mut [f32], kernel: &[f32], out: &mut [f32]) {
    let reach = kernel.len() - 1;
    let (first, last) = (padded[reach], padded[reach + out.len() - 1]);
    padded[..reach].fill(first);
    padded[reach + out.len()..].fill(last);
    out.fill(0.0);
    for k in 0..=2 * reach {
        let weight = kernel[k.abs_diff(reach)];
        out.iter_mut().zip(&padded[k..]).for_each(|(o, p)| *o += weight * p);
    }
}

/// Smallest and largest luma of the 3 x 3 neighbours of each pixel of row `y`.
fn near_range(luma: &[u16], width: usize, y: usize, height: usize, out: &mut [[u16; 2]]) {
    let line = |y: usize| &luma[y * width..(y + 1) * width];
    let lines = [line(y.saturating_sub(1)), line(y), line((y + 1).min(height - 1))];
    let column = |x: usize| {
        let v = [lines[0][x], lines[1][x], lines[2][x]];
        [v[0].min(v[1]).min(v[2]), v[0].max(v[1]).max(v[2])]
    };
    let mut left = column(0);
    let mut here = left;
    for (x, to) in out.iter_mut().enumerate() {
        let right = column((x + 1).min(width - 1));
        *to = [left[0].min(here[0]).min(right[0]), left[1].max(here[1]).max(right[1])];
        (left, here) = (here, right);
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    fn edge() -> Picture {
        // A soft edge of eight pixels from 20000 to 40000.
        Picture::new(Plane::from_fn(60, 40, |x, _| {
            let v = (20000.0 + 20000.0 * ((x as f64 - 26.0) / 8.0).clamp(0.0, 1.0)) as u16;
            [v, v / 2, v, 65535]
        }))
    }

    fn run(how: Sharpening) -> Picture {
        let mut picture = edge();
        sharpen(&mut picture, &how, &Progress::none()).unwrap();
        picture
    }

    #[test]
    fn sharpening_equals_the_plain_formula() {
        let (sigma, amount) = (1.7, 0.8);
        let made = run(Sharpening { sigma_px: sigma, amount, threshold: 0.0, halo_limit: 1.0 });
        let art = edge();
        let reach = (3.0 * sigma).ceil() as isize;
        let weight = |d: isize| (-0.5 * (d as f64 / sigma).powi(2)).exp();
        let total: f64 = (-reach..=reach).map(weight).sum();
        for x in 0..60_usize {
            let at = |x: isize| f64::from(luma(&art.pixels().get(x.clamp(0, 59) as usize, 20)));
            let blurred: f64 = (-reach..=reach).map(|d| weight(d) * at(x as isize + d)).sum::<f64>() / total;
            let want = f64::from(art.pixels().get(x, 20)[0]) + amount * (at(x as isize) - blurred);
            assert!((f64::from(made.pixels().get(x, 20)[0]) - want).abs() < 2.0, "at {x}");
        }
    }

    #[test]
    fn the_halo_limit_and_the_threshold_hold() {
        let worst = |picture: &Picture| {
            picture.pixels().data().iter().map(|p| p[0].saturating_sub(40000).max(20000_u16.saturating_sub(p[0]))).max()
        };
        let free = run(Sharpening { sigma_px: 3.0, amount: 2.0, threshold: 0.0, halo_limit: 1.0 });
        let held = run(Sharpening { sigma_px: 3.0, amount: 2.0, threshold: 0.0, halo_limit: 0.0 });
        assert!(worst(&free).unwrap() > 1000 && worst(&held).unwrap() <= 1);
        let none = run(Sharpening { sigma_px: 3.0, amount: 2.0, threshold: 0.5, halo_limit: 1.0 });
        assert_eq!(none, edge());
    }
}
