//! Register. Each screen is shifted to the left, right, up and down; a spot shows a fringe when it
//! comes out lighter or darker than anything near it in the print as meant. A screen that merely
//! moves shows none: only bare fabric, base or overlap that comes to light as a line. Lines this
//! thin are seen by their lightness; colour alone counts a fifth. Looked at in the tiles of the
//! print with the strongest edges, at full resolution.

use rayon::prelude::*;

use super::finding::{Basis, Finding, Input, Kind, Number, Place, Severity};
use super::mend::{Change, Mend};
use super::survey::Survey;
use crate::color::{Lab, lab_from_linear};
use crate::ink::InkRole;
use crate::raster::Plane;
use crate::tune::Edit;
use crate::units::{MM_PER_INCH, Mm};
use crate::{Cancelled, Progress};

/// CIELAB lightness beyond all of its neighbourhood at which a fringe is seen (assumed).
const SEEN: f32 = 12.0;

/// What a distance in a* and b* counts beside one in L*.
const COLOR_COUNTS: f32 = 0.2;

/// Tiles looked at, and their side in blocks.
const TILES: usize = 40;
const TILE_BLOCKS: usize = 14;

/// Shifts that are searched, in mm.
pub(super) const SHIFTS_MM: [f64; 5] = [0.1, 0.2, 0.3, 0.4, 0.5];

/// What a shift of one screen shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Fringe {
    /// The screen, by place in the print order.
    pub screen: usize,
    /// Length of visible fringe in mm, in the worst of four directions, over the tiles looked at. A
    /// fringe narrower than the shift counts by its area.
    pub length_mm: f64,
    /// Strongest lightness beyond the neighbourhood, colour counted a fifth.
    pub strongest: f64,
    /// Where, a map of blocks.
    pub map: Plane<u8>,
}

/// How much each screen may stand off, and what is seen at the shift that the job expects.
pub(super) struct Register {
    /// Shift from which a screen's fringe is seen, in mm; none if it is not up to half a millimetre.
    pub first_mm: Vec<Option<f64>>,
    /// Fringes at the job's own register.
    expected: Vec<Fringe>,
}

/// Length at which fringes become a finding.
const CAUTION_MM: f64 = 40.0;
const FAULT_MM: f64 = 80.0;

/// Lightness beyond the neighbourhood that glares, whatever its length.
const GLARING: f64 = 45.0;

/// Shifts every screen each way by 0.1 to 0.5 mm and by what the job expects.
pub(super) fn register(s: &Survey<'_>, progress: &Progress) -> Result<Register, Cancelled> {
    let own = s.job.press.register_mm.get();
    let mut first_mm = vec![None; s.len()];
    let mut expected = Vec::new();
    if s.len() == 0 {
        return Ok(Register { first_mm, expected });
    }
    let mut before = 0;
    let mut last: Vec<Fringe> = Vec::new();
    for shift_mm in SHIFTS_MM {
        // Shifts are whole pixels: where two are the same pixel the picture is the same too.
        let px = shift_px(s, shift_mm);
        if px != before {
            last = fringes(s, px, None, progress)?;
            before = px;
        }
        for fringe in last.iter().filter(|f| f.length_mm >= CAUTION_MM) {
            first_mm[fringe.screen].get_or_insert(shift_mm);
        }
        if (shift_mm - own).abs() < 1e-6 {
            expected = last.clone();
        }
    }
    if expected.is_empty() && own > 0.0 {
        expected = fringes(s, shift_px(s, own), None, progress)?;
    }
    Ok(Register { first_mm, expected })
}

fn shift_px(s: &Survey<'_>, shift_mm: f64) -> i64 {
    ((shift_mm * s.screens.ppi.get() / MM_PER_INCH).round() as i64).max(1)
}

