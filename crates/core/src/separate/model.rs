//! The print model as the solver needs it: a colour in OKLab and its exact derivative by every
//! coverage. Same physics as [`Stack`]; a test holds the two together.

#![expect(clippy::needless_range_loop, reason = "small matrices read best by index")]

use crate::press::{Meeting, Stack};

/// Most screens one separation can have.
pub const MAX_SCREENS: usize = 16;

/// One value a screen; the tail beyond the number of screens is unused.
pub(super) type PerScreen = [f32; MAX_SCREENS];

/// Linear sRGB (D65) to the cone-like responses of OKLab (Ottosson 2020).
const CONES: [[f32; 3]; 3] = [
    [0.412_221_46, 0.536_332_55, 0.051_445_995],
    [0.211_903_5, 0.680_699_5, 0.107_396_96],
    [0.088_302_46, 0.281_718_85, 0.629_978_7],
];
/// Cube roots of those to OKLab.
const OPPONENT: [[f32; 3]; 3] = [
    [0.210_454_26, 0.793_617_8, -0.004_072_047],
    [1.977_998_5, -2.428_592_2, 0.450_593_7],
    [0.025_904_037, 0.782_771_77, -0.808_675_77],
];

/// Light that always comes back from the surface, added before the cube root. Without it OKLab
/// makes much of differences between near-blacks that neither CIELAB (straight below L* 8) nor
/// a shirt in a lit room shows, and black would print on black fabric for nothing.
const FLARE: f32 = 0.004;

/// OKLab of a linear colour with the surface's own light added.
pub(super) fn oklab([r, g, b]: [f32; 3]) -> [f32; 3] {
    let root: [f32; 3] =
        std::array::from_fn(|i| ((CONES[i][0] * r + CONES[i][1] * g + CONES[i][2] * b).max(0.0) + FLARE).cbrt());
    OPPONENT.map(|m| m[0] * root[0] + m[1] * root[1] + m[2] * root[2])
}

/// Light of the grey that is as light as a colour.
pub(super) fn light_as_grey(lab: [f32; 3]) -> f32 {
    (lab[0].powi(3) - FLARE).max(0.0)
}

/// How hard the bend is at the darkest that can be printed.
const KNEE: i32 = 9;

/// A colour brought up to `darkest` (light of a grey), softly, its hue and chroma kept: of two
/// lights that differ much the greater, of equal ones a twelfth more.
pub(super) fn brought_up(lab: [f32; 3], darkest: f32) -> [f32; 3] {
    let (dark, light) = (darkest.min(light_as_grey(lab)), darkest.max(light_as_grey(lab)));
    let light = light * (1.0 + (dark / light.max(1e-9)).powi(KNEE)).powf(1.0 / KNEE as f32);
    [(light + FLARE).cbrt(), lab[1], lab[2]]
}

/// OKLab and its derivative by the linear channels: `[axis][channel]`.
pub(super) fn oklab_slopes([r, g, b]: [f32; 3]) -> ([f32; 3], [[f32; 3]; 3]) {
    let mut root = [0.0; 3];
    let mut slope = [0.0; 3];
    for i in 0..3 {
        let x = CONES[i][0] * r + CONES[i][1] * g + CONES[i][2] * b;
        root[i] = (x.max(0.0) + FLARE).cbrt();
        slope[i] = 1.0 / (3.0 * root[i] * root[i]);
    }
    let lab = OPPONENT.map(|m| m[0] * root[0] + m[1] * root[1] + m[2] * root[2]);
    let slopes = OPPONENT.map(|m| std::array::from_fn(|c| (0..3).map(|i| m[i] * slope[i] * CONES[i][c]).sum()));
    (lab, slopes)
}

/// Screens on a garment, ready for many evaluations.
#[derive(Debug, Clone)]
pub(super) struct SolverModel {
    pub screens: usize,
    garment: [f32; 3],
    scatter: [[f32; 3]; MAX_SCREENS],
    through: [[f32; 3]; MAX_SCREENS],
    /// For n other than 1: all overprints in `R^(1/n)`, bit i set where screen i prints.
    overprints: Vec<[f32; 3]>,
    yule_nielsen: f32,
    /// Screens that do not meet by chance alone.
    meetings: Vec<Meeting>,
    /// The same screens on further garments that they are solved for together. A screen that does not print on a
    /// garment is a layer there that changes nothing.
    pub also_on: Vec<SolverModel>,
}

