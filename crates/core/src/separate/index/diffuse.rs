//! Error diffusion to a few colours: every dot takes the colour nearest to what is wanted there,
//! and what it misses is handed to its neighbours that are still to come.
//!
//! Weights 7, 3, 5 and 1 sixteenths: Floyd and Steinberg, "An adaptive algorithm for spatial grey
//! scale", Proceedings of the Society for Information Display 17 (2), 1976. Rows run to and fro,
//! which keeps patterns from leaning one way (Ulichney, "Digital Halftoning", 1987).
//!
//! Errors are those of light, since that is what adds up on the shirt. The nearest colour is found
//! on axes where lightness counts more than colour: the eye sees the grain of lightness first. Any
//! straight change of axes keeps the errors bounded as long as what is wanted can be mixed, but the
//! less an axis counts the further its errors run, so colour counts only a little less.

use crate::raster::Plane;
use crate::{Cancelled, Progress};

/// What a dot wants.
#[derive(Debug, Clone, Copy)]
pub(super) struct DotTarget {
    /// Linear light.
    pub light: [f32; 3],
    /// The colour that the dot takes whatever its light; it then hands nothing on.
    pub fixed: Option<u8>,
}

/// From linear light to lightness and two differences of colour.
fn axes([r, g, b]: [f32; 3]) -> [f32; 3] {
    let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    [y, 0.7 * (r - y), 0.6 * (b - y)]
}

/// Most error of light that a dot hands on. Errors of what can be mixed stay well below it; one
/// that is cut off is light lost.
const MOST_ERROR: f32 = 4.0;

/// The colour of every dot, by its place in `colors`.
pub(super) fn diffuse(
    targets: &Plane<DotTarget>,
    colors: &[[f32; 3]],
    progress: &Progress,
) -> Result<Plane<u8>, Cancelled> {
    let (width, height) = (targets.width(), targets.height());
    let mut out = Plane::filled(width, height, 0u8);
    let on_axes: Vec<[f32; 3]> = colors.iter().map(|&c| axes(c)).collect();
    // One dot to spare at either end.
    let mut now = vec![[0.0f32; 3]; width + 2];
    let mut next = vec![[0.0f32; 3]; width + 2];
    for y in 0..height {
        if y % 64 == 0 {
            progress.step("place dots", y as f32 / height as f32)?;
        }
        let row = targets.row(y);
        let dots = out.row_mut(y);
        let leftwards = y % 2 == 1;
        for step in 0..width {
            let x = if leftwards { width - 1 - step } else { step };
            let (ahead, behind) = if leftwards { (x, x + 2) } else { (x + 2, x) };
            if let Some(dot) = row[x].fixed {
                dots[x] = dot;
                continue;
            }
            let light: [f32; 3] = std::array::from_fn(|i| row[x].light[i] + now[x + 1][i]);
            let dot = nearest(axes(light), &on_axes);
            dots[x] = dot as u8;
            for i in 0..3 {
                // Only a wish that cannot be mixed could pile errors up.
                let error = (light[i] - colors[dot][i]).clamp(-MOST_ERROR, MOST_ERROR) / 16.0;
                now[ahead][i] += 7.0 * error;
                next[behind][i] += 3.0 * error;
                next[x + 1][i] += 5.0 * error;
                next[ahead][i] += error;
            }
        }
        std::mem::swap(&mut now, &mut next);
        next.fill([0.0; 3]);
    }
    Ok(out)
}

fn nearest(light: [f32; 3], colors: &[[f32; 3]]) -> usize {
    let mut best = (0, f32::INFINITY);
    for (at, color) in colors.iter().enumerate() {
        let d = (0..3).map(|i| (light[i] - color[i]).powi(2)).sum::<f32>();
        if d < best.1 {
            best = (at, d);
        }
    }
    best.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(targets: Plane<DotTarget>, colors: &[[f32; 3]]) -> Plane<u8> {
        diffuse(&targets, colors, &Progress::none()).unwrap()
    }

    fn grey(v: f32) -> DotTarget {
        DotTarget { light: [v; 3], fixed: None }
    }

    /// The paper's filter on its own terms: one grey scale, black and white, followed by hand with
    /// exact sixteenths over the first dots of two rows (the second runs back).
    #[test]
    fn weights_are_those_of_floyd_and_steinberg() {
        let colors = [[0.0; 3], [1.0; 3]];
        let targets = Plane::from_fn(3, 2, |_, _| grey(0.375));
        let got = run(targets, &colors);
        let mut rows = [[0.375f64; 3]; 2];
        let mut want = [[0u8; 3]; 2];
        for y in 0..2 {
            let order: [usize; 3] = if y == 0 { [0, 1, 2] } else { [2, 1, 0] };
            for x in order {
                let white = rows[y][x] >= 0.5;
                want[y][x] = u8::from(white);
                let error = rows[y][x] - f64::from(u8::from(white));
                let forward: i64 = if y == 0 { 1 } else { -1 };
                for (dx, dy, w) in [(forward, 0, 7.0), (-forward, 1, 3.0), (0, 1, 5.0), (forward, 1, 1.0)] {
                    let (tx, ty) = (x as i64 + dx, y + dy);
                    if (0..3).contains(&tx) && ty < 2 {
                        rows[ty][tx as usize] += error * w / 16.0;
                    }
                }
            }
        }
        assert_eq!(got.data(), want.concat());
    }

    #[test]
    fn light_is_kept_for_tones_and_for_colours() {
        let colors = [[0.02, 0.02, 0.03], [0.8, 0.8, 0.78], [0.6, 0.05, 0.05], [0.7, 0.5, 0.02]];
        for weights in [[0.7, 0.1, 0.15, 0.05], [0.05, 0.6, 0.05, 0.3], [0.25; 4]] {
            let light: [f32; 3] =
                std::array::from_fn(|i| colors.iter().zip(weights).map(|(c, w): (_, f32)| c[i] * w).sum());
            let got = run(Plane::filled(200, 200, DotTarget { light, fixed: None }), &colors);
            for i in 0..3 {
                let mean = got.data().iter().map(|&d| colors[usize::from(d)][i]).sum::<f32>() / 40_000.0;
                assert!((mean - light[i]).abs() < 4e-3, "{weights:?}: channel {i} {mean} for {}", light[i]);
            }
        }
    }

    #[test]
    fn fixed_dots_take_their_colour_and_hand_nothing_on() {
        let colors = [[0.0; 3], [1.0; 3]];
        let targets = Plane::from_fn(60, 60, |x, _| DotTarget {
            light: [if x < 30 { 0.5 } else { 0.9 }; 3],
            fixed: (x >= 30).then_some(0),
        });
        let got = run(targets, &colors);
        for y in 0..60 {
            assert!(got.row(y)[30..].iter().all(|&d| d == 0));
        }
        let ink = got.data().iter().filter(|&&d| d == 1).count();
        assert!((ink as f64 / 1800.0 - 0.5).abs() < 0.02, "{ink}");
    }
}