/// Findings at the register that the job expects: bases one by one, all colours together.
pub(super) fn registration(s: &Survey<'_>, found: &Register, progress: &Progress) -> Result<Vec<Finding>, Cancelled> {
    let role = |f: &Fringe| s.screens.list[f.screen].ink.role;
    let loud: Vec<&Fringe> = found.expected.iter().filter(|f| f.length_mm >= CAUTION_MM).collect();
    let (bases, mut colors): (Vec<&Fringe>, Vec<&Fringe>) =
        loud.into_iter().partition(|f| role(f) == InkRole::BaseWhite);
    let mut out = Vec::new();
    for base in &bases {
        out.push(finding(s, found, &[base], progress)?);
    }
    // What shows when a colour moves over an unchoked base is that base: one finding is enough.
    if !bases.is_empty() {
        colors.retain(|f| f.length_mm > bases.iter().map(|b| b.length_mm).fold(0.0, f64::max) * 1.3);
    }
    colors.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
    if !colors.is_empty() {
        out.push(finding(s, found, &colors, progress)?);
    }
    Ok(out)
}

fn finding(s: &Survey<'_>, found: &Register, group: &[&Fringe], progress: &Progress) -> Result<Finding, Cancelled> {
    let worst = group[0];
    let shift_mm = s.job.press.register_mm.get();
    let base = s.screens.list[worst.screen].ink.role == InkRole::BaseWhite;
    let names: Vec<String> = group.iter().map(|f| s.name(f.screen).to_owned()).collect();
    let strongest = group.iter().map(|f| f.strongest).fold(0.0, f64::max);
    let first = group.iter().filter_map(|f| found.first_mm[f.screen]).fold(f64::INFINITY, f64::min);
    let mut map = worst.map.clone();
    for fringe in group {
        map.data_mut().iter_mut().zip(fringe.map.data()).for_each(|(a, &b)| *a = (*a).max(b));
    }
    Ok(Finding {
        kind: Kind::Registration,
        severity: if worst.length_mm >= FAULT_MM || strongest >= GLARING { Severity::Fault } else { Severity::Caution },
        what: format!(
            "When {} stands off by {shift_mm:.2} mm, {} along {:.0} mm of edges and more{}.",
            any_of(&names),
            if base { "white peeks out" } else { "a gap or fringe shows" },
            worst.length_mm,
            if first.is_finite() && first < shift_mm - 1e-6 {
                format!("; it begins at {first:.1} mm")
            } else {
                String::new()
            }
        ),
        number: Number { label: "length of fringe".into(), value: worst.length_mm, unit: "mm", limit: CAUTION_MM },
        screens: names,
        place: Place::of_map(map, s.mm_per_px),
        inputs: vec![
            Input::new("register", format!("{shift_mm:.2} mm each way"), Basis::Assumed),
            Input::new(
                "seen",
                format!("lightness {SEEN:.0} beyond the neighbourhood; strongest {strongest:.0}"),
                Basis::Assumed,
            ),
            Input::new("looked at", format!("{TILES} tiles with the strongest edges"), Basis::Screens),
        ],
        mends: mends(s, group, base, progress)?,
    })
}

fn any_of(names: &[String]) -> String {
    match names {
        [rest @ .., last] if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => names.concat(),
    }
}

/// A base is choked behind its colours, a colour is spread into its neighbours, the lightest
/// first. Each is tried on the same tiles with the same shift; only what hides the fringe, or
/// most of it, is offered.
fn mends(s: &Survey<'_>, group: &[&Fringe], base: bool, progress: &Progress) -> Result<Vec<Mend>, Cancelled> {
    let shift_mm = s.job.press.register_mm.get();
    let now = group[0].length_mm;
    let mut tries: Vec<usize> = group.iter().map(|f| f.screen).take(4).collect();
    let light = |at: usize| lab_from_linear(s.screens.list[at].ink.reflectance_over_white()).l;
    tries.sort_by(|&a, &b| light(b).total_cmp(&light(a)));
    let mut found: Vec<(f64, Mend)> = Vec::new();
    for at in tries {
        for more in [0.0, 0.1, 0.2] {
            let Ok(by_mm) = Mm::new(((shift_mm + more) * 100.0).round() / 100.0) else { continue };
            let by_px = by_mm.get() * s.screens.ppi.get() / MM_PER_INCH;
            let alter = (at, if base { -by_px } else { by_px });
            let after = fringes(s, shift_px(s, shift_mm), Some(alter), progress)?;
            let left = group.iter().map(|f| after[f.screen].length_mm).fold(0.0, f64::max);
            if left >= CAUTION_MM && (more < 0.2 || left > now * 0.5) {
                continue;
            }
            let screen = s.name(at).to_owned();
            let does = if left < CAUTION_MM {
                format!("hides it up to {shift_mm:.2} mm")
            } else {
                format!("{left:.0} mm of it left instead of {now:.0}")
            };
            let (word, edit) = if base {
                ("Choke", Edit::Choke { screen: screen.clone(), by_mm })
            } else {
                ("Spread", Edit::Spread { screen: screen.clone(), by_mm })
            };
            found.push((left, Mend::one(format!("{word} {screen} by {by_mm} mm: {does}"), Change::Edit { edit })));
            break;
        }
    }
    found.sort_by_key(|(left, _)| *left >= CAUTION_MM);
    Ok(found.into_iter().map(|(_, mend)| mend).take(2).collect())
}

