//! Dots that will not hold. A film dot needs threads to stand on: at two threads and one opening
//! across it always finds them, under one thread and one opening it often finds none (common
//! practice, from memory). What counts is the dot on the film, so gain compensation, which thins
//! highlights on the film, moves the limit up on the shirt. On the shadow side, holes close.
//! Every photograph has such dots; they are spoken of where losing them is seen on the shirt, or
//! where a screen holds little else.

use std::f64::consts::PI;

use rayon::prelude::*;

use super::finding::{Basis, Finding, Input, Kind, Number, Place, Severity};
use super::mend::{Change, Mend};
use super::survey::{BINS, INKED, Survey, bin_coverage};
use super::whites::{drops, in_words};
use crate::color::{ciede2000, lab_from_linear};
use crate::halftone::DotPolicy;
use crate::ink::InkRole;
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

/// CIEDE2000 at which a lost tone is seen.
const SEEN: f32 = 4.0;

/// Shares of the print on which lost dots are seen that make a caution and a fault (assumed).
const SEEN_CAUTION: f64 = 0.08;
const SEEN_FAULT: f64 = 0.30;

/// Share of a screen's area at risk from which it is said to hold little else.
const MOSTLY: f64 = 0.70;

/// Share of the print up to which a screen may be seen and still be called idle.
const IDLE: f64 = 0.02;

/// Share of a screen's inked area whose film dots lie under `limit`. What a film leaves out on
/// purpose is not at risk.
fn share_under(s: &Survey<'_>, at: usize, limit: f64) -> f64 {
    let inked = s.inked(at);
    if inked == 0.0 {
        return 0.0;
    }
    let under = |film: f64| film > 0.0 && film < limit;
    s.mean(at, |a| f64::from(u8::from(a >= INKED && under(s.film(a))))) / inked
}

/// Part of a film tone that holds: none under marginal, all from safe on.
fn held(f: f64, limits: DotLimits) -> f64 {
    ((f - limits.marginal) / (limits.safe - limits.marginal).max(1e-9)).clamp(0.0, 1.0)
}

/// Share of the print on which it is seen that a screen keeps only `kept` of each tone.
fn seen_share(s: &Survey<'_>, at: usize, kept: impl Fn(f64) -> f64 + Sync) -> f64 {
    let blocks = s.every(12_000);
    let table: Vec<f32> = (0..BINS).map(|bin| kept(bin_coverage(bin)) as f32).collect();
    let seen = blocks
        .par_iter()
        .filter(|&&block| {
            let here = f64::from(s.small[at].data()[block]) / 65535.0;
            let kept = table[(here * (BINS - 1) as f64).round() as usize];
            if here < INKED || kept >= 1.0 {
                return false;
            }
            let mut a = vec![0.0f32; s.len()];
            s.coverages(block, &mut a);
            let meant = lab_from_linear(s.optics.reflectance(&a));
            a[at] *= kept;
            ciede2000(meant, lab_from_linear(s.optics.reflectance(&a))) > SEEN
        })
        .count();
    seen as f64 / blocks.len().max(1) as f64
}

/// The same for a screen on a mesh at a ruling.
fn seen_on(s: &Survey<'_>, at: usize, mesh: &Mesh, ruling: Lpi) -> f64 {
    let limits = DotLimits::new(mesh, ruling);
    let gain = s.job.press.gain.curve(ruling);
    seen_share(s, at, |a| {
        let film = s.film_at(a, &gain);
        // Left out by the film itself: that is decided, not lost.
        if film <= 0.0 { 1.0 } else { held(film, limits) }
    })
}

/// One screen with weak dots.
struct Weak {
    at: usize,
    limits: DotLimits,
    /// Share of its inked area under marginal.
    lost: f64,
    /// Share of the print on which that is seen.
    seen: f64,
}

