//! Dots that will not hold. A film dot needs threads to stand on: at two threads and one opening
//! across it always finds them, under one thread and one opening it often finds none (common
//! practice, from memory). What counts is the dot on the film, so gain compensation, which thins
//! highlights on the film, moves the limit up on the shirt. On the shadow side, holes close.

use std::f64::consts::PI;

use rayon::prelude::*;

use super::finding::{Basis, Finding, Input, Kind, Number, Place, Severity};
use super::mend::{Change, Mend};
use super::survey::{BINS, INKED, Survey, bin_coverage};
use crate::color::{ciede2000, lab_from_linear};
use crate::tune::{Curve, Edit};
use crate::units::{Coverage, Lpi};
use crate::usage::{Mesh, mesh_shelf};

/// Film coverages at which dots of a mesh and ruling start to hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DotLimits {
    /// Under this a dot is often lost.
    pub marginal: f64,
    /// From this on every dot holds.
    pub safe: f64,
}

impl DotLimits {
    /// Round dots of a diameter in a square cell of the ruling.
    pub fn new(mesh: &Mesh, ruling: Lpi) -> Self {
        let pitch_um = 25_400.0 / ruling.get();
        let area = |diameter_um: f64| (PI / 4.0 * (diameter_um / pitch_um).powi(2)).min(1.0);
        Self { marginal: area(mesh.marginal_dot_um()), safe: area(mesh.safe_dot_um()) }
    }
}

/// Share of a screen's inked area whose film dots lie under `limit`, and the share that the eye
/// would look at: tones of 1 % and more on the shirt.
fn share_under(s: &Survey<'_>, at: usize, limit: f64, film: impl Fn(f64) -> f64) -> f64 {
    let inked = s.inked(at);
    if inked == 0.0 {
        return 0.0;
    }
    s.mean(at, |a| f64::from(u8::from(a >= INKED && film(a) < limit))) / inked
}

/// Share of a screen's inked area from which lost dots matter, if their loss is seen.
const CAUTION: f64 = 0.12;

/// Share from which they matter even where a print with them and one without look much alike:
/// the screen is mostly highlights.
const MOSTLY: f64 = 0.70;

/// CIEDE2000 at which a lost tone is seen, and shares of the print that make a caution or a fault.
const SEEN: f32 = 4.0;
const SEEN_CAUTION: f64 = 0.03;
const SEEN_FAULT: f64 = 0.15;

/// Part of a film tone that holds: none under marginal, all from safe on.
fn held(f: f64, limits: DotLimits) -> f64 {
    ((f - limits.marginal) / (limits.safe - limits.marginal).max(1e-9)).clamp(0.0, 1.0)
}

/// Share of the print on which losing this screen's weak dots is seen.
fn seen_share(s: &Survey<'_>, at: usize, limits: DotLimits) -> f64 {
    let step = (s.blocks() / 40_000).max(1);
    let blocks: Vec<usize> = (0..s.blocks()).step_by(step).collect();
    let seen = blocks
        .par_iter()
        .filter(|&&block| {
            let here = f64::from(s.small[at].data()[block]) / 65535.0;
            let kept = held(s.film(here), limits);
            if here < INKED || kept >= 1.0 {
                return false;
            }
            let mut a = vec![0.0f32; s.len()];
            s.coverages(block, &mut a);
            let meant = lab_from_linear(s.stack.reflectance(&a));
            a[at] *= kept as f32;
            ciede2000(meant, lab_from_linear(s.stack.reflectance(&a))) > SEEN
        })
        .count();
    seen as f64 / blocks.len().max(1) as f64
}

pub(super) fn lost_dots(s: &Survey<'_>) -> Vec<Finding> {
    (0..s.len()).filter_map(|at| highlights(s, at)).collect()
}

