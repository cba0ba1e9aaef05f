//! Turning by a small angle about the middle, by Catmull-Rom's kernel in linear light with
//! premultiplied alpha. The picture grows to hold all corners; what comes in is clear.

use super::transfer::{code, linear};
use crate::raster::{Picture, Plane};

/// Width and height of a picture so turned: whole pixels.
pub(super) fn straightened_size([w, h]: [f64; 2], degrees: f64) -> [f64; 2] {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let size = |along: f64, other: f64| (along * cos.abs() + other * sin.abs() - 1e-6).ceil().max(1.0);
    [size(w, h), size(h, w)]
}

/// The picture turned counter-clockwise by `degrees`.
pub(super) fn straighten(picture: &Picture, degrees: f64) -> Picture {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let (w, h) = (picture.width() as f64, picture.height() as f64);
    let [to_w, to_h] = straightened_size([w, h], degrees);
    let light = linear();
    Picture::new(Plane::from_fn(to_w as usize, to_h as usize, |x, y| {
        let (dx, dy) = (x as f64 + 0.5 - to_w / 2.0, y as f64 + 0.5 - to_h / 2.0);
        // Rows run downwards, so counter-clockwise on paper is this way round.
        let (sx, sy) = (dx * cos - dy * sin + w / 2.0 - 0.5, dx * sin + dy * cos + h / 2.0 - 0.5);
        if sx < -1.0 || sy < -1.0 || sx > w || sy > h {
            return [0; 4];
        }
        let (x0, y0) = (sx.floor(), sy.floor());
        let (wx, wy) = (weights((sx - x0) as f32), weights((sy - y0) as f32));
        let mut sum = [0.0_f32; 4];
        for (j, wy) in wy.iter().enumerate() {
            for (i, wx) in wx.iter().enumerate() {
                let (fx, fy) = (x0 + i as f64 - 1.0, y0 + j as f64 - 1.0);
                if fx < 0.0 || fy < 0.0 || fx >= w || fy >= h {
                    continue;
                }
                let p = picture.pixels().get(fx as usize, fy as usize);
                let a = wx * wy * f32::from(p[3]) / 65535.0;
                for c in 0..3 {
                    sum[c] += a * light[p[c] as usize];
                }
                sum[3] += a;
            }
        }
        if sum[3] <= 0.5 / 65535.0 {
            return [0; 4];
        }
        let rgb = |c: usize| code(sum[c] / sum[3]);
        [rgb(0), rgb(1), rgb(2), (sum[3].min(1.0) * 65535.0 + 0.5) as u16]
    }))
}

/// Catmull-Rom's four weights at `t` between the middle two samples.
fn weights(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [0.5 * (-t3 + 2.0 * t2 - t), 0.5 * (3.0 * t3 - 5.0 * t2 + 2.0), 0.5 * (-3.0 * t3 + 4.0 * t2 + t), 0.5 * (t3 - t2)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ninety_degrees_equal_a_quarter_turn() {
        let art = Picture::new(Plane::from_fn(13, 8, |x, y| [(x * 5000) as u16, (y * 8000) as u16, 500, 65535]));
        let turned = straighten(&art, 90.0);
        let want = crate::prep::Turn { mirrored: false, quarters: 3 }.apply(art);
        assert_eq!((turned.width(), turned.height()), (8, 13));
        for (a, b) in turned.pixels().data().iter().zip(want.pixels().data()) {
            assert!((0..4).all(|c| a[c].abs_diff(b[c]) <= 2), "{a:?} {b:?}");
        }
    }

    #[test]
    fn a_turn_keeps_colour_and_clears_the_corners() {
        let art = Picture::new(Plane::filled(40, 20, [50000, 20000, 10000, 65535]));
        let turned = straighten(&art, 10.0);
        assert!(turned.width() > 40 && turned.height() > 20);
        assert_eq!(turned.pixels().get(0, 0), [0; 4]);
        for p in turned.pixels().data().iter().filter(|p| p[3] > 500) {
            assert!(p[0].abs_diff(50000) <= 40 && p[2].abs_diff(10000) <= 40, "{p:?}");
        }
    }
}
