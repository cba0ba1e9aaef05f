//! The colours that one dot of an index separation can have, and for every colour of the art the
//! nearest one that such dots can mix: dots lie side by side, so what they mix is the hull of
//! their colours in light, and a colour outside it is brought to its nearest place on it.

use rayon::prelude::*;

use crate::color::{ciede2000, encode, lab_from_linear, linearize};
use crate::ink::{Garment, InkRole};
use crate::separate::model::{MAX_SCREENS, oklab, oklab_slopes};
use crate::separate::plan::Plan;
use crate::separate::solids::solid_sets;
use crate::separate::{ScreenPart, SeparationSettings};

/// A colour that a dot can have.
#[derive(Debug, Clone)]
pub(in crate::separate) struct DotColor {
    /// Screens that print it; none: bare fabric.
    pub screens: Vec<usize>,
    /// Linear light.
    pub light: [f32; 3],
}

/// Colours nearer to each other than this (CIEDE2000) are one; the one with fewer screens stays.
const SAME: f32 = 1.0;

/// Bare fabric, then every ink that differs: on the underbase if there is one and the ink is not
/// black, on the fabric otherwise; and the underbase by itself as a white.
pub(in crate::separate) fn dot_colors(settings: &SeparationSettings, garment: &Garment, plan: &Plan) -> Vec<DotColor> {
    let parts = settings.parts(garment.is_white());
    let sets = solid_sets(settings, garment);
    let is_base = |i: &usize| parts[*i] == ScreenPart::Underbase;
    let bases = sets.iter().map(|s| s.iter().filter(|i| is_base(i)).count()).max().unwrap_or(0);
    let mut found: Vec<DotColor> = Vec::new();
    for set in &sets {
        let ink = set.iter().find(|i| !is_base(i));
        let under = set.iter().filter(|i| is_base(i)).count();
        // One way for every ink, so that a dot and its base always come together.
        let based = ink.is_some_and(|&i| {
            let screen = &settings.screens[i];
            screen.ink.role != InkRole::Black && settings.underbase.goes_under(&screen.name)
        });
        if ink.is_some() && under != if based { bases } else { 0 } {
            continue;
        }
        let mut a = [0.0; MAX_SCREENS];
        set.iter().for_each(|&i| a[i] = 1.0);
        let light = plan.model.reflectance(&a);
        let same = |other: &DotColor| ciede2000(lab_from_linear(other.light), lab_from_linear(light)) < SAME;
        if !found.iter().any(same) {
            found.push(DotColor { screens: set.clone(), light });
        }
    }
    found
}

/// Nodes a side of the table.
const SIDE: usize = 17;

/// The nearest colour that dots can mix, for every colour.
pub(super) struct Reach {
    /// sRGB-encoded, so that what is within reach comes back as it was.
    nodes: Vec<[f32; 3]>,
}

impl Reach {
    pub fn of(colors: &[DotColor], hue_keeping: f32) -> Self {
        let nodes = (0..SIDE * SIDE * SIDE)
            .into_par_iter()
            .map(|at| {
                let node = [at / (SIDE * SIDE), at / SIDE % SIDE, at % SIDE];
                let color = node.map(|v| linearize(v as f32 / (SIDE - 1) as f32));
                nearest_mix(colors, color, hue_keeping).map(encode)
            })
            .collect();
        Self { nodes }
    }

