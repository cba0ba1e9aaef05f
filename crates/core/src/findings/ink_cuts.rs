//! Cuts that bring the ink in one place under a limit. Each is tried on the heavy places with the
//! print model, and the ones that change the look least are offered: a part of an upper ink taken out
//! of a lower one, where it is hidden anyway, or a whole screen printed thinner.

use super::fix::{Change, Fix};
use crate::color::{Lab, ciede2000, lab_from_linear};
use crate::facts::Survey;
use crate::ink::InkRole;
use crate::tune::{Edit, edits};
use crate::units::Coverage;

/// Share of the print under which too much ink in one place is not reported.
pub(super) const PLACE: f64 = 0.01;

/// Heavy places that are looked at, at most.
const SAMPLE: usize = 400;

/// Shares of an upper ink that are tried.
const SHARES: [f64; 5] = [0.2, 0.4, 0.6, 0.8, 1.0];

/// Factors of a thinner screen that are tried.
const FACTORS: [f64; 5] = [0.9, 0.8, 0.7, 0.6, 0.5];

/// Mean CIEDE2000 on the heavy places up to which a cut is offered (assumed).
const MOST_SHIFT: f64 = 6.0;

/// A cut, and the screen's coverage after it.
#[derive(Clone, Copy)]
enum Cut {
    /// So much of screen `by` off screen `at`.
    Subtract { at: usize, by: usize, share: f64 },
    /// Screen `at` times a factor.
    Thin { at: usize, factor: f64 },
}

impl Cut {
    fn apply(self, a: &mut [f32]) {
        match self {
            Self::Subtract { at, by, share } => a[at] = (a[at] - share as f32 * a[by]).max(0.0),
            Self::Thin { at, factor } => a[at] *= factor as f32,
        }
    }

    fn fix(self, s: &Survey<'_>, most: f64, shift: f64) -> Option<Fix> {
        let ends = format!("{:.0} % ink at most, dE {shift:.1} there", most * 100.0);
        let (label, edit) = match self {
            Self::Subtract { at, by, share } => {
                let (screen, by) = (s.name(at).to_owned(), s.name(by).to_owned());
                let label = format!("Subtract {:.0} % of {by} from {screen}: {ends}", share * 100.0);
                (label, Edit::Subtract(edits::Subtract { screen, by, share: Coverage::new(share).ok()? }))
            }
            Self::Thin { at, factor } => {
                let screen = s.name(at).to_owned();
                (
                    format!("Thin {screen} to {:.0} %: {ends}", factor * 100.0),
                    Edit::Density(edits::Density { screen, factor }),
                )
            }
        };
        Some(Fix::one(label, Change::Edit { edit }))
    }
}

/// Up to two cuts after which nearly nothing of these heavy blocks is over `limit_pct`.
pub(super) fn cuts(s: &Survey<'_>, heavy: &[usize], limit_pct: f64) -> Vec<Fix> {
    let sample: Vec<usize> = heavy.iter().step_by(heavy.len().div_ceil(SAMPLE).max(1)).copied().collect();
    let before: Vec<(Vec<f32>, Lab)> = sample
        .iter()
        .map(|&block| {
            let mut a = vec![0.0f32; s.len()];
            s.coverages(block, &mut a);
            let look = lab_from_linear(s.optics.reflectance(&a));
            (a, look)
        })
        .collect();
    // Of the whole print, so much may stay over the limit; of the sample, its part of that.
    let may_stay = PLACE * s.blocks() as f64 / heavy.len().max(1) as f64;
    let total = |a: &[f32]| -> f64 {
        let inks = a.iter().zip(&s.screens.list).enumerate();
        inks.map(|(at, (&a, screen))| s.printed(at, f64::from(a)) * f64::from(screen.hits)).sum()
    };
    let tried = |cut: Cut| -> Option<(f64, f64)> {
        let (mut over, mut most, mut shift) = (0usize, 0.0f64, 0.0f64);
        for (a, look) in &before {
            let mut a = a.clone();
            cut.apply(&mut a);
            let ink = total(&a);
            over += usize::from(ink * 100.0 > limit_pct + 0.5);
            most = most.max(ink);
            shift += f64::from(ciede2000(*look, lab_from_linear(s.optics.reflectance(&a))));
        }
        let shift = shift / before.len().max(1) as f64;
        let enough = over as f64 <= may_stay.min(0.02) * before.len() as f64;
        (enough && shift <= MOST_SHIFT).then_some((most, shift))
    };
    // For each pair or screen the gentlest cut that is enough.
    let gentlest = |cuts: Vec<Cut>| cuts.into_iter().find_map(|cut| tried(cut).map(|(most, shift)| (cut, most, shift)));
    let is_white = |at: usize| matches!(s.screens.list[at].ink.role, InkRole::White | InkRole::BaseWhite);
    let mut found = Vec::new();
    for by in 0..s.len() {
        // A white on top is there to be seen; taking it out of what lies under it is no cut of colour.
        let lower = (0..by).filter(|&at| !is_white(by) || is_white(at));
        found.extend(lower.filter_map(|at| gentlest(SHARES.map(|share| Cut::Subtract { at, by, share }).to_vec())));
    }
    found.extend((0..s.len()).filter_map(|at| gentlest(FACTORS.map(|factor| Cut::Thin { at, factor }).to_vec())));
    found.sort_by(|a, b| a.2.total_cmp(&b.2));
    found.into_iter().take(2).filter_map(|(cut, most, shift)| cut.fix(s, most, shift)).collect()
}
