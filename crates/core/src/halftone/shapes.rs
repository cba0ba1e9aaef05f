//! Flat shapes print as shapes. Where two flat areas meet (solid and clear, a tint and clear, two tints), the
//! pixels between them are no tones: they say how much of a pixel each side covers. Screened as tones they
//! would make letters of dots. Here such pixels are found, and the film's pixels in them belong to one side or
//! the other: by the edge that the pixels' areas give ([`Border`]), at corners and hairs by the coverage enlarged
//! smoothly to the film's resolution; only the sides themselves are screened.

use super::borders::Border;
use crate::raster::Plane;

/// Pixels about a pixel that must be of two flat areas, each way: as far as an edge of enlarged art is wide.
pub(super) const REACH: usize = 4;
/// How far values of one flat area may be apart.
pub(super) const FLAT: u16 = 1_311;
/// Least difference of two areas that has an edge.
pub(super) const APART: u16 = 9_830;
/// Share of the pixels about an edge that lie in one of the areas; the rest are between them.
const IN_AREAS: usize = 49;
/// Least pixels of each.
const OF_EACH: usize = 3;

/// A pixel on the edge of a shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    /// Its place in the row.
    pub x: u32,
    /// Coverage of the lighter area.
    pub low: u16,
    /// Coverage of the fuller area.
    pub high: u16,
    /// Where it runs, if nothing else is near.
    pub border: Option<Border>,
}

impl Edge {
    fn at(lines: &Lines<'_>, x: usize, low: u16, high: u16) -> Self {
        let border = Border::through(lines, x, low, high).or_else(|| Border::hair(lines, x));
        Self { x: x as u32, low, high, border }
    }

    /// Whether a coverage between the areas' is of the fuller one.
    pub fn is_full(&self, value: f32) -> bool {
        value * 2.0 > f32::from(self.low) + f32::from(self.high)
    }
}

/// Lines of a plane about one, from [`REACH`] before it to as many after it; at the plane's ends its last.
pub(super) type Lines<'a> = [&'a [u16]; 2 * REACH + 1];

/// The pixels at the edges of flat shapes in the middle one of a few lines, from left to right: those with
/// pixels of two flat areas about them and little else. What is nearly of one area is taken for it there, or a
/// solid that art was sharpened to would have pinholes along its edge.
pub(super) fn edges_of_line(lines: Lines<'_>, out: &mut Vec<Edge>) {
    out.clear();
    let width = lines[REACH].len();
    let (mut low, mut high) = (lines[0].to_vec(), lines[0].to_vec());
    for line in &lines[1..] {
        for ((low, high), &v) in low.iter_mut().zip(&mut high).zip(*line) {
            (*low, *high) = ((*low).min(v), (*high).max(v));
        }
    }
    let apart = |from: usize, to: usize| {
        let columns = from.saturating_sub(REACH)..(to + REACH).min(width);
        let least = low[columns.clone()].iter().copied().min().unwrap_or(0);
        let most = high[columns].iter().copied().max().unwrap_or(0);
        (least, most, most - least >= APART)
    };
    // Most of a plane has no contrast to speak of within a few pixels.
    for from in (0..width).step_by(STRIDE) {
        let to = (from + STRIDE).min(width);
        if !apart(from, to).2 {
            continue;
        }
        for x in from..to {
            let (least, most, steep) = apart(x, x + 1);
            let own = lines[REACH][x];
            if steep && (own <= FLAT || u16::MAX - own <= FLAT) {
                // All but clear or solid beside a contrast: clear or solid.
                out.push(Edge::at(&lines, x, 0, u16::MAX));
            } else if steep && let Some(hair) = Border::hair(&lines, x) {
                // It may be solid nowhere.
                out.push(Edge { x: x as u32, low: 0, high: u16::MAX, border: Some(hair) });
            } else if steep
                && seems_flat(lines, x, least, most)
                && let Some((low, high)) = areas_about(lines, x)
            {
                out.push(Edge::at(&lines, x, low, high));
            }
        }
    }
}

/// Pixels that are looked at together.
const STRIDE: usize = 8;

/// Whether most of a pixel's own row or column lies in one of two areas: texture is turned away at this.
fn seems_flat(lines: Lines<'_>, x: usize, low: u16, high: u16) -> bool {
    let flat = |v: u16| v - low <= FLAT || high - v <= FLAT;
    let columns = x.saturating_sub(REACH)..(x + REACH + 1).min(lines[0].len());
    let along = lines[REACH][columns].iter().filter(|v| flat(**v)).count();
    along > REACH || lines.iter().filter(|line| flat(line[x])).count() > REACH
}