fn highlights(s: &Survey<'_>, at: usize) -> Option<Finding> {
    let (name, mesh, ruling) = (s.name(at), s.job.press.mesh_of(s.name(at)), s.ruling(at));
    let limits = DotLimits::new(mesh, ruling);
    let lost = share_under(s, at, limits.marginal, |a| s.film(a));
    let risky = share_under(s, at, limits.safe, |a| s.film(a));
    let inked = s.inked(at);
    // A few stray tones on a hundredth of the print matter to nobody.
    if lost < CAUTION || lost * inked < 0.005 {
        return None;
    }
    let seen = seen_share(s, at, limits);
    if seen < SEEN_CAUTION && lost < MOSTLY {
        return None;
    }
    // The tone on the shirt whose film dot is just marginal.
    let on_shirt = (0..BINS).map(bin_coverage).find(|&a| s.film(a) >= limits.marginal).unwrap_or(1.0);

    let mut mends = Vec::new();
    let finer = |better: f64| {
        let finer = mesh_shelf().iter().filter(|m| m.threads_per_inch > mesh.threads_per_inch + 10.0);
        finer
            .map(|m| (m, share_under(s, at, DotLimits::new(m, ruling).marginal, |a| s.film(a))))
            .find(|(_, after)| *after < better)
    };
    if let Some((finer, after)) = finer(CAUTION).or_else(|| finer(lost * 0.5)) {
        mends.push(Mend::one(
            format!("{name} on {} mesh: {:.0} % at risk instead of {:.0} %", finer.name, after * 100.0, lost * 100.0),
            Change::Mesh { screen: name.to_owned(), mesh: finer.clone() },
        ));
    }
    for lpi in [55.0, 45.0, 40.0, 35.0, 30.0, 25.0] {
        if lpi >= ruling.get() {
            continue;
        }
        let Ok(coarser) = Lpi::new(lpi) else { continue };
        let gain = s.job.press.gain.curve(coarser);
        let film = |a: f64| if s.job.press.compensate { f64::from(gain.film(a as f32)) } else { a };
        let after = share_under(s, at, DotLimits::new(mesh, coarser).marginal, film);
        if after < CAUTION || after < lost * 0.5 {
            mends.push(Mend::one(
                format!("Ruling {coarser} lpi: {:.0} % at risk instead of {:.0} %", after * 100.0, lost * 100.0),
                Change::Ruling { ruling: coarser },
            ));
            break;
        }
    }
    if let Ok(below) = Coverage::new((on_shirt * 100.0).ceil().min(100.0) / 100.0)
        && on_shirt < 0.25
    {
        mends.push(Mend::one(
            format!("Clip {name} below {:.0} %, so that it ends cleanly", below.get() * 100.0),
            Change::Edit { edit: Edit::trim(name, below, false) },
        ));
    }
    let m = on_shirt * 100.0;
    if on_shirt < 0.25
        && let Ok(curve) = Curve::new(vec![[0.0, 0.0], [1.0, m], [3.0 * m, 3.0 * m], [100.0, 100.0]])
    {
        mends.push(Mend::one(
            format!("Lift {name}'s highlights to {m:.0} %, so that every dot holds"),
            Change::Edit { edit: Edit::Curve { screen: name.to_owned(), curve } },
        ));
    }
    Some(Finding {
        kind: Kind::LostDots,
        severity: if seen >= SEEN_FAULT || lost >= MOSTLY { Severity::Fault } else { Severity::Caution },
        what: format!(
            "{:.0} % of {name}'s area has dots too small for {} mesh at {ruling} lpi: tones under {:.0} % on the shirt \
             need film dots under {:.1} %, and will break up or vanish.",
            lost * 100.0,
            mesh.name,
            on_shirt * 100.0,
            limits.marginal * 100.0
        ),
        number: Number {
            label: format!("of {name}'s area at risk"),
            value: lost * 100.0,
            unit: "%",
            limit: CAUTION * 100.0,
        },
        screens: vec![name.to_owned()],
        place: Place::of_map(
            s.map(|block| {
                let a = f64::from(s.small[at].data()[block]) / 65535.0;
                if a < INKED {
                    0.0
                } else {
                    ((limits.safe - s.film(a)) / (limits.safe - limits.marginal)).clamp(0.0, 1.0)
                }
            }),
            s.mm_per_px,
        ),
        inputs: vec![
            mesh_input(mesh),
            Input::new("ruling", format!("{ruling} lpi"), Basis::Job),
            gain_input(s),
            Input::new(
                "dots that hold",
                format!(
                    "{:.0} um marginal, {:.0} um safe; {:.0} % of the area under safe; seen on {:.0} % of the print",
                    mesh.marginal_dot_um(),
                    mesh.safe_dot_um(),
                    risky * 100.0,
                    seen * 100.0
                ),
                Basis::Assumed,
            ),
        ],
        mends,
    })
}

