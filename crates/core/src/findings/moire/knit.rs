//! Halftone against the garment's knit.

use super::lattice::{beats, sinc};
use super::{Beat, Tones, band, has_dots, joined, mesh_beats, tones, worst_beat};
use crate::findings::finding::{Basis, Finding, Input, Kind, Severity};
use crate::findings::mend::{Change, Mend};
use crate::findings::survey::Survey;
use crate::units::{Degrees, Lpi};

/// Beats of a halftone with a jersey of `wales` and `courses` an inch, standing upright. Loops
/// are taken as half open.
pub fn knit_beats(wales: f64, courses: f64, ruling: Lpi, angle_deg: f64, tones: &Tones) -> Vec<Beat> {
    let other = |(m, n): (i32, i32)| {
        // A knit takes ink a little unevenly, it does not hold it back as thread does: a tenth.
        let swing = 0.1 * sinc(f64::from(m) * 0.5).abs() * sinc(f64::from(n) * 0.5).abs();
        ([f64::from(m) * wales, f64::from(n) * courses], swing)
    };
    beats((ruling, angle_deg, tones), 18, &[(1, 0), (0, 1), (1, 1), (1, -1)], other)
}

/// Widest visible beat of a screen with the garment's knit, if its loops are known; the usual
/// jersey is only an assumption, and no finding is built on it.
pub(super) fn with_knit(s: &Survey<'_>) -> Vec<Finding> {
    let Some(knit) = s.job.garment.knit else { return Vec::new() };
    let mut out: Vec<Finding> = Vec::new();
    for at in (0..s.len()).filter(|&at| has_dots(s, at)) {
        let (ruling, angle, tones) = (s.ruling(at), s.angle(at), tones(s, at));
        let at_angle = |angle: f64| {
            worst_beat(&knit_beats(knit.wales_per_inch, knit.courses_per_inch, ruling, angle, &tones), ruling)
        };
        let Some(beat) = at_angle(angle) else { continue };
        let what = format!(
            "The knit ({:.0} x {:.0} loops an inch) beats with {ruling} lpi at {angle} degrees: bands {:.1} mm wide.",
            knit.wales_per_inch,
            knit.courses_per_inch,
            beat.period_mm()
        );
        if joined(&mut out, &what, s.name(at)) {
            continue;
        }
        let mesh = s.job.run.mesh_of(s.name(at));
        let free = |angle: &f64| {
            at_angle(*angle).is_none() && worst_beat(&mesh_beats(mesh, ruling, *angle, &tones), ruling).is_none()
        };
        let mend = (0..=90)
            .map(|half| f64::from(half) / 2.0)
            .filter(free)
            .min_by(|a, b| (a - 22.5).abs().total_cmp(&(b - 22.5).abs()))
            .and_then(|angle| Degrees::new(angle).ok())
            .map(|angle| Mend::one(format!("Angle {angle} degrees: no visible beat"), Change::Angle { angle }));
        out.push(Finding {
            kind: Kind::Moire,
            severity: Severity::Caution,
            what,
            number: band(&beat, ruling),
            screens: vec![s.name(at).to_owned()],
            place: None,
            inputs: vec![
                Input::new("knit", "loops as stated for the garment", Basis::Job),
                Input::new("ruling and angle", format!("{ruling} lpi at {angle} degrees to the wales"), Basis::Job),
                Input::new("ink on a loop", "a tenth more than between loops", Basis::Assumed),
            ],
            mends: mend.into_iter().collect(),
        });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// A knit of 45 courses an inch under 45 lpi upright lies on the dots; 22.5 degrees are clear.
    #[test]
    fn a_knit_as_fine_as_the_ruling_beats_when_dots_stand_upright() {
        let (ruling, tones) = (Lpi::new(45.0).unwrap(), Tones::new(&[(0.3, 1.0)]));
        let beat = worst_beat(&knit_beats(36.0, 47.0, ruling, 0.0, &tones), ruling).unwrap();
        assert_abs_diff_eq!(beat.per_inch, 2.0, epsilon = 1e-9);
        assert!(worst_beat(&knit_beats(36.0, 47.0, ruling, 22.5, &tones), ruling).is_none());
    }
}
