//! How a press has changed from one fingerprint to another.

use super::patch::Tint;
use super::{Predictor, spread};
use crate::color::difference;

/// The change.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Points of gain at 50 % that each ink prints heavier; below 0 lighter.
    pub points: Vec<f64>,
    /// CIEDE2000 over tints from all over the inks: mean and 95th percentile.
    pub mean: f64,
    /// See `mean`.
    pub p95: f64,
    /// Share of those tints whose change lies beyond both bands.
    pub sure: f64,
}

impl Change {
    /// From one fingerprint to a later one of the same inks; none if they have not as many.
    pub fn between(before: &Predictor, after: &Predictor) -> Option<Self> {
        if before.inks() != after.inks() {
            return None;
        }
        let points = (0..before.inks()).map(|ink| after.gain_points(ink) - before.gain_points(ink)).collect();
        let tints: Vec<Tint> = spread(before.inks(), 200).into_iter().map(Tint::wet).collect();
        let mut apart: Vec<f64> = Vec::new();
        let mut sure = 0;
        for (a, b) in before.predict(&tints).into_iter().zip(after.predict(&tints)) {
            let by = difference(a.lab, b.lab);
            sure += usize::from(by > a.band.hypot(b.band));
            apart.push(by);
        }
        apart.sort_by(f64::total_cmp);
        let count = tints.len() as f64;
        Some(Self {
            points,
            mean: apart.iter().sum::<f64>() / count,
            p95: apart[(0.95 * count) as usize],
            sure: f64::from(sure as u32) / count,
        })
    }

    /// In a sentence.
    pub fn describe(&self) -> String {
        let mean = self.points.iter().sum::<f64>() / self.points.len().max(1) as f64;
        let gain = match mean.round() {
            points if points >= 1.0 => format!("the press prints {points:.0} points heavier"),
            points if points <= -1.0 => format!("the press prints {:.0} points lighter", -points),
            _ => "the press gains as much as before".to_owned(),
        };
        let matters = if self.sure > 0.05 { "which shows" } else { "less than both prints can tell apart" };
        format!("{gain}; colours move by {:.1} on average, 95 % under {:.1}, {matters}", self.mean, self.p95)
    }
}