/// Fringes of every screen at one shift; `alter` spreads (or, less than none, chokes) one screen
/// by so many pixels first.
fn fringes(
    s: &Survey<'_>,
    shift: i64,
    alter: Option<(usize, f64)>,
    progress: &Progress,
) -> Result<Vec<Fringe>, Cancelled> {
    let px_mm = MM_PER_INCH / s.screens.ppi.get();
    let tiles = tiles(s);
    let (bw, bh) = (s.small[0].width(), s.small[0].height());
    let mut out: Vec<Fringe> = (0..s.len())
        .map(|screen| Fringe { screen, length_mm: 0.0, strongest: 0.0, map: Plane::filled(bw, bh, 0) })
        .collect();
    progress.step("register", 0.0)?;
    let seen: Vec<Vec<TileFringe>> = tiles.par_iter().map(|&tile| of_tile(s, tile, shift, alter)).collect();
    progress.step("register", 1.0)?;
    for fringe in &mut out {
        let mut by_direction = [0u64; 4];
        for tile in &seen {
            let here = &tile[fringe.screen];
            for (sum, n) in by_direction.iter_mut().zip(here.pixels) {
                *sum += n;
            }
            fringe.strongest = fringe.strongest.max(f64::from(here.strongest));
            for &(x, y) in &here.blocks {
                fringe.map.set(x, y, 255);
            }
        }
        let most = by_direction.into_iter().max().unwrap_or(0);
        // A full fringe is as wide as the shift; what a trap leaves of it counts for as much less.
        fringe.length_mm = most as f64 / shift as f64 * px_mm;
    }
    Ok(out)
}

/// Top left corners, in blocks, of the tiles with the strongest edges.
fn tiles(s: &Survey<'_>) -> Vec<(usize, usize)> {
    let (bw, bh) = (s.small[0].width(), s.small[0].height());
    let mut found: Vec<(u64, (usize, usize))> = Vec::new();
    for y0 in (0..bh).step_by(TILE_BLOCKS) {
        for x0 in (0..bw).step_by(TILE_BLOCKS) {
            let mut energy = 0u64;
            for plane in &s.small {
                for y in y0..(y0 + TILE_BLOCKS).min(bh) {
                    let row = plane.row(y);
                    for x in x0..(x0 + TILE_BLOCKS).min(bw) {
                        // Outside the print there is no ink: the border is an edge too.
                        let right = row.get(x + 1).copied().unwrap_or(0);
                        let down = if y + 1 < bh { plane.get(x, y + 1) } else { 0 };
                        let step = u64::from(row[x].abs_diff(right)) + u64::from(row[x].abs_diff(down));
                        // Strong edges count, texture does not.
                        energy += step.saturating_sub(13_000);
                    }
                }
            }
            if energy > 0 {
                found.push((energy, (x0, y0)));
            }
        }
    }
    found.sort_by(|a, b| b.cmp(a));
    found.into_iter().take(TILES).map(|(_, at)| at).collect()
}

struct TileFringe {
    /// Pixels of fringe by direction: left, right, up, down.
    pixels: [u64; 4],
    strongest: f32,
    blocks: Vec<(usize, usize)>,
}

