//! The search for angles with the least moire: of a screen with its mesh, where half a degree of
//! error in stretching is allowed for, and of the screens with each other, where only the
//! difference of their angles counts. In steps of half a degree over a right angle, after which
//! dots on a square grid repeat.

use super::lattice::{Beat, Tones, worst_beat};
use super::mesh::mesh_beats;
use super::screens::screen_beats;
use crate::halftone::turn_between;
use crate::units::{Degrees, Lpi};
use crate::usage::Mesh;

/// Steps of half a degree in a right angle.
const STEPS: usize = 180;

/// Distance of angles that a mesh maker's page asks for between screens with angles of their own.
const APART_DEG: f64 = 15.0;

fn degrees(step: usize) -> f64 {
    step as f64 / 2.0
}

fn step(angle_deg: f64) -> usize {
    (angle_deg * 2.0).rem_euclid(STEPS as f64).round() as usize % STEPS
}

/// A screen whose angle is searched for. Without tones it has no dots that could beat.
pub(crate) struct Dots<'a> {
    pub mesh: &'a Mesh,
    pub ruling: Lpi,
    pub tones: Option<Tones>,
}

/// Risks of every angle of every screen, 0 none to 1.
pub(crate) struct Search {
    /// By screen and step: the worst of it and its neighbours.
    mesh: Vec<Vec<f64>>,
    /// By screen, other screen and difference.
    between: Vec<Vec<Vec<f64>>>,
    /// Angles that may be given.
    choices: Vec<f64>,
}

impl Search {
    /// `at_hand`: the angles to choose from; none named means any.
    pub fn new(screens: Vec<Dots<'_>>, at_hand: &[Degrees]) -> Self {
        // Threads cross at right angles and dots lie on a square grid: both are the same on both
        // sides of 45 degrees, and so is the beat of two grids for a difference of angles.
        let mirrored = |half: Vec<f64>| -> Vec<f64> { (0..STEPS).map(|k| half[k.min(STEPS - k)]).collect() };
        let on_mesh = |dots: &Dots<'_>| {
            let Some(tones) = &dots.tones else { return vec![0.0; STEPS] };
            let risk = |k| risk_of(&mesh_beats(dots.mesh, dots.ruling, degrees(k), tones), dots.ruling);
            let all = mirrored((0..=STEPS / 2).map(risk).collect());
            (0..STEPS).map(|k| all[(k + STEPS - 1) % STEPS].max(all[k]).max(all[(k + 1) % STEPS])).collect()
        };
        let of_two = |a: &Dots<'_>, b: &Dots<'_>| {
            let (Some(ta), Some(tb)) = (&a.tones, &b.tones) else { return vec![0.0; STEPS] };
            let risk = |k| match (a.ruling == b.ruling, k) {
                (true, 0) => 0.0,
                _ => risk_of(&screen_beats((a.ruling, 0.0, ta), (b.ruling, degrees(k), tb)), a.ruling),
            };
            mirrored((0..=STEPS / 2).map(risk).collect())
        };
        let mesh = screens.iter().map(on_mesh).collect();
        let between =
            (0..screens.len()).map(|b| screens[..b].iter().map(|a| of_two(a, &screens[b])).collect()).collect();
        let choices = match at_hand {
            [] => (0..STEPS).map(degrees).collect(),
            some => some.iter().map(|angle| angle.get().rem_euclid(90.0)).collect(),
        };
        Self { mesh, between, choices }
    }

    /// The angle for all screens with the least risk; of equals the one nearest to `now`. Equal
    /// rulings at one angle do not beat with each other.
    pub fn together(&self, now: f64) -> f64 {
        let worst = |angle: f64| self.mesh.iter().map(|risks| risks[step(angle)]).fold(0.0, f64::max);
        self.best(now, worst)
    }

    /// An angle for each screen, 15 degrees and more from the others as long as there is room.
    pub fn apart(&self, now: f64) -> Vec<f64> {
        let n = self.mesh.len().max(1);
        // One after the other, or evenly over the right angle from any start: greed packs badly.
        let count = self.choices.len();
        let even =
            (0..count.div_ceil(n)).map(|from| (0..n).map(|at| self.choices[(from + at * count / n) % count]).collect());
        let starts: Vec<Vec<f64>> = std::iter::once(self.greedy(now, APART_DEG)).chain(even).collect();
        let cost = |set: &[f64]| (0..set.len()).map(|at| self.cost(set, at, set[at], APART_DEG)).sum::<f64>();
        let least = starts.into_iter().filter(|set| set.len() == self.mesh.len()).min_by(|a, b| {
            let far = |set: &[f64]| set.iter().map(|&angle| turn_between(angle, now)).fold(f64::INFINITY, f64::min);
            cost(a).total_cmp(&cost(b)).then(far(a).total_cmp(&far(b)))
        });
        self.exchanged(least.unwrap_or_default(), now, APART_DEG)
    }

    /// The largest risk that is left at these angles, taken to half a degree.
    pub fn risk(&self, angles: &[f64]) -> f64 {
        let set: Vec<usize> = angles.iter().map(|&angle| step(angle)).collect();
        let mut risk = 0.0f64;
        for (at, &k) in set.iter().enumerate() {
            risk = risk.max(self.mesh[at][k]);
            for (other, &before) in set[..at].iter().enumerate() {
                risk = risk.max(self.between[at][other][k.abs_diff(before)]);
            }
        }
        risk
    }

    /// Risks of screen `at` at a step among others; closer than `apart` degrees costs up to 1.
    fn cost(&self, set: &[f64], at: usize, angle: f64, apart: f64) -> f64 {
        let others = set.iter().enumerate().filter(|(other, _)| *other != at);
        let pairs = others.map(|(other, &there)| {
            let (a, b) = (at.max(other), at.min(other));
            let close = turn_between(angle, there);
            let crowded = if close < apart { (apart - close) / apart } else { 0.0 };
            self.between[a][b][step(angle).abs_diff(step(there))] + crowded
        });
        self.mesh[at][step(angle)] + pairs.sum::<f64>()
    }

    fn greedy(&self, now: f64, apart: f64) -> Vec<f64> {
        let mut set: Vec<f64> = Vec::new();
        for at in 0..self.mesh.len() {
            let next = self.best(now, |angle| self.cost(&set, at, angle, apart));
            set.push(next);
        }
        set
    }

    /// Moves one screen at a time until no move helps.
    fn exchanged(&self, mut set: Vec<f64>, now: f64, apart: f64) -> Vec<f64> {
        for _ in 0..8 {
            let before = set.clone();
            for at in 0..set.len() {
                let found = self.best(now, |angle| self.cost(&set, at, angle, apart));
                if self.cost(&set, at, found, apart) + 1e-9 < self.cost(&set, at, set[at], apart) {
                    set[at] = found;
                }
            }
            if set == before {
                break;
            }
        }
        set
    }

    /// The angle with the least cost; of equals the nearest to one.
    fn best(&self, now: f64, cost: impl Fn(f64) -> f64) -> f64 {
        let marks = self.choices.iter().map(|&angle| (cost(angle), turn_between(angle, now), angle));
        marks.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))).map_or(now, |mark| mark.2)
    }
}

