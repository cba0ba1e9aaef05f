//! Evening out noise of compressed art before it is enlarged, without crossing edges (a bilateral
//! mean), on the art's own pixels.

use rayon::prelude::*;

use crate::raster::{Picture, Rgba16};

/// Evens out noise: each pixel becomes a mean of its 5 x 5 neighbours, near ones and alike ones
/// counting most; colour is evened more than lightness. `strength` 0..=1: what counts as alike
/// ends at about 40 levels at 1. Rows of `before` are read, so the result does not depend on
/// the order of work.
pub(super) fn denoise(picture: &mut Picture, strength: f64) {
    if strength <= 0.0 {
        return;
    }
    let (w, h) = (picture.width(), picture.height());
    let before = picture.clone();
    let scale = (1.0 / (20.0 * strength.min(1.0) * 257.0)) as f32;
    let near: [[f32; 5]; 5] = std::array::from_fn(|j| {
        std::array::from_fn(|i| {
            let (dx, dy) = (i as f32 - 2.0, j as f32 - 2.0);
            (-(dx * dx + dy * dy) / (2.0 * 1.5 * 1.5)).exp()
        })
    });
    picture.pixels_mut().data_mut().par_chunks_mut(w).enumerate().for_each(|(y, row)| {
        for (x, to) in row.iter_mut().enumerate() {
            if to[3] == 0 {
                continue;
            }
            let own = ycc(to);
            let (mut sum, mut total) = ([0.0_f32; 3], [0.0_f32; 2]);
            for (j, near) in near.iter().enumerate() {
                let from_y = (y + j).saturating_sub(2).min(h - 1);
                for (i, near) in near.iter().enumerate() {
                    let from_x = (x + i).saturating_sub(2).min(w - 1);
                    let other = before.pixels().get(from_x, from_y);
                    if other[3] == 0 {
                        continue;
                    }
                    let v = ycc(&other);
                    let (dl, da, db) = ((v[0] - own[0]) * scale, (v[1] - own[1]) * scale, (v[2] - own[2]) * scale);
                    let chroma = (da * da + db * db) * 0.25;
                    // A rational fall-off in place of the exponential: cheaper, and as good here.
                    let light = near / (1.0 + (dl * dl + chroma)).powi(4);
                    let tint = near / (1.0 + (dl * dl * 0.25 + chroma)).powi(4);
                    sum[0] += light * v[0];
                    sum[1] += tint * v[1];
                    sum[2] += tint * v[2];
                    total[0] += light;
                    total[1] += tint;
                }
            }
            let made = rgb([sum[0] / total[0], sum[1] / total[1], sum[2] / total[1]]);
            *to = [made[0], made[1], made[2], to[3]];
        }
    });
}

/// Lightness and two colour differences, all in 16-bit levels; exactly invertible by [`rgb`].
fn ycc(p: &Rgba16) -> [f32; 3] {
    let [r, g, b] = [f32::from(p[0]), f32::from(p[1]), f32::from(p[2])];
    [(r + 2.0 * g + b) / 4.0, r - g, b - g]
}

fn rgb([y, r_g, b_g]: [f32; 3]) -> [u16; 3] {
    let g = y - (r_g + b_g) / 4.0;
    [r_g + g, g, b_g + g].map(|v| (v + 0.5).clamp(0.0, 65535.0) as u16)
}

#[cfg(test)]
mod tests {
    use super::super::samples::{error, grey};
    use super::*;

    #[test]
    fn noise_goes_and_an_edge_stays() {
        let clean = grey(60, 60, |x, _| if x < 30 { 60.0 } else { 180.0 });
        let noisy = grey(60, 60, |x, y| {
            let noise = ((x * 7919 + y * 104_729 + x * y * 31) % 17) as f64 - 8.0;
            noise + if x < 30 { 60.0 } else { 180.0 }
        });
        let mut made = noisy.clone();
        denoise(&mut made, 1.0);
        assert!(error(&made, &clean) < 0.6 * error(&noisy, &clean));
        let edge = f64::from(made.pixels().get(30, 30)[1]) - f64::from(made.pixels().get(29, 30)[1]);
        assert!(edge > 105.0 * 257.0, "{edge}");
    }
}
