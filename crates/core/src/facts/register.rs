//! Register. Each screen is shifted to the left, right, up and down; a spot shows a fringe when it
//! comes out lighter or darker than anything near it in the print as meant. A screen that merely
//! moves shows none: only bare fabric, base or overlap that comes to light as a line. Lines this
//! thin are seen by their lightness; colour alone counts a fifth. Looked at in the tiles of the
//! print with the strongest edges, at full resolution unless the shift is longer than any press's.

use rayon::prelude::*;

use super::Survey;
use super::tile::{Scale, Tile, TileFringe};
use crate::raster::Plane;
use crate::{Cancelled, Progress};

/// CIELAB lightness beyond all of its neighbourhood at which a fringe is seen (assumed).
pub(crate) const SHOWS: f32 = 12.0;

/// The same that glares (assumed): nearly half of the way from black to white.
pub(super) const GLARES: f32 = 45.0;

/// What a distance in a* and b* counts beside one in L*.
pub(super) const COLOR_COUNTS: f32 = 0.2;

/// Tiles looked at.
pub(crate) const TILES: usize = 40;

/// Side of a tile in blocks.
pub(super) const TILE_BLOCKS: usize = 14;

/// Shifts that are searched, in mm.
const SHIFTS_MM: [f64; 5] = [0.1, 0.2, 0.3, 0.4, 0.5];

/// A line narrower than this is seen less, by as much as it is narrower, in mm (assumed; a minute of
/// arc at reading distance).
pub(super) const NARROW_MM: f64 = 0.1;

/// What a shift of one screen shows.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fringe {
    /// The screen, by place in the print order.
    pub screen: usize,
    /// Length of visible fringe in mm across the shift, in the worst of four directions, over the
    /// tiles looked at; lines narrower than 0.1 mm count less.
    pub length_mm: f64,
    /// Its mean width in that direction, in mm.
    pub width_mm: f64,
    /// Length in mm of what glares of it, all pixels that do put end to end at its mean width.
    pub glaring_mm: f64,
    /// Strongest lightness beyond the neighbourhood, colour counted a fifth.
    pub strongest: f64,
    /// Where, a map of blocks.
    pub map: Plane<u8>,
}

/// How far each screen may be out of register, and what is seen at the shift that the job expects.
pub(crate) struct Register {
    /// Shift from which a screen's fringe is seen, in mm; none if it is not up to half a millimetre.
    pub first_mm: Vec<Option<f64>>,
    /// Fringes at the job's own register.
    pub expected: Vec<Fringe>,
    /// Where it was looked for: top left corners in blocks.
    pub tiles: Vec<(usize, usize)>,
}

/// Length in mm from which a fringe is seen on the print (assumed).
pub(crate) const SHOWS_MM: f64 = 40.0;

/// Shifts every screen each way by 0.1 to 0.5 mm and by what the job expects.
pub(crate) fn register(s: &Survey<'_>, progress: &Progress) -> Result<Register, Cancelled> {
    if s.len() == 0 {
        return Ok(Register { first_mm: Vec::new(), expected: Vec::new(), tiles: Vec::new() });
    }
    let own = s.job.run.register_mm.get();
    let all: Vec<usize> = (0..s.len()).collect();
    let tiles = edge_tiles(&s.small);
    let mut found = fringes(s, &tiles, &SHIFTS_MM, &all, None, progress)?;
    let first = |screen: usize| {
        let shown = |at: &usize| found[*at][screen].length_mm >= SHOWS_MM;
        (0..SHIFTS_MM.len()).find(shown).map(|at| SHIFTS_MM[at])
    };
    let first_mm = all.iter().map(|&screen| first(screen)).collect();
    // Looked at by itself, so that a large register does not coarsen the small shifts.
    let expected = match SHIFTS_MM.iter().position(|mm| (mm - own).abs() < 1e-6) {
        Some(at) => found.swap_remove(at),
        None if own > 0.0 => fringes(s, &tiles, &[own], &all, None, progress)?.swap_remove(0),
        None => Vec::new(),
    };
    Ok(Register { first_mm, expected, tiles })
}

/// A screen that is spread (or, less than none, choked) by so much first.
#[derive(Clone, Copy)]
pub(crate) struct Altered {
    pub screen: usize,
    pub by_mm: f64,
}

/// Fringes of the screens of `which` at each shift, in the order given.
pub(crate) fn fringes(
    s: &Survey<'_>,
    tiles: &[(usize, usize)],
    shifts_mm: &[f64],
    which: &[usize],
    alter: Option<Altered>,
    progress: &Progress,
) -> Result<Vec<Vec<Fringe>>, Cancelled> {
    let most_mm = shifts_mm.iter().copied().fold(0.0, f64::max);
    let scale = Scale::of(s.screens.ppi.get(), most_mm);
    let px_mm = scale.px_mm;
    let shifts_px: Vec<f64> = shifts_mm.iter().map(|mm| mm / px_mm).collect();
    let (bw, bh) = (s.small[0].width(), s.small[0].height());
    let most_px = shifts_px.iter().copied().fold(1.0, f64::max);
    let of_tile = |&tile: &(usize, usize)| {
        progress.step("register", 0.5)?;
        let tile = Tile::new(s, tile, scale, most_px, alter)?;
        Ok(shifts_px.iter().map(|&px| which.iter().map(|&i| tile.fringe(s, i, px)).collect()).collect())
    };
    let seen = tiles.par_iter().map(of_tile).collect::<Result<Vec<Vec<Vec<TileFringe>>>, Cancelled>>()?;
    let of_shift = |at: usize| {
        let of_screen = |(nth, &screen): (usize, &usize)| {
            let map = Plane::filled(bw, bh, 0);
            let mut fringe = Fringe { screen, length_mm: 0.0, width_mm: 0.0, glaring_mm: 0.0, strongest: 0.0, map };
            let (mut length_px, mut pixels, mut glaring) = ([0.0; 4], [0u64; 4], [0u64; 4]);
            for tile in &seen {
                let here = &tile[at][nth];
                for direction in 0..4 {
                    length_px[direction] += here.length_px[direction];
                    pixels[direction] += here.pixels[direction];
                    glaring[direction] += here.glaring[direction];
                }
                fringe.strongest = fringe.strongest.max(f64::from(here.strongest));
                here.blocks.iter().for_each(|&(x, y)| fringe.map.set(x, y, 255));
            }
            let worst = (0..4).max_by(|&a, &b| length_px[a].total_cmp(&length_px[b])).unwrap_or(0);
            fringe.length_mm = length_px[worst] * px_mm;
            // Narrow lines count less in the length; the width is that of the lines themselves.
            fringe.width_mm = pixels[worst] as f64 / length_px[worst].max(1.0) * px_mm;
            fringe.glaring_mm = glaring[worst] as f64 / pixels[worst].max(1) as f64 * fringe.length_mm;
            fringe
        };
        which.iter().enumerate().map(of_screen).collect()
    };
    Ok((0..shifts_mm.len()).map(of_shift).collect())
}

/// Top left corners, in blocks, of the tiles with the strongest edges.
fn edge_tiles(small: &[Plane<u16>]) -> Vec<(usize, usize)> {
    let Some(first) = small.first() else { return Vec::new() };
    let (bw, bh) = (first.width(), first.height());
    let mut found: Vec<(u64, (usize, usize))> = Vec::new();
    for y0 in (0..bh).step_by(TILE_BLOCKS) {
        for x0 in (0..bw).step_by(TILE_BLOCKS) {
            let mut energy = 0u64;
            for plane in small {
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