    /// Linear light to linear light, between the table's nodes by tetrahedral interpolation: greys
    /// are read from grey nodes alone. Where they are the edge of what dots can mix, nodes of other
    /// colours beside them would tint them.
    pub fn nearest(&self, light: [f32; 3]) -> [f32; 3] {
        let place = light.map(|v| encode(v) * (SIDE - 1) as f32);
        let low = place.map(|p| (p as usize).min(SIDE - 2));
        let part: [f32; 3] = std::array::from_fn(|i| place[i] - low[i] as f32);
        // From the low corner to the high one along the axes, the longest way first.
        let mut order = [0, 1, 2];
        order.sort_unstable_by(|&a: &usize, &b| part[b].total_cmp(&part[a]));
        let mut corner = low;
        let mut sum = [0.0f32; 3];
        let [far, middle, near] = order;
        let weights = [1.0 - part[far], part[far] - part[middle], part[middle] - part[near], part[near]];
        for (step, weight) in weights.into_iter().enumerate() {
            if step > 0 {
                corner[order[step - 1]] += 1;
            }
            let node = self.nodes[(corner[0] * SIDE + corner[1]) * SIDE + corner[2]];
            for i in 0..3 {
                sum[i] += weight * node[i];
            }
        }
        sum.map(linearize)
    }
}

/// The mix of colours (weights none or more that add up to one) that is nearest to `color` in
/// OKLab, an error of hue counting more. Gauss-Newton: each step is the nearest point of a hull to
/// a point, found by moving weight from the worst colour in use to the best one.
pub(in crate::separate) fn nearest_mix(colors: &[DotColor], color: [f32; 3], hue_keeping: f32) -> [f32; 3] {
    let hue = 8.0 * hue_keeping;
    let target = oklab(color);
    let chroma = target[1].hypot(target[2]);
    let (cos, sin) = if chroma > 1e-6 { (target[1] / chroma, target[2] / chroma) } else { (1.0, 0.0) };
    let hue_weight = (1.0 + hue * chroma / (chroma + 0.05)).sqrt();
    let weigh = |d: [f32; 3]| [d[0], cos * d[1] + sin * d[2], hue_weight * (cos * d[2] - sin * d[1])];
    let error = |light: [f32; 3]| {
        let lab = oklab(light);
        weigh(std::array::from_fn(|i| lab[i] - target[i]))
    };
    let square = |v: [f32; 3]| v.iter().map(|x| x * x).sum::<f32>();
    let start =
        (0..colors.len()).min_by(|&a, &b| square(error(colors[a].light)).total_cmp(&square(error(colors[b].light))));
    let mut weights = vec![0.0f32; colors.len()];
    weights[start.unwrap_or(0)] = 1.0;
    let mix = |w: &[f32]| {
        let mut light = [0.0f32; 3];
        for (w, color) in w.iter().zip(colors) {
            (0..3).for_each(|i| light[i] += w * color.light[i]);
        }
        light
    };
    let mut light = mix(&weights);
    let mut best = square(error(light));
    for _ in 0..12 {
        if best < 1e-9 {
            break;
        }
        let (_, slopes) = oklab_slopes(light);
        // Where the straightened error is none: `rows (x - light) + error = 0`.
        let columns: [[f32; 3]; 3] = std::array::from_fn(|c| weigh(std::array::from_fn(|axis| slopes[axis][c])));
        let apply =
            |v: [f32; 3]| -> [f32; 3] { std::array::from_fn(|axis| (0..3).map(|c| columns[c][axis] * v[c]).sum()) };
        let now = error(light);
        let points: Vec<[f32; 3]> = colors
            .iter()
            .map(|c| {
                let step = apply(std::array::from_fn(|i| c.light[i] - light[i]));
                std::array::from_fn(|i| step[i] + now[i])
            })
            .collect();
        let tried = nearest_to_origin(&points, &weights);
        // Half steps where the straight picture went too far.
        let mut improved = false;
        for part in [1.0f32, 0.5, 0.25, 0.1] {
            let between: Vec<f32> = weights.iter().zip(&tried).map(|(w, t)| w + part * (t - w)).collect();
            let there = mix(&between);
            let value = square(error(there));
            if value < best * 0.9999 {
                (weights, light, best, improved) = (between, there, value, true);
                break;
            }
        }
        if !improved {
            break;
        }
    }
    light
}

