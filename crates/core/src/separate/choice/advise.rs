//! Which method suits the art, from what is in it: flat areas, gradients, grain, edges.
//!
//! Blocks of a few pixels are looked at, since their means are steady under the noise of
//! compression: a block is smooth if no pixel of it stands out from its neighbours; two smooth
//! blocks side by side whose means differ a little are a gradient, and neighbours that do not
//! differ are flat. The bounds are ours, set on photographs and on drawn art.

use rayon::prelude::*;
use serde::Serialize;

use crate::prep::find_soft_edges;
use crate::raster::{Picture, Plane};
use crate::separate::Method;
use crate::separate::flat::{FlatColor, OPAQUE, alike, common_colors, flat_colors};
use crate::units::Lpi;

/// A method for a picture, with the reason and the numbers behind it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MethodAdvice {
    /// The method.
    pub method: Method,
    /// Why, in one sentence.
    pub reason: String,
    /// Flat colours, largest first.
    pub flat_colors: Vec<FlatColor>,
    /// Share of the picture that lies in flat areas, 0..=1.
    pub flat_share: f64,
    /// Share that lies in gradients.
    pub gradient_share: f64,
    /// Share that is neither: outlines, texture, grain.
    pub busy_share: f64,
    /// Share of all pixels that have one of its sixteen commonest colours, near enough.
    pub few_colors_share: f64,
    /// Median width of edges in pixels of the picture, from 10 to 90 %; none if it has no edges.
    pub edge_width_px: Option<f64>,
}

/// Most flat colours that are still spot art: what presses have heads for.
const MOST_SPOT_COLORS: usize = 12;
/// Part of large art whose edges are measured, pixels a side.
const EDGE_WINDOW: usize = 1400;

