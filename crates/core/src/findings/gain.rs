//! Dot gain that endangers the look: one screen that steers the whole print, and films that carry no
//! compensation at all.

use rayon::prelude::*;

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix};
use super::inputs::gain_input;
use crate::color::{ciede2000, lab_from_linear};
use crate::facts::{Sensitivity, Survey, printed_blocks};

/// Mean shift over the printed area at which one screen is said to endanger the look. Ten points
/// of a lone black at half tone make 5 to 6; a screen that does more steers the whole print.
const LIMIT: f64 = 6.5;

/// Mean shifts by gain without compensation that make a caution and a fault (assumed).
const SHIFT_CAUTION: f64 = 4.0;
const SHIFT_FAULT: f64 = 8.0;

pub(super) fn gain_sensitivity(s: &Survey<'_>, all: &[Sensitivity]) -> Vec<Finding> {
    let mut out = Vec::new();
    out.extend(uncompensated(s));
    if let Some(worst) = all.first().filter(|w| w.mean > LIMIT) {
        out.push(Finding {
            kind: Kind::GainSensitivity,
            severity: Severity::Caution,
            what: format!(
                "Ten points more or less gain on {} shift the whole print by dE {:.1}: watch this screen first.",
                worst.screen, worst.mean
            ),
            number: Number { label: "mean dE 2000 for ten points".into(), value: worst.mean, unit: "", limit: LIMIT },
            screens: vec![worst.screen.clone()],
            place: None,
            inputs: vec![gain_input(s), Input::new("limit", format!("dE 2000 of {LIMIT}"), Basis::Assumed)],
            fixes: Vec::new(),
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
    let blocks = printed_blocks(s, 12_000);
    let mean = blocks.par_iter().map(|&at| shift_at(at)).sum::<f64>() / blocks.len().max(1) as f64;
    if mean < SHIFT_CAUTION {
        return None;
    }
    Some(Finding {
        kind: Kind::GainSensitivity,
        severity: if mean >= SHIFT_FAULT { Severity::Fault } else { Severity::Caution },
        what: format!(
            "The films carry no dot gain compensation: tones print heavier, and colours shift by dE {mean:.1} on average."
        ),
        number: Number { label: "mean dE 2000 by gain".into(), value: mean, unit: "", limit: SHIFT_CAUTION },
        screens: Vec::new(),
        place: RiskArea::of_map(s.map(|at| shift_at(at) / 20.0), s.mm_per_px),
        inputs: vec![gain_input(s)],
        fixes: vec![Fix::one("Compensate the dot gain on the films", Change::Compensate)],
    })
}
