//! What the model leaves, learned by a Gaussian process on the places of tints (Rasmussen and Williams 2006, chapters 2
//! and 5; Matern's kernel of 5/2), for L*, a* and b* each.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::linear::Cholesky;
use crate::bounds::table;

/// What the process takes for granted: the figures that are chosen once and kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Habit {
    /// How far along each coordinate of a place the rest hangs together.
    #[schemars(transform = table::PATCH_PLACES.schema())]
    #[schemars(transform = table::PATCH_FIGURE.each())]
    pub reach: Vec<f64>,
    /// Scatter of readings against the size of the rest.
    #[schemars(transform = table::PATCH_FIGURE.schema())]
    pub noise: f64,
    /// Size of the rest, one sigma, in L*, a* and b*.
    #[schemars(transform = table::PATCH_FIGURE.each())]
    pub size: [f64; 3],
}

/// A process that has seen its patches.
#[derive(Debug, Clone)]
pub(super) struct Rest {
    habit: Habit,
    places: Vec<Vec<f64>>,
    /// What is known to differ at the patches: channel, patch, feature.
    features: [Vec<Vec<f64>>; 3],
    solvers: [Cholesky; 3],
    weights: [Vec<f64>; 3],
}

/// What may differ at a tint, each weighed by its sigma, in L*, a* and b*: the figures of the press, and other presses.
pub(super) type Features = [Vec<f64>; 3];

/// Usual reach, and one sigma of its logarithm.
const REACH: f64 = 1.5;
const SPREAD: f64 = 0.5;
const REACHES: [f64; 2] = [0.3, 10.0];
const NOISES: [f64; 2] = [1e-3, 2.0];
const SIZES: [f64; 2] = [0.05, 20.0];
/// A reading is never surer than this, in Lab: instruments repeat to about it.
const SUREST: f64 = 0.05;

