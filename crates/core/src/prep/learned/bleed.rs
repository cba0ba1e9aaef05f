//! Colour for pixels that are clear, so that what they hide is not drawn into the edge: each takes the mean of what is
//! seen nearby, from ever coarser copies of the picture.

use crate::raster::{Picture, Plane, Rgba16};

/// Colour times weight, and the weight.
type Weighed = [f32; 4];

/// The picture, opaque, with colours from the seen parts where it is clear. Where anything is seen its own
/// colour stays.
pub(super) fn bled(picture: &Picture) -> Picture {
    let seen = picture.pixels().map(|p| {
        let weight = f32::from(p[3]) / 65535.0;
        [f32::from(p[0]) * weight, f32::from(p[1]) * weight, f32::from(p[2]) * weight, weight]
    });
    let mut levels = vec![seen];
    while let Some(last) = levels.last().filter(|last| last.width() > 1 || last.height() > 1) {
        levels.push(halved(last));
    }
    let mut colors = Plane::filled(1, 1, [0.0; 3]);
    for level in levels.iter().rev() {
        let under = &colors;
        colors = Plane::from_fn(level.width(), level.height(), |x, y| {
            let [r, g, b, weight] = level.get(x, y);
            if weight > 1e-4 {
                return [r / weight, g / weight, b / weight];
            }
            between(under, x, y)
        });
    }
    Picture::new(Plane::from_fn(picture.width(), picture.height(), |x, y| -> Rgba16 {
        let own = picture.pixels().get(x, y);
        if own[3] > 0 {
            return [own[0], own[1], own[2], u16::MAX];
        }
        let [r, g, b] = colors.get(x, y).map(|v| (v + 0.5).clamp(0.0, 65535.0) as u16);
        [r, g, b, u16::MAX]
    }))
}

/// Sums of two by two.
fn halved(level: &Plane<Weighed>) -> Plane<Weighed> {
    let (width, height) = (level.width(), level.height());
    Plane::from_fn(width.div_ceil(2), height.div_ceil(2), |x, y| {
        let mut sum = [0.0; 4];
        for (x, y) in [(2 * x, 2 * y), (2 * x + 1, 2 * y), (2 * x, 2 * y + 1), (2 * x + 1, 2 * y + 1)] {
            if x < width && y < height {
                sum.iter_mut().zip(level.get(x, y)).for_each(|(sum, v)| *sum += v);
            }
        }
        sum
    })
}

/// A place of the finer level in the coarser one, mixed of four.
fn between(under: &Plane<[f32; 3]>, x: usize, y: usize) -> [f32; 3] {
    let near = |at: usize, most: usize| {
        let own = (at / 2).min(most - 1);
        (own, if at.is_multiple_of(2) { own.saturating_sub(1) } else { (own + 1).min(most - 1) })
    };
    let ((x0, x1), (y0, y1)) = (near(x, under.width()), near(y, under.height()));
    let four = [(x0, y0, 9.0), (x1, y0, 3.0), (x0, y1, 3.0), (x1, y1, 1.0)];
    let mut sum = [0.0_f32; 3];
    for (x, y, weight) in four {
        sum.iter_mut().zip(under.get(x, y)).for_each(|(sum, v)| *sum += v * weight / 16.0);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clear_pixels_take_the_colour_of_what_is_seen() {
        let orange = [60_000, 30_000, 8000, 65_535];
        let art = Picture::new(Plane::from_fn(37, 23, |x, y| if x < 9 && y > 4 { orange } else { [0; 4] }));
        let made = bled(&art);
        for p in made.pixels().data() {
            assert!((0..4).all(|c| p[c].abs_diff(orange[c]) <= 1), "{p:?}");
        }
        // Faint pixels keep their own.
        let faint = Picture::new(Plane::from_fn(8, 8, |x, _| [x as u16 * 1000, 7, 9, 1 + x as u16 * 9000]));
        for (made, own) in bled(&faint).pixels().data().iter().zip(faint.pixels().data()) {
            assert_eq!(made[..3], own[..3]);
        }
    }
}