/// The coverages of the two flat areas about a pixel, if there are two and little between them.
fn areas_about(lines: Lines<'_>, x: usize) -> Option<(u16, u16)> {
    let columns = x.saturating_sub(REACH)..(x + REACH + 1).min(lines[0].len());
    let values = || lines.iter().flat_map(|line| line[columns.clone()].iter().copied());
    let (low, high) = values().fold((u16::MAX, 0), |(low, high), v| (low.min(v), high.max(v)));
    let (mut lows, mut highs, mut all) = (0usize, 0usize, 0usize);
    for v in values() {
        lows += usize::from(v - low <= FLAT);
        highs += usize::from(high - v <= FLAT);
        all += 1;
    }
    let whole = (2 * REACH + 1).pow(2);
    let flat = high - low >= APART && lows >= OF_EACH && highs >= OF_EACH && (lows + highs) * whole >= IN_AREAS * all;
    flat.then_some((low, high))
}

/// Catmull and Rom's cubic through four values.
fn cubic(v: [f32; 4], t: f32) -> f32 {
    let [a, b, c, d] = v;
    b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)))
}

/// The plane's value between its pixels, given in pixels from the middle of the first.
pub(super) fn smooth_at(plane: &Plane<u16>, x: f32, y: f32) -> f32 {
    let (left, top) = (x.floor(), y.floor());
    let held = |at: f32, of: usize| at.clamp(0.0, (of - 1) as f32) as usize;
    let column = |k: i32| held(left + k as f32, plane.width());
    let columns = [column(-1), column(0), column(1), column(2)];
    let row = |k: i32| {
        let row = plane.row(held(top + k as f32, plane.height()));
        cubic(columns.map(|x| f32::from(row[x])), x - left)
    };
    cubic([row(-1), row(0), row(1), row(2)], y - top)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A disc drawn with exact coverage of pixels (sixteen times finer, counted), none to solid.
    fn disc(side: usize, radius: f64) -> Plane<u16> {
        let middle = side as f64 / 2.0;
        Plane::from_fn(side, side, |x, y| {
            let inside = (0..256).filter(|at| {
                let (dx, dy) = ((at % 16) as f64 / 16.0 + 1.0 / 32.0, (at / 16) as f64 / 16.0 + 1.0 / 32.0);
                (x as f64 + dx - middle).hypot(y as f64 + dy - middle) < radius
            });
            (inside.count() * 65_535 / 256) as u16
        })
    }

    fn edges(plane: &Plane<u16>, y: usize) -> Vec<Edge> {
        let near = |k: usize| plane.row((y + k).saturating_sub(REACH).min(plane.height() - 1));
        let mut out = Vec::new();
        edges_of_line(std::array::from_fn(near), &mut out);
        out
    }

    #[test]
    fn the_edge_of_a_disc_is_found_and_smooth() {
        let plane = disc(80, 27.3);
        for y in 0..80 {
            let found = edges(&plane, y);
            for x in 0..80 {
                let between = (1..65_535).contains(&plane.get(x, y));
                let edge = found.iter().any(|edge| edge.x == x as u32);
                assert!(!between || edge, "{x} {y} is between and no edge");
            }
        }
        // Along the circle the smooth value is one half.
        for step in 0..360 {
            let (sin, cos) = f64::from(step).to_radians().sin_cos();
            let at =
                |radius: f64| smooth_at(&plane, (40.0 + radius * cos - 0.5) as f32, (40.0 + radius * sin - 0.5) as f32);
            assert!(at(27.3 - 0.13) > 32_768.0 && at(27.3 + 0.13) < 32_768.0, "at {step} degrees");
        }
    }

    /// A picture's soft edges and ramps are tones.
    #[test]
    fn soft_edges_and_ramps_are_no_shapes() {
        let ramp = Plane::from_fn(60, 40, |x, _| (x * 1_100) as u16);
        let soft = Plane::from_fn(60, 40, |x, _| (((x as f32 - 30.0) / 4.0).tanh() * 32_000.0 + 32_768.0) as u16);
        for plane in [ramp, soft] {
            assert!((0..40).all(|y| edges(&plane, y).is_empty()));
        }
    }
}
