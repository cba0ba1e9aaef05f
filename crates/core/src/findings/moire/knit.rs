//! Moire of a halftone with the garment's knit.

use super::shared::{band, dotted_area, has_dots, joined};
use crate::facts::Survey;
use crate::findings::finding::{Basis, Finding, Input, Kind, Severity};
use crate::findings::fix::{Change, Fix};
use crate::moire::{knit_beats, mesh_beats, worst_beat};
use crate::units::Degrees;

/// Widest visible beat of a screen with the garment's knit, if its loops are known; the usual
/// jersey is only an assumption, and no finding is built on it.
pub(super) fn with_knit(s: &Survey<'_>) -> Vec<Finding> {
    let Some(knit) = s.job.garment.knit else { return Vec::new() };
    let mut out: Vec<Finding> = Vec::new();
    for at in (0..s.len()).filter(|&at| has_dots(s, at)) {
        let (ruling, angle, tones) = (s.ruling(at), s.angle(at), s.tones(at));
        let at_angle = |angle: f64| {
            worst_beat(&knit_beats(knit.wales_per_inch, knit.courses_per_inch, ruling, angle, &tones), ruling)
        };
        let Some(beat) = at_angle(angle) else { continue };
        let what = format!(
            "{ruling} lpi at {angle} degrees gives moire bands {:.1} mm wide with the garment's knit ({:.0} x {:.0} loops per \
             inch).",
            beat.period_mm(),
            knit.wales_per_inch,
            knit.courses_per_inch
        );
        if joined(&mut out, &what, s.name(at)) {
            continue;
        }
        let mesh = s.job.run.mesh_of(s.name(at));
        let free = |angle: &f64| {
            at_angle(*angle).is_none() && worst_beat(&mesh_beats(mesh, ruling, *angle, &tones), ruling).is_none()
        };
        let fix = (0..=90)
            .map(|half| f64::from(half) / 2.0)
            .filter(free)
            .min_by(|a, b| (a - 22.5).abs().total_cmp(&(b - 22.5).abs()))
            .and_then(|angle| Degrees::new(angle).ok())
            .map(|angle| {
                Fix::one(format!("Turn all screens to {angle} degrees: no visible moire"), Change::Angle { angle })
            });
        out.push(Finding {
            kind: Kind::Moire,
            severity: Severity::Caution,
            what,
            number: band(&beat, ruling),
            screens: vec![s.name(at).to_owned()],
            place: dotted_area(s, at),
            inputs: vec![
                Input::new("knit", "loops as stated for the garment", Basis::Job),
                Input::new("ruling and angle", format!("{ruling} lpi at {angle} degrees to the wales"), Basis::Job),
                Input::new("ink on a loop", "a tenth more than between loops", Basis::Assumed),
            ],
            fixes: fix.into_iter().collect(),
        });
    }
    out
}
