//! Four squares round a print say where it lies: the one at the upper left has a hole, which tells which way is up. A
//! picture of the print may be turned and in perspective; lenses are taken as straight.

use strikeoff_core::raster::Picture;

use super::marks::Square;
use super::sample::smooth;
use super::solve::solve;

/// Side of a corner mark.
pub(crate) const MARK_MM: f64 = 8.0;
/// From the sheet's edge to the mark.
const INSET_MM: f64 = 2.0;
/// Half the side of the hole.
pub(super) const HOLE_MM: f64 = MARK_MM / 5.0;

/// Whether a place of a sheet is in a corner mark; none where no mark has its place.
pub(crate) fn corner_mark(at: [f64; 2], size: [f64; 2]) -> Option<bool> {
    let corner: [f64; 2] = std::array::from_fn(|i| at[i].min(size[i] - at[i]));
    if !corner.iter().all(|v| (INSET_MM..INSET_MM + MARK_MM).contains(v)) {
        return None;
    }
    let middle = corner.iter().all(|v| (v - INSET_MM - MARK_MM / 2.0).abs() < HOLE_MM);
    Some(!(middle && at[0] < size[0] / 2.0 && at[1] < size[1] / 2.0))
}

/// How far the marks' corners may lie from where their middles put them, in sides.
const MOST_OFF: f64 = 0.18;

/// Middles of the marks: upper left, upper right, lower left, lower right.
pub(super) fn middles(size: [f64; 2]) -> [[f64; 2]; 4] {
    let near = INSET_MM + MARK_MM / 2.0;
    let far = size.map(|v| v - near);
    [[near, near], [far[0], near], [near, far[1]], [far[0], far[1]]]
}

/// From millimetres of a sheet to pixels of the picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    by: [f64; 8],
    /// The sheet, in mm.
    pub size: [f64; 2],
}

impl Frame {
    fn of(size: [f64; 2], seen: [[f64; 2]; 4]) -> Option<Self> {
        let mut rows = Vec::new();
        let mut values = Vec::new();
        for ([x, y], [u, v]) in middles(size).into_iter().zip(seen) {
            rows.push(vec![x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y]);
            rows.push(vec![0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y]);
            values.extend([u, v]);
        }
        let by: [f64; 8] = solve(rows, values)?.try_into().ok()?;
        Some(Self { by, size })
    }

    /// The pixel of a place of the sheet.
    pub fn at(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let b = &self.by;
        let w = b[6] * x + b[7] * y + 1.0;
        [(b[0] * x + b[1] * y + b[2]) / w, (b[3] * x + b[4] * y + b[5]) / w]
    }

    /// Pixels a millimetre at a place.
    pub fn scale(&self, [x, y]: [f64; 2]) -> f64 {
        let (a, b, c) = (self.at([x, y]), self.at([x + 1.0, y]), self.at([x, y + 1.0]));
        ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs().sqrt()
    }

    /// Pixels a millimetre at the marks.
    pub fn scales(&self) -> [f64; 4] {
        middles(self.size).map(|at| self.scale(at))
    }

    fn has_marks(&self, picture: &Picture) -> bool {
        (0..4).all(|at| self.has_mark(picture, at))
    }

    /// Whether a mark is of one tone on a surround of one tone, the first with its hole: patches and numbers that stand as
    /// marks would are not.
    fn has_mark(&self, picture: &Picture, at: usize) -> bool {
        let middle = middles(self.size)[at];
        let ring = |half: f64| -> Vec<f64> {
            let steps = [-1.0, -0.5, 0.0, 0.5, 1.0];
            let sides = steps.into_iter().flat_map(|t| [[t, -1.0], [t, 1.0], [-1.0, t], [1.0, t]]);
            sides.map(|[u, v]| smooth(picture, self.at([middle[0] + u * half, middle[1] + v * half]))).collect()
        };
        let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
        let (ink, ground) = (ring(2.8), ring(5.3));
        let (in_ink, on_ground) = (mean(&ink), mean(&ground));
        let apart = in_ink - on_ground;
        let even = |of: &[f64], mean: f64| of.iter().all(|v| (v - mean).abs() < 0.4 * apart.abs());
        let inside = (smooth(picture, self.at(middle)) - on_ground) / apart;
        let hole = if at == 0 { inside < 0.6 } else { inside > 0.6 };
        apart.abs() > 0.04 && even(&ink, in_ink) && even(&ground, on_ground) && hole
    }

    /// Lines of 3 mm across the edges of the marks, from outside to inside, with their ends in mm: within the rim of the card.
    pub fn edges(&self) -> Vec<[[f64; 2]; 2]> {
        let half = MARK_MM / 2.0;
        let across = [[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]];
        let lines = middles(self.size)
            .into_iter()
            .flat_map(|[x, y]| across.map(|[u, v]| [1.5, -1.5].map(|d| [x + u * (half + d), y + v * (half + d)])));
        lines.collect()
    }
}

