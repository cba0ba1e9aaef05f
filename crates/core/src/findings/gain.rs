//! Gain sensitivity: how far the look moves when one screen prints ten points heavier or lighter
//! at half tone, and how far it moves when films carry no compensation at all.

use rayon::prelude::*;
use serde::Serialize;

use super::finding::Basis;
use super::finding::{Finding, Input, Kind, Number, Place, Severity};
use super::lost_dots::gain_input;
use super::mend::{Change, Mend};
use super::survey::Survey;
use crate::color::{Lab, ciede2000, lab_from_linear};

/// Points at half tone by which a screen is made heavier or lighter.
const POINTS: f32 = 0.10;

/// What ten points of one screen do to the look.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sensitivity {
    /// The screen.
    pub screen: String,
    /// Mean CIEDE2000 over the printed area, the worse of heavier and lighter.
    pub mean: f64,
    /// 95th percentile of the same.
    pub p95: f64,
}

/// A tone with `points` more gain: most at one half, none at the ends.
pub(super) fn heavier(a: f32, points: f32) -> f32 {
    (a + points * 4.0 * a * (1.0 - a)).clamp(0.0, 1.0)
}

/// Blocks to look at: a spread of the printed ones.
fn sample(s: &Survey<'_>, most: usize) -> Vec<usize> {
    let printed: Vec<usize> = (0..s.blocks()).filter(|&at| s.small.iter().any(|p| p.data()[at] > 655)).collect();
    let step = printed.len().div_ceil(most).max(1);
    printed.into_iter().step_by(step).collect()
}

/// Every screen's sensitivity, most dangerous first.
pub(super) fn sensitivities(s: &Survey<'_>) -> Vec<Sensitivity> {
    let blocks = sample(s, 12_000);
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

/// Mean shift over the printed area at which one screen is said to endanger the look. Ten points
/// of a lone black at half tone make 5 to 6; a screen that does more steers the whole print.
const LIMIT: f64 = 6.5;

pub(super) fn gain_sensitivity(s: &Survey<'_>, all: &[Sensitivity]) -> Vec<Finding> {
    let mut out = Vec::new();
    if let Some(finding) = uncompensated(s) {
        out.push(finding);
    }
    if let Some(worst) = all.first().filter(|w| w.mean > LIMIT) {
        out.push(Finding {
            kind: Kind::GainSensitivity,
            severity: Severity::Caution,
            what: format!(
                "Ten points of gain on {} move the whole print by CIEDE2000 {:.1}: watch this screen first.",
                worst.screen, worst.mean
            ),
            number: Number { label: "mean CIEDE2000 for ten points".into(), value: worst.mean, unit: "", limit: LIMIT },
            screens: vec![worst.screen.clone()],
            place: None,
            inputs: vec![gain_input(s), Input::new("limit", format!("{LIMIT}"), Basis::Assumed)],
            mends: Vec::new(),
        });
    }
    out
}

/// With compensation off: the gap between the look that the screens mean and what the gain makes
/// of it.
fn uncompensated(s: &Survey<'_>) -> Option<Finding> {
    if s.job.press.compensate || s.job.run.calibration {
        return None;
    }
    let meant = s.optics.without_gain();
    let shift_at = |at: usize| {
        let mut a = vec![0.0f32; s.len()];
        s.coverages(at, &mut a);
        f64::from(ciede2000(lab_from_linear(meant.reflectance(&a)), lab_from_linear(s.optics.reflectance(&a))))
    };
    let blocks = sample(s, 12_000);
    let mean = blocks.par_iter().map(|&at| shift_at(at)).sum::<f64>() / blocks.len().max(1) as f64;
    let limit = 4.0;
    if mean < limit {
        return None;
    }
    Some(Finding {
        kind: Kind::GainSensitivity,
        severity: if mean >= 8.0 { Severity::Fault } else { Severity::Caution },
        what: format!(
            "Films carry no gain compensation: tones print heavier, and the look shifts by CIEDE2000 {mean:.1} on average."
        ),
        number: Number { label: "mean CIEDE2000 by gain".into(), value: mean, unit: "", limit },
        screens: Vec::new(),
        place: Place::of_map(s.map(|at| shift_at(at) / 20.0), s.mm_per_px),
        inputs: vec![gain_input(s)],
        mends: vec![Mend::one("Compensate the gain on the films", Change::Compensate)],
    })
}
