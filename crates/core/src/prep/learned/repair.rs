//! The art at print size by the net: twice, three or four times as large at once, a second time where that is
//! not enough, each time held to what it was made of, and then brought to the print's pixels. What is
//! see-through is enlarged along edges as ever, in a lane of its own.

use super::super::PrepError;
use super::super::enlarge::enlarge as along_edges;
use super::super::resample::{Part, crop, resample};
use super::bleed::bled;
use super::flow::{Field, STRIP_BLOCKS};
use super::hold::hold;
use super::judge::judge;
use super::net::{Condition, net};
use crate::Progress;
use crate::raster::{Picture, Plane};
use crate::simd;

/// Art beside the part that is used: the net sees 16 pixels to each side.
const BESIDE: f64 = 16.0;
/// The kernel alone may enlarge this much after the net: not worth another pass.
const REST: f64 = 1.125;
/// How much of all is done when the net has been over the picture.
const NET_DONE: f32 = 0.9;

/// `part` of `picture` at `width` x `height` pixels; the net is set for `strength` of the damage found.
pub(in crate::prep) fn repair(
    picture: &Picture,
    part: Part,
    width: usize,
    height: usize,
    strength: f64,
    progress: &Progress,
) -> Result<Picture, PrepError> {
    let (near, mut inner) = with_border(picture, part);
    let clear = near.has_alpha();
    let mut colors = if clear { bled(&near) } else { near };
    let found = judge(&net()?.judge, &colors);
    let mut condition = Condition { damage: found.damage * strength, ..found };
    let factor = (width as f64 / part.width).max(height as f64 / part.height);
    let passes = passes(factor);
    let mut from = 0.0;
    for (i, &scale) in passes.iter().enumerate() {
        // Time goes with the pixels that a pass reads.
        let to = if i + 1 < passes.len() { 1.0 / (1 + scale * scale) as f32 } else { NET_DONE };
        colors = pass(colors, scale, condition, &progress.part(from, to))?;
        let times = scale as f64;
        inner = Part {
            left: inner.left * times,
            top: inner.top * times,
            width: inner.width * times,
            height: inner.height * times,
        };
        // What the net made is clean.
        (condition, from) = (Condition { damage: 0.0, softness: 0.0 }, to);
    }
    let mut made = resample(&colors, inner, width, height, &progress.part(NET_DONE, 0.95))?;
    drop(colors);
    if clear {
        let shape = along_edges(picture, part, width, height, &progress.part(0.95, 1.0))?;
        for (pixel, shape) in made.pixels_mut().data_mut().iter_mut().zip(shape.pixels().data()) {
            *pixel = if shape[3] == 0 { [0; 4] } else { [pixel[0], pixel[1], pixel[2], shape[3]] };
        }
    }
    Ok(made)
}

/// One pass of the net.
fn pass(art: Picture, scale: usize, condition: Condition, progress: &Progress) -> Result<Picture, PrepError> {
    let art = art.into_pixels();
    let (width, height, level) = (art.width(), art.height(), simd::level());
    let field = Field { art: art.data(), width, height, scale };
    let made = field.enlarged(net()?, condition, level, STRIP_BLOCKS, &progress.part(0.0, 0.9))?;
    let mut made = Plane::from_vec(width * scale, height * scale, made);
    hold(&art, &mut made, scale, condition.damage > 0.0, level, &progress.part(0.9, 1.0))?;
    Ok(Picture::new(made))
}

/// The pixels that a part needs, and its place among them.
fn with_border(picture: &Picture, part: Part) -> (Picture, Part) {
    let (left, top) = ((part.left - BESIDE).max(0.0).floor(), (part.top - BESIDE).max(0.0).floor());
    let right = (part.left + part.width + BESIDE).min(picture.width() as f64).ceil();
    let bottom = (part.top + part.height + BESIDE).min(picture.height() as f64).ceil();
    let (near, _) = crop(picture, Part { left, top, width: right - left, height: bottom - top });
    (near, Part { left: part.left - left, top: part.top - top, ..part })
}

