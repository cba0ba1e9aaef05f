//! Moire of a halftone with its mesh.

use super::shared::{band, dotted_area, has_dots, joined, visible};
use crate::facts::Survey;
use crate::findings::finding::{Basis, Finding, Input, Kind, Severity};
use crate::findings::fix::{Change, Fix};
use crate::findings::inputs::mesh_input;
use crate::moire::{Tones, mesh_beats, safest_angle, worst_beat};

/// Angle and ruling of every screen against its mesh; screens in the same state share a finding.
pub(super) fn with_mesh(s: &Survey<'_>) -> Vec<Finding> {
    let mut out: Vec<Finding> = Vec::new();
    for at in (0..s.len()).filter(|&at| has_dots(s, at)) {
        let (mesh, ruling, angle) = (s.job.run.mesh_of(s.name(at)), s.ruling(at), s.angle(at));
        let tones = s.tones(at);
        let Some(beat) = worst_beat(&mesh_beats(mesh, ruling, angle, &tones), ruling) else { continue };
        let what = format!(
            "{ruling} lpi at {angle} degrees on {} mesh gives moire bands {:.1} mm wide, running at {:.0} degrees.",
            mesh.name,
            beat.period_mm(),
            (beat.direction_deg + 90.0).rem_euclid(180.0)
        );
        if joined(&mut out, &what, s.name(at)) {
            continue;
        }
        out.push(Finding {
            kind: Kind::Moire,
            severity: if beat.risk(ruling) >= 0.5 { Severity::Fault } else { Severity::Caution },
            what,
            number: band(&beat, ruling),
            screens: vec![s.name(at).to_owned()],
            place: dotted_area(s, at),
            inputs: vec![
                mesh_input(mesh),
                Input::new("ruling and angle", format!("{ruling} lpi at {angle} degrees to the threads"), Basis::Job),
                Input::new(
                    "strength",
                    format!("ink swings by {:.0} % from band to band", beat.swing * 100.0),
                    Basis::Screens,
                ),
                visible(),
            ],
            fixes: fixes(s, at, &tones, beat.risk(ruling)),
        });
    }
    out
}

/// Another angle for all screens, another mesh for this one.
fn fixes(s: &Survey<'_>, at: usize, tones: &Tones, risk: f64) -> Vec<Fix> {
    let (mesh, ruling, angle) = (s.job.run.mesh_of(s.name(at)), s.ruling(at), s.angle(at));
    let mut fixes = Vec::new();
    let (safest, left) = safest_angle(mesh, ruling, tones, &s.job.film.angles_at_hand);
    if left < risk * 0.5 {
        let label = match worst_beat(&mesh_beats(mesh, ruling, safest.get(), tones), ruling) {
            Some(b) => format!("Turn all screens to {safest} degrees: weaker bands, {:.1} mm wide", b.period_mm()),
            None => format!("Turn all screens to {safest} degrees: no visible moire"),
        };
        fixes.push(Fix::one(label, Change::Angle { angle: safest }));
    }
    let quiet = (s.job.run.meshes_to_choose().into_iter())
        .filter(|m| m.threads_per_inch > mesh.threads_per_inch + 5.0)
        .find(|m| worst_beat(&mesh_beats(m, ruling, angle, tones), ruling).is_none());
    fixes.extend(quiet.map(|other| {
        Fix::one(
            format!("{} on {} mesh: no visible moire", s.name(at), other.name),
            Change::Mesh { screen: s.name(at).to_owned(), mesh: other.clone() },
        )
    }));
    fixes
}