/// Most garments that screens are solved for together.
pub const MAX_GARMENTS: usize = 4;

impl SolverModel {
    /// Takes a stack's layers; its gain is left out, since screens hold what is meant on the shirt.
    pub fn new(stack: &Stack) -> Self {
        let screens = stack.layers.len();
        assert!(screens <= MAX_SCREENS, "more screens than the solver takes");
        let mut model = Self {
            screens,
            garment: stack.garment,
            scatter: [[0.0; 3]; MAX_SCREENS],
            through: [[1.0; 3]; MAX_SCREENS],
            overprints: Vec::new(),
            yule_nielsen: stack.yule_nielsen,
            meetings: stack.meetings.clone(),
            also_on: Vec::new(),
        };
        for (i, layer) in stack.layers.iter().enumerate() {
            model.scatter[i] = layer.scatter;
            model.through[i] = layer.through;
        }
        if stack.yule_nielsen != 1.0 {
            let root = 1.0 / stack.yule_nielsen;
            model.overprints = (0..1usize << screens)
                .map(|set| {
                    let printed = (0..screens).filter(|i| set >> i & 1 == 1);
                    printed.fold(stack.garment, |r, i| stack.layers[i].over(r)).map(|x| x.max(0.0).powf(root))
                })
                .collect();
        }
        model
    }

    /// It and those of the further garments.
    pub fn garments(&self) -> impl Iterator<Item = &Self> {
        std::iter::once(self).chain(&self.also_on)
    }

    /// Expected reflectance at coverages.
    pub fn reflectance(&self, a: &PerScreen) -> [f32; 3] {
        if self.yule_nielsen != 1.0 {
            return self.overprint_slopes(a).0;
        }
        if !self.meetings.is_empty() {
            return self.meeting_slopes(a).0;
        }
        let mut r = self.garment;
        for i in 0..self.screens {
            for band in 0..3 {
                r[band] += a[i] * (self.scatter[i][band] + self.through[i][band] * r[band] - r[band]);
            }
        }
        r
    }

    /// OKLab at coverages.
    pub fn oklab(&self, a: &PerScreen) -> [f32; 3] {
        oklab(self.reflectance(a))
    }

    /// OKLab at coverages and its derivative by every coverage.
    pub fn oklab_slopes(&self, a: &PerScreen) -> ([f32; 3], [[f32; 3]; MAX_SCREENS]) {
        let (r, by_coverage) = match (self.yule_nielsen == 1.0, self.meetings.is_empty()) {
            (true, true) => self.affine_slopes(a),
            (true, false) => self.meeting_slopes(a),
            (false, _) => self.overprint_slopes(a),
        };
        let (lab, by_light) = oklab_slopes(r);
        let mut out = [[0.0; 3]; MAX_SCREENS];
        for i in 0..self.screens {
            let d = by_coverage[i];
            out[i] = by_light.map(|m| m[0] * d[0] + m[1] * d[1] + m[2] * d[2]);
        }
        (lab, out)
    }

    /// Each screen adds `a (S + T R - R)`; what follows passes on `1 + a (T - 1)` of it.
    fn affine_slopes(&self, a: &PerScreen) -> ([f32; 3], [[f32; 3]; MAX_SCREENS]) {
        let mut r = self.garment;
        let mut slopes = [[0.0; 3]; MAX_SCREENS];
        for i in 0..self.screens {
            for band in 0..3 {
                let change = self.scatter[i][band] + self.through[i][band] * r[band] - r[band];
                slopes[i][band] = change;
                r[band] += a[i] * change;
            }
        }
        let mut passed = [1.0f32; 3];
        for i in (0..self.screens).rev() {
            for band in 0..3 {
                slopes[i][band] *= passed[band];
                passed[band] *= 1.0 + a[i] * (self.through[i][band] - 1.0);
            }
        }
        (r, slopes)
    }

