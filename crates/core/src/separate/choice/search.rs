//! The search for sets of inks. The picture is weighed into a few hundred colours; a set of inks is worth the
//! mean CIEDE2000 that the print model leaves with it. The few best sets of every size grow by one ink each,
//! and inks are exchanged as long as an exchange helps; for the size requested, exchanges go on from every set
//! that is among the few best, since one exchange at a time stops short of some of the best sets. A set's
//! solutions start the next one's. In the end no set is worse than one of more inks with one taken out.

use std::collections::HashSet;

use rayon::prelude::*;

use super::judge::{Judge, Solved};
use crate::color::{ciede2000, lab_from_linear};
use crate::ink::{Ink, Shelf, usual_order};
use crate::separate::PlannedScreen;
use crate::separate::model::MAX_SCREENS;
use crate::{Cancelled, Progress};

/// Sets of each comparison that are judged on all colours.
const FINALISTS: usize = 8;
/// Sets of each size that are gone on from.
const BEAM: usize = 4;
/// Most sets of the size requested whose exchanges are tried.
const MOST_EXCHANGED: usize = 12;
/// Two inks of one role nearer than this, CIEDE2000 over white, are twins ..
const TWINS: f32 = 8.0;
/// .. and a set with twins must be better by so much to be preferred.
const TWINS_EARN: f64 = 0.3;

/// An ink that covers less of the print than this is idle: no screen is worth it.
const IDLE: f64 = 0.001;

/// A set of places on the shelf, in the shelf's order, with its solutions on few and on many
/// colours.
pub(super) struct Standing {
    pub set: Vec<usize>,
    few: Solved,
    pub many: Solved,
    /// What a set is held back by for its twins.
    held_back: f64,
    /// Whether its exchanges were tried.
    exchanged: bool,
}

impl Standing {
    fn rank(&self) -> f64 {
        self.many.quality.mean + self.held_back
    }
}

/// The search: all sets are compared on few colours, the best of those on many.
pub(super) struct Search<'a> {
    pub few: &'a Judge<'a>,
    pub many: &'a Judge<'a>,
    pub shelf: &'a Shelf,
    pub allowed: Vec<usize>,
    pub pinned: &'a [usize],
}