/// Looks at a picture.
pub fn advise_method(picture: &Picture) -> MethodAdvice {
    let flat = flat_colors(picture, 0.05, 0.002);
    let [flat_share, gradient_share, busy_share] = shares(picture);
    // Close: the noise of a dark photograph has few colours too, but they run into each other.
    let common = common_colors(picture, 0.006, 0.001, false);
    let few_colors_share = common.iter().take(16).map(|c| c.share).sum::<f64>().min(1.0);
    let edge_width_px = edge_width_px(picture);
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let count = flat.len();
    let colors = if count == 1 { "1 flat colour".to_owned() } else { format!("{count} flat colours") };
    let (method, reason) = if count > 0
        && count <= MOST_SPOT_COLORS
        && gradient_share <= 0.12
        && flat_share >= 0.5
        && flat_share >= 4.0 * gradient_share
    {
        (
            Method::SpotArt,
            format!(
                "{} of the art lies in {colors} and {} in gradients, so each colour can have its own ink.",
                percent(flat_share),
                percent(gradient_share)
            ),
        )
    } else if few_colors_share >= 0.9 && busy_share >= 0.4 {
        (
            Method::Index,
            format!(
                "{} of the pixels have one of 16 colours but only {} lie in flat areas: the art is made of dots already, and square dots of one ink keep them.",
                percent(few_colors_share),
                percent(flat_share)
            ),
        )
    } else {
        let why = if gradient_share > 0.12 {
            format!("{} of the art lies in gradients", percent(gradient_share))
        } else if count > MOST_SPOT_COLORS {
            format!("the art has more than {MOST_SPOT_COLORS} flat colours")
        } else {
            format!("only {} of the art lies in flat areas", percent(flat_share))
        };
        (Method::SimulatedProcess, format!("{why}, so inks must mix in halftone dots."))
    };
    let reason = capital(&reason);
    MethodAdvice {
        method,
        reason,
        flat_colors: flat,
        flat_share,
        gradient_share,
        busy_share,
        few_colors_share,
        edge_width_px,
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Block means differ by this much (of the whole range, any channel) in a gradient.
const STEP: (f64, f64) = (0.006, 0.08);

/// What a block of pixels is.
#[derive(Clone, Copy, PartialEq)]
enum Block {
    Clear,
    Busy,
    Smooth([f64; 3]),
}

/// Shares of flat, gradient and busy blocks among those that are not clear.
fn shares(picture: &Picture) -> [f64; 3] {
    let (w, h) = (picture.width(), picture.height());
    let side = if w.max(h) < 500 { 4 } else { 8 };
    let (across, down) = (w / side, h / side);
    if across == 0 || down == 0 {
        return [0.0, 0.0, 1.0];
    }
    let blocks = Plane::from_fn(across, down, |bx, by| block(picture, bx * side, by * side, side));
    let counts = (0..down)
        .into_par_iter()
        .map(|y| {
            let mut counts = [0u64; 3];
            for x in 0..across {
                let Block::Smooth(mean) = blocks.get(x, y) else {
                    counts[2] += u64::from(blocks.get(x, y) == Block::Busy);
                    continue;
                };
                let around = [(x.wrapping_sub(1), y), (x + 1, y), (x, y.wrapping_sub(1)), (x, y + 1)];
                let sloping =
                    around.into_iter().filter(|&(x, y)| x < across && y < down).any(|(x, y)| match blocks.get(x, y) {
                        Block::Smooth(other) => {
                            let step = (0..3).map(|i| (mean[i] - other[i]).abs()).fold(0.0, f64::max);
                            (STEP.0..STEP.1).contains(&step)
                        }
                        _ => false,
                    });
                counts[usize::from(sloping)] += 1;
            }
            counts
        })
        .reduce(|| [0; 3], |a, b| [a[0] + b[0], a[1] + b[1], a[2] + b[2]]);
    let total = counts.iter().sum::<u64>().max(1) as f64;
    counts.map(|c| c as f64 / total)
}

fn block(picture: &Picture, x0: usize, y0: usize, side: usize) -> Block {
    let pixels = picture.pixels();
    let mut sum = [0u64; 3];
    let (mut clear, mut part) = (0, 0);
    for y in y0..y0 + side {
        let row = &pixels.row(y)[x0..x0 + side];
        for (x, p) in row.iter().enumerate() {
            if p[3] == 0 {
                clear += 1;
            } else if p[3] < OPAQUE {
                part += 1;
            }
            (0..3).for_each(|i| sum[i] += u64::from(p[i]));
            let right = row.get(x + 1).is_none_or(|q| alike(p, q));
            let below = y + 1 == y0 + side || alike(p, &pixels.get(x0 + x, y + 1));
            if p[3] > 0 && !(right && below) {
                return Block::Busy;
            }
        }
    }
    match (clear, part) {
        (n, _) if n == side * side => Block::Clear,
        (0, 0) => Block::Smooth(sum.map(|s| s as f64 / (side * side) as f64 / 65535.0)),
        _ => Block::Busy,
    }
}

fn edge_width_px(picture: &Picture) -> Option<f64> {
    let (w, h) = (picture.width(), picture.height());
    if w < 3 || h < 3 {
        return None;
    }
    let (cw, ch) = (w.min(EDGE_WINDOW), h.min(EDGE_WINDOW));
    let (left, top) = ((w - cw) / 2, (h - ch) / 2);
    let pixels = picture.pixels();
    let middle = Picture::new(Plane::from_fn(cw, ch, |x, y| pixels.get(left + x, top + y)));
    // At 25.4 pixels an inch a pixel is a millimetre.
    let ruling = Lpi::new(45.0).ok()?;
    find_soft_edges(&middle, 25.4, ruling).median_width_mm
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::FULL;
    use crate::separate::flat::opaque;

    fn rings(x: usize, y: usize) -> usize {
        ((x as f64 - 150.0).hypot(y as f64 - 100.0) / 37.0) as usize % 3
    }

    #[test]
    fn drawn_art_is_spot_art() {
        let colors = [opaque("#C8202F"), opaque("#F4E6C0"), opaque("#16161A")];
        let advice = advise_method(&Picture::new(Plane::from_fn(300, 200, |x, y| colors[rings(x, y)])));
        assert_eq!(advice.method, Method::SpotArt, "{advice:?}");
        assert_eq!(advice.flat_colors.len(), 3);
        assert!(advice.reason.contains("3 flat colours"), "{}", advice.reason);
        assert!(advice.edge_width_px.is_some_and(|px| px < 3.0), "{advice:?}");
    }

    #[test]
    fn gradients_want_tones() {
        let picture = Picture::new(Plane::from_fn(300, 200, |x, y| {
            [(x * 200) as u16, (y * 300) as u16, 20_000 + (x * 60 + y * 40) as u16, FULL]
        }));
        let advice = advise_method(&picture);
        assert_eq!(advice.method, Method::SimulatedProcess, "{advice:?}");
        assert!(advice.gradient_share > 0.8 && advice.reason.contains("gradients"), "{advice:?}");
    }

    #[test]
    fn art_that_is_made_of_dots_is_for_index() {
        let colors = [opaque("#C8202F"), opaque("#F4E6C0"), opaque("#16161A"), opaque("#2C6FB7")];
        let picture = Picture::new(Plane::from_fn(300, 200, |x, y| {
            let (cell_x, cell_y) = (x / 3, y / 3);
            colors[(cell_x * 7919 + cell_y * 104_729 + cell_x * cell_y) % 4]
        }));
        let advice = advise_method(&picture);
        assert_eq!(advice.method, Method::Index, "{advice:?}");
    }
}
