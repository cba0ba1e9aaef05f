//! The recipe: every set of components is tried, the smallest that serves is taken, leftovers first.

use rayon::prelude::*;

use super::shares::{Range, descend, inside};
use super::{Bench, InkRoom, RoomError, Wanted};
use crate::color::{LinRgb, difference};

/// What a recipe has to heed.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// What it lies on: garment, underbase or card.
    pub ground: LinRgb,
    /// Thickness of the print in drawdowns. 1: as thick as they are.
    pub thick: f64,
    /// Grams to be mixed, which bound what a leftover can give.
    pub grams: f64,
    /// Most components, 1 to 5.
    pub most: usize,
    /// CIEDE2000 that one component more must gain. Leftovers may cost as much.
    pub gain: f64,
    /// CIEDE2000 up to which a colour counts as mixed.
    pub close: f64,
}

impl Default for Asked {
    fn default() -> Self {
        Self { ground: [1.0; 3], thick: 1.0, grams: 1000.0, most: 4, gain: 0.3, close: 1.0 }
    }
}

/// A recipe.
#[derive(Debug, Clone, PartialEq)]
pub struct Recipe {
    /// Components by their place in the room and their shares, which add up to 1, the largest first.
    pub parts: Vec<(usize, f64)>,
    /// CIELAB (D65) over the ground.
    pub lab: [f64; 3],
    /// CIEDE2000 to what is wanted.
    pub miss: f64,
    /// Its opacity.
    pub opacity: f64,
    /// CIEDE2000 under which 95 of 100 mixes stay from the predicted colour when each weighing is 2 % off
    /// (one sigma); what the theory itself is off comes on top.
    pub spread: f64,
    /// Whether it is near enough to what is wanted.
    pub mixed: bool,
    /// Least CIEDE2000 by number of components, from 1.
    pub by_count: Vec<f64>,
}

/// Why there is no recipe.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RecipeError {
    /// The room.
    #[error(transparent)]
    Room(#[from] RoomError),
    /// A number out of range.
    #[error("a recipe takes 1 to 5 components, not {0}")]
    Most(usize),
    /// No set of components fills a mix.
    #[error("no set of components fills a mix: each may only be so much of it; add a base that may be all of it")]
    Empty,
}

/// A set of components with its best shares.
#[derive(Debug, Clone)]
struct Tried {
    set: Vec<usize>,
    shares: Vec<f64>,
    /// Root of the squares of all misses.
    score: f64,
}

/// Finds the recipe of a wanted colour.
///
/// The smallest number of components is taken from which more gain less than `gain`. Then leftovers, the largest
/// first: as much of each as keeps the score within `gain` of the best, with one component more if need be.
pub fn recipe(room: &InkRoom, wanted: &Wanted, asked: &Asked) -> Result<Recipe, RecipeError> {
    if !(1..=5).contains(&asked.most) {
        return Err(RecipeError::Most(asked.most));
    }
    let bench = Bench::new(room, asked.ground, asked.thick)?;
    let mut most: Vec<f64> = room.components.iter().map(|c| c.most).collect();
    for (most, component) in most.iter_mut().zip(&room.components) {
        *most = most.min(component.leftover_g.unwrap_or(f64::INFINITY) / asked.grams);
    }
    let mut least = vec![0.0; most.len()];
    let tries = |sets: Vec<Vec<usize>>, least: &[f64]| -> Vec<Tried> {
        sets.into_par_iter().filter_map(|set| best_shares(&bench, wanted, set, least, &most)).collect()
    };
    let best = |tried: Vec<Tried>| tried.into_iter().min_by(|a, b| a.score.total_cmp(&b.score));
    let by_count: Vec<Option<Tried>> =
        (1..=asked.most).map(|count| best(tries(sets(most.len(), count, &[]), &least))).collect();
    let score = |tried: &Option<Tried>| tried.as_ref().map_or(f64::INFINITY, |t| t.score);
    let ahead = |count: usize| by_count[count..].iter().map(score).fold(f64::INFINITY, f64::min);
    let count = (0..by_count.len()).find(|&count| score(&by_count[count]) - ahead(count) < asked.gain);
    let mut chosen = count.and_then(|count| by_count[count].clone()).ok_or(RecipeError::Empty)?;

    let limit = chosen.score + asked.gain;
    let room_for_one = (chosen.set.len() + 1).min(asked.most.max(chosen.set.len()));
    let mut leftovers: Vec<usize> = (0..most.len()).filter(|&at| room.components[at].leftover_g.is_some()).collect();
    leftovers.sort_by(|&a, &b| most[b].total_cmp(&most[a]));
    let mut kept = Vec::new();
    for at in leftovers {
        kept.push(at);
        let every = || (1..=room_for_one).flat_map(|count| sets(most.len(), count, &kept)).collect::<Vec<_>>();
        let good: Vec<Tried> = tries(every(), &least).into_iter().filter(|t| t.score <= limit).collect();
        let (mut low, mut high, mut found) = (0.0, most[at], None);
        let mut hopeful: Vec<Vec<usize>> = good.into_iter().map(|t| t.set).collect();
        // The greatest share first, then halves: sets that fail at a share fail at every greater one.
        let mut share = high;
        for _ in 0..7 {
            least[at] = share;
            let serves: Vec<Tried> = tries(hopeful.clone(), &least).into_iter().filter(|t| t.score <= limit).collect();
            if serves.is_empty() {
                high = share;
            } else {
                low = share;
                hopeful = serves.iter().map(|t| t.set.clone()).collect();
                found = serves.into_iter().min_by(|a, b| {
                    (a.set.len(), a.score).partial_cmp(&(b.set.len(), b.score)).unwrap_or(std::cmp::Ordering::Equal)
                });
            }
            share = 0.5 * (low + high);
            if high - low < 0.02 * most[at] {
                break;
            }
        }
        // Less than a fiftieth of the mix is not worth another weighing.
        match found.filter(|_| low >= 0.02) {
            Some(tried) => {
                least[at] = low;
                chosen = tried;
            }
            None => {
                least[at] = 0.0;
                kept.pop();
            }
        }
    }
    let by_count = by_count.iter().flatten().map(|t| bench.miss(wanted, &parts(t))).collect();
    Ok(told(&bench, wanted, asked, &parts(&chosen), by_count))
}

