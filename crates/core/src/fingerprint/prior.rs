//! Other presses of the same inks as a start: their figures, how far those lie apart, and what each of them left.

use super::Predictor;
use super::fit::Assumed;
use super::patch::Tint;
use super::press::{BANDS, Places};
use super::print::Fingerprint;
use super::rest::{Features, Habit};

/// Presses ready to tell what they left.
#[derive(Debug, Clone)]
pub(super) struct Prior {
    presses: Vec<Predictor>,
    habit: Habit,
}

/// Least sigma of a figure, as few presses agree by chance.
const AGREE: f64 = 0.02;

impl Prior {
    /// None without presses.
    pub fn of(presses: &[Fingerprint]) -> Option<Self> {
        let count = presses.len() as f64;
        let first = presses.first()?;
        let mean = |of: &dyn Fn(&Fingerprint) -> f64| (presses.iter().map(|p| of(p).ln()).sum::<f64>() / count).exp();
        let habit = Habit {
            reach: (0..first.habit.reach.len()).map(|at| mean(&|p| p.habit.reach[at])).collect(),
            noise: mean(&|p| p.habit.noise),
            size: std::array::from_fn(|c| mean(&|p| p.habit.size[c])),
        };
        Some(Self {
            presses: presses.iter().map(|p| Predictor::new(&Fingerprint { prior: Vec::new(), ..p.clone() })).collect(),
            habit,
        })
    }

    /// Their mean figures, as sure as they agree.
    pub fn assumed(&self) -> Assumed {
        let rows: Vec<&[f64]> = self.presses.iter().map(Predictor::figures).collect();
        let count = rows.len() as f64;
        let places = Places { inks: self.presses.first().map_or(0, Predictor::inks) };
        let films = vec![[[1.0, 1.0]; BANDS]; places.inks];
        let mut out = Assumed::of_films(&films, &vec![3; places.inks]);
        for at in 0..places.count() {
            let mean = rows.iter().map(|row| row[at]).sum::<f64>() / count;
            let square = rows.iter().map(|row| (row[at] - mean).powi(2)).sum::<f64>() / (count - 1.0).max(1.0);
            out.value[at] = mean;
            // One press alone tells nothing of how presses differ: what is assumed of any press holds.
            if rows.len() > 1 {
                out.sigma[at] = (1.3 * square.sqrt()).max(AGREE).min(out.sigma[at].max(AGREE));
            } else {
                out.sigma[at] *= 0.5;
            }
        }
        out
    }

    /// What they left of tints: the mean, and how each differs from it, weighed so that the squares add up to a square
    /// of sigma.
    pub fn left(&self, tints: &[Tint]) -> Vec<([f64; 3], Features)> {
        let left: Vec<Vec<[f64; 3]>> = self.presses.iter().map(|press| press.rests(tints)).collect();
        let count = left.len() as f64;
        let weight = 1.0 / (count - 1.0).max(1.0).sqrt();
        (0..tints.len())
            .map(|at| {
                let mean: [f64; 3] = std::array::from_fn(|c| left.iter().map(|l| l[at][c]).sum::<f64>() / count);
                (mean, std::array::from_fn(|c| left.iter().map(|l| (l[at][c] - mean[c]) * weight).collect()))
            })
            .collect()
    }

    /// Their usual habits.
    pub fn habit(&self) -> &Habit {
        &self.habit
    }
}
