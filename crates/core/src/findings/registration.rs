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

/// What a shift of one screen shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Fringe {
    /// The screen, by place in the print order.
    pub screen: usize,
    /// The shift in mm.
    pub shift_mm: f64,
    /// Length of visible fringe in mm, in the worst of four directions, over the tiles looked at.
    pub length_mm: f64,
    /// Strongest lightness beyond the neighbourhood, colour counted a fifth.
    pub strongest: f64,
    /// Where, a map of blocks.
    pub map: Plane<u8>,
}

/// Length at which fringes become a finding.
const CAUTION_MM: f64 = 40.0;
const FAULT_MM: f64 = 80.0;

/// Lightness beyond the neighbourhood that glares, whatever its length.
const GLARING: f64 = 45.0;

pub(super) fn registration(s: &Survey<'_>, progress: &Progress) -> Result<Vec<Finding>, Cancelled> {
    let shift_mm = s.job.press.register_mm.get();
    if shift_mm <= 0.0 || s.len() == 0 {
        return Ok(Vec::new());
    }
    let fringes = fringes(s, shift_mm, progress)?;
    let mut out = Vec::new();
    for fringe in fringes.into_iter().filter(|f| f.length_mm >= CAUTION_MM) {
        let screen = &s.screens.list[fringe.screen];
        let base = screen.ink.role == InkRole::BaseWhite;
        let limit = CAUTION_MM;
        out.push(Finding {
            kind: Kind::Registration,
            severity: if fringe.length_mm >= FAULT_MM || fringe.strongest >= GLARING {
                Severity::Fault
            } else {
                Severity::Caution
            },
            what: format!(
                "When {} stands off by {shift_mm:.2} mm, {} along {:.0} mm of edges and more.",
                screen.name,
                if base { "white peeks out" } else { "a gap or fringe shows" },
                fringe.length_mm
            ),
            number: Number { label: "length of fringe".into(), value: fringe.length_mm, unit: "mm", limit },
            screens: vec![screen.name.clone()],
            place: Place::of_map(fringe.map, s.mm_per_px),
            inputs: vec![
                Input::new("register", format!("{shift_mm:.2} mm each way"), Basis::Assumed),
                Input::new(
                    "seen",
                    format!("lightness {SEEN:.0} beyond the neighbourhood; strongest {:.0}", fringe.strongest),
                    Basis::Assumed,
                ),
                Input::new("looked at", format!("{TILES} tiles with the strongest edges"), Basis::Screens),
            ],
            mends: mends(&screen.name, base, shift_mm),
        });
    }
    Ok(out)
}

/// A base is choked behind its colours, a colour is spread into its neighbours: by the shift and
/// a tenth of a millimetre.
fn mends(screen: &str, base: bool, shift_mm: f64) -> Vec<Mend> {
    let Ok(by_mm) = Mm::new(((shift_mm + 0.1) * 100.0).round() / 100.0) else { return Vec::new() };
    let screen = screen.to_owned();
    vec![if base {
        Mend::one(format!("Choke {screen} by {by_mm} mm"), Change::Edit { edit: Edit::Choke { screen, by_mm } })
    } else {
        Mend::one(format!("Spread {screen} by {by_mm} mm"), Change::Edit { edit: Edit::Spread { screen, by_mm } })
    }]
}

/// Fringes of every screen at one shift.
pub(super) fn fringes(s: &Survey<'_>, shift_mm: f64, progress: &Progress) -> Result<Vec<Fringe>, Cancelled> {
    let px_mm = MM_PER_INCH / s.screens.ppi.get();
    let shift = ((shift_mm / px_mm).round() as i64).max(1);
    let tiles = tiles(s);
    let (bw, bh) = (s.small[0].width(), s.small[0].height());
    let mut out: Vec<Fringe> = (0..s.len())
        .map(|screen| Fringe { screen, shift_mm, length_mm: 0.0, strongest: 0.0, map: Plane::filled(bw, bh, 0) })
        .collect();
    progress.step("register", 0.0)?;
    let seen: Vec<Vec<TileFringe>> = tiles.par_iter().map(|&tile| of_tile(s, tile, shift)).collect();
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
        // A fringe is as wide as the shift.
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

fn of_tile(s: &Survey<'_>, (bx, by): (usize, usize), shift: i64) -> Vec<TileFringe> {
    let n = s.len();
    let side = (TILE_BLOCKS * s.block) as i64;
    let reach = shift + 1;
    let (x0, y0) = ((bx * s.block) as i64 - reach, (by * s.block) as i64 - reach);
    let wide = side + 2 * reach;
    let (w, h) = (s.screens.width as i64, s.screens.height as i64);
    let at = |i: usize, x: i64, y: i64| -> f32 {
        let (x, y) = (x0 + x, y0 + y);
        if x < 0 || y < 0 || x >= w || y >= h {
            return 0.0;
        }
        f32::from(s.screens.list[i].coverage.get(x as usize, y as usize)) / 65535.0
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
