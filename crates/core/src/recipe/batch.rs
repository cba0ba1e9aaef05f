//! A recipe on the scale: grams in its steps that add up to the batch, and what they cost.

use super::{Bench, InkRoom, Wanted};

/// So much of a component.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Amount {
    /// The component by its place in the room.
    pub component: usize,
    /// Grams.
    pub grams: f64,
}

/// What is weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct Batch {
    /// In whole steps of the scale, none of them nothing.
    pub amounts: Vec<Amount>,
    /// Grams in all: the sum of the amounts.
    pub grams: f64,
    /// CIEDE2000 of the weighed mix to what is wanted.
    pub miss: f64,
}

impl Batch {
    /// Weighs out shares on a scale that shows `step` grams: the batch in whole steps, at least `grams`; each amount
    /// rounded so that they add up, then moved by single steps while that brings the colour nearer.
    pub fn weigh(bench: &Bench, wanted: &Wanted, parts: &[(usize, f64)], grams: f64, step: f64) -> Self {
        let whole = (grams / step - 1e-9).ceil().max(1.0);
        let exact: Vec<f64> = parts.iter().map(|p| p.1 * whole).collect();
        let mut steps: Vec<f64> = exact.iter().map(|e| e.floor()).collect();
        let mut order: Vec<usize> = (0..parts.len()).collect();
        order.sort_by(|&a, &b| (exact[b] - steps[b]).total_cmp(&(exact[a] - steps[a])));
        let missing = (whole - steps.iter().sum::<f64>()).round() as usize;
        for &at in order.iter().cycle().take(missing) {
            steps[at] += 1.0;
        }
        let mix =
            |steps: &[f64]| -> Vec<(usize, f64)> { parts.iter().zip(steps).map(|(p, s)| (p.0, s / whole)).collect() };
        let miss = |steps: &[f64]| bench.miss(wanted, &mix(steps));
        let mut now = miss(&steps);
        // Two amounts by a step against each other, as long as it helps; it ends, as each round brings a gain.
        loop {
            let pairs = (0..steps.len()).flat_map(|i| (0..steps.len()).map(move |j| (i, j)));
            let moves = pairs.filter(|&(i, j)| i != j && steps[j] >= 1.0).map(|(i, j)| {
                let mut moved = steps.clone();
                moved[i] += 1.0;
                moved[j] -= 1.0;
                (miss(&moved), moved)
            });
            match moves.min_by(|a, b| a.0.total_cmp(&b.0)) {
                Some((better, moved)) if better < now - 1e-9 => (now, steps) = (better, moved),
                _ => break,
            }
        }
        let amounts = parts.iter().zip(&steps).filter(|(_, steps)| **steps > 0.0);
        let amounts = amounts.map(|(p, steps)| Amount { component: p.0, grams: steps * step }).collect();
        Self { amounts, grams: whole * step, miss: now }
    }

    /// The weighed shares.
    pub fn parts(&self) -> Vec<(usize, f64)> {
        self.amounts.iter().map(|a| (a.component, a.grams / self.grams)).collect()
    }
}

/// What amounts cost; the names of those without a price if there are any.
pub fn cost<'a>(room: &'a InkRoom, amounts: &[Amount]) -> Result<f64, Vec<&'a str>> {
    let priced = |a: &Amount| room.components[a.component].price_per_kg;
    let without: Vec<&str> =
        amounts.iter().filter(|a| priced(a).is_none()).map(|a| room.components[a.component].name.as_str()).collect();
    if !without.is_empty() {
        return Err(without);
    }
    Ok(amounts.iter().map(|a| priced(a).unwrap_or(0.0) * a.grams / 1000.0).sum())
}
