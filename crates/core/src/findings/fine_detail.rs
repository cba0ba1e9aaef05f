//! Strokes and gaps too fine for the mesh, found by opening solids with a box at full resolution.
//! A stroke has to be as wide as a dot that always holds (two threads and one opening), a gap
//! wider than the ink that creeps into it from both sides. Only what no reading of the picture
//! can save is counted: a stroke's core is nearly solid and even its half-tones are too narrow.

use rayon::prelude::*;

use super::finding::{Basis, Finding, Input, Kind, Number, Place, Severity};
use super::lost_dots::{gain_input, mesh_input};
use super::mend::{Change, Mend};
use super::survey::Survey;
use crate::press::{DotGain, GainCurve};
use crate::raster::Plane;
use crate::units::{Lpi, MM_PER_INCH};
use crate::usage::{Mesh, mesh_shelf};
use crate::{Cancelled, Progress};

/// Smallest stroke that survives on a mesh, in mm.
pub fn smallest_stroke_mm(mesh: &Mesh) -> f64 {
    mesh.safe_dot_um() / 1000.0
}

/// Smallest gap that survives, in mm: one thread and one opening, and the creep of both edges.
pub fn smallest_gap_mm(mesh: &Mesh, gain: &DotGain, ruling: Lpi) -> f64 {
    (mesh.marginal_dot_um().max(2.0 * edge_growth_um(gain, ruling))) / 1000.0
}

/// How far an edge creeps in micrometres: as set, or read from the curve at 50 %.
pub fn edge_growth_um(gain: &DotGain, ruling: Lpi) -> f64 {
    match gain {
        DotGain::Edge { growth_um } => *growth_um,
        other => growth_of_curve(&other.curve(ruling)) * MM_PER_INCH * 1000.0 / ruling.get(),
    }
}

/// Edge growth in pitches that gives the gain of a curve at one half: `2 w sqrt(pi / 2)`.
fn growth_of_curve(curve: &GainCurve) -> f64 {
    (f64::from(curve.print(0.5)) - 0.5).max(0.0) / (2.0 * (std::f64::consts::PI / 2.0).sqrt())
}

pub(super) fn fine_detail(s: &Survey<'_>, progress: &Progress) -> Result<Vec<Finding>, Cancelled> {
    let mut out = Vec::new();
    for at in 0..s.len() {
        progress.step("fine detail", at as f32 / s.len() as f32)?;
        out.extend(of_screen(s, at));
    }
    Ok(out)
}

fn of_screen(s: &Survey<'_>, at: usize) -> Option<Finding> {
    let (name, mesh) = (s.name(at), s.job.run.mesh_of(s.name(at)));
    let px_mm = MM_PER_INCH / s.screens.ppi.get();
    // A slanted stroke holds a smaller upright box than its width: a fifth is given away.
    let side = |mm: f64| ((mm / px_mm * 0.8).ceil() as usize).min(40);
    let stroke_mm = smallest_stroke_mm(mesh);
    let gap_mm = smallest_gap_mm(mesh, &s.job.press.gain, s.ruling(at));
    let (stroke_px, gap_px) = (side(stroke_mm), side(gap_mm));
    if stroke_px < 2 && gap_px < 2 {
        return None;
    }
    let plane = &s.screens.list[at].coverage;
    let (solid, clear) = bits(plane);
    let strokes = thin(plane.width(), &solid, &clear, stroke_px);
    let gaps = thin(plane.width(), &clear, &solid, gap_px);
    let (thin_strokes, thin_gaps) = (strokes.count(), gaps.count());
    // Length of what is lost, if it were a pixel wide.
    let (which, length_mm, lost, limit_mm) = if thin_strokes >= thin_gaps {
        ("strokes", thin_strokes as f64 * px_mm, &strokes, stroke_mm)
    } else {
        ("gaps", thin_gaps as f64 * px_mm, &gaps, gap_mm)
    };
    // Shorter than a hand's breadth in all: stray pixels.
    if length_mm < 100.0 {
        return None;
    }
    let mends = mesh_shelf()
        .iter()
        .filter(|m| m.threads_per_inch > mesh.threads_per_inch + 10.0 && which == "strokes")
        .find(|m| side(smallest_stroke_mm(m)) < stroke_px)
        .map(|finer| {
            Mend::one(
                format!("{name} on {} mesh: holds {:.2} mm", finer.name, smallest_stroke_mm(finer)),
                Change::Mesh { screen: name.to_owned(), mesh: finer.clone() },
            )
        });
    Some(Finding {
        kind: Kind::FineDetail,
        severity: if length_mm > 1000.0 { Severity::Fault } else { Severity::Caution },
        what: format!(
            "{name} has {which} finer than {limit_mm:.2} mm, which {} mesh {}: about {:.0} mm of them.",
            mesh.name,
            if which == "strokes" { "cannot hold" } else { "will close" },
            length_mm
        ),
        number: Number { label: format!("length of {which} at risk"), value: length_mm, unit: "mm", limit: 100.0 },
        screens: vec![name.to_owned()],
        place: Place::of_map(lost.map(s.block), s.mm_per_px),
        inputs: vec![
            mesh_input(mesh),
            gain_input(s),
            Input::new("smallest stroke and gap", format!("{stroke_mm:.2} and {gap_mm:.2} mm"), Basis::Assumed),
        ],
        mends: mends.into_iter().collect(),
    })
}