/// How many times as large the net makes the art, pass by pass, to enlarge it by `factor`.
fn passes(factor: f64) -> &'static [usize] {
    const ALL: [&[usize]; 8] = [&[2], &[3], &[4], &[3, 2], &[4, 2], &[3, 3], &[4, 3], &[4, 4]];
    let enough = |passes: &&&[usize]| passes.iter().product::<usize>() as f64 * REST >= factor;
    ALL.iter().find(enough).unwrap_or(&ALL[7])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::prep::transfer::linear;
    use crate::raster::Rgba16;

    fn run(art: &Picture, times: usize, strength: f64) -> Picture {
        let (w, h) = (art.width(), art.height());
        let part = Part { left: 0.0, top: 0.0, width: w as f64, height: h as f64 };
        repair(art, part, w * times, h * times, strength, &Progress::none()).unwrap()
    }

    fn value(at: usize) -> u16 {
        ((at as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 45) as u16 % 256 * 257
    }

    #[test]
    fn passes_reach_the_factor_with_the_fewest_pixels() {
        for (factor, expected) in
            [(1.2, &[2][..]), (2.2, &[2]), (2.6, &[3]), (4.4, &[4]), (5.0, &[3, 2]), (11.0, &[4, 3]), (40.0, &[4, 4])]
        {
            assert_eq!(passes(factor), expected, "{factor}");
        }
    }

    #[test]
    fn flat_colour_stays_flat() {
        for i in 0..200 {
            let color: Rgba16 = [value(3 * i), value(3 * i + 1), value(3 * i + 2), 65_535];
            let art = Picture::new(Plane::from_fn(13, 9, |_, _| color));
            for pixel in run(&art, 2 + i % 3, 1.0).pixels().data() {
                assert!((0..4).all(|c| pixel[c].abs_diff(color[c]) <= 257), "{color:?} became {pixel:?}");
            }
        }
    }

    #[test]
    fn clear_art_keeps_its_colour_and_gets_no_halo() {
        let orange = [60_000, 30_000, 8000, 65_535];
        let art = Picture::new(Plane::from_fn(40, 40, |x, y| if (x / 8 + y / 8) % 2 == 0 { orange } else { [0; 4] }));
        let made = run(&art, 4, 1.0);
        for pixel in made.pixels().data().iter().filter(|p| p[3] > 0) {
            assert!((0..3).all(|c| pixel[c].abs_diff(orange[c]) <= 300), "{pixel:?}");
        }
        assert_eq!((made.pixels().get(16, 16)[3], made.pixels().get(48, 16)[3]), (65_535, 0));
    }

    #[test]
    fn the_mean_tone_of_clean_art_is_kept() {
        // Dark and light stripes and discs: what drifts where a net cannot know how the art was reduced.
        let art = Picture::new(Plane::from_fn(96, 64, |x, y| {
            let disc = (x as f64 - 60.0).hypot(y as f64 - 30.0);
            let v = if x < 30 && (x + y) / 5 % 2 == 0 {
                9000.0
            } else {
                60_000.0 - 45_000.0 * (24.0 - disc).clamp(0.0, 1.0)
            };
            [v as u16, (v * 0.8) as u16, 65_535 - v as u16, 65_535]
        }));
        // Means over the picture, of light and of codes.
        let means = |picture: &Picture| {
            let values = || picture.pixels().data().iter().flat_map(|p| [p[0], p[1], p[2]]);
            let count = values().count() as f64;
            let light: f64 = values().map(|v| f64::from(linear()[usize::from(v)])).sum();
            [light / count, values().map(f64::from).sum::<f64>() / 65_535.0 / count]
        };
        for (times, strength) in [(2, 0.0), (3, 0.0), (4, 1.0)] {
            let ([light, codes], [made_light, made_codes]) = (means(&art), means(&run(&art, times, strength)));
            // The art is right in the one reading or the other: a level of 255 of slack for rounding and range.
            assert!(
                made_light > light - 0.004 && made_codes < codes + 0.004,
                "{light} {codes}: {made_light} {made_codes}"
            );
            assert!((made_codes - codes).abs() < 0.012, "{codes} became {made_codes}");
        }
    }

    #[test]
    fn a_crop_is_cut_out_of_the_whole() {
        let art = Picture::new(Plane::from_fn(90, 70, |x, y| {
            let v = if (x / 11 + y / 7) % 2 == 0 { 12_000 } else { 50_000 };
            [v, (x * 700) as u16, (y * 900) as u16, 65_535]
        }));
        let whole = run(&art, 2, 0.0);
        let part = Part { left: 30.0, top: 20.0, width: 40.0, height: 30.0 };
        let cut = repair(&art, part, 80, 60, 0.0, &Progress::none()).unwrap();
        // Softness is judged on what is used, so tones may differ a little; the place may not.
        let mut sum = 0.0;
        for y in 0..60 {
            for x in 0..80 {
                sum += f64::from(cut.pixels().get(x, y)[0].abs_diff(whole.pixels().get(60 + x, 40 + y)[0]));
            }
        }
        assert!(sum / 4800.0 < 257.0 * 2.0, "{}", sum / 4800.0);
    }
}
