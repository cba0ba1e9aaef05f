//! A shirt drawn from measures: where the print sits, at a scale of its own.

use strikeoff_core::raster::Picture;

use super::canvas::{Book, Color};

/// Measures of the drawn shirt in mm, a usual adult size: half widths from the middle, heights
/// from the shoulder point of the collar.
const HEIGHT: f32 = 740.0;
const HALF_WIDTH: f32 = 430.0;
/// Lower edge of the collar in the middle of the front.
pub const COLLAR: f32 = 95.0;

/// Draws the shirt into a box with the print at its place, everything at one scale. Gives the
/// print's box on the page.
pub fn draw(
    book: &mut Book,
    [x, y, w, h]: [f32; 4],
    fabric: Color,
    print: &Picture,
    print_mm: [f64; 2],
    below_collar_mm: f64,
) -> [f32; 4] {
    let scale = (w / (2.0 * HALF_WIDTH)).min(h / HEIGHT);
    let (cx, top) = (x + w / 2.0, y);
    let at = |px: f32, py: f32| [cx + px * scale, top + py * scale];
    let line = |a: [f32; 2]| [a, a, a];
    let light = fabric.iter().sum::<f32>() > 1.4;
    let edge = if light { [0.6; 3] } else { [0.25; 3] };
    let mut pieces = Vec::new();
    // From the left collar point over the left sleeve, round the hem, back over the right.
    for (px, py) in [(-260.0, 55.0), (-430.0, 270.0), (-335.0, 335.0), (-275.0, 245.0), (-275.0, 740.0), (275.0, 740.0)]
    {
        pieces.push(line(at(px, py)));
    }
    for (px, py) in [(275.0, 245.0), (335.0, 335.0), (430.0, 270.0), (260.0, 55.0), (95.0, 0.0)] {
        pieces.push(line(at(px, py)));
    }
    // The neckline.
    pieces.push([at(70.0, 70.0), at(35.0, COLLAR), at(0.0, COLLAR)]);
    pieces.push([at(-35.0, COLLAR), at(-70.0, 70.0), at(-95.0, 0.0)]);
    book.outline(at(-95.0, 0.0), &pieces, fabric, edge);
    let (pw, ph) = (print_mm[0] as f32 * scale, print_mm[1] as f32 * scale);
    let place = [cx - pw / 2.0, top + (COLLAR + below_collar_mm as f32) * scale, pw, ph];
    book.picture(print, "The shirt with the print in its place", place);
    place
}