/// One bit a pixel, rows padded to words.
struct Bits {
    width: usize,
    rows: Vec<Vec<u64>>,
}

impl Bits {
    fn count(&self) -> u64 {
        self.rows.iter().flatten().map(|w| u64::from(w.count_ones())).sum()
    }

    /// A map of blocks: 255 where any bit is set.
    fn map(&self, block: usize) -> Plane<u8> {
        let (w, h) = (self.width.div_ceil(block).max(1), self.rows.len().div_ceil(block).max(1));
        let mut out = Plane::filled(w, h, 0u8);
        for (y, row) in self.rows.iter().enumerate() {
            for (at, &word) in row.iter().enumerate() {
                let mut left = word;
                while left != 0 {
                    let x = at * 64 + left.trailing_zeros() as usize;
                    out.set(x / block, y / block, 255);
                    left &= left - 1;
                }
            }
        }
        out
    }
}

/// Nearly solid and nearly clear: 85 % and more, 15 % and less.
const SOLID_FROM: u16 = 55_705;
const CLEAR_TO: u16 = 9_830;

/// Rows of bits that say which pixels are nearly solid, and which nearly clear.
fn bits(plane: &Plane<u16>) -> (Vec<Vec<u64>>, Vec<Vec<u64>>) {
    let row = |y: usize| {
        let part = |part: &[u16]| {
            let (mut solid, mut clear) = (0u64, 0u64);
            for (i, &v) in part.iter().enumerate() {
                solid |= u64::from(v >= SOLID_FROM) << i;
                clear |= u64::from(v <= CLEAR_TO) << i;
            }
            (solid, clear)
        };
        plane.row(y).chunks(64).map(part).unzip()
    };
    (0..plane.height()).into_par_iter().map(row).unzip()
}