impl Rest {
    /// Learns the rest of patches; the reach is known from other presses, or is found. Of several starts the likeliest,
    /// each with a low noise: it has a false best where all is noise.
    pub fn learn(places: Vec<Vec<f64>>, left: &[[f64; 3]], features: &[Features], known: Option<&Habit>) -> Self {
        let features = by_channel(features);
        let shared: [Vec<Vec<f64>>; 3] = std::array::from_fn(|c| {
            features[c].iter().map(|a| features[c].iter().map(|b| dot(a, b)).collect()).collect()
        });
        let count = places.first().map_or(0, Vec::len);
        let sizes = std::array::from_fn(|c| {
            let square: f64 = left.iter().map(|l| l[c] * l[c]).sum::<f64>() / left.len().max(1) as f64;
            square.sqrt().max(SUREST)
        });
        let starts: Vec<(f64, f64)> = match known {
            Some(_) => vec![(1.0, 0.03), (0.3, 0.3)],
            None => [0.7, 1.5, 3.0].iter().flat_map(|r| [(*r, 0.03), (*r, 0.3)]).collect(),
        };
        let tries = |(reach, noise): (f64, f64)| {
            // The reach along each coordinate, or none; then the size against the known one, and the noise.
            let reaches = if known.is_some() { 0 } else { count };
            let start: Vec<f64> = (0..reaches).map(|_| reach.ln()).chain([0.0, noise.ln()]).collect();
            climb(start, |free| unlikely(&places, left, known, &sizes, &shared, free))
        };
        let ends: Vec<(Vec<f64>, f64)> = starts.into_par_iter().map(tries).collect();
        let best = ends.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).map(|end| end.0).unwrap_or_default();
        let habit = habit(known, &sizes, &best).unwrap_or_else(|| flat(count));
        Self::build(habit, places, left, features, &shared)
    }

    /// With habits that were kept.
    pub fn with(habit: Habit, places: Vec<Vec<f64>>, left: &[[f64; 3]], features: &[Features]) -> Self {
        let features = by_channel(features);
        let shared: [Vec<Vec<f64>>; 3] = std::array::from_fn(|c| {
            features[c].iter().map(|a| features[c].iter().map(|b| dot(a, b)).collect()).collect()
        });
        Self::build(habit, places, left, features, &shared)
    }

    fn build(
        habit: Habit,
        places: Vec<Vec<f64>>,
        left: &[[f64; 3]],
        features: [Vec<Vec<f64>>; 3],
        shared: &[Vec<Vec<f64>>; 3],
    ) -> Self {
        let solvers: [Cholesky; 3] = std::array::from_fn(|c| {
            let factor = Cholesky::of(matrix(&places, &habit, habit.size[c], &shared[c]));
            factor.unwrap_or_else(|| unreachable!("noise on the diagonal keeps the matrix positive"))
        });
        let weights = std::array::from_fn(|c| solvers[c].solve(&left.iter().map(|l| l[c]).collect::<Vec<_>>()));
        Self { habit, places, features, solvers, weights }
    }

    pub fn habit(&self) -> &Habit {
        &self.habit
    }

    /// How each patch hangs together with a place, in a channel.
    fn ties(&self, place: &[f64], features: &Features, channel: usize) -> Vec<f64> {
        let size = self.habit.size[channel].powi(2);
        let tie = |(at, known): (&Vec<f64>, &Vec<f64>)| {
            size * kernel(at, place, &self.habit.reach) + dot(known, &features[channel])
        };
        self.places.iter().zip(&self.features[channel]).map(tie).collect()
    }

    /// The rest to expect at a place, and the square of its sigma, without the noise of a reading.
    pub fn at(&self, place: &[f64], features: &Features) -> ([f64; 3], [f64; 3]) {
        let mut mean = [0.0; 3];
        let mut square = [0.0; 3];
        for c in 0..3 {
            let ties = self.ties(place, features, c);
            mean[c] = dot(&ties, &self.weights[c]);
            let half = self.solvers[c].halfway(&ties);
            let before = self.habit.size[c].powi(2) + dot(&features[c], &features[c]);
            square[c] = (before - dot(&half, &half)).max(0.0);
        }
        (mean, square)
    }

    /// Each patch as all others tell it: by how much they miss its reading, and the square of the sigma of that miss
    /// (Rasmussen and Williams 2006, 5.4.2).
    pub fn told_by_others(&self) -> Vec<([f64; 3], [f64; 3])> {
        let count = self.places.len();
        let of = |at: usize| {
            let (mut miss, mut square) = ([0.0; 3], [0.0; 3]);
            for c in 0..3 {
                let mut one = vec![0.0; count];
                one[at] = 1.0;
                // The inverse's diagonal is the square of half the way to its column.
                let half = self.solvers[c].halfway(&one);
                square[c] = 1.0 / dot(&half, &half);
                miss[c] = self.weights[c][at] * square[c];
            }
            (miss, square)
        };
        (0..count).map(of).collect()
    }

    /// Square of what readings scatter about what is learned: the instrument's noise, and what no smooth rest explains.
    pub fn scatter(&self) -> [f64; 3] {
        self.habit.size.map(|size| noise(size, self.habit.noise))
    }

    /// By how much a patch at `new` would lessen the squares of sigma at other places, summed over them.
    pub fn gain(&self, new: (&[f64], &Features), at: &[(Vec<f64>, Features)]) -> f64 {
        let channel = |c: usize| {
            let size = self.habit.size[c].powi(2);
            let half = self.solvers[c].halfway(&self.ties(new.0, new.1, c));
            let own =
                size + dot(&new.1[c], &new.1[c]) - dot(&half, &half) + noise(self.habit.size[c], self.habit.noise);
            let lessened = |(place, features): &(Vec<f64>, Features)| {
                let known = dot(&half, &self.solvers[c].halfway(&self.ties(place, features, c)));
                let tie = size * kernel(new.0, place, &self.habit.reach) + dot(&new.1[c], &features[c]) - known;
                tie * tie / own.max(1e-12)
            };
            at.iter().map(lessened).sum::<f64>()
        };
        (0..3).map(channel).sum()
    }
}