/// Shadows: tones meant to stay open whose holes close. The gain curve knows which film tone
/// prints solid; compensation opens films as far as it can.
pub(super) fn filled_shadows(s: &Survey<'_>) -> Vec<Finding> {
    (0..s.len())
        .filter_map(|at| {
            let inked = s.inked(at);
            let closed = |a: f64| (0.80..0.97).contains(&a) && s.gain.print(s.film(a) as f32) >= 0.99;
            let share = s.mean(at, |a| f64::from(u8::from(closed(a)))) / inked.max(1e-9);
            if share < 0.15 || share * inked < 0.02 {
                return None;
            }
            let name = s.name(at);
            Some(Finding {
                kind: Kind::FilledShadows,
                severity: Severity::Caution,
                what: format!(
                    "Shadows of {name} fill in: {:.0} % of its area is meant to stay open at 80 to 97 % and prints solid.",
                    share * 100.0
                ),
                number: Number { label: format!("of {name}'s area fills in"), value: share * 100.0, unit: "%", limit: 15.0 },
                screens: vec![name.to_owned()],
                place: Place::of_map(
                    s.map(|b| f64::from(u8::from(closed(f64::from(s.small[at].data()[b]) / 65535.0)))),
                    s.mm_per_px,
                ),
                inputs: vec![gain_input(s), Input::new("ruling", format!("{} lpi", s.ruling(at)), Basis::Job)],
                mends: if s.job.press.compensate {
                    Vec::new()
                } else {
                    vec![Mend::one("Compensate the gain on the films", Change::Compensate)]
                },
            })
        })
        .collect()
}

pub(super) fn mesh_input(mesh: &Mesh) -> Input {
    Input::new(
        "mesh",
        format!("{}: thread {:.0} um, opening {:.0} um", mesh.name, mesh.thread_um, mesh.opening_um()),
        if mesh.is_documented() { Basis::Published } else { Basis::Assumed },
    )
}

pub(super) fn gain_input(s: &Survey<'_>) -> Input {
    let measured = matches!(s.job.press.gain, crate::press::DotGain::Measured { .. });
    Input::new(
        "dot gain",
        format!(
            "{}, {}",
            s.job.press.gain.describe(),
            if s.job.press.compensate { "compensated on films" } else { "not compensated" }
        ),
        if measured { Basis::Measured } else { Basis::Assumed },
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Trade notes (arithmetic on a published mesh row, 225 threads, 40 um thread, 73 um opening):
    /// safe 5.8, 8.6, 12 % and marginal 3.1, 4.7, 6.6 % at 45, 55, 65 lpi.
    #[test]
    fn limits_on_a_published_mesh() {
        let mesh = Mesh::named("225/40").unwrap();
        for (lpi, safe, marginal) in [(45.0, 5.8, 3.1), (55.0, 8.6, 4.7), (65.0, 12.0, 6.6)] {
            let limits = DotLimits::new(&mesh, Lpi::new(lpi).unwrap());
            assert_abs_diff_eq!(limits.safe * 100.0, safe, epsilon = 0.06);
            assert_abs_diff_eq!(limits.marginal * 100.0, marginal, epsilon = 0.06);
        }
    }
}
