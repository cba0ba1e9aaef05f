//! The figures of a press that come nearest to its patches, by damped Gauss-Newton steps (Levenberg 1944, Marquardt
//! 1963) from several starts. Each figure is pulled to what was assumed as strongly as that is sure.

use rayon::prelude::*;

use super::linear::Cholesky;
use super::patch::{Patch, Tint};
use super::press::{BANDS, Places, Row, colors};
use crate::color::{lab_of_shares, shares_of_lab};

/// What is assumed of each figure: its value, one sigma, and its ends.
#[derive(Debug, Clone)]
pub(super) struct Assumed {
    pub value: Vec<f64>,
    pub sigma: Vec<f64>,
    pub ends: Vec<[f64; 2]>,
}

/// CIEDE2000, roughly, that the model itself is off a patch.
const MODEL: f64 = 1.0;
/// How far the gain of an ink's bands lies apart, one sigma.
const APART: f64 = 0.05;
const STEPS: usize = 60;

impl Assumed {
    /// For inks with K and S of each band. `steps` says how many tints of an ink alone there are: with three its
    /// gain has a curve, with fewer one figure.
    pub fn of_films(films: &[[[f64; 2]; BANDS]], steps: &[usize]) -> Self {
        let places = Places { inks: films.len() };
        let count = places.count();
        let mut out = Self { value: vec![0.0; count], sigma: vec![1.0; count], ends: vec![[0.0; 2]; count] };
        let mut set = |at: usize, value: f64, sigma: f64, ends: [f64; 2]| {
            (out.value[at], out.sigma[at], out.ends[at]) = (value.clamp(ends[0], ends[1]), sigma, ends);
        };
        for (ink, film) in films.iter().enumerate() {
            let curve = steps[ink] >= 3;
            for (band, [k, s]) in film.iter().enumerate() {
                // A factor of e either way: deposits differ, and a colour says little of what absorbs.
                set(places.k(ink, band), k.ln(), 1.0, [-9.0, 5.0]);
                set(places.s(ink, band), s.ln(), 1.0, [-9.0, 5.0]);
                // 28 points, as a job assumes, and 8 either way.
                set(places.gain(ink, band), 0.24, 0.1, [-0.1, 0.45]);
            }
            set(places.skew(ink), 0.0, if curve { 0.08 } else { 1e-3 }, [-0.3, 0.3]);
            set(places.bow(ink), 0.0, if curve { 0.08 } else { 1e-3 }, [-0.3, 0.3]);
            for lower in 0..ink {
                // 0.85 of an ink stays on wet ink.
                set(places.trap(lower, ink), 0.16, 0.25, [-0.5, 2.0]);
            }
        }
        set(places.n(), 1.2, 0.5, [1.0, 4.0]);
        out
    }
}

/// Patches, as the fit weighs them.
pub(super) struct Measured<'a> {
    pub places: Places,
    pub ground: [f64; BANDS],
    pub tints: Vec<Tint>,
    pub patches: &'a [Patch],
}

impl<'a> Measured<'a> {
    /// Patches of so many inks on a ground.
    pub fn of(inks: usize, ground: [f64; 3], patches: &'a [Patch]) -> Self {
        let tints = patches.iter().map(|p| p.tint.clone()).collect();
        Self { places: Places { inks }, ground: shares_of_lab(ground), tints, patches }
    }

    /// How the sum of squares bends at a row; its inverse is the figures' covariance (Laplace).
    pub fn bend(&self, assumed: &Assumed, row: &Row) -> Cholesky {
        let (bend, _) = self.slopes(assumed, row, &self.misses(assumed, row));
        Cholesky::of(bend).unwrap_or_else(|| unreachable!("what is assumed keeps the bend positive"))
    }

    /// Root of the mean square of what patches miss, 1 at most.
    pub fn off(&self, assumed: &Assumed, row: &Row) -> f64 {
        let count = 3 * self.patches.len();
        if count == 0 {
            return 1.0;
        }
        let square: f64 = self.misses(assumed, row)[..count].iter().map(|v| v * v).sum();
        (square / count as f64).sqrt().clamp(0.1, 1.0)
    }

