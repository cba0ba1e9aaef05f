//! Where the art's background is: what is clear, and what joins the picture's edge in the
//! edge's own even colour. Holes that do not join the edge are not background, so the white of
//! an eye stays.

use std::collections::HashMap;

use rayon::prelude::*;

use crate::color::{linear_from_u16, oklab_from_linear};
use crate::raster::{Picture, Plane, Rgba16};

/// How far from the edge's colour still counts as the same, as a distance in OKLab. An
/// assumption of ours: wide enough for JPEG noise and paper shading, narrower than a pastel.
const SAME: f32 = 0.045;
/// Least share of the edge that must have one colour for it to be called a background.
const EVEN_SHARE: f64 = 0.35;

/// The background as a mask, `true` inside; none if nothing is clear and the edge has no even
/// colour.
pub fn background(picture: &Picture) -> Option<Plane<bool>> {
    background_within(picture, SAME)
}

/// The same with the distance in OKLab that still counts as the edge's colour.
pub(super) fn background_within(picture: &Picture, tolerance: f32) -> Option<Plane<bool>> {
    let (w, h) = (picture.width(), picture.height());
    let pixels = picture.pixels();
    let mut mask = Plane::filled(w, h, false);
    let edge: Vec<(usize, usize)> = edge_pixels(w, h).collect();
    let even = even_color(pixels, &edge);
    let clear = |p: &Rgba16| p[3] < 0x8000;
    let mut found = pixels.data().par_iter().any(clear);
    // What may be flooded: clear, or the edge's colour.
    let may: Vec<bool> = pixels
        .data()
        .par_iter()
        .with_min_len(1 << 14)
        .map(|p| clear(p) || even.is_some_and(|even| distance(lab(p), even) <= tolerance))
        .collect();
    if even.is_some() {
        found = true;
        flood(&mut mask, &may, &edge);
    }
    if !found {
        return None;
    }
    mask.data_mut().par_iter_mut().zip(pixels.data()).with_min_len(1 << 14).for_each(|(m, p)| *m |= clear(p));
    Some(mask)
}

fn edge_pixels(w: usize, h: usize) -> impl Iterator<Item = (usize, usize)> {
    let rows = (0..w).flat_map(move |x| [(x, 0), (x, h - 1)]);
    rows.chain((0..h).flat_map(move |y| [(0, y), (w - 1, y)]))
}

fn lab(p: &Rgba16) -> [f32; 3] {
    let lab = oklab_from_linear(linear_from_u16(p));
    [lab.l, lab.a, lab.b]
}

fn distance(a: [f32; 3], b: [f32; 3]) -> f32 {
    ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2)).sqrt()
}

/// The commonest colour of the opaque edge pixels, if enough of the edge has it.
fn even_color(pixels: &Plane<Rgba16>, edge: &[(usize, usize)]) -> Option<[f32; 3]> {
    let labs: Vec<[f32; 3]> =
        edge.iter().map(|&(x, y)| pixels.get(x, y)).filter(|p| p[3] >= 0x8000).map(|p| lab(&p)).collect();
    let mut cells: HashMap<[i32; 3], usize> = HashMap::new();
    for lab in &labs {
        *cells.entry(lab.map(|v| (v / SAME).round() as i32)).or_default() += 1;
    }
    // Of equally common cells the lightest, so that the answer does not hang on the map's order.
    let (cell, _) = cells.into_iter().max_by_key(|(cell, count)| (*count, *cell))?;
    let near: Vec<_> = labs.iter().filter(|lab| distance(**lab, cell.map(|v| v as f32 * SAME)) <= SAME * 1.5).collect();
    let mean = std::array::from_fn(|i| near.iter().map(|lab| lab[i]).sum::<f32>() / near.len() as f32);
    let share = labs.iter().filter(|lab| distance(**lab, mean) <= SAME).count() as f64 / edge.len() as f64;
    (share >= EVEN_SHARE).then_some(mean)
}

/// Marks what joins the edge, along rows: a run is filled at once, its neighbours above and
/// below are looked at later.
fn flood(mask: &mut Plane<bool>, may: &[bool], edge: &[(usize, usize)]) {
    let (w, h) = (mask.width(), mask.height());
    let mut todo: Vec<(usize, usize)> = edge.to_vec();
    while let Some((x, y)) = todo.pop() {
        let row = y * w;
        if mask.get(x, y) || !may[row + x] {
            continue;
        }
        let mut left = x;
        while left > 0 && may[row + left - 1] && !mask.get(left - 1, y) {
            left -= 1;
        }
        let mut right = x;
        while right + 1 < w && may[row + right + 1] && !mask.get(right + 1, y) {
            right += 1;
        }
        mask.row_mut(y)[left..=right].fill(true);
        for next in [y.checked_sub(1), (y + 1 < h).then_some(y + 1)].into_iter().flatten() {
            let mut inside = false;
            for x in left..=right {
                let open = may[next * w + x] && !mask.get(x, next);
                if open && !inside {
                    todo.push((x, next));
                }
                inside = open;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::FULL;

    fn art(f: impl Fn(usize, usize) -> Rgba16 + Sync) -> Picture {
        Picture::new(Plane::from_fn(40, 30, f))
    }

    #[test]
    fn white_round_a_ring_is_background_and_the_hole_in_it_is_not() {
        let white = [FULL; 4];
        let picture = art(|x, y| {
            let r = ((x as f64 - 20.0).powi(2) + (y as f64 - 15.0).powi(2)).sqrt();
            if (6.0..10.0).contains(&r) { [9000, 2000, 2000, FULL] } else { white }
        });
        let mask = background(&picture).unwrap();
        assert!(mask.get(0, 0) && mask.get(39, 29) && mask.get(20, 2));
        assert!(!mask.get(20, 15), "the hole does not join the edge");
        assert!(!mask.get(28, 15), "the ring itself");
    }

    #[test]
    fn clear_pixels_are_background_and_a_busy_edge_is_none() {
        let clear = art(|x, _| if x < 10 { [0; 4] } else { [(x * 1600) as u16, 0, (40 - x) as u16 * 1600, FULL] });
        let mask = background(&clear).unwrap();
        assert!(mask.get(3, 10) && !mask.get(25, 10));
        let busy = art(|x, y| [((x * 7919) % 40 * 1600) as u16, (y * 2100) as u16, ((x + y) % 9 * 7000) as u16, FULL]);
        assert_eq!(background(&busy), None);
    }
}