/// What was looked for.
pub(super) enum Found {
    Whole(Frame),
    /// Three marks, and the place of the fourth lies outside the picture.
    Cropped,
    /// Nothing like it.
    Missing,
}

/// The sheet of a size among squares of a picture so wide and high.
pub(super) fn find(squares: &[Square], size: [f64; 2], picture: &Picture) -> Found {
    let whole = [size[0] - 2.0 * INSET_MM - MARK_MM, size[1] - 2.0 * INSET_MM - MARK_MM].map(|v| v / MARK_MM);
    // How far apart two marks are in their own sides, and how large against each other, as perspective leaves it.
    let apart = |a: &Square, b: &Square, due: f64| {
        let side = (a.side * b.side).sqrt();
        let far = (a.middle[0] - b.middle[0]).hypot(a.middle[1] - b.middle[1]) / side;
        (0.6..1.7).contains(&(far / due)) && (0.5..2.0).contains(&(a.side / b.side))
    };
    let mut best: Option<(f64, Frame)> = None;
    for up in squares.iter().filter(|s| s.hole) {
        let rights: Vec<&Square> = squares.iter().filter(|s| !s.hole && apart(up, s, whole[0])).collect();
        let downs: Vec<&Square> = squares.iter().filter(|s| !s.hole && apart(up, s, whole[1])).collect();
        for right in &rights {
            for down in &downs {
                let (r, d) = (less(right.middle, up.middle), less(down.middle, up.middle));
                if r[0] * d[1] - r[1] * d[0] <= 0.0 {
                    continue;
                }
                let fourth = [right.middle[0] + d[0], right.middle[1] + d[1]];
                let reach = 0.35 * r[0].hypot(r[1]).min(d[0].hypot(d[1])) + up.side;
                for last in squares.iter().filter(|s| !s.hole && far(s.middle, fourth) < reach) {
                    let four = [up, right, down, last];
                    let Some(frame) = Frame::of(size, four.map(|s| s.middle)) else { continue };
                    let off = off(&frame, four);
                    let better = best.as_ref().is_none_or(|(least, _)| off < *least);
                    if off < MOST_OFF && better && frame.has_marks(picture) {
                        best = Some((off, frame));
                    }
                }
            }
        }
    }
    match best {
        Some((_, frame)) => Found::Whole(frame),
        None if cropped(squares, size, whole, picture) => Found::Cropped,
        None => Found::Missing,
    }
}

fn less(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

fn far(a: [f64; 2], b: [f64; 2]) -> f64 {
    let by = less(a, b);
    by[0].hypot(by[1])
}

/// How far the marks' corners lie from where four middles put them, in sides of the mark.
fn off(frame: &Frame, four: [&Square; 4]) -> f64 {
    let half = MARK_MM / 2.0;
    let mut sum = 0.0;
    for (square, [x, y]) in four.into_iter().zip(middles(frame.size)) {
        for [u, v] in [[-half, -half], [half, -half], [-half, half], [half, half]] {
            let due = frame.at([x + u, y + v]);
            let nearest = square.corners.iter().map(|c| far(*c, due)).fold(f64::INFINITY, f64::min);
            sum += nearest / square.side;
        }
    }
    sum / 16.0
}

/// Whether three squares are marks of the sheet and the place of the fourth lies outside the picture or at its rim.
fn cropped(squares: &[Square], size: [f64; 2], whole: [f64; 2], picture: &Picture) -> bool {
    let fits = |a: &Square, b: &Square, due: f64| {
        let side = (a.side * b.side).sqrt();
        (0.8..1.25).contains(&(far(a.middle, b.middle) / side / due)) && (0.7..1.4).contains(&(a.side / b.side))
    };
    let rim = [picture.width() as f64, picture.height() as f64];
    for bend in squares {
        for long in squares.iter().filter(|s| fits(bend, s, whole[0])) {
            for short in squares.iter().filter(|s| fits(bend, s, whole[1])) {
                let d = less(short.middle, bend.middle);
                let fourth = [long.middle[0] + d[0], long.middle[1] + d[1]];
                let out = (0..2).any(|i| fourth[i] < bend.side || fourth[i] > rim[i] - bend.side);
                // The bend may be any of the four corners; the fourth lies across from it.
                let seen = |corner: usize| {
                    let mut four = [[0.0; 2]; 4];
                    four[corner] = bend.middle;
                    four[corner ^ 1] = long.middle;
                    four[corner ^ 2] = short.middle;
                    four[corner ^ 3] = fourth;
                    let turned = less(four[1], four[0]);
                    let down = less(four[2], four[0]);
                    let upright = turned[0] * down[1] - turned[1] * down[0] > 0.0;
                    let marks = (0..4).filter(|at| *at != corner ^ 3);
                    upright
                        && Frame::of(size, four)
                            .is_some_and(|frame| marks.into_iter().all(|at| frame.has_mark(picture, at)))
                };
                if out && (0..4).any(seen) {
                    return true;
                }
            }
        }
    }
    false
}
