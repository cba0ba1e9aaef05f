//! Moire. Threads of the mesh, dots of a halftone and loops of a knit are lattices; what the eye
//! sees is the difference of two of their harmonics when it falls to a low frequency. Low-order
//! vectors of both lattices are tried and weighed by how strong those harmonics are, since ratio
//! rules of thumb miss coarse beats: 55 lpi at 45 degrees on 156 mesh has a ratio of 2.8, and its
//! (2, 2) harmonic lies 0.44 per inch from the threads, a band of 58 mm. Method: vector sums in
//! the frequency plane (Amidror, "The Theory of the Moire Phenomenon").

use std::f64::consts::PI;

use super::finding::{Basis, Finding, Input, Kind, Number, Severity};
use super::lost_dots::mesh_input;
use super::mend::{Change, Mend};
use super::survey::{BINS, Survey, bin_coverage};
use crate::units::{Degrees, Lpi, MM_PER_INCH};
use crate::usage::Mesh;

/// One beat of two lattices.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beat {
    /// Beats an inch.
    pub per_inch: f64,
    /// Direction of the frequency vector, degrees from the horizontal, 0..180; bands run across it.
    pub direction_deg: f64,
    /// Harmonic of the first lattice, always the halftone (or the halftone that prints first).
    pub halftone: (i32, i32),
    /// Harmonic of the other lattice.
    pub other: (i32, i32),
    /// Swing of the ink around its mean, a fraction.
    pub swing: f64,
}

impl Beat {
    /// Width of a band in mm.
    pub fn period_mm(&self) -> f64 {
        MM_PER_INCH / self.per_inch.max(1e-6)
    }

    /// Whether the eye sees it as a pattern: a band is wider than four dots and 2 mm (under that
    /// it is texture), and the ink swings by more than 2 %. Our judgement, not a standard.
    pub fn is_visible(&self, ruling: Lpi) -> bool {
        self.period_mm() >= (4.0 * MM_PER_INCH / ruling.get()).max(2.0) && self.swing >= 0.02
    }

    /// Risk, 0..1: swing against 10 %, less for bands close to the limit of texture.
    pub fn risk(&self, ruling: Lpi) -> f64 {
        if self.is_visible(ruling) {
            (self.swing / 0.10).min(1.0) * (self.period_mm() / 6.0).min(1.0).sqrt()
        } else {
            0.0
        }
    }
}

/// Harmonics of the mesh that are tried: threads each way, both together, and the second order.
pub const MESH_VECTORS: [(i32, i32); 6] = [(1, 0), (0, 1), (1, 1), (1, -1), (2, 0), (0, 2)];

/// Beats of a halftone of round dots with a mesh whose threads lie at 0 and 90 degrees. `tones`
/// are film coverages with their shares of the area. Harmonics up to i^2 + j^2 = 18 are tried.
/// The coarsest beat comes first.
pub fn mesh_beats(mesh: &Mesh, ruling: Lpi, angle_deg: f64, tones: &[(f64, f64)]) -> Vec<Beat> {
    let open = mesh.opening_um() / (mesh.opening_um() + mesh.thread_um);
    let other = |(m, n): (i32, i32)| {
        let at = [f64::from(m) * mesh.threads_per_inch, f64::from(n) * mesh.threads_per_inch];
        (at, (sinc(f64::from(m) * open) * sinc(f64::from(n) * open)).abs())
    };
    beats(ruling, angle_deg, tones, &MESH_VECTORS, other)
}

/// Beats of a halftone with a jersey of `wales` and `courses` an inch, standing upright. Loops
/// are taken as half open.
pub fn knit_beats(wales: f64, courses: f64, ruling: Lpi, angle_deg: f64, tones: &[(f64, f64)]) -> Vec<Beat> {
    let other = |(m, n): (i32, i32)| {
        // A knit takes ink a little unevenly, it does not hold it back as thread does: a tenth.
        let swing = 0.1 * sinc(f64::from(m) * 0.5).abs() * sinc(f64::from(n) * 0.5).abs();
        ([f64::from(m) * wales, f64::from(n) * courses], swing)
    };
    beats(ruling, angle_deg, tones, &[(1, 0), (0, 1), (1, 1), (1, -1)], other)
}