impl Search<'_> {
    fn planned(&self, set: &[usize]) -> Vec<PlannedScreen> {
        let mut inks: Vec<Ink> = set.iter().map(|&i| self.shelf.inks[i].clone()).collect();
        usual_order(&mut inks, self.many.ground.garment);
        inks.into_iter().map(PlannedScreen::of_ink).collect()
    }

    /// What a set is held back by.
    fn held_back(&self, set: &[usize]) -> f64 {
        let inks: Vec<&Ink> = set.iter().map(|&at| &self.shelf.inks[at]).collect();
        let lab = |ink: &Ink| lab_from_linear(ink.reflectance_over_white());
        let twins = |a: &Ink, b: &Ink| a.role == b.role && ciede2000(lab(a), lab(b)) < TWINS;
        let pairs = inks.iter().enumerate().flat_map(|(at, a)| inks[..at].iter().map(move |b| (*a, *b)));
        TWINS_EARN * pairs.filter(|(a, b)| twins(a, b)).count() as f64
    }

    /// The best of many sets, best first; of equals the first.
    fn best(&self, sets: Vec<Vec<usize>>, before: &Standing) -> Vec<Standing> {
        let solve = |judge: &Judge<'_>, set: &[usize], before: &Solved| judge.solve(self.planned(set), Some(before));
        let mut few: Vec<(Vec<usize>, Solved, f64)> = sets
            .into_par_iter()
            .map(|set| {
                let solved = solve(self.few, &set, &before.few);
                let held_back = self.held_back(&set);
                (set, solved, held_back)
            })
            .collect();
        few.sort_by(|a, b| (a.1.quality.mean + a.2).total_cmp(&(b.1.quality.mean + b.2)));
        few.truncate(FINALISTS);
        let mut many: Vec<Standing> = few
            .into_par_iter()
            .map(|(set, few, held_back)| {
                let many = solve(self.many, &set, &before.many);
                Standing { set, few, many, held_back, exchanged: false }
            })
            .collect();
        many.sort_by(by_rank);
        many
    }

    /// The most screens that are tried: two more than requested.
    pub fn most(&self, requested: usize) -> usize {
        (requested + 2).min(MAX_SCREENS).min(self.allowed.len())
    }

    /// The best set found of every size from the pinned inks up to the most, idle inks left out.
    pub fn run(&self, requested: usize, progress: &Progress) -> Result<Vec<Standing>, Cancelled> {
        let most = self.most(requested);
        let planned = self.planned(self.pinned);
        let mut beam = vec![Standing {
            set: self.pinned.to_vec(),
            few: self.few.solve(planned.clone(), None),
            many: self.many.solve(planned, None),
            held_back: self.held_back(self.pinned),
            exchanged: false,
        }];
        let mut best: Vec<Standing> = Vec::new();
        let mut size = self.pinned.len();
        while size < most {
            progress.step("choose inks", size as f32 / most as f32)?;
            let mut seen = HashSet::new();
            let mut longer: Vec<Standing> = Vec::new();
            for now in &beam {
                let others = self.allowed.iter().filter(|i| !now.set.contains(i));
                let sets =
                    others.map(|&i| sorted([&now.set[..], &[i]].concat())).filter(|set| seen.insert(set.clone()));
                longer.extend(self.best(sets.collect(), now));
            }
            if longer.is_empty() {
                break;
            }
            longer.sort_by(by_rank);
            longer.truncate(BEAM);
            let shorter = std::mem::replace(&mut beam, longer);
            best.extend(self.settled(shorter, size == requested));
            size += 1;
            self.exchange(&mut beam, size, requested, &mut seen, progress)?;
        }
        best.extend(self.settled(beam, size == requested));
        let busy = best.into_par_iter().map(|standing| self.without_idle(standing)).collect();
        Ok(self.none_beaten_by_its_longer(best_of_each_size(busy)))
    }

    /// Exchanges single inks as long as it helps.
    fn exchange(
        &self,
        beam: &mut Vec<Standing>,
        size: usize,
        requested: usize,
        seen: &mut HashSet<Vec<usize>>,
        progress: &Progress,
    ) -> Result<(), Cancelled> {
        for _ in 0..if size == requested { MOST_EXCHANGED } else { usize::from(size < requested) } {
            progress.step("choose inks", size as f32 / (requested + 2) as f32)?;
            // Other sizes are only on the way: their best set alone is looked into.
            let among = if size == requested { beam.len() } else { 1 };
            let Some(at) = beam[..among].iter().position(|s| !s.exchanged) else { break };
            beam[at].exchanged = true;
            let sets = self.exchanges(&beam[at].set).into_iter().filter(|set| seen.insert(set.clone()));
            let found = self.best(sets.collect(), &beam[at]);
            beam.extend(found);
            beam.sort_by(by_rank);
            beam.truncate(BEAM);
        }
        Ok(())
    }

    /// All sets that differ in one ink which is not pinned.
    fn exchanges(&self, set: &[usize]) -> Vec<Vec<usize>> {
        let mut sets = Vec::new();
        for at in (0..set.len()).filter(|&at| !self.pinned.contains(&set[at])) {
            for &other in self.allowed.iter().filter(|i| !set.contains(i)) {
                let mut swapped = set.to_vec();
                swapped[at] = other;
                sets.push(sorted(swapped));
            }
        }
        sets
    }

    /// The best of some sets of one size, solved again from all starts; of the size requested all are, of
    /// others the first alone. None of an empty set.
    fn settled(&self, beam: Vec<Standing>, all: bool) -> Option<Standing> {
        let count = if all { beam.len() } else { 1 };
        let judged = beam.into_par_iter().take(count).filter(|standing| !standing.set.is_empty());
        judged.map(|standing| self.solved_afresh(standing)).min_by(by_rank)
    }

    fn solved_afresh(&self, mut standing: Standing) -> Standing {
        let fresh = self.many.solve(standing.many.screens.clone(), None);
        if fresh.quality.mean < standing.many.quality.mean {
            standing.many = fresh;
        }
        standing
    }

    /// The set without the inks that print next to nothing, pinned ones aside.
    fn without_idle(&self, mut standing: Standing) -> Standing {
        let all: f64 = self.many.colors.iter().map(|c| c.weight).sum();
        loop {
            let coverage = |name: &str| {
                let Some(at) = standing.many.screens.iter().position(|s| *s.name == *name) else { return 1.0 };
                let prints = self.many.colors.iter().zip(&standing.many.values);
                prints.map(|(color, a)| color.weight * f64::from(a[at])).sum::<f64>() / all.max(1e-9)
            };
            let idle = standing
                .set
                .iter()
                .position(|at| !self.pinned.contains(at) && coverage(&self.shelf.inks[*at].name) < IDLE);
            let Some(idle) = idle.filter(|_| standing.set.len() > 1 && !standing.many.values.is_empty()) else {
                return standing;
            };
            let mut set = standing.set.clone();
            set.remove(idle);
            let (few, many) = (self.few.solve(self.planned(&set), None), self.many.solve(self.planned(&set), None));
            standing = Standing { held_back: self.held_back(&set), set, few, many, exchanged: true };
        }
    }

    /// Where a set less one of its inks beats the set found of that size, it takes that one's place.
    fn none_beaten_by_its_longer(&self, mut best: Vec<Standing>) -> Vec<Standing> {
        for at in (1..best.len()).rev() {
            let longer = &best[at];
            let free = (0..longer.set.len()).filter(|place| !self.pinned.contains(&longer.set[*place]));
            let less = |place: usize| {
                let mut set = longer.set.clone();
                set.remove(place);
                set
            };
            let shorter = self.best(free.map(less).collect(), longer).into_iter().next();
            if let Some(shorter) = shorter.map(|standing| self.solved_afresh(standing))
                && shorter.set.len() == best[at - 1].set.len()
                && by_rank(&shorter, &best[at - 1]).is_lt()
            {
                best[at - 1] = shorter;
            }
        }
        best
    }
}

/// The best of each size, smallest first.
pub(super) fn best_of_each_size(mut sets: Vec<Standing>) -> Vec<Standing> {
    sets.sort_by(|a, b| a.set.len().cmp(&b.set.len()).then(by_rank(a, b)));
    sets.dedup_by_key(|standing| standing.set.len());
    sets
}

fn by_rank(a: &Standing, b: &Standing) -> std::cmp::Ordering {
    a.rank().total_cmp(&b.rank())
}

fn sorted(mut set: Vec<usize>) -> Vec<usize> {
    set.sort_unstable();
    set
}