    /// The same where pairs do not meet by chance: each adds its covariance times the mixed derivative, whose
    /// own derivatives are again products of what layers change and pass on.
    fn meeting_slopes(&self, a: &PerScreen) -> ([f32; 3], [[f32; 3]; MAX_SCREENS]) {
        let n = self.screens;
        let (mut r, mut slopes) = self.affine_slopes(a);
        for band in 0..3 {
            let takes: PerScreen = std::array::from_fn(|i| self.through[i][band] - 1.0);
            // What comes through of light from over layer `i` under layer `j`.
            let mut between = [[1.0f32; MAX_SCREENS + 1]; MAX_SCREENS];
            let mut changes = [0.0f32; MAX_SCREENS];
            let mut under = self.garment[band];
            for i in 0..n {
                changes[i] = self.scatter[i][band] + takes[i] * under;
                under += a[i] * changes[i];
                for j in i + 1..n {
                    between[i][j + 1] = between[i][j] * (1.0 + a[j] * takes[j]);
                }
            }
            for meeting in &self.meetings {
                let (i, j) = (meeting.lower, meeting.upper);
                let (covariance, [by_lower, by_upper]) = meeting.table.at(a[i], a[j]);
                let mixed = changes[i] * between[i][j] * takes[j] * between[j][n];
                r[band] += covariance * mixed;
                slopes[i][band] += by_lower * mixed;
                slopes[j][band] += by_upper * mixed;
                for k in (0..n).filter(|&k| k != i && k != j) {
                    let mut order = [i, j, k];
                    order.sort_unstable();
                    let [p, q, s] = order;
                    let third = changes[p] * between[p][q] * takes[q] * between[q][s] * takes[s] * between[s][n];
                    slopes[k][band] += covariance * third;
                }
            }
        }
        (r, slopes)
    }

