//! Shares that miss least, by damped Gauss-Newton steps inside a box (Levenberg 1944, Marquardt 1963).

use super::bench::Misses;

/// Between what the shares may lie, and whether they add up to 1 or are free.
pub(super) struct Range<'a> {
    pub least: &'a [f64],
    pub most: &'a [f64],
    pub whole: bool,
}

const STEPS: usize = 60;
const SWEEPS: usize = 200;

/// From `start`, which lies in the range, to the nearest least sum of squares; gives it with its root.
pub(super) fn descend(range: &Range<'_>, start: Vec<f64>, misses: impl Fn(&[f64]) -> Misses) -> (Vec<f64>, f64) {
    let cost = |m: &Misses| m.values.iter().map(|v| v * v).sum::<f64>();
    let mut at = start;
    let mut now = misses(&at);
    let mut damping = 1e-3;
    for _ in 0..STEPS {
        let step = step(range, &at, &now, damping);
        let moved: Vec<f64> = (0..at.len()).map(|i| (at[i] + step[i]).clamp(range.least[i], range.most[i])).collect();
        let then = misses(&moved);
        let (before, after) = (cost(&now), cost(&then));
        if after < before {
            (at, now) = (moved, then);
            damping = (damping * 0.2).max(1e-9);
            if before - after < 1e-7 * before || after < 1e-10 {
                break;
            }
        } else {
            damping *= 6.0;
            if damping > 1e6 {
                break;
            }
        }
    }
    let root = cost(&now).sqrt();
    (at, root)
}

/// The step that the damped parabola asks for, by moves of one share, or of two against each other where the
/// whole is kept; each move is exact.
fn step(range: &Range<'_>, at: &[f64], now: &Misses, damping: f64) -> Vec<f64> {
    let count = at.len();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let mut bend: Vec<Vec<f64>> = (now.slopes.iter()).map(|a| now.slopes.iter().map(|b| dot(a, b)).collect()).collect();
    for (i, row) in bend.iter_mut().enumerate() {
        row[i] += damping * row[i] + 1e-12;
    }
    let mut force: Vec<f64> = now.slopes.iter().map(|a| dot(a, &now.values)).collect();
    let mut step = vec![0.0; count];
    for _ in 0..SWEEPS {
        let mut most: f64 = 0.0;
        let mut shift = |i: usize, j: Option<usize>| {
            let (mut bent, mut forced) = (bend[i][i], force[i]);
            let (mut low, mut high) = (range.least[i] - at[i] - step[i], range.most[i] - at[i] - step[i]);
            if let Some(j) = j {
                bent += bend[j][j] - 2.0 * bend[i][j];
                forced -= force[j];
                low = low.max(at[j] + step[j] - range.most[j]);
                high = high.min(at[j] + step[j] - range.least[j]);
            }
            let by = (-forced / bent.max(1e-300)).clamp(low.min(0.0), high.max(0.0));
            step[i] += by;
            for (force, row) in force.iter_mut().zip(&bend) {
                *force += row[i] * by;
            }
            if let Some(j) = j {
                step[j] -= by;
                for (force, row) in force.iter_mut().zip(&bend) {
                    *force -= row[j] * by;
                }
            }
            most = most.max(by.abs());
        };
        for i in 0..count {
            if range.whole {
                (0..i).for_each(|j| shift(i, Some(j)));
            } else {
                shift(i, None);
            }
        }
        if most < 1e-10 {
            break;
        }
    }
    step
}

/// Shares in the proportion of `weights` that add up to 1 inside a box; none if the box has no such place.
pub(super) fn inside(weights: &[f64], least: &[f64], most: &[f64]) -> Option<Vec<f64>> {
    let sum = |of: &[f64]| of.iter().sum::<f64>();
    if sum(least) > 1.0 + 1e-9 || sum(most) < 1.0 - 1e-9 {
        return None;
    }
    // The factor of the weights at which the held shares add up to 1.
    let held = |factor: f64| -> Vec<f64> {
        (0..weights.len()).map(|i| (factor * weights[i]).clamp(least[i], most[i])).collect()
    };
    let (mut low, mut high) = (0.0, 1e9);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if sum(&held(middle)) < 1.0 { low = middle } else { high = middle }
    }
    Some(held(high))
}
