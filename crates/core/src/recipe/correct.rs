//! The correction after a first drawdown was measured: what to add to the pot.

use super::shares::{Range, descend};
use super::{Amount, Bench, InkRoom, RecipeError, Wanted, bench::Misses};
use crate::color::{difference, lab_of_shares};

/// Relative error that weighings and strengths are taken to have, one sigma.
const STRENGTH: f64 = 0.03;
/// What a CIEDE2000 of a measured drawdown is worth against it, one sigma.
const READING: f64 = 0.15;
/// Colour that a whole batch of additions counts, so that of equal corrections the smaller is taken.
const ADDING: f64 = 0.3;
/// Colour that one more component must gain.
const GAIN: f64 = 0.2;

/// What to add.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// In whole steps of the scale; empty if nothing helps.
    pub add: Vec<Amount>,
    /// CIEDE2000 of the measured drawdown to what is wanted.
    pub before: f64,
    /// The same as predicted with the additions.
    pub after: f64,
    /// CIELAB (D65) as predicted.
    pub lab: [f64; 3],
    /// How strong each weighed component seems against what it should be: 1 as meant.
    pub strengths: Vec<(usize, f64)>,
}

/// Reads a drawdown of a mix and finds what to add. The weighed amounts are taken to be a few percent off, as the
/// reading tells; what that does not explain is carried over as a factor of X, Y and Z. Additions are of what is
/// in the pot, and of one component more where that gains.
pub fn correct(
    room: &InkRoom,
    bench: &Bench,
    weighed: &[Amount],
    wanted: &Wanted,
    measured: &Wanted,
    step: f64,
) -> Result<Correction, RecipeError> {
    let grams: f64 = weighed.iter().map(|a| a.grams).sum();
    if grams <= 0.0 {
        return Err(RecipeError::Empty);
    }
    let parts: Vec<(usize, f64)> = weighed.iter().map(|a| (a.component, a.grams / grams)).collect();
    let strengths = strengths(bench, &parts, measured);
    let pot: Vec<(usize, f64)> = parts.iter().zip(&strengths).map(|(p, s)| (p.0, p.1 * s)).collect();
    let mut taught = bench.clone();
    let (seen, computed) = (crate::color::shares_of_lab(measured.lab), bench.shares(&bench.reflectance(&whole(&pot))));
    taught.carried = std::array::from_fn(|i| seen[i] / computed[i].max(1e-6));

    let own: Vec<usize> = pot.iter().map(|p| p.0).collect();
    let mut best = additions(room, &taught, &pot, wanted, own.clone());
    let others = (0..room.components.len()).filter(|at| !own.contains(at));
    let more = others.map(|at| additions(room, &taught, &pot, wanted, [own.clone(), vec![at]].concat()));
    if let Some(more) = more.min_by(|a, b| a.1.total_cmp(&b.1)).filter(|more| more.1 < best.1 - GAIN) {
        best = more;
    }
    let rounded = |share: f64| (share * grams / step).round() * step;
    let add: Vec<Amount> = (best.0.iter())
        .map(|&(component, share)| Amount { component, grams: rounded(share) })
        .filter(|a| a.grams > 0.0)
        .collect();
    let mut then = pot.clone();
    then.extend(add.iter().map(|a| (a.component, a.grams / grams)));
    let lab = lab_of_shares(taught.shares(&taught.reflectance(&whole(&then))));
    let (before, after) = (difference(wanted.lab, measured.lab), difference(wanted.lab, lab));
    let strengths = own.into_iter().zip(strengths).collect();
    if after >= before {
        return Ok(Correction { add: Vec::new(), before, after: before, lab: measured.lab, strengths });
    }
    Ok(Correction { add, before, after, lab, strengths })
}

/// Parts that add up to 1.
fn whole(parts: &[(usize, f64)]) -> Vec<(usize, f64)> {
    let sum: f64 = parts.iter().map(|p| p.1).sum();
    parts.iter().map(|p| (p.0, p.1 / sum)).collect()
}

/// Misses of parts that need not add up to 1, by slopes of the parts themselves.
fn free(bench: &Bench, wanted: &Wanted, parts: &[(usize, f64)]) -> Misses {
    let sum: f64 = parts.iter().map(|p| p.1).sum();
    let parts = whole(parts);
    let mut misses = bench.misses(wanted, &parts);
    let shared: Vec<f64> = (0..misses.values.len())
        .map(|row| misses.slopes.iter().zip(&parts).map(|(slopes, p)| slopes[row] * p.1).sum())
        .collect();
    for slopes in &mut misses.slopes {
        for (slope, shared) in slopes.iter_mut().zip(&shared) {
            *slope = (*slope - shared) / sum;
        }
    }
    misses
}

fn strengths(bench: &Bench, parts: &[(usize, f64)], measured: &Wanted) -> Vec<f64> {
    let count = parts.len();
    let range = Range { least: &vec![0.7; count], most: &vec![1.3; count], whole: false };
    let of = |strengths: &[f64]| -> Misses {
        let pot: Vec<(usize, f64)> = parts.iter().zip(strengths).map(|(p, s)| (p.0, p.1 * s)).collect();
        let mut misses = free(bench, measured, &pot);
        misses.values.iter_mut().for_each(|v| *v /= READING);
        for (at, slopes) in misses.slopes.iter_mut().enumerate() {
            slopes.iter_mut().for_each(|s| *s *= parts[at].1 / READING);
            slopes.extend((0..count).map(|i| if i == at { 1.0 / STRENGTH } else { 0.0 }));
        }
        misses.values.extend(strengths.iter().map(|s| (s - 1.0) / STRENGTH));
        misses
    };
    descend(&range, vec![1.0; count], of).0
}

/// The best additions of some components to a pot, as shares of its weight, and the score.
fn additions(
    room: &InkRoom,
    bench: &Bench,
    pot: &[(usize, f64)],
    wanted: &Wanted,
    of: Vec<usize>,
) -> (Vec<(usize, f64)>, f64) {
    let count = of.len();
    let most: Vec<f64> = of.iter().map(|&at| room.components[at].leftover_g.map_or(1.0, |_| 0.0)).collect();
    let range = Range { least: &vec![0.0; count], most: &most, whole: false };
    let misses = |add: &[f64]| -> Misses {
        let mut parts: Vec<(usize, f64)> = of.iter().map(|&at| (at, 0.0)).collect();
        for (at, share) in pot {
            if let Some(part) = parts.iter_mut().find(|p| p.0 == *at) {
                part.1 += share;
            }
        }
        parts.iter_mut().zip(add).for_each(|(p, add)| p.1 += add);
        let mut misses = free(bench, wanted, &parts);
        misses.values.push(ADDING * add.iter().sum::<f64>());
        misses.slopes.iter_mut().for_each(|slopes| slopes.push(ADDING));
        misses
    };
    // From the pot as it is, and from a little of each.
    let starts = std::iter::once(vec![0.0; count])
        .chain((0..count).map(|lead| (0..count).map(|i| if i == lead { 0.1 * most[i] } else { 0.0 }).collect()));
    let ends = starts.map(|start| descend(&range, start, misses));
    let (add, score) = ends.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((vec![0.0; count], f64::INFINITY));
    (of.into_iter().zip(add).collect(), score)
}