fn of_tile(s: &Survey<'_>, (bx, by): (usize, usize), shift: i64, alter: Option<(usize, f64)>) -> Vec<TileFringe> {
    let n = s.len();
    let side = (TILE_BLOCKS * s.block) as i64;
    let reach = shift + 1;
    let (x0, y0) = ((bx * s.block) as i64 - reach, (by * s.block) as i64 - reach);
    let wide = side + 2 * reach;
    let (w, h) = (s.screens.width as i64, s.screens.height as i64);
    let raw = |i: usize, x: i64, y: i64| -> f32 {
        let (x, y) = (x0 + x, y0 + y);
        if x < 0 || y < 0 || x >= w || y >= h {
            return 0.0;
        }
        f32::from(s.screens.list[i].coverage.get(x as usize, y as usize)) / 65535.0
    };
    // Offsets of a disc for the screen that is spread or choked.
    let by_px = alter.map_or(0.0, |(_, by)| by.abs());
    let far = by_px.ceil() as i64;
    let disc: Vec<(i64, i64)> = (-far..=far)
        .flat_map(|v| (-far..=far).map(move |u| (u, v)))
        .filter(|&(u, v)| ((u * u + v * v) as f64) <= by_px * by_px + 0.25)
        .collect();
    let at = |i: usize, x: i64, y: i64| -> f32 {
        match alter {
            Some((screen, by)) if screen == i => {
                let all = disc.iter().map(|&(u, v)| raw(i, x + u, y + v));
                if by < 0.0 { all.fold(1.0, f32::min) } else { all.fold(0.0, f32::max) }
            }
            _ => raw(i, x, y),
        }
    };
    // Coverages and colours as meant.
    let mut a = vec![0.0f32; n];
    let mut coverage = vec![0.0f32; n * (wide * wide) as usize];
    let mut meant: Vec<Lab> = Vec::with_capacity((wide * wide) as usize);
    for y in 0..wide {
        for x in 0..wide {
            for (i, a) in a.iter_mut().enumerate() {
                *a = at(i, x, y);
            }
            coverage[(y * wide + x) as usize * n..][..n].copy_from_slice(&a);
            meant.push(lab_from_linear(s.stack.reflectance(&a)));
        }
    }
    let inside = |x: i64, y: i64| x0 + x < w && y0 + y < h;
    (0..n)
        .map(|i| {
            let mut out = TileFringe { pixels: [0; 4], strongest: 0.0, blocks: Vec::new() };
            for (direction, (dx, dy)) in [(-shift, 0), (shift, 0), (0, -shift), (0, shift)].into_iter().enumerate() {
                for y in reach..wide - reach {
                    for x in reach..wide - reach {
                        let here = (y * wide + x) as usize;
                        let moved = coverage[((y - dy) * wide + x - dx) as usize * n + i];
                        if (moved - coverage[here * n + i]).abs() < 0.10 || !inside(x, y) {
                            continue;
                        }
                        a.copy_from_slice(&coverage[here * n..][..n]);
                        a[i] = moved;
                        let shown = lab_from_linear(s.stack.reflectance(&a));
                        // What the spot itself was is part of its neighbourhood: a small step is none.
                        let own = meant[here];
                        let bound = (shown.l - own.l).hypot(COLOR_COUNTS * (shown.a - own.a).hypot(shown.b - own.b));
                        if bound < SEEN {
                            continue;
                        }
                        let (mut darkest, mut lightest, mut nearest) = (f32::INFINITY, 0.0f32, f32::INFINITY);
                        for v in y - reach..=y + reach {
                            for other in &meant[(v * wide + x - reach) as usize..=(v * wide + x + reach) as usize] {
                                darkest = darkest.min(other.l);
                                lightest = lightest.max(other.l);
                                nearest = nearest.min((other.a - shown.a).powi(2) + (other.b - shown.b).powi(2));
                            }
                        }
                        let beyond = (darkest - shown.l).max(shown.l - lightest).max(0.0);
                        let seen = beyond.hypot(COLOR_COUNTS * nearest.sqrt());
                        if seen >= SEEN {
                            out.pixels[direction] += 1;
                            out.strongest = out.strongest.max(seen);
                            let block = ((x0 + x) as usize / s.block, (y0 + y) as usize / s.block);
                            if out.blocks.last() != Some(&block) {
                                out.blocks.push(block);
                            }
                        }
                    }
                }
            }
            out
        })
        .collect()
}