pub(super) fn lost_dots(s: &Survey<'_>) -> Vec<Finding> {
    let mut weak: Vec<Weak> = (0..s.len())
        .filter(|&at| !s.is_empty(at))
        .map(|at| {
            let (mesh, ruling) = (s.job.run.mesh_of(s.name(at)), s.ruling(at));
            let limits = DotLimits::new(mesh, ruling);
            let lost = share_under(s, at, limits.marginal);
            // A few stray tones on a hundredth of the print matter to nobody.
            let seen = if lost * s.inked(at) < 0.005 { 0.0 } else { seen_on(s, at, mesh, ruling) };
            Weak { at, limits, lost, seen }
        })
        .collect();
    let mut out = Vec::new();
    let is_idle = |w: &Weak| w.lost >= MOSTLY && w.seen < SEEN_CAUTION && seen_share(s, w.at, |_| 0.0) < IDLE;
    out.extend(idle(s, &weak.iter().filter(|w| is_idle(w)).collect::<Vec<_>>()));
    weak.retain(|w| w.seen >= SEEN_CAUTION);
    weak.sort_by(|a, b| b.seen.total_cmp(&a.seen));
    // Screens on one mesh at one ruling share a finding and its mends.
    while let Some(worst) = weak.first() {
        let key = |w: &Weak| (s.job.run.mesh_of(s.name(w.at)).name.clone(), s.ruling(w.at).get().to_bits());
        let same = key(worst);
        let (group, rest): (Vec<Weak>, Vec<Weak>) = weak.into_iter().partition(|w| key(w) == same);
        out.push(breaking(s, &group));
        weak = rest;
    }
    out
}

/// Screens that hold little but dots that will be lost, and that nobody would miss.
fn idle(s: &Survey<'_>, weak: &[&Weak]) -> Option<Finding> {
    let first = weak.first()?;
    let names: Vec<String> = weak.iter().map(|w| s.name(w.at).to_owned()).collect();
    let (mesh, ruling) = (s.job.run.mesh_of(&names[0]), s.ruling(first.at));
    let lost = weak.iter().map(|w| w.lost).fold(0.0, f64::max) * 100.0;
    let one = names.len() == 1;
    Some(Finding {
        kind: Kind::LostDots,
        severity: Severity::Caution,
        what: format!(
            "{} {} almost only dots too small for {} mesh at {ruling} lpi, and the print looks the same without {}.",
            in_words(&names),
            if one { "prints" } else { "print" },
            mesh.name,
            if one { "it" } else { "any one of them" }
        ),
        number: Number { label: "share of its area at risk".into(), value: lost, unit: "%", limit: MOSTLY * 100.0 },
        screens: names.clone(),
        place: Place::of_map(s.map(|block| f64::from(s.small[first.at].data()[block]) / 65535.0 * 5.0), s.mm_per_px),
        inputs: vec![
            mesh_input(mesh),
            Input::new("ruling", format!("{ruling} lpi"), Basis::Job),
            gain_input(s),
            Input::new(
                "looks the same",
                format!("seen on less than {:.0} % of the print", IDLE * 100.0),
                Basis::Assumed,
            ),
        ],
        mends: drops(s, &names),
    })
}

/// Screens whose lost dots are seen.
fn breaking(s: &Survey<'_>, group: &[Weak]) -> Finding {
    let worst = &group[0];
    let (mesh, ruling, limits) = (s.job.run.mesh_of(s.name(worst.at)), s.ruling(worst.at), worst.limits);
    let names: Vec<String> = group.iter().map(|w| s.name(w.at).to_owned()).collect();
    // The tone on the shirt whose film dot is just marginal.
    let on_shirt = (0..BINS).map(bin_coverage).find(|&a| s.film(a) >= limits.marginal).unwrap_or(1.0);
    let each: Vec<String> = group.iter().map(|w| format!("{} {:.0} %", s.name(w.at), w.seen * 100.0)).collect();
    let risky = share_under(s, worst.at, limits.safe);
    Finding {
        kind: Kind::LostDots,
        severity: if worst.seen >= SEEN_FAULT { Severity::Fault } else { Severity::Caution },
        what: format!(
            "Tones of {} under {:.0} % on the shirt need film dots under {:.1} %, which break up or vanish on {} mesh at \
             {ruling} lpi; it is seen on {:.0} % of the print.",
            in_words(&names),
            on_shirt * 100.0,
            limits.marginal * 100.0,
            mesh.name,
            worst.seen * 100.0
        ),
        number: Number {
            label: "share of the print that shows lost dots".into(),
            value: worst.seen * 100.0,
            unit: "%",
            limit: SEEN_CAUTION * 100.0,
        },
        screens: names,
        place: Place::of_map(
            s.map(|block| {
                let risk = |w: &Weak| {
                    let a = f64::from(s.small[w.at].data()[block]) / 65535.0;
                    let film = s.film(a);
                    if a < INKED || film <= 0.0 { 0.0 } else { 1.0 - held(film, limits) }
                };
                group.iter().map(risk).fold(0.0, f64::max)
            }),
            s.mm_per_px,
        ),
        inputs: vec![
            mesh_input(mesh),
            Input::new("ruling", format!("{ruling} lpi"), Basis::Job),
            gain_input(s),
            Input::new(
                "dots that hold",
                format!("{:.0} um marginal, {:.0} um safe", mesh.marginal_dot_um(), mesh.safe_dot_um()),
                Basis::Assumed,
            ),
            Input::new(
                "at risk",
                format!(
                    "{:.0} % of {}'s area under marginal, {:.0} % under safe; seen (CIEDE2000 over {SEEN:.0}) on {}",
                    worst.lost * 100.0,
                    s.name(worst.at),
                    risky * 100.0,
                    each.join(", ")
                ),
                Basis::Screens,
            ),
        ],
        mends: mends(s, group, mesh, ruling, limits),
    }
}

