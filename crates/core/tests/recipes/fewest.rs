//! Fewest components, proved: a plain search, which shares nothing with the code but the colour of a mix, goes
//! through every set of components.

use super::ink_room::{Dice, let_down, measured_room, some_mix, truth};
use super::{lab, lab_of, over_card};
use rayon::prelude::*;
use strikeoff_core::recipe::{Bench, Wanted, recipe};

/// Least CIEDE2000 of a set: from several starts, each share is raised and lowered by a factor that shrinks.
fn least(bench: &Bench, wanted: &Wanted, set: &[usize], most: &[f64]) -> f64 {
    let miss = |weights: &[f64]| {
        let sum: f64 = weights.iter().sum();
        let parts: Vec<(usize, f64)> = set.iter().zip(weights).map(|(at, w)| (*at, w / sum)).collect();
        if parts.iter().any(|p| p.1 > most[p.0] + 1e-12) { f64::INFINITY } else { bench.miss(wanted, &parts) }
    };
    let mut best = f64::INFINITY;
    for lead in set {
        let mut weights: Vec<f64> =
            set.iter().map(|at| if at == lead && most[*at] == 1.0 { 1.0 } else { 0.05 * most[*at] }).collect();
        let mut now = miss(&weights);
        let mut factor = 3.0;
        while factor > 1.0005 {
            let mut moved = false;
            for at in 0..weights.len() {
                for by in [factor, 1.0 / factor] {
                    let kept = weights[at];
                    weights[at] *= by;
                    let then = miss(&weights);
                    if then < now {
                        (now, moved) = (then, true);
                    } else {
                        weights[at] = kept;
                    }
                }
            }
            if !moved {
                factor = f64::sqrt(factor);
            }
        }
        best = best.min(now);
    }
    best
}

fn sets(count: usize) -> Vec<Vec<usize>> {
    (0..256usize)
        .filter(|k| k.count_ones() as usize == count)
        .map(|k| (0..8).filter(|i| k >> i & 1 == 1).collect())
        .collect()
}

/// Issue: fewest components proved by search on 20 cases. No smaller set comes within the gain of what a larger one
/// gives, and no set as small as the chosen one is much nearer.
#[test]
fn no_smaller_set_serves_in_twenty_cases() {
    let room = measured_room(&mut Dice::new(5));
    let asked = over_card();
    let bench = Bench::new(&room, asked.ground, asked.thick).unwrap();
    let most: Vec<f64> = room.components.iter().map(|c| c.most).collect();
    let counts: Vec<usize> = (0..20u64)
        .into_par_iter()
        .map(|case| {
            let mix = match case % 4 {
                // One colour in the base, from yellow to green.
                0 => let_down(3 + case as usize / 4, 0.05),
                _ => some_mix(&mut Dice::new(300 + case)),
            };
            let wanted = Wanted::of_lab(lab(lab_of(&truth(&mix))));
            let found = recipe(&room, &wanted, &asked).unwrap();
            let count = found.parts.len();
            let best = |count: usize| {
                sets(count).iter().map(|set| least(&bench, &wanted, set, &most)).fold(f64::INFINITY, f64::min)
            };
            assert!(found.miss <= best(count) + 0.02, "case {case}: {found:?}");
            for fewer in 1..count {
                let plain = best(fewer);
                let ahead = found.by_count[fewer..].iter().copied().fold(f64::INFINITY, f64::min);
                assert!(plain - ahead >= asked.gain - 0.02, "case {case}: {fewer} reach {plain}, {found:?}");
            }
            count
        })
        .collect();
    assert!(counts.iter().any(|c| *c <= 2) && counts.iter().any(|c| *c >= 3), "{counts:?}");
}