/// Beats of two halftones, each with its ruling, angle and film tones. Equal ruling and angle have
/// none.
pub fn screen_beats(a: (Lpi, f64, &[(f64, f64)]), b: (Lpi, f64, &[(f64, f64)])) -> Vec<Beat> {
    let vectors = [(1, 0), (0, 1), (1, 1), (1, -1)];
    let other = |(m, n): (i32, i32)| {
        let order = f64::from(m * m + n * n).sqrt();
        (lattice(b.0.get(), b.1, m, n), dot_swing(b.2, order))
    };
    let mut out = beats(a.0, a.1, a.2, &vectors, other);
    out.retain(|beat| beat.halftone.0.pow(2) + beat.halftone.1.pow(2) <= 2);
    out
}

fn lattice(lpi: f64, angle_deg: f64, i: i32, j: i32) -> [f64; 2] {
    let (s, c) = angle_deg.to_radians().sin_cos();
    let (i, j) = (f64::from(i), f64::from(j));
    [lpi * (i * c - j * s), lpi * (i * s + j * c)]
}

fn beats(
    ruling: Lpi,
    angle_deg: f64,
    tones: &[(f64, f64)],
    vectors: &[(i32, i32)],
    other: impl Fn((i32, i32)) -> ([f64; 2], f64),
) -> Vec<Beat> {
    // Swing of a halftone harmonic depends only on its order.
    let swings: Vec<f64> = (0..=18).map(|sq| dot_swing(tones, f64::from(sq).sqrt())).collect();
    let mut out = Vec::new();
    for &vector in vectors {
        let (f, swing) = other(vector);
        for i in -4..=4i32 {
            for j in -4..=4i32 {
                let order = i * i + j * j;
                if order == 0 || order > 18 {
                    continue;
                }
                let [x, y] = lattice(ruling.get(), angle_deg, i, j);
                let d = [x - f[0], y - f[1]];
                let per_inch = d[0].hypot(d[1]);
                // Two lattices that coincide do not beat.
                if per_inch < 1e-6 {
                    continue;
                }
                out.push(Beat {
                    per_inch,
                    direction_deg: d[1].atan2(d[0]).to_degrees().rem_euclid(180.0),
                    halftone: (i, j),
                    other: vector,
                    // A product of two cosines of these swings has half of each in the difference.
                    swing: swings[order as usize] * swing * 2.0,
                });
            }
        }
    }
    out.sort_by(|a, b| {
        let order = |beat: &Beat| beat.halftone.0.pow(2) + beat.halftone.1.pow(2);
        (a.per_inch, order(a)).partial_cmp(&(b.per_inch, order(b))).unwrap_or(std::cmp::Ordering::Equal)
    });
    out
}

/// Fourier coefficient of round dots (above one half: round holes) at a distance of `order`
/// pitches^-1 from the origin, relative to the mean ink, averaged over tones by area.
fn dot_swing(tones: &[(f64, f64)], order: f64) -> f64 {
    let (mut sum, mut area) = (0.0, 0.0);
    for &(a, share) in tones {
        let r = (a.min(1.0 - a) / PI).sqrt();
        sum += share * (r * bessel_j1(2.0 * PI * r * order) / order).abs() / a.max(0.02);
        area += share;
    }
    if area > 0.0 { sum / area } else { 0.0 }
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 { 1.0 } else { (PI * x).sin() / (PI * x) }
}

/// Bessel's J1 by its integral; the trapezium rule converges past double precision for the
/// arguments met here (under 20).
fn bessel_j1(x: f64) -> f64 {
    let steps = 64;
    (0..steps)
        .map(|k| {
            let t = 2.0 * PI * f64::from(k) / f64::from(steps);
            (t - x * t.sin()).cos()
        })
        .sum::<f64>()
        / f64::from(steps)
}