/// Weights of the point of a hull that is nearest to the origin, from weights to start with.
fn nearest_to_origin(points: &[[f32; 3]], start: &[f32]) -> Vec<f32> {
    let dot = |a: &[f32; 3], b: &[f32; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let mut weights = start.to_vec();
    let mut at = [0.0f32; 3];
    for (w, p) in weights.iter().zip(points) {
        (0..3).for_each(|i| at[i] += w * p[i]);
    }
    for _ in 0..60 {
        let slope: Vec<f32> = points.iter().map(|p| dot(p, &at)).collect();
        let all = 0..points.len();
        let (Some(to), Some(from)) = (
            all.clone().min_by(|&a, &b| slope[a].total_cmp(&slope[b])),
            all.filter(|&i| weights[i] > 0.0).max_by(|&a, &b| slope[a].total_cmp(&slope[b])),
        ) else {
            break;
        };
        let way: [f32; 3] = std::array::from_fn(|i| points[to][i] - points[from][i]);
        let length = dot(&way, &way);
        if length < 1e-14 || slope[from] - slope[to] < 1e-9 {
            break;
        }
        let moved = (-dot(&at, &way) / length).clamp(0.0, weights[from]);
        if moved == weights[from] {
            weights[from] = 0.0;
        } else {
            weights[from] -= moved;
        }
        weights[to] += moved;
        (0..3).for_each(|i| at[i] += moved * way[i]);
    }
    weights
}

#[cfg(test)]
mod tests {
    use super::*;

    fn color(light: [f32; 3]) -> DotColor {
        DotColor { screens: vec![], light }
    }

    #[test]
    fn what_dots_can_mix_comes_back_and_what_they_cannot_comes_to_the_hull() {
        let colors = [[0.02; 3], [0.85; 3], [0.6, 0.05, 0.05], [0.05, 0.15, 0.5]].map(color);
        let inside: [f32; 3] =
            std::array::from_fn(|i| [0.3, 0.3, 0.2, 0.2].iter().zip(&colors).map(|(w, c)| w * c.light[i]).sum());
        let got = nearest_mix(&colors, inside, 0.5);
        assert!((0..3).all(|i| (got[i] - inside[i]).abs() < 2e-3), "{got:?} for {inside:?}");
        // A grey mixes from black and white however dark.
        let dark = nearest_mix(&colors, [0.1; 3], 0.5);
        assert!((0..3).all(|i| (dark[i] - 0.1).abs() < 2e-3), "{dark:?}");
        // Blacker than black is black, whiter than white is white.
        assert!(nearest_mix(&colors, [0.0; 3], 0.5).iter().all(|v| (v - 0.02).abs() < 1e-3));
        assert!(nearest_mix(&colors, [1.0; 3], 0.5).iter().all(|v| (v - 0.85).abs() < 1e-3));
        // Greys at the edge of the hull, a green that no ink makes: the table agrees with the direct way.
        let reach = Reach::of(&colors, 0.5);
        for light in [inside, [0.1; 3], [0.4; 3], [0.02, 0.3, 0.05], [0.7, 0.6, 0.1]] {
            let (direct, table) = (nearest_mix(&colors, light, 0.5), reach.nearest(light));
            let d = ciede2000(lab_from_linear(direct), lab_from_linear(table));
            assert!(d < 0.5, "{light:?}: {direct:?} {table:?} {d}");
        }
    }

    /// The nearest point of a triangle to the origin, known by hand.
    #[test]
    fn the_nearest_point_of_a_hull() {
        let points = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let w = nearest_to_origin(&points, &[1.0, 0.0, 0.0]);
        assert!(w.iter().all(|w| (w - 1.0 / 3.0).abs() < 1e-3), "{w:?}");
        let points = [[1.0, -1.0, 0.0], [1.0, 3.0, 0.0], [4.0, 0.0, 0.0]];
        let w = nearest_to_origin(&points, &[0.0, 0.0, 1.0]);
        assert!((w[0] - 0.75).abs() < 1e-3 && (w[1] - 0.25).abs() < 1e-3, "{w:?}");
    }
}
