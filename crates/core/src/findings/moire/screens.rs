//! Halftone against halftone, where both print.

use super::lattice::{beats, lattice};
use super::{Beat, Tones, band, has_dots, tones, visible, worst_beat};
use crate::findings::angle_search::{Dots, Search, safest_angle};
use crate::findings::finding::{Basis, Finding, Input, Kind, Severity};
use crate::findings::mend::{Change, Mend};
use crate::findings::survey::Survey;
use crate::units::{Degrees, Lpi};

/// Beats of two halftones, each with its ruling, angle and film tones. Equal ruling and angle have
/// none. Only the lowest harmonics of both are tried.
pub fn screen_beats(a: (Lpi, f64, &Tones), b: (Lpi, f64, &Tones)) -> Vec<Beat> {
    let other = |(m, n): (i32, i32)| (lattice(b.0.get(), b.1, m, n), b.2.swing(m * m + n * n));
    beats(a, 2, &[(1, 0), (0, 1), (1, 1), (1, -1)], other)
}

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
            let both = |at: &usize| [a, b].iter().all(|&i| (3277..62258).contains(&s.small[i].data()[*at]));
            let overlap = (0..s.blocks()).filter(both).count() as f64 / s.blocks().max(1) as f64;
            if overlap < OVERLAP {
                continue;
            }
            let (ta, tb) = (tones(s, a), tones(s, b));
            let beats = screen_beats((ra.0, ra.1, &ta), (rb.0, rb.1, &tb));
            let Some(beat) = worst_beat(&beats, ra.0) else { continue };
            out.push(Finding {
                kind: Kind::Moire,
                severity: if beat.period_mm() > 6.0 { Severity::Fault } else { Severity::Caution },
                what: format!(
                    "{} at {} degrees beats with {} at {} degrees: bands {:.1} mm wide where both print.",
                    s.name(a),
                    ra.1,
                    s.name(b),
                    rb.1,
                    beat.period_mm()
                ),
                number: band(&beat, ra.0),
                screens: vec![s.name(a).to_owned(), s.name(b).to_owned()],
                place: None,
                inputs: vec![
                    Input::new("overlap", format!("{:.0} % of the print", overlap * 100.0), Basis::Screens),
                    visible(),
                ],
                mends: if ra.0 == rb.0 { mends(s, a, beat.risk(ra.0)) } else { Vec::new() },
            });
        }
    }
    out
}

/// One angle for all has no beat between screens at all; else angles that stand apart.
fn mends(s: &Survey<'_>, a: usize, risk: f64) -> Vec<Mend> {
    let mut mends = Vec::new();
    let (one, left) = safest_angle(s.job.run.mesh_of(s.name(a)), s.ruling(a), &tones(s, a));
    if left < risk {
        mends.push(Mend::one(
            format!("Every screen at {one} degrees: no beat between screens"),
            Change::Angle { angle: one },
        ));
    }
    if s.len() > 6 {
        return mends;
    }
    let dots = (0..s.len()).map(|at| Dots {
        mesh: s.job.run.mesh_of(s.name(at)),
        ruling: s.ruling(at),
        tones: has_dots(s, at).then(|| tones(s, at)),
    });
    let search = Search::new(dots.collect());
    let set = search.apart(22.5);
    if search.risk(&set) < risk {
        let set: Vec<Degrees> = set.into_iter().filter_map(|angle| Degrees::new(angle).ok()).collect();
        let list: Vec<String> = set.iter().map(Degrees::to_string).collect();
        mends.push(Mend::one(
            format!("Angles of their own: {} degrees in print order", list.join(", ")),
            Change::Angles { angles: (0..s.len()).map(|i| s.name(i).to_owned()).zip(set).collect() },
        ));
    }
    mends
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use std::f64::consts::PI;

    /// Two drawn halftones, one over the other as multiplied light, summed over Fourier at the
    /// predicted frequency: the beat is there and as strong as said. 45 lpi at 22.5 and 27.5
    /// degrees: 2 * 45 * sin(2.5 deg) = 3.93 an inch (equal gratings, moire_two_gratings.csv).
    #[test]
    fn two_drawn_screens_beat_where_and_as_strongly_as_predicted() {
        let ruling = Lpi::new(45.0).unwrap();
        for (tone, second, expected) in [(0.3, 27.5, 3.926), (0.45, 32.5, 7.844)] {
            let tones = Tones::new(&[(tone, 1.0)]);
            let beat = screen_beats((ruling, 22.5, &tones), (ruling, second, &tones))[0];
            assert_abs_diff_eq!(beat.per_inch, expected, epsilon = 2e-3);
            let (size_in, n) = (3.0, 2400);
            let t = beat.direction_deg.to_radians();
            let (fx, fy) = (beat.per_inch * t.cos(), beat.per_inch * t.sin());
            let dot = |x: f64, y: f64, angle: f64| {
                let (s, c) = angle.to_radians().sin_cos();
                let (u, v) = ((x * c + y * s) * 45.0, (-x * s + y * c) * 45.0);
                let (u, v) = (u - u.round(), v - v.round());
                u * u + v * v <= tone / PI
            };
            let (mut both, mut peak, mut beside) = (0.0, [0.0f64; 2], [0.0f64; 2]);
            for at in 0..n * n {
                let (x, y) = ((at % n) as f64 / n as f64 * size_in, (at / n) as f64 / n as f64 * size_in);
                if !dot(x, y, 22.5) || !dot(x, y, second) {
                    continue;
                }
                let w = (1.0 - (2.0 * PI * x / size_in).cos()) * (1.0 - (2.0 * PI * y / size_in).cos());
                both += w;
                for (sum, k) in [(&mut peak, 1.0), (&mut beside, 1.63)] {
                    let phase = 2.0 * PI * k * (fx * x + fy * y);
                    sum[0] += w * phase.cos();
                    sum[1] += w * phase.sin();
                }
            }
            let seen = 2.0 * peak[0].hypot(peak[1]) / both;
            let noise = 2.0 * beside[0].hypot(beside[1]) / both;
            assert!(seen > 4.0 * noise, "{second}: {seen} against {noise}");
            assert!((seen / beat.swing - 1.0).abs() < 0.25, "{second}: drawn {seen}, predicted {}", beat.swing);
        }
    }
}