/// Film tones of a screen with their shares, for the swing of its harmonics.
pub(super) fn tones(s: &Survey<'_>, at: usize) -> Vec<(f64, f64)> {
    let total: u64 = s.histograms[at].iter().sum::<u64>().max(1);
    let mut out = vec![(0.0, 0.0); 20];
    for bin in 0..BINS {
        let f = s.film(bin_coverage(bin));
        if (0.02..0.98).contains(&f) {
            let slot = &mut out[(f * 20.0) as usize];
            let share = s.histograms[at][bin] as f64 / total as f64;
            slot.0 += f * share;
            slot.1 += share;
        }
    }
    out.retain(|t| t.1 > 0.0);
    out.iter().map(|&(sum, share)| (sum / share, share)).collect()
}

/// Tones of an even wedge: for advice before there are screens.
pub fn even_tones() -> Vec<(f64, f64)> {
    (1..20).map(|i| (f64::from(i) / 20.0, 1.0)).collect()
}

/// The riskiest visible beat, if any.
pub fn worst_beat(beats: &[Beat], ruling: Lpi) -> Option<Beat> {
    beats.iter().copied().filter(|b| b.is_visible(ruling)).max_by(|a, b| a.risk(ruling).total_cmp(&b.risk(ruling)))
}

/// Angle between 0 and 45 degrees with the least risk on a mesh, in steps of half a degree; of
/// equals the one whose coarsest beat is finest, and near 22.5 first. Each angle is judged with
/// half a degree of error in stretching the mesh.
pub fn safest_angle(mesh: &Mesh, ruling: Lpi, tones: &[(f64, f64)]) -> (Degrees, f64) {
    let risk_at = |angle: f64| {
        let beats: Vec<Vec<Beat>> =
            [-0.5, 0.0, 0.5].iter().map(|error| mesh_beats(mesh, ruling, angle + error, tones)).collect();
        let risk = beats.iter().filter_map(|b| worst_beat(b, ruling)).map(|b| b.risk(ruling)).fold(0.0, f64::max);
        let finest = beats.iter().filter_map(|b| b.first()).map(Beat::period_mm).fold(0.0, f64::max);
        (risk, finest + (angle - 22.5).abs() / 100.0)
    };
    let best = (0..=90)
        .map(|half| f64::from(half) / 2.0)
        .map(|angle| (risk_at(angle), angle))
        .min_by(|a, b| a.0.0.total_cmp(&b.0.0).then(a.0.1.total_cmp(&b.0.1)))
        .unwrap_or(((0.0, 0.0), 22.5));
    (Degrees::new(best.1).unwrap_or_else(|_| unreachable!()), best.0.0)
}

/// One angle each for `count` screens of one mesh and ruling, 0 to 90 degrees, that beat least with
/// the mesh and with each other: for shops that give every screen an angle of its own. Screens lie
/// at least 15 degrees apart as long as there is room. Greedy from the safest on, then exchanged
/// until no single change helps; with the risk that is left, 0..1.
pub fn safest_angle_set(mesh: &Mesh, ruling: Lpi, tones: &[(f64, f64)], count: usize) -> (Vec<Degrees>, f64) {
    const STEP: f64 = 2.5;
    let turns: Vec<f64> = (0..36).map(|i| f64::from(i) * STEP).collect();
    let alone: Vec<f64> = turns
        .iter()
        .map(|&angle| worst_beat(&mesh_beats(mesh, ruling, angle, tones), ruling).map_or(0.0, |b| b.risk(ruling)))
        .collect();
    // Between two screens only their difference counts.
    let apart: Vec<f64> = turns
        .iter()
        .map(|&angle| {
            let beats = screen_beats((ruling, 0.0, tones), (ruling, angle, tones));
            let close = angle.min(90.0 - angle);
            let crowded = if close < 15.0 { (15.0 - close) / 15.0 } else { 0.0 };
            worst_beat(&beats, ruling).map_or(0.0, |b| b.risk(ruling)) + crowded
        })
        .collect();
    let cost =
        |set: &[usize], at: usize| alone[at] + set.iter().map(|&other| apart[at.abs_diff(other) % 36]).sum::<f64>();
    let best = |set: &[usize]| {
        (0..36)
            .min_by(|&a, &b| {
                let near = |at: usize| (turns[at] - 22.5).abs();
                cost(set, a).total_cmp(&cost(set, b)).then(near(a).total_cmp(&near(b)))
            })
            .unwrap_or(9)
    };
    let mut set: Vec<usize> = Vec::new();
    while set.len() < count.min(36) {
        set.push(best(&set));
    }
    for _ in 0..8 {
        let before = set.clone();
        for at in 0..set.len() {
            let own = set.remove(at);
            let found = best(&set);
            let better = cost(&set, found) + 1e-9 < cost(&set, own);
            set.insert(at, if better { found } else { own });
        }
        if set == before {
            break;
        }
    }
    let left = (0..set.len())
        .map(|at| {
            let others: Vec<usize> = set.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, &a)| a).collect();
            cost(&others, set[at])
        })
        .fold(0.0, f64::max);
    set.sort_unstable();
    (set.iter().filter_map(|&at| Degrees::new(turns[at]).ok()).collect(), left)
}