fn parts(tried: &Tried) -> Vec<(usize, f64)> {
    let mut parts: Vec<(usize, f64)> = tried.set.iter().copied().zip(tried.shares.iter().copied()).collect();
    parts.sort_by(|a, b| b.1.total_cmp(&a.1));
    parts
}

fn told(bench: &Bench, wanted: &Wanted, asked: &Asked, parts: &[(usize, f64)], by_count: Vec<f64>) -> Recipe {
    let miss = bench.miss(wanted, parts);
    let opacity = bench.opacity(parts);
    let opaque = wanted.opacity.is_none_or(|least| opacity >= least.get() - 0.02);
    Recipe {
        lab: bench.lab(parts),
        miss,
        opacity,
        spread: spread(bench, parts),
        mixed: miss <= asked.close && opaque,
        parts: parts.to_vec(),
        by_count,
    }
}

/// One weighing 2 % off at a time; their squares add up, and 95 of 100 lie within 1.96 sigma.
fn spread(bench: &Bench, parts: &[(usize, f64)]) -> f64 {
    let meant = bench.lab(parts);
    let off = |at: usize| {
        let mut moved = parts.to_vec();
        moved[at].1 *= 1.02;
        let whole: f64 = moved.iter().map(|p| p.1).sum();
        moved.iter_mut().for_each(|p| p.1 /= whole);
        difference(meant, bench.lab(&moved))
    };
    1.96 * (0..parts.len()).map(|at| off(at).powi(2)).sum::<f64>().sqrt()
}

/// Every set of `count` of `all` that holds `with`.
fn sets(all: usize, count: usize, with: &[usize]) -> Vec<Vec<usize>> {
    fn grow(all: usize, count: usize, from: usize, set: &mut Vec<usize>, out: &mut Vec<Vec<usize>>) {
        if set.len() == count {
            out.push(set.clone());
            return;
        }
        for next in from..all {
            set.push(next);
            grow(all, count, next + 1, set, out);
            set.pop();
        }
    }
    let mut out = Vec::new();
    grow(all, count, 0, &mut Vec::new(), &mut out);
    out.retain(|set| with.iter().all(|at| set.contains(at)));
    out
}

/// The best shares of a set, from a start for each component that is most of it and one where all take part.
fn best_shares(bench: &Bench, wanted: &Wanted, set: Vec<usize>, least: &[f64], most: &[f64]) -> Option<Tried> {
    let pick = |of: &[f64]| set.iter().map(|&at| of[at]).collect::<Vec<f64>>();
    let (least, most) = (pick(least), pick(most));
    let range = Range { least: &least, most: &most, whole: true };
    let of = |shares: &[f64]| set.iter().copied().zip(shares.iter().copied()).collect::<Vec<_>>();
    let starts = (0..=set.len()).filter_map(|lead| {
        let weights: Vec<f64> = (0..set.len()).map(|i| if i == lead { 1.0 } else { 0.08 }).collect();
        inside(&weights, &least, &most)
    });
    let ends = starts.map(|start| descend(&range, start, |shares| bench.misses(wanted, &of(shares))));
    let (shares, score) = ends.min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(Tried { set, shares, score })
}