fn risk_of(beats: &[Beat], ruling: Lpi) -> f64 {
    worst_beat(beats, ruling).map_or(0.0, |beat| beat.risk(ruling))
}

/// Angle with the least risk on a mesh, of those at hand or, where none is named, between 0 and 45 degrees, and that
/// risk; of equals the one whose coarsest beat is finest, and near 22.5 first. Each angle is judged with half a degree
/// of error in stretching the mesh.
pub fn safest_angle(mesh: &Mesh, ruling: Lpi, tones: &Tones, at_hand: &[Degrees]) -> (Degrees, f64) {
    let choices: Vec<f64> = match at_hand {
        [] => (0..=STEPS / 2).map(degrees).collect(),
        some => some.iter().map(|angle| angle.get()).collect(),
    };
    let marks = choices.into_iter().map(|angle| {
        let worst = [-0.5, 0.0, 0.5].iter().fold((0.0f64, 0.0f64), |worst, off| {
            let beats = mesh_beats(mesh, ruling, angle + off, tones);
            let coarsest = beats.first().map_or(0.0, Beat::period_mm);
            (worst.0.max(risk_of(&beats, ruling)), worst.1.max(coarsest))
        });
        (worst.0, worst.1 + (angle - 22.5).abs() / 100.0, angle)
    });
    let best = marks.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))).unwrap_or((0.0, 0.0, 22.5));
    (Degrees::new(best.2).unwrap_or_else(|_| unreachable!()), best.0)
}

/// One angle each for `count` screens of one mesh and ruling, 0 to 90 degrees, that beat least with
/// the mesh and with each other: for shops that give every screen an angle of its own. Screens lie
/// at least 15 degrees apart as long as there is room. With the risk that is left, 0..1.
pub fn safest_angle_set(
    mesh: &Mesh,
    ruling: Lpi,
    tones: &Tones,
    count: usize,
    at_hand: &[Degrees],
) -> (Vec<Degrees>, f64) {
    let same = (0..count).map(|_| Dots { mesh, ruling, tones: Some(tones.clone()) });
    let search = Search::new(same.collect(), at_hand);
    let mut set = search.apart(22.5);
    let left = search.risk(&set);
    set.sort_by(f64::total_cmp);
    (set.into_iter().filter_map(|angle| Degrees::new(angle).ok()).collect(), left)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Angles of a set lie 15 degrees apart and none of them beats visibly with 230 mesh.
    #[test]
    fn a_set_of_angles_lies_apart_and_is_free_of_the_mesh() {
        let (mesh, ruling, tones) = (Mesh::default(), Lpi::new(45.0).unwrap(), Tones::even());
        for count in [1, 2, 4, 6] {
            let (set, left) = safest_angle_set(&mesh, ruling, &tones, count, &[]);
            assert_eq!(set.len(), count);
            for (i, a) in set.iter().enumerate() {
                assert!(worst_beat(&mesh_beats(&mesh, ruling, a.get(), &tones), ruling).is_none(), "{a}");
                for b in &set[..i] {
                    let apart = (a.get() - b.get()).abs();
                    assert!(apart.min(90.0 - apart) >= 15.0 - 1e-9, "{set:?}");
                }
            }
            assert!(left < 0.5, "{left}");
        }
        // A shop that has three angles is given these.
        let own = [15.0, 45.0, 75.0].map(|angle| Degrees::new(angle).unwrap());
        let (set, _) = safest_angle_set(&mesh, ruling, &tones, 4, &own);
        assert!(set.iter().all(|angle| own.contains(angle)) && own.iter().all(|angle| set.contains(angle)), "{set:?}");
        assert!(own.contains(&safest_angle(&mesh, ruling, &tones, &own).0));
    }
}