/// Widest visible beat of a screen with the garment's knit, if its loops are known; the usual
/// jersey is only an assumption, and no finding is built on it.
pub(super) fn knit(s: &Survey<'_>) -> Vec<Finding> {
    let Some(knit) = s.job.garment.knit else { return Vec::new() };
    let mut out: Vec<Finding> = Vec::new();
    for at in 0..s.len() {
        let (ruling, angle, tones) = (s.ruling(at), s.angle(at), tones(s, at));
        if s.tonal(at) < 0.02 {
            continue;
        }
        let risk_at = |angle: f64| {
            worst_beat(&knit_beats(knit.wales_per_inch, knit.courses_per_inch, ruling, angle, &tones), ruling)
        };
        let Some(beat) = risk_at(angle) else { continue };
        let what = format!(
            "The knit ({:.0} x {:.0} loops an inch) beats with {ruling} lpi at {angle} degrees: bands {:.1} mm wide.",
            knit.wales_per_inch,
            knit.courses_per_inch,
            beat.period_mm()
        );
        if let Some(same) = out.iter_mut().find(|f| f.what == what) {
            same.screens.push(s.name(at).to_owned());
            continue;
        }
        let mesh = s.job.press.mesh_of(s.name(at));
        let free = |angle: &f64| {
            risk_at(*angle).is_none() && worst_beat(&mesh_beats(mesh, ruling, *angle, &tones), ruling).is_none()
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
            number: Number {
                label: "width of a band".into(),
                value: beat.period_mm(),
                unit: "mm",
                limit: (4.0 * MM_PER_INCH / ruling.get()).max(2.0),
            },
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

/// Angle and ruling of every screen against its mesh; screens in the same state share a finding.
pub(super) fn moire(s: &Survey<'_>) -> Vec<Finding> {
    let mut out: Vec<Finding> = Vec::new();
    for at in 0..s.len() {
        if s.tonal(at) < 0.02 || !s.on_grid(at) {
            continue;
        }
        let (mesh, ruling, angle) = (s.job.press.mesh_of(s.name(at)), s.ruling(at), s.angle(at));
        let tones = tones(s, at);
        let Some(beat) = worst_beat(&mesh_beats(mesh, ruling, angle, &tones), ruling) else { continue };
        let what = format!(
            "Mesh {} beats with {ruling} lpi at {angle} degrees: bands {:.1} mm wide at {:.0} degrees.",
            mesh.name,
            beat.period_mm(),
            (beat.direction_deg + 90.0).rem_euclid(180.0)
        );
        if let Some(same) = out.iter_mut().find(|f| f.what == what) {
            same.screens.push(s.name(at).to_owned());
            continue;
        }
        let mut mends = Vec::new();
        let (safest, left) = safest_angle(mesh, ruling, &tones);
        if left < beat.risk(ruling) * 0.5 {
            let label = match worst_beat(&mesh_beats(mesh, ruling, safest.get(), &tones), ruling) {
                Some(b) => format!("Angle {safest} degrees: weaker bands of {:.1} mm", b.period_mm()),
                None => format!("Angle {safest} degrees: no visible beat"),
            };
            mends.push(Mend::one(label, Change::Angle { angle: safest }));
        }
        for other in crate::usage::mesh_shelf().iter().filter(|m| m.threads_per_inch > mesh.threads_per_inch + 5.0) {
            if worst_beat(&mesh_beats(other, ruling, angle, &tones), ruling).is_none() {
                mends.push(Mend::one(
                    format!("{} on {} mesh: no visible beat", s.name(at), other.name),
                    Change::Mesh { screen: s.name(at).to_owned(), mesh: other.clone() },
                ));
                break;
            }
        }
        out.push(Finding {
            kind: Kind::Moire,
            severity: if beat.risk(ruling) >= 0.5 { Severity::Fault } else { Severity::Caution },
            what,
            number: Number {
                label: "width of a band".into(),
                value: beat.period_mm(),
                unit: "mm",
                limit: (4.0 * MM_PER_INCH / ruling.get()).max(2.0),
            },
            screens: vec![s.name(at).to_owned()],
            place: None,
            inputs: vec![
                mesh_input(mesh),
                Input::new("ruling and angle", format!("{ruling} lpi at {angle} degrees to the threads"), Basis::Job),
                Input::new(
                    "harmonics",
                    format!(
                        "halftone {:?}, mesh {:?}, ink swings by {:.0} %",
                        beat.halftone,
                        beat.other,
                        beat.swing * 100.0
                    ),
                    Basis::Screens,
                ),
                Input::new("visible", "wider than four dots and 2 mm, swing over 2 %", Basis::Assumed),
            ],
            mends,
        });
    }
    out.extend(between_screens(s));
    out.extend(knit(s));
    out
}

fn between_screens(s: &Survey<'_>) -> Vec<Finding> {
    let mut out = Vec::new();
    for a in 0..s.len() {
        for b in a + 1..s.len() {
            let (ra, rb) = ((s.ruling(a), s.angle(a)), (s.ruling(b), s.angle(b)));
            if ra == rb || !s.on_grid(a) || !s.on_grid(b) || s.tonal(a) < 0.02 || s.tonal(b) < 0.02 {
                continue;
            }
            // Only where both lie on each other.
            let overlap = (0..s.blocks())
                .filter(|&at| [a, b].iter().all(|&i| (3277..62258).contains(&s.small[i].data()[at])))
                .count() as f64
                / s.blocks().max(1) as f64;
            if overlap < 0.02 {
                continue;
            }
            let (ta, tb) = (tones(s, a), tones(s, b));
            let beats = screen_beats((ra.0, ra.1, &ta), (rb.0, rb.1, &tb));
            let Some(beat) = worst_beat(&beats, ra.0) else { continue };
            // One angle for all has no beat between screens at all; else angles that stand apart.
            let mut mends = Vec::new();
            let mesh = s.job.press.mesh_of(s.name(a));
            let (one, left) = safest_angle(mesh, ra.0, &ta);
            if ra.0 == rb.0 && left < beat.risk(ra.0) {
                mends.push(Mend::one(
                    format!("Every screen at {one} degrees: no beat between screens"),
                    Change::Angle { angle: one },
                ));
            }
            let (set, left) = safest_angle_set(mesh, ra.0, &ta, s.len());
            if ra.0 == rb.0 && s.len() <= 6 && left < beat.risk(ra.0) {
                let list: Vec<String> = set.iter().map(Degrees::to_string).collect();
                mends.push(Mend::one(
                    format!("Angles of their own: {} degrees in print order", list.join(", ")),
                    Change::Angles { angles: (0..s.len()).map(|i| s.name(i).to_owned()).zip(set).collect() },
                ));
            }
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
                number: Number { label: "width of a band".into(), value: beat.period_mm(), unit: "mm", limit: 2.3 },
                screens: vec![s.name(a).to_owned(), s.name(b).to_owned()],
                place: None,
                inputs: vec![
                    Input::new("overlap", format!("{:.0} % of the print", overlap * 100.0), Basis::Screens),
                    Input::new("visible", "wider than four dots and 2 mm, swing over 2 %", Basis::Assumed),
                ],
                mends,
            });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn reference(name: &str) -> Vec<Vec<f64>> {
        let path = format!("{}/../../tests/fixtures/reference/{name}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        text.lines().skip(2).map(|l| l.split(',').map(|v| v.parse().unwrap()).collect()).collect()
    }

    fn mesh(count: f64) -> Mesh {
        Mesh::named(&format!("{count}/{}", if count > 200.0 { 34 } else { 64 })).unwrap()
    }

    /// moire_mesh_halftone.csv: 54 sets of mesh, ruling and angle, computed by another program.
    #[test]
    fn coarsest_beats_match_the_table() {
        let rows = reference("moire_mesh_halftone.csv");
        assert_eq!(rows.len(), 54);
        for row in rows {
            let ruling = Lpi::new(row[1]).unwrap();
            let beat = mesh_beats(&mesh(row[0]), ruling, row[2], &even_tones())[0];
            assert_abs_diff_eq!(beat.per_inch, row[4], epsilon = 1e-3);
            assert_abs_diff_eq!(beat.period_mm(), row[9], epsilon = 0.006);
            let order = |i: f64, j: f64| (i * i + j * j) as i32;
            assert_eq!(beat.halftone.0.pow(2) + beat.halftone.1.pow(2), order(row[5], row[6]), "{row:?}");
        }
    }

    /// moire_two_gratings.csv: two line gratings, closed formula.
    #[test]
    fn two_gratings_follow_the_closed_formula() {
        for row in reference("moire_two_gratings.csv") {
            let (f1, f2) = (lattice(row[0], 0.0, 1, 0), lattice(row[1], row[2], 1, 0));
            assert_abs_diff_eq!((f1[0] - f2[0]).hypot(f1[1] - f2[1]), row[3], epsilon = 1e-4);
        }
    }

    /// 55 lpi at 45 degrees on 156 mesh: 0.44 beats an inch, 58 mm. It must be seen, and an angle
    /// without it must be offered; 45 lpi at 22.5 on 230 must stay quiet.
    #[test]
    fn the_beat_that_ratio_rules_miss_is_seen() {
        let (ruling, tones) = (Lpi::new(55.0).unwrap(), even_tones());
        let coarse = Mesh::named("156/64").unwrap();
        let beat = worst_beat(&mesh_beats(&coarse, ruling, 45.0, &tones), ruling).unwrap();
        assert_abs_diff_eq!(beat.per_inch, 0.437, epsilon = 1e-3);
        assert!(beat.risk(ruling) > 0.4, "{beat:?}");
        let (angle, left) = safest_angle(&coarse, ruling, &tones);
        assert_eq!(left, 0.0, "at {angle}");
        let usual = Lpi::new(45.0).unwrap();
        assert!(worst_beat(&mesh_beats(&Mesh::default(), usual, 22.5, &tones), usual).is_none());
    }

    /// Two drawn halftones, one over the other as multiplied light, summed over Fourier at the
    /// predicted frequency: the beat is there and as strong as said. 45 lpi at 22.5 and 27.5
    /// degrees: 2 * 45 * sin(2.5 deg) = 3.93 an inch (equal gratings, moire_two_gratings.csv).
    #[test]
    fn two_drawn_screens_beat_where_and_as_strongly_as_predicted() {
        let ruling = Lpi::new(45.0).unwrap();
        for (tone, second, expected) in [(0.3, 27.5, 3.926), (0.45, 32.5, 7.844)] {
            let tones = [(tone, 1.0)];
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

    /// Angles of a set stand 15 degrees apart and none of them beats visibly with 230 mesh.
    #[test]
    fn a_set_of_angles_stands_apart_and_is_free_of_the_mesh() {
        let (mesh, ruling, tones) = (Mesh::default(), Lpi::new(45.0).unwrap(), even_tones());
        for count in [1, 2, 4, 6] {
            let (set, left) = safest_angle_set(&mesh, ruling, &tones, count);
            assert_eq!(set.len(), count);
            for (i, a) in set.iter().enumerate() {
                assert!(worst_beat(&mesh_beats(&mesh, ruling, a.get(), &tones), ruling).is_none(), "{a}");
                for b in &set[..i] {
                    let apart = (a.get() - b.get()).abs();
                    assert!(apart.min(90.0 - apart) >= 15.0 - 1e-9, "{set:?}");
                }
            }
            assert!(left < 0.5, "{left}");
        }
    }

    /// A knit of 45 courses an inch under 45 lpi upright lies on the dots; 22.5 degrees are clear.
    #[test]
    fn a_knit_as_fine_as_the_ruling_beats_when_dots_stand_upright() {
        let (ruling, tones) = (Lpi::new(45.0).unwrap(), [(0.3, 1.0)]);
        let beat = worst_beat(&knit_beats(36.0, 47.0, ruling, 0.0, &tones), ruling).unwrap();
        assert_abs_diff_eq!(beat.per_inch, 2.0, epsilon = 1e-9);
        assert!(worst_beat(&knit_beats(36.0, 47.0, ruling, 22.5, &tones), ruling).is_none());
    }

    /// Dots and threads drawn, multiplied and transformed: the low-frequency peak of the picture
    /// lies where the vectors say and is as strong as they say.
    #[test]
    fn a_drawn_mesh_and_halftone_beat_where_and_as_strongly_as_predicted() {
        let mesh = Mesh::named("156/64").unwrap();
        let a = 0.35;
        let open = mesh.opening_um() / (mesh.opening_um() + mesh.thread_um);
        for (lpi, angle) in [(54.0, 45.0f64), (55.0, 0.0), (50.0, 0.0)] {
            let beat = mesh_beats(&mesh, Lpi::new(lpi).unwrap(), angle, &[(a, 1.0)])[0];
            let (size_in, n) = (2.0, 2400);
            assert!(beat.per_inch * size_in > 5.0, "enough bands to measure");
            let (s, c) = angle.to_radians().sin_cos();
            let t = beat.direction_deg.to_radians();
            let (fx, fy) = (beat.per_inch * t.cos(), beat.per_inch * t.sin());
            // Fourier sums of the drawn product at the predicted frequency and beside it, under a
            // Hann window so that neighbours do not leak in.
            let (mut ink, mut weight, mut peak, mut beside) = (0.0, 0.0, [0.0f64; 2], [0.0f64; 2]);
            for at in 0..n * n {
                let (x, y) = ((at % n) as f64 + 0.5, (at / n) as f64 + 0.5);
                let (x, y) = (x / n as f64 * size_in, y / n as f64 * size_in);
                let w = (1.0 - (2.0 * PI * x / size_in).cos()) * (1.0 - (2.0 * PI * y / size_in).cos());
                weight += w;
                let (u, v) = ((x * c + y * s) * lpi, (-x * s + y * c) * lpi);
                let (u, v) = (u - u.round(), v - v.round());
                let opening = |p: f64| {
                    let p = p * mesh.threads_per_inch;
                    (p - p.round()).abs() <= open / 2.0
                };
                if u * u + v * v > a / PI || !opening(x) || !opening(y) {
                    continue;
                }
                ink += w;
                for (sum, (fx, fy)) in [(&mut peak, (fx, fy)), (&mut beside, (1.7 * fx + 2.3, 1.7 * fy + 3.1))] {
                    let phase = 2.0 * PI * (fx * x + fy * y);
                    sum[0] += w * phase.cos();
                    sum[1] += w * phase.sin();
                }
            }
            assert_abs_diff_eq!(ink / weight, a * open * open, epsilon = 0.01);
            let seen = 2.0 * peak[0].hypot(peak[1]) / ink;
            let noise = 2.0 * beside[0].hypot(beside[1]) / ink;
            assert!(seen > 5.0 * noise, "{lpi} at {angle}: {seen} against {noise}");
            assert!((seen / beat.swing - 1.0).abs() < 0.25, "{lpi} at {angle}: drawn {seen}, predicted {}", beat.swing);
        }
    }
}
