//! Tints from all over the inks.

use super::patch::Tint;

/// So many mixtures of inks that fill their space evenly: the additive sequence of Roberts (2018), which takes powers of the root of
/// `x^(d+1) = x + 1`.
pub fn spread(inks: usize, count: usize) -> Vec<Vec<f64>> {
    let mut root: f64 = 1.5;
    for _ in 0..60 {
        root = (1.0 + root).powf(1.0 / (inks as f64 + 1.0));
    }
    (0..count)
        .map(|at| (1..=inks).map(|i| (0.5 + (at as f64 + 1.0) * root.powi(-(i as i32))).fract()).collect())
        .collect()
}

/// Of `candidates`, the ones that lie farthest from each other and from what is there already, up to `count`.
pub fn farthest(there: &[Tint], candidates: &[Tint], count: usize) -> Vec<Tint> {
    let apart = |a: &Tint, b: &Tint| -> f64 {
        // Wet or flashed counts like half a coverage where inks overlap.
        a.place().iter().zip(b.place()).map(|(a, b)| (a - b).powi(2)).sum()
    };
    let mut nearest: Vec<f64> =
        candidates.iter().map(|c| there.iter().map(|t| apart(c, t)).fold(f64::INFINITY, f64::min)).collect();
    let mut out = Vec::new();
    while out.len() < count {
        let Some(at) = (0..candidates.len()).max_by(|a, b| nearest[*a].total_cmp(&nearest[*b])) else { break };
        if nearest[at] <= 0.0 {
            break;
        }
        for (near, candidate) in nearest.iter_mut().zip(candidates) {
            *near = near.min(apart(candidate, &candidates[at]));
        }
        out.push(candidates[at].clone());
    }
    out
}
