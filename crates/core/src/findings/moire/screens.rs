//! Moire of halftone against halftone, where both print.

use super::shared::{band, has_dots, visible};
use crate::facts::Survey;
use crate::findings::finding::{Basis, Finding, Input, Kind, RiskArea, Severity};
use crate::findings::fix::{Change, Fix};
use crate::moire::{Dots, Search, safest_angle, screen_beats, worst_beat};
use crate::units::Degrees;

/// Share of the print on which two screens must both have tones (5 to 95 %) to beat visibly.
const OVERLAP: f64 = 0.02;

pub(super) fn between_screens(s: &Survey<'_>) -> Vec<Finding> {
    let mut out = Vec::new();
    for a in 0..s.len() {
        for b in a + 1..s.len() {
            let (ra, rb) = ((s.ruling(a), s.angle(a)), (s.ruling(b), s.angle(b)));
            if ra == rb || !has_dots(s, a) || !has_dots(s, b) {
                continue;
            }
            let both = |block: &usize| [a, b].iter().all(|&i| (0.05..0.95).contains(&s.at(i, *block)));
            let overlap = (0..s.blocks()).filter(both).count() as f64 / s.blocks().max(1) as f64;
            if overlap < OVERLAP {
                continue;
            }
            let (ta, tb) = (s.tones(a), s.tones(b));
            let beats = screen_beats((ra.0, ra.1, &ta), (rb.0, rb.1, &tb));
            let Some(beat) = worst_beat(&beats, ra.0) else { continue };
            out.push(Finding {
                kind: Kind::Moire,
                severity: if beat.period_mm() > 6.0 { Severity::Fault } else { Severity::Caution },
                what: format!(
                    "{} at {} degrees and {} at {} degrees give moire bands {:.1} mm wide where both print.",
                    s.name(a),
                    ra.1,
                    s.name(b),
                    rb.1,
                    beat.period_mm()
                ),
                number: band(&beat, ra.0),
                screens: vec![s.name(a).to_owned(), s.name(b).to_owned()],
                place: RiskArea::of_map(s.map(|block| f64::from(u8::from(both(&block)))), s.mm_per_px),
                inputs: vec![
                    Input::new("overlap", format!("{:.0} % of the print", overlap * 100.0), Basis::Screens),
                    visible(),
                ],
                fixes: if ra.0 == rb.0 { fixes(s, a, beat.risk(ra.0)) } else { Vec::new() },
            });
        }
    }
    out
}

/// Angles far apart; else one angle for all, which gives no moire between screens, at a price.
fn fixes(s: &Survey<'_>, a: usize, risk: f64) -> Vec<Fix> {
    let one = || {
        let (one, left) =
            safest_angle(s.job.run.mesh_of(s.name(a)), s.ruling(a), &s.tones(a), &s.job.film.angles_at_hand);
        let label =
            format!("Turn all screens to {one} degrees: no moire between screens, but colour moves with register");
        (left < risk).then(|| Fix::one(label, Change::Angle { angle: one }))
    };
    if s.len() > 6 {
        return one().into_iter().collect();
    }
    let mut fixes = Vec::new();
    let dots = (0..s.len()).map(|at| Dots {
        mesh: s.job.run.mesh_of(s.name(at)),
        ruling: s.ruling(at),
        tones: has_dots(s, at).then(|| s.tones(at)),
    });
    let search = Search::new(dots.collect(), &s.job.film.angles_at_hand);
    let set = search.apart(22.5);
    if search.risk(&set) < risk {
        let set: Vec<Degrees> = set.into_iter().filter_map(|angle| Degrees::new(angle).ok()).collect();
        let list: Vec<String> = set.iter().map(Degrees::to_string).collect();
        fixes.push(Fix::one(
            format!("An angle for each screen: {} degrees in print order", list.join(", ")),
            Change::Angles { angles: (0..s.len()).map(|i| s.name(i).to_owned()).zip(set).collect() },
        ));
    }
    fixes.extend(one());
    fixes
}
