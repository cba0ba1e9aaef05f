//! The colour of the artwork that is farthest from all inks there are: the one a new ink is wanted for.

use std::collections::HashMap;

use strikeoff_core::color::{LinRgb, Rgb8, linear_from_u16, oklab_from_linear};
use strikeoff_core::raster::Picture;

/// Pixels that are looked at, about.
const SEEN: usize = 40_000;

/// Of all colours of a picture, in steps of an eighth of the range, the one whose distance to the nearest ink
/// or the fabric (OKLab), times its share, is largest. None of a picture that is clear, or met.
pub fn unmet_color(picture: &Picture, there: &[Rgb8]) -> Option<Rgb8> {
    let lab = |linear: LinRgb| {
        let lab = oklab_from_linear(linear);
        [lab.l, lab.a, lab.b]
    };
    let there: Vec<[f32; 3]> = there.iter().map(|color| lab(color.linear())).collect();
    let pixels = picture.pixels().data();
    let mut bins: HashMap<[u16; 3], (LinRgb, u32)> = HashMap::new();
    for pixel in pixels.iter().step_by((pixels.len() / SEEN).max(1)).filter(|pixel| pixel[3] >= 0x8000) {
        let linear = linear_from_u16(&pixel[..3]);
        let (sum, count) = bins.entry([0, 1, 2].map(|at| pixel[at] >> 13)).or_insert(([0.0; 3], 0));
        (0..3).for_each(|at| sum[at] += linear[at]);
        *count += 1;
    }
    let off = |linear: LinRgb| {
        let own = lab(linear);
        let far = |other: &[f32; 3]| own.iter().zip(other).map(|(a, b)| (a - b).powi(2)).sum::<f32>().sqrt();
        there.iter().map(far).fold(f32::INFINITY, f32::min)
    };
    let mean = |(sum, count): &(LinRgb, u32)| sum.map(|v| v / *count as f32);
    let weight = |bin: &(LinRgb, u32)| off(mean(bin)).min(1.0) * bin.1 as f32;
    let worst = bins.values().filter(|bin| off(mean(bin)) > 0.04).max_by(|a, b| weight(a).total_cmp(&weight(b)))?;
    Some(Rgb8::from_linear(mean(worst)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use strikeoff_core::raster::Plane;

    #[test]
    fn the_colour_that_no_ink_has_is_found() {
        let (red, teal) = ([0xC000, 0x1000, 0x1000, 0xFFFF], [0x1000, 0x9000, 0x9000, 0xFFFF]);
        let picture = Picture::new(Plane::from_fn(60, 40, |x, _| if x < 40 { red } else { teal }));
        let rgb = |text: &str| text.parse::<Rgb8>().unwrap();
        let found = unmet_color(&picture, &[rgb("#C01010"), rgb("#FFFFFF")]).unwrap();
        assert!(found.0[0] < 0x40 && found.0[1] > 0x80, "{found}");
        assert_eq!(unmet_color(&picture, &[rgb("#C01010"), rgb("#109090")]), None);
    }
}
