//! Gain sensitivity: how far the look moves when one screen prints ten points heavier or lighter
//! at half tone.

use crate::screens::ScreenName;
use rayon::prelude::*;
use serde::Serialize;

use super::Survey;
use crate::color::{Lab, ciede2000, lab_from_linear};

/// Points at half tone by which a screen is made heavier or lighter.
const POINTS: f32 = 0.10;

/// What ten points of one screen do to the look.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sensitivity {
    /// The screen.
    pub screen: ScreenName,
    /// Mean CIEDE2000 over the printed area, the worse of heavier and lighter.
    pub mean: f64,
    /// 95th percentile of the same.
    pub p95: f64,
}

/// A tone with `points` more gain: most at one half, none at the ends.
pub(crate) fn heavier(a: f32, points: f32) -> f32 {
    (a + points * 4.0 * a * (1.0 - a)).clamp(0.0, 1.0)
}

/// At most about `most` printed blocks, spread evenly.
pub(crate) fn printed_blocks(s: &Survey<'_>, most: usize) -> Vec<usize> {
    let printed: Vec<usize> = (0..s.blocks()).filter(|&at| s.small.iter().any(|p| p.data()[at] > 655)).collect();
    let step = printed.len().div_ceil(most).max(1);
    printed.into_iter().step_by(step).collect()
}

/// Every screen's sensitivity, most dangerous first.
pub(crate) fn sensitivities(s: &Survey<'_>) -> Vec<Sensitivity> {
    let blocks = printed_blocks(s, 12_000);
    let mut a = vec![0.0f32; s.len()];
    let even: Vec<(Vec<f32>, Lab)> = blocks
        .iter()
        .map(|&at| {
            s.coverages(at, &mut a);
            let lab = lab_from_linear(s.optics.reflectance(&a));
            (a.clone(), lab)
        })
        .collect();
    let mut out: Vec<Sensitivity> = (0..s.len())
        .map(|i| {
            let worse = [POINTS, -POINTS]
                .map(|points| {
                    let mut all: Vec<f32> = even
                        .par_iter()
                        .map(|(a, lab)| {
                            let mut moved = a.clone();
                            moved[i] = heavier(a[i], points);
                            ciede2000(*lab, lab_from_linear(s.optics.reflectance(&moved)))
                        })
                        .collect();
                    let mean = all.iter().map(|&d| f64::from(d)).sum::<f64>() / all.len().max(1) as f64;
                    all.sort_by(f32::total_cmp);
                    (mean, f64::from(all.get(all.len() * 95 / 100).copied().unwrap_or(0.0)))
                })
                .into_iter()
                .fold((0.0f64, 0.0f64), |m, v| if v.0 > m.0 { v } else { m });
            Sensitivity { screen: s.name(i).to_owned(), mean: worse.0, p95: worse.1 }
        })
        .collect();
    out.sort_by(|a, b| b.mean.total_cmp(&a.mean));
    out
}
