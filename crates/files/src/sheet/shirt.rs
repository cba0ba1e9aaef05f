//! The shirt on a page: the one of the window (`core::preview::shirt`) with the print in its place, at a
//! scale of its own.

use strikeoff_core::preview::shirt::{COLLAR, bounds_mm, collar, outline, print_rect_mm, rib};
use strikeoff_core::raster::Picture;
use strikeoff_core::units::Mm;

use super::canvas::{Book, Color};

/// Draws the shirt into a box with the print at its place, everything at one scale. Gives the
/// print's box on the page.
pub fn draw(
    book: &mut Book,
    [x, y, w, h]: [f32; 4],
    fabric: Color,
    print: &Picture,
    print_mm: [f64; 2],
    below_collar: Mm,
) -> [f32; 4] {
    let [from, to] = bounds_mm();
    let scale = (f64::from(w) / (to[0] - from[0])).min(f64::from(h) / (to[1] - from[1]));
    let middle = f64::from(x + w / 2.0);
    let at = |[px, py]: [f64; 2]| [(middle + px * scale) as f32, (f64::from(y) + (py - from[1]) * scale) as f32];
    let light = fabric.iter().sum::<f32>() > 1.4;
    let edge = if light { [0.6; 3] } else { [0.25; 3] };
    let curve =
        |line: &dyn Fn(f64) -> [f64; 2]| -> Vec<[f32; 2]> { (0..=32).map(|i| at(line(f64::from(i) / 32.0))).collect() };
    // The inside of the back, seen through the collar, then the front with its rib.
    let back = curve(&|t| collar(t, 14.0));
    let front = curve(&|t| collar(1.0 - t, COLLAR[1]));
    book.outline(&[back, front].concat(), fabric.map(|v| v * 0.84), edge);
    book.outline(&outline().into_iter().map(at).collect::<Vec<_>>(), fabric, edge);
    book.stroke(&curve(&rib), edge);
    let [left, top, width, height] = print_rect_mm(print_mm, below_collar);
    let [px, py] = at([left, top]);
    let place = [px, py, (width * scale) as f32, (height * scale) as f32];
    book.picture(print, "The shirt with the print in its place", place);
    place
}