/// The finest mesh that is proposed for a screen, in threads an inch: through a finer one a white
/// lays down too little to hide the fabric (supply-house page: 230 for a tonal base, 305 for tonal
/// colours).
fn finest_threads(s: &Survey<'_>, at: usize) -> f64 {
    match s.screens.list[at].ink.role {
        InkRole::BaseWhite | InkRole::White => 230.0,
        _ => 305.0,
    }
}

fn mends(s: &Survey<'_>, group: &[Weak], mesh: &Mesh, ruling: Lpi, limits: DotLimits) -> Vec<Mend> {
    let (seen, mut mends) = (group[0].seen, Vec::new());
    let worst_on = |mesh: &Mesh, ruling: Lpi| group.iter().map(|w| seen_on(s, w.at, mesh, ruling)).fold(0.0, f64::max);
    let names: Vec<String> = group.iter().map(|w| s.name(w.at).to_owned()).collect();
    let finer: Vec<(&Mesh, f64)> = mesh_shelf()
        .iter()
        .filter(|m| m.threads_per_inch > mesh.threads_per_inch + 10.0)
        .filter(|m| group.iter().all(|w| m.threads_per_inch <= finest_threads(s, w.at)))
        .map(|m| (m, worst_on(m, ruling)))
        .collect();
    let helps = |limit: f64| finer.iter().find(|(_, after)| *after < limit);
    if let Some((finer, after)) = helps(SEEN_CAUTION).or_else(|| helps(seen * 0.6)) {
        mends.push(Mend {
            label: format!(
                "{} on {} mesh: seen on {:.0} % instead of {:.0} %",
                in_words(&names),
                finer.name,
                after * 100.0,
                seen * 100.0
            ),
            changes: (names.iter())
                .map(|screen| Change::Mesh { screen: screen.clone(), mesh: (*finer).clone() })
                .collect(),
        });
    }
    for coarser in [55.0, 45.0, 40.0, 35.0].into_iter().filter(|lpi| *lpi < ruling.get()) {
        let Ok(coarser) = Lpi::new(coarser) else { continue };
        let after = worst_on(mesh, coarser);
        if after < SEEN_CAUTION || after < seen * 0.6 {
            mends.push(Mend::one(
                format!("Ruling {coarser} lpi: seen on {:.0} % instead of {:.0} %", after * 100.0, seen * 100.0),
                Change::Ruling { ruling: coarser },
            ));
            break;
        }
    }
    let up = Coverage::new((limits.marginal * 1000.0).ceil() / 1000.0).ok().filter(|c| c.get() < 0.25);
    if let Some(smallest) = up {
        let clip = Change::SmallestDot { smallest, below: DotPolicy::Clip };
        mends.push(Mend::one(
            format!("Films leave out dots under {:.1} %: tones end cleanly", smallest.get() * 100.0),
            clip,
        ));
        // Where there is a breath of ink over much of the print, lifting it would make a veil.
        let breath = |w: &Weak| s.mean(w.at, |a| f64::from(u8::from(a > 0.0 && a < INKED)));
        if group.iter().all(|w| breath(w) < 0.05) {
            let lift = Change::SmallestDot { smallest, below: DotPolicy::Lift };
            mends.push(Mend::one(
                format!("Films lift smaller dots to {:.1} %: no tone ends early", smallest.get() * 100.0),
                lift,
            ));
        }
    }
    mends
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
                number: Number { label: format!("share of {name}'s area that fills in"), value: share * 100.0, unit: "%", limit: 15.0 },
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