/// Features by channel, then by patch.
fn by_channel(features: &[Features]) -> [Vec<Vec<f64>>; 3] {
    std::array::from_fn(|c| features.iter().map(|f| f[c].clone()).collect())
}

fn flat(count: usize) -> Habit {
    Habit { reach: vec![REACH; count], noise: 1.0, size: [SUREST; 3] }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn noise(size: f64, share: f64) -> f64 {
    (size * share).powi(2) + SUREST.powi(2)
}

fn kernel(a: &[f64], b: &[f64], reach: &[f64]) -> f64 {
    let square: f64 = a.iter().zip(b).zip(reach).map(|((a, b), r)| ((a - b) / r).powi(2)).sum();
    let d = (5.0 * square).sqrt();
    (1.0 + d + d * d / 3.0) * (-d).exp()
}

fn matrix(places: &[Vec<f64>], habit: &Habit, size: f64, shared: &[Vec<f64>]) -> Vec<Vec<f64>> {
    (0..places.len())
        .map(|i| {
            // The lower half is all that is read.
            let tie = |j: usize| {
                let own = if i == j { noise(size, habit.noise) } else { 0.0 };
                size * size * kernel(&places[i], &places[j], &habit.reach) + shared[i][j] + own
            };
            (0..=i).map(tie).collect()
        })
        .collect()
}

/// The habit that logarithms of free figures stand for; none where they leave their ends.
fn habit(known: Option<&Habit>, sizes: &[f64; 3], free: &[f64]) -> Option<Habit> {
    let [reaches @ .., size, noise] = free else { return None };
    let (size, noise) = (size.exp(), noise.exp());
    let reach: Vec<f64> = known.map_or_else(|| reaches.iter().map(|f| f.exp()).collect(), |known| known.reach.clone());
    let between = |v: f64, ends: [f64; 2]| (ends[0]..=ends[1]).contains(&v);
    if !between(noise, NOISES) || !between(size, SIZES) || !reach.iter().all(|r| between(*r, REACHES)) {
        return None;
    }
    let size = known.map_or(*sizes, |known| known.size).map(|s| (s * size).max(SUREST));
    Some(Habit { reach, noise, size })
}

/// How unlikely the rest is under some figures: minus the logarithm of its likelihood, and how odd the figures are.
fn unlikely(
    places: &[Vec<f64>],
    left: &[[f64; 3]],
    known: Option<&Habit>,
    sizes: &[f64; 3],
    shared: &[Vec<Vec<f64>>; 3],
    free: &[f64],
) -> f64 {
    let Some(habit) = habit(known, sizes, free) else { return f64::INFINITY };
    let odd = match known {
        Some(_) => 0.5 * free[0].powi(2),
        None => habit.reach.iter().map(|r| 0.5 * ((r / REACH).ln() / SPREAD).powi(2)).sum(),
    };
    let channels: Option<f64> = (0..3)
        .map(|c| {
            let solver = Cholesky::of(matrix(places, &habit, habit.size[c], &shared[c]))?;
            let half = solver.halfway(&left.iter().map(|l| l[c]).collect::<Vec<_>>());
            Some(0.5 * dot(&half, &half) + 0.5 * solver.log_determinant())
        })
        .sum();
    channels.map_or(f64::INFINITY, |sum| sum + odd)
}

/// Up or down a figure at a time, by steps that halve where none helps.
fn climb(mut at: Vec<f64>, cost: impl Fn(&[f64]) -> f64) -> (Vec<f64>, f64) {
    let mut now = cost(&at);
    let mut step = 0.8;
    while step > 0.04 {
        let mut moved = false;
        for i in 0..at.len() {
            for by in [step, -step] {
                at[i] += by;
                let then = cost(&at);
                if then < now - 1e-6 {
                    (now, moved) = (then, true);
                    break;
                }
                at[i] -= by;
            }
        }
        if !moved {
            step *= 0.5;
        }
    }
    (at, now)
}