    fn misses(&self, assumed: &Assumed, row: &Row) -> Vec<f64> {
        let mut out = Vec::with_capacity(3 * self.patches.len() + 2 * row.0.len());
        for (color, patch) in colors(row, self.places, self.ground, &self.tints).into_iter().zip(self.patches) {
            let lab = lab_of_shares(color);
            // As CIEDE2000 has it, roughly: colourful patches may be farther off in chroma and hue.
            let mild = 1.0 / (MODEL * (1.0 + 0.03 * patch.lab[1].hypot(patch.lab[2])));
            out.extend([
                (lab[0] - patch.lab[0]) / MODEL,
                (lab[1] - patch.lab[1]) * mild,
                (lab[2] - patch.lab[2]) * mild,
            ]);
        }
        for ink in 0..self.places.inks {
            let gains: [f64; BANDS] = std::array::from_fn(|b| row.0[self.places.gain(ink, b)]);
            let mean = gains.iter().sum::<f64>() / BANDS as f64;
            out.extend(gains.map(|gain| (gain - mean) / APART));
        }
        out.extend(row.0.iter().enumerate().map(|(at, v)| (v - assumed.value[at]) / assumed.sigma[at]));
        out
    }

    /// The nearest row, of several starts the best: n and gain are what the sum of squares has false hollows in.
    pub fn fit(&self, assumed: &Assumed) -> Row {
        let starts = [(1.0, 0.7), (1.0, 1.3), (2.0, 0.5)];
        let ends: Vec<(Row, f64)> = starts
            .par_iter()
            .map(|(n, gain)| {
                let mut start = assumed.value.clone();
                start[self.places.n()] *= n;
                for ink in 0..self.places.inks {
                    (0..BANDS).for_each(|b| start[self.places.gain(ink, b)] *= gain);
                }
                self.descend(assumed, Row(start))
            })
            .collect();
        let best = ends.into_iter().min_by(|a, b| a.1.total_cmp(&b.1));
        best.map_or_else(|| Row(assumed.value.clone()), |best| best.0)
    }

    fn descend(&self, assumed: &Assumed, start: Row) -> (Row, f64) {
        let square = |m: &[f64]| m.iter().map(|v| v * v).sum::<f64>();
        let held = |at: usize, v: f64| v.clamp(assumed.ends[at][0], assumed.ends[at][1]);
        let mut row = Row(start.0.iter().enumerate().map(|(at, v)| held(at, *v)).collect());
        let mut now = self.misses(assumed, &row);
        let mut damping = 1e-2;
        for _ in 0..STEPS {
            let (bend, force) = self.slopes(assumed, &row, &now);
            let mut better = None;
            while damping < 1e7 {
                let mut damped = bend.clone();
                (0..force.len()).for_each(|i| damped[i][i] *= 1.0 + damping);
                let Some(solver) = Cholesky::of(damped) else {
                    damping *= 10.0;
                    continue;
                };
                let step = solver.solve(&force);
                let moved = Row(row.0.iter().zip(&step).enumerate().map(|(at, (v, d))| held(at, v - d)).collect());
                let then = self.misses(assumed, &moved);
                if square(&then) < square(&now) {
                    better = Some((moved, then));
                    damping = (damping * 0.3).max(1e-8);
                    break;
                }
                damping *= 4.0;
            }
            let Some((moved, then)) = better else { break };
            let gained = 1.0 - square(&then) / square(&now);
            (row, now) = (moved, then);
            if gained < 1e-5 {
                break;
            }
        }
        let end = square(&now);
        (row, end)
    }

    /// Products of the slopes with each other and with the misses.
    fn slopes(&self, assumed: &Assumed, row: &Row, now: &[f64]) -> (Vec<Vec<f64>>, Vec<f64>) {
        let slopes: Vec<Vec<f64>> = (0..row.0.len())
            .map(|at| {
                let mut moved = row.clone();
                let step = if row.0[at] + 1e-5 > assumed.ends[at][1] { -1e-5 } else { 1e-5 };
                moved.0[at] += step;
                self.misses(assumed, &moved).iter().zip(now).map(|(then, now)| (then - now) / step).collect()
            })
            .collect();
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let bend = slopes.iter().map(|a| slopes.iter().map(|b| dot(a, b)).collect()).collect();
        let force = slopes.iter().map(|a| dot(a, now)).collect();
        (bend, force)
    }
}