    /// The sum over overprints is linear in every single coverage: the slope is the sum with the
    /// screen solid less the sum without it. Pairs that do not meet by chance put their covariance in place of
    /// the product of their shares.
    fn overprint_slopes(&self, a: &PerScreen) -> ([f32; 3], [[f32; 3]; MAX_SCREENS]) {
        let n = self.yule_nielsen;
        let mut sum = [0.0f32; 3];
        let mut slopes = [[0.0f32; 3]; MAX_SCREENS];
        let met: Vec<(usize, usize, f32, [f32; 2])> = self
            .meetings
            .iter()
            .map(|m| {
                let (covariance, by) = m.table.at(a[m.lower], a[m.upper]);
                (m.lower, m.upper, covariance, by)
            })
            .collect();
        for (set, color) in self.overprints.iter().enumerate() {
            let prints = |i: usize| set >> i & 1 == 1;
            let share = |i: usize| if prints(i) { a[i] } else { 1.0 - a[i] };
            let sign = |i: usize| if prints(i) { 1.0 } else { -1.0 };
            let mut after = [1.0f32; MAX_SCREENS + 1];
            for i in (0..self.screens).rev() {
                after[i] = after[i + 1] * share(i);
            }
            let mut weight = after[0];
            let mut by = [0.0f32; MAX_SCREENS];
            let mut before = 1.0;
            for i in 0..self.screens {
                by[i] = sign(i) * before * after[i + 1];
                before *= share(i);
            }
            for &(i, j, covariance, by_pair) in &met {
                let without = |left: usize| {
                    let rest = (0..self.screens).filter(|&k| k != i && k != j && k != left);
                    sign(i) * sign(j) * rest.map(share).product::<f32>()
                };
                let rest = without(i);
                weight += covariance * rest;
                by[i] += by_pair[0] * rest;
                by[j] += by_pair[1] * rest;
                for k in (0..self.screens).filter(|&k| k != i && k != j) {
                    by[k] += covariance * sign(k) * without(k);
                }
            }
            for band in 0..3 {
                sum[band] += weight * color[band];
                for i in 0..self.screens {
                    slopes[i][band] += by[i] * color[band];
                }
            }
        }
        for slope in &mut slopes[..self.screens] {
            for band in 0..3 {
                slope[band] *= n * sum[band].max(1e-6).powf(n - 1.0);
            }
        }
        (sum.map(|x| x.max(0.0).powf(n)), slopes)
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::color::oklab_from_linear;
    use crate::press::{CELL_SIDE, FillOrder, Layer, MeetingTable};
    use approx::assert_abs_diff_eq;

    fn stack(yule_nielsen: f32) -> Stack {
        let layer = |c: [f32; 3], o: f32| Layer { scatter: c.map(|c| o * c), through: c.map(|c| c - o * c) };
        Stack {
            garment: [0.03, 0.02, 0.05],
            layers: vec![
                layer([0.8, 0.8, 0.8], 0.9),
                layer([0.6, 0.1, 0.05], 0.6),
                layer([0.05, 0.2, 0.5], 0.5),
                layer([0.01; 3], 0.95),
            ],
            gain: vec![],
            yule_nielsen,
            meetings: vec![],
        }
    }

    /// Three of its four screens on one lattice.
    fn meeting_stack(yule_nielsen: f32) -> Stack {
        let far = |at: usize| (at as f32 + 0.5) / CELL_SIDE as f32 - 0.5;
        // Squares: the area of the square through a place.
        let fill = FillOrder::new("square", |x, y| (2.0 * far(x).abs().max(far(y).abs())).powi(2));
        let table = Arc::new(MeetingTable::new(&fill, &fill, 0.12, [0.0; 2]));
        let meeting = |lower, upper| Meeting { lower, upper, table: table.clone() };
        Stack { meetings: vec![meeting(0, 2), meeting(0, 3), meeting(2, 3)], ..stack(yule_nielsen) }
    }

    #[test]
    fn oklab_is_that_of_the_color_library() {
        for color in [[0.9, 0.9, 0.9], [0.2, 0.5, 0.03], [0.001, 0.002, 0.004], [0.9, 0.0, 0.0]] {
            let library = oklab_from_linear(color.map(|x| x + FLARE));
            for (got, want) in oklab(color).iter().zip([library.l, library.a, library.b]) {
                assert_abs_diff_eq!(*got, want, epsilon = 2e-4);
            }
        }
    }

    /// A deep orange that no ink is dark enough for: lighter, of the same hue and chroma. Greys come
    /// out as the greys of the light that is said.
    #[test]
    fn what_is_brought_up_keeps_its_hue() {
        let orange = oklab([0.40, 0.10, 0.01]);
        let knee = |light: f32| (f64::from(light).powi(KNEE) + 0.3f64.powi(KNEE)).powf(1.0 / f64::from(KNEE)) as f32;
        let up = brought_up(orange, 0.3);
        assert_eq!(up[1..], orange[1..]);
        assert_abs_diff_eq!(light_as_grey(up), knee(light_as_grey(orange)), epsilon = 1e-5);
        for grey in [0.0f32, 0.05, 0.3, 0.8] {
            let want = oklab([knee(grey); 3]);
            for (got, want) in brought_up(oklab([grey; 3]), 0.3).iter().zip(want) {
                assert_abs_diff_eq!(*got, want, epsilon = 1e-5);
            }
        }
    }

    #[test]
    fn model_and_slopes_agree_with_the_stack() {
        for stack in [stack(1.0), stack(1.5), meeting_stack(1.0), meeting_stack(1.5)] {
            let model = SolverModel::new(&stack);
            let mut a = [0.0; MAX_SCREENS];
            a[..4].copy_from_slice(&[0.7, 0.3, 0.55, 0.2]);
            for (got, want) in model.reflectance(&a).iter().zip(stack.reflectance(&a[..4])) {
                assert_abs_diff_eq!(*got, want, epsilon = 1e-5);
            }
            let (_, slopes) = model.oklab_slopes(&a);
            for i in 0..4 {
                let (mut up, mut down) = (a, a);
                // Within a step of the meetings' table, which is straight there.
                up[i] += 2e-3;
                down[i] -= 2e-3;
                let (up, down) = (model.oklab(&up), model.oklab(&down));
                for axis in 0..3 {
                    assert_abs_diff_eq!(slopes[i][axis], (up[axis] - down[axis]) / 4e-3, epsilon = 3e-3);
                }
            }
        }
    }
}
