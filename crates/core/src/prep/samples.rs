//! Pictures for the tests of this folder.

use crate::raster::{Picture, Plane};

/// A grey picture of 8-bit levels.
pub fn grey(w: usize, h: usize, f: impl Fn(usize, usize) -> f64 + Sync) -> Picture {
    Picture::new(Plane::from_fn(w, h, |x, y| {
        let v = (f(x, y) * 257.0).clamp(0.0, 65535.0) as u16;
        [v, v, v, 65535]
    }))
}

/// Distance of two pictures' green, as the root of the sum of squares.
pub fn error(a: &Picture, b: &Picture) -> f64 {
    let d = a.pixels().data().iter().zip(b.pixels().data());
    d.map(|(a, b)| (f64::from(a[1]) - f64::from(b[1])).powi(2)).sum::<f64>().sqrt()
}
