//! Flat art redrawn: its outlines found once, at the art's pixels, and drawn exactly at those of the print.

use strikeoff_redraw::{Art, Colour, Redrawing, Settings, redraw};

use super::resample::Part;
use super::{PrepError, PrepSettings};
use crate::Progress;
use crate::color::{Rgb8, encode_u16};
use crate::raster::{Picture, Plane, Rgba16};

/// Rows of the print that are drawn at a time.
const STRIP: usize = 128;

/// The outlines of a picture, in its own pixels.
pub fn outlines(picture: &Picture, settings: &PrepSettings) -> Result<Redrawing, PrepError> {
    let rgba = picture.to_rgba8();
    let art = Art::new(picture.width(), picture.height(), &rgba)?;
    let colours = settings.redraw_colours.map(|count| count as usize);
    let made = redraw(&art, &Settings { colours, smoothness: settings.redraw_smoothness, ..Settings::default() })?;
    Ok(made)
}

/// `part` of `picture`, redrawn at `width` x `height` pixels.
pub(super) fn redrawn(
    picture: &Picture,
    part: Part,
    width: usize,
    height: usize,
    settings: &PrepSettings,
    progress: &Progress,
) -> Result<Picture, PrepError> {
    progress.step("redraw", 0.0)?;
    let made = outlines(picture, settings)?;
    let scale = [width as f64 / part.width, height as f64 / part.height];
    let placed = made.placed(scale, [-part.left * scale[0], -part.top * scale[1]], width, height);
    drop(made);
    let mut pixels: Vec<Rgba16> = Vec::with_capacity(width * height);
    for top in (0..height).step_by(STRIP) {
        progress.step("redraw", 0.5 + 0.5 * top as f32 / height as f32)?;
        pixels.extend(placed.drawn(top..height.min(top + STRIP), light).into_iter().map(encoded));
    }
    Ok(Picture::new(Plane::from_vec(width, height, pixels)))
}

/// Linear light, weighed by opacity, and opacity.
fn light(colour: Colour) -> [f64; 4] {
    let opacity = f64::from(colour.opacity) / 255.0;
    let [r, g, b] = Rgb8(colour.rgb).linear().map(|v| f64::from(v) * opacity);
    [r, g, b, opacity]
}

fn encoded([r, g, b, opacity]: [f64; 4]) -> Rgba16 {
    // A ten-thousandth of a pixel is what flattening leaves.
    if opacity < 1e-4 {
        return [0; 4];
    }
    let [r, g, b] = encode_u16([r, g, b].map(|v| (v / opacity).clamp(0.0, 1.0) as f32));
    [r, g, b, (opacity.min(1.0) * 65535.0).round() as u16]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::linear_from_u16;

    /// A red ring on clear, drawn by hand with its edges averaged: at eight times the size its edge lies where
    /// the circle's does, and flat areas have their very colour.
    #[test]
    fn a_ring_is_drawn_where_its_circles_lie() {
        let (middle, outer, inner) = (20.3, 14.0, 7.5);
        let inside = |x: f64, y: f64| (inner..outer).contains(&(x - middle).hypot(y - middle));
        let picture = Picture::new(Plane::from_fn(40, 40, |x, y| {
            let count =
                (0..256).filter(|i| inside(x as f64 + (i % 16) as f64 / 16.0, y as f64 + (i / 16) as f64 / 16.0));
            let alpha = (count.count() * 65535 / 256) as u16;
            if alpha == 0 { [0; 4] } else { [0xD8 * 257, 0x23 * 257, 0x2A * 257, alpha] }
        }));
        let part = Part { left: 4.0, top: 2.0, width: 32.0, height: 36.0 };
        let settings = PrepSettings::default();
        let made = redrawn(&picture, part, 256, 288, &settings, &Progress::none()).unwrap();
        assert_eq!((made.width(), made.height()), (256, 288));
        let (mut off, mut edge) = (0.0, 0.0);
        for y in 0..288 {
            for x in 0..256 {
                let at = [x, y].map(|v| (v as f64 + 0.5) / 8.0);
                let away = (at[0] + 4.0 - middle).hypot(at[1] + 2.0 - middle);
                let near = (away - outer).abs().min((away - inner).abs());
                let pixel = made.pixels().get(x, y);
                let solid = (inner..outer).contains(&away);
                if near > 0.25 {
                    assert_eq!(pixel[3] > 32_768, solid, "{x}, {y}: {pixel:?}");
                }
                if solid && near > 0.5 {
                    let (got, want) = (linear_from_u16(&pixel), Rgb8([0xD8, 0x23, 0x2A]).linear());
                    assert!((0..3).all(|i| (got[i] - want[i]).abs() < 0.01), "{pixel:?}");
                }
                off += (f64::from(pixel[3]) / 65535.0 - if solid { 1.0 } else { 0.0 }).abs();
                edge += if near < 1.0 / 16.0 { 1.0 } else { 0.0 };
            }
        }
        // Exact edges would leave a quarter of a pixel of each pixel that they cross.
        assert!(off < 0.6 * edge, "{off} of {edge} edge pixels");
    }

    #[test]
    fn a_photograph_is_refused_in_one_sentence() {
        let picture = Picture::new(Plane::from_fn(90, 90, |x, y| {
            let v = |a: usize| ((x * a + y * 7919 + x * y * 31) % 65536) as u16;
            [v(641), v(523), v(977), u16::MAX]
        }));
        let part = Part { left: 0.0, top: 0.0, width: 90.0, height: 90.0 };
        let refused = redrawn(&picture, part, 180, 180, &PrepSettings::default(), &Progress::none()).unwrap_err();
        assert!(refused.to_string().contains("not flat"), "{refused}");
    }
}