/// Pixels of `core` that lie in no `side` x `side` box free of `bare` pixels. Beyond the picture's
/// border nothing is bare, so that what runs off the edge is not taken for thin.
fn thin(width: usize, core: &[Vec<u64>], bare: &[Vec<u64>], side: usize) -> Bits {
    let h = core.len();
    if side < 2 || core.par_iter().all(|row| row.iter().all(|&w| w == 0)) {
        return Bits { width, rows: core.iter().map(|row| vec![0; row.len()]).collect() };
    }
    // Runs of `side` in a row: bit x stays if none of x .. x + side is bare.
    let across: Vec<Vec<u64>> = bare
        .par_iter()
        .map(|row| {
            let mut row: Vec<u64> = row.iter().map(|w| !w).collect();
            erode(&mut row, side);
            row
        })
        .collect();
    // Boxes: and over `side` rows downwards; then grown back right and down, and taken away.
    let boxes: Vec<Vec<u64>> = (0..h)
        .into_par_iter()
        .map(|y| {
            let mut row = across[y].clone();
            for below in across.iter().take((y + side).min(h)).skip(y + 1) {
                row.iter_mut().zip(below).for_each(|(a, b)| *a &= b);
            }
            dilate(&mut row, side);
            row
        })
        .collect();
    let left = |y: usize| {
        // What starts off the upper or left edge has its box outside: leave the rim alone.
        if y < side || y + side > h {
            return vec![0; core[y].len()];
        }
        let mut row = core[y].clone();
        for above in &boxes[(y + 1).saturating_sub(side)..=y] {
            row.iter_mut().zip(above).for_each(|(a, b)| *a &= !b);
        }
        if let Some(first) = row.first_mut() {
            *first &= !0u64 << side;
        }
        row
    };
    Bits { width, rows: (0..h).into_par_iter().map(left).collect() }
}

/// Bit x stays if bits x .. x + side are all set; beyond the row counts as set.
fn erode(row: &mut [u64], side: usize) {
    let mut done = 1;
    while done < side {
        let by = done.min(side - done);
        for at in 0..row.len() {
            let next = row.get(at + 1).copied().unwrap_or(!0);
            row[at] &= (row[at] >> by) | (next << (64 - by));
        }
        done += by;
    }
}

/// Bit x is set if any of bits x - side + 1 ..= x is.
fn dilate(row: &mut [u64], side: usize) {
    let mut done = 1;
    while done < side {
        let by = done.min(side - done);
        for at in (0..row.len()).rev() {
            let before = if at == 0 { 0 } else { row[at - 1] };
            row[at] |= (row[at] << by) | (before >> (64 - by));
        }
        done += by;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The plain way: try every box.
    fn plain(plane: &Plane<u16>, side: usize) -> Vec<(usize, usize)> {
        let (w, h) = (plane.width() as i64, plane.height() as i64);
        let body = |x: i64, y: i64| x >= w || y >= h || plane.get(x as usize, y as usize) > CLEAR_TO;
        let n = side as i64;
        let mut out = Vec::new();
        for y in n..h - n + 1 {
            for x in n..w {
                let inside = (y - n + 1..=y)
                    .any(|y0| (x - n + 1..=x).any(|x0| (y0..y0 + n).all(|v| (x0..x0 + n).all(|u| body(u, v)))));
                if plane.get(x as usize, y as usize) >= SOLID_FROM && !inside {
                    out.push((x as usize, y as usize));
                }
            }
        }
        out
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn bit_rows_find_what_trying_every_box_finds(
            data in proptest::collection::vec(prop_oneof![3 => Just(65535u16), 1 => Just(0u16), 1 => Just(30000u16)], 150 * 24),
            side in 2usize..6,
        ) {
            let plane = Plane::from_vec(150, 24, data);
            let (solid, clear) = bits(&plane);
            let bits = thin(150, &solid, &clear, side);
            let mut got = Vec::new();
            for (y, row) in bits.rows.iter().enumerate() {
                for x in 0..150 {
                    if row[x / 64] >> (x % 64) & 1 == 1 {
                        got.push((x, y));
                    }
                }
            }
            prop_assert_eq!(got, plain(&plane, side));
        }
    }

    /// Default gain, 28 points at 50 % and 45 lpi: an edge creeps 63 um.
    #[test]
    fn edge_growth_follows_the_gain() {
        let growth = edge_growth_um(&DotGain::default(), Lpi::new(45.0).unwrap());
        assert!((growth - 63.0).abs() < 0.5, "{growth}");
        assert_eq!(edge_growth_um(&DotGain::Edge { growth_um: 40.0 }, Lpi::new(45.0).unwrap()), 40.0);
    }
}
