//! The separation of every colour of a picture, as a table over the sRGB cube.
//!
//! Only cells that the picture touches are solved. The table is refined from 5 nodes a side over
//! 9 and 17 to 33: several starts at the coarsest level, where there are few nodes, then every
//! level starts from the one before, interpolated. At each level a node's own problem is solved
//! together with a pull towards its neighbours, nodes of even and odd coordinate sum in turn (their
//! neighbours are all of the other kind, so the order of work does not matter). Solved node by
//! node instead, films show speckle and hard-edged patches where the best solution jumps.
//!
//! At the finest levels the aims are then corrected (`correction.rs`), so that the pull and the prices of
//! ink choose between prints of the same colour and do not pay with it.

use std::sync::atomic::Ordering;

use rayon::prelude::*;

use super::corners::SIDE;
use crate::color::{encode_u16, linear_from_u16, linearize};
use crate::raster::{Picture, Rgba16};
use crate::separate::correction::Correction;
use crate::separate::model::{MAX_GARMENTS, MAX_SCREENS, PerScreen, SolverModel};
use crate::separate::plan::Plan;
use crate::separate::problem::{Costs, PerGarment, Pull, Target, improve, objective, starts};
use crate::{Cancelled, Progress};

/// Nodes a side of the finer one, for pictures whose colours touch few of its nodes: dark or flat
/// art, where the print answers to small differences of colour.
const FINE_SIDE: usize = 2 * SIDE - 1;
/// Most nodes of the finer table that are solved; with more, the usual one serves.
const FINE_NODES: usize = 20_000;
/// Cells a side of the finer table.
const CELLS: usize = FINE_SIDE - 1;
/// Pull towards each neighbour at every level, squared OKLab. Found by trial on photographs: less
/// leaves steps on films that the art has not, more costs colour.
const PULLS: [f32; 5] = [4e-3, 1.6e-3, 1.2e-3, 2.08e-3, 4e-3];
/// Most rounds at every level.
const ROUNDS: [usize; 5] = [12, 16, 16, 8, 6];
/// Corrections of every level's aims.
const CORRECTIONS: [usize; 5] = [0, 0, 0, 3, 1];
/// Most rounds after a correction: most nodes are near their place.
const CORRECTED_ROUNDS: usize = 4;
/// How far a correction goes towards its neighbours' mean: what the print misses changes slowly from
/// colour to colour, and what does not would be noise on the films.
const EVENED: f32 = 0.4;
/// A step between neighbours, in coverage a step of the usual table, at which their pull has doubled:
/// it holds solutions that change places to a slope, and leaves small steps to the colour.
const STEEP: f32 = 0.068;
/// The greatest step between neighbours, in coverage a step of the usual table, that is not held
/// down: 1.75 % for each 8-bit level. Where channels change together their steps add up to no more
/// than the 3 % that a ramp may step.
const SLOPE: f32 = 0.14;
/// How many times the pull counts what goes beyond. More would make nodes wait for each other for
/// many rounds.
const HELD: f32 = 15.0;
/// A node counts by the pixels round it, to this power, within bounds (1 is a node's usual share):
/// where much of the picture lies smoothing must cost little, and where hardly any does it may cost
/// what it needs. In full, by-ways of the picture would be smoothed out of all shape.
const USE: f32 = 0.7;
const USE_BOUNDS: (f32, f32) = (0.5, 30.0);

/// The colour that a pixel asks for on a garment: its own where opaque, the fabric's where clear,
/// blended in linear light between, since that is what the eye sees.
pub(in crate::separate) fn target_color(pixel: &Rgba16, garment: [f32; 3]) -> [u16; 3] {
    if pixel[3] == u16::MAX {
        return [pixel[0], pixel[1], pixel[2]];
    }
    let alpha = f32::from(pixel[3]) / 65535.0;
    let over = linear_from_u16(pixel);
    encode_u16(std::array::from_fn(|i| garment[i] + alpha * (over[i] - garment[i])))
}

/// How many pixels of a picture lie in each cell of the finest table.
#[derive(Debug, Clone)]
pub(super) struct Touched {
    cells: Vec<u32>,
}

impl Touched {
    /// Looks at every pixel that is not fully clear.
    pub fn by(picture: &Picture, garment: [f32; 3]) -> Self {
        let none = || vec![0u32; CELLS * CELLS * CELLS];
        let cells = picture
            .pixels()
            .data()
            .par_chunks(1 << 20)
            .map(|pixels| {
                let mut cells = none();
                for pixel in pixels.iter().filter(|p| p[3] != 0) {
                    let [r, g, b] = target_color(pixel, garment).map(|v| (v >> 10) as usize);
                    cells[(r * CELLS + g) * CELLS + b] += 1;
                }
                cells
            })
            .reduce(none, |mut a, b| {
                a.iter_mut().zip(b).for_each(|(a, b)| *a = a.saturating_add(b));
                a
            });
        Self { cells }
    }

    /// Touched cells of a level with `side` nodes, as coordinates, and their pixels.
    fn at_level(&self, side: usize) -> Vec<([usize; 3], f32)> {
        let shift = (CELLS / (side - 1)).trailing_zeros();
        let cells = side - 1;
        let mut seen = vec![0u64; cells * cells * cells];
        for (at, &count) in self.cells.iter().enumerate().filter(|(_, count)| **count > 0) {
            let [r, g, b] = [at / (CELLS * CELLS), at / CELLS % CELLS, at % CELLS].map(|v| v >> shift);
            seen[(r * cells + g) * cells + b] += u64::from(count);
        }
        let coordinates = |at: usize| [at / (cells * cells), at / cells % cells, at % cells];
        seen.iter().enumerate().filter(|(_, s)| **s > 0).map(|(at, s)| (coordinates(at), *s as f32)).collect()
    }
}

const NOWHERE: u32 = u32::MAX;

/// The values of those slots that are nodes.
fn there<'a>(slots: &'a [u32], values: &'a [PerScreen]) -> impl Iterator<Item = &'a PerScreen> {
    slots.iter().filter(|slot| **slot != NOWHERE).map(|slot| &values[*slot as usize])
}

/// The touched nodes of one level.
struct Level {
    side: usize,
    slot: Vec<u32>,
    nodes: Vec<[usize; 3]>,
    neighbours: Vec<[u32; 6]>,
    /// Neighbours on the way to black and to white.
    greyward: Vec<[u32; 2]>,
    /// How much a node's own colour counts against its neighbours' pull, by its pixels.
    used: Vec<f32>,
    steep: f32,
    slope: f32,
}

impl Level {
    fn new(touched: &Touched, side: usize) -> Self {
        let mut slot = vec![NOWHERE; side * side * side];
        let cells = touched.at_level(side);
        let mut pixels = vec![0.0f32; side * side * side];
        for &([r, g, b], count) in &cells {
            for corner in 0..8 {
                let [r, g, b] = [r + (corner & 1), g + (corner >> 1 & 1), b + (corner >> 2)];
                slot[(r * side + g) * side + b] = 0;
                pixels[(r * side + g) * side + b] += count;
            }
        }
        let mut nodes = Vec::new();
        let mut used = Vec::new();
        for (at, slot) in slot.iter_mut().enumerate().filter(|(_, s)| **s == 0) {
            *slot = nodes.len() as u32;
            nodes.push([at / (side * side), at / side % side, at % side]);
            used.push(pixels[at]);
        }
        let mean = used.iter().sum::<f32>() / used.len().max(1) as f32;
        used.iter_mut().for_each(|u| *u = (*u / mean).powf(USE).clamp(USE_BOUNDS.0, USE_BOUNDS.1));
        // Of the usual table's.
        let step = (SIDE - 1) as f32 / (side - 1) as f32;
        let mut level = Self {
            side,
            slot,
            nodes,
            neighbours: Vec::new(),
            greyward: Vec::new(),
            used,
            steep: 1.0 / (STEEP * step).powi(2),
            slope: SLOPE * step,
        };
        level.neighbours = level.nodes.iter().map(|&node| level.around(node)).collect();
        level.greyward = level.nodes.iter().map(|&node| level.along_grey(node)).collect();
        level
    }

    /// The neighbours on the way to black and to white: between them greys are interpolated.
    fn along_grey(&self, node: [usize; 3]) -> [u32; 2] {
        let down = if node.contains(&0) { NOWHERE } else { self.slot(node.map(|v| v - 1)) };
        let up = if node.contains(&(self.side - 1)) { NOWHERE } else { self.slot(node.map(|v| v + 1)) };
        [down, up]
    }

    fn slot(&self, [r, g, b]: [usize; 3]) -> u32 {
        self.slot[(r * self.side + g) * self.side + b]
    }

    fn around(&self, node: [usize; 3]) -> [u32; 6] {
        std::array::from_fn(|k| {
            let mut at = node;
            let axis = k / 2;
            if k % 2 == 0 {
                if at[axis] == 0 {
                    return NOWHERE;
                }
                at[axis] -= 1;
            } else {
                at[axis] += 1;
                if at[axis] == self.side {
                    return NOWHERE;
                }
            }
            self.slot(at)
        })
    }

    /// The linear colour of a node.
    fn color(&self, node: [usize; 3]) -> [f32; 3] {
        node.map(|v| linearize(v as f32 / (self.side - 1) as f32))
    }

    /// Values from the level before, interpolated.
    fn interpolate<const N: usize>(&self, coarser: &Level, values: &[[f32; N]]) -> Vec<[f32; N]> {
        let corners = |node: [usize; 3]| {
            let mut sum = [0.0f32; N];
            let mut count = 0.0;
            for corner in 0..8usize {
                // Odd coordinates lie between two coarse nodes; even ones on one.
                if (0..3).any(|k| corner >> k & 1 == 1 && node[k].is_multiple_of(2)) {
                    continue;
                }
                let slot = coarser.slot(std::array::from_fn(|k| node[k] / 2 + (corner >> k & 1)));
                if slot != NOWHERE {
                    sum.iter_mut().zip(values[slot as usize]).for_each(|(s, v)| *s += v);
                    count += 1.0;
                }
            }
            sum.map(|s| s / count)
        };
        self.nodes.iter().map(|&node| corners(node)).collect()
    }

    /// The same for what aims are moved by.
    fn interpolate_shifts(&self, coarser: &Level, shifts: &[PerGarment]) -> Vec<PerGarment> {
        let flat: Vec<[f32; 3 * MAX_GARMENTS]> =
            shifts.iter().map(|shift| std::array::from_fn(|k| shift[k / 3][k % 3])).collect();
        let per_garment =
            |flat: [f32; 3 * MAX_GARMENTS]| std::array::from_fn(|g| std::array::from_fn(|k| flat[3 * g + k]));
        self.interpolate(coarser, &flat).into_iter().map(per_garment).collect()
    }

    fn pull(&self, node: usize, values: &[PerScreen], weight: f32) -> Pull {
        let mut pull = Pull { weight: weight / self.used[node], ..Pull::NONE };
        let own = &values[node];
        for other in there(&self.neighbours[node], values) {
            for i in 0..MAX_SCREENS {
                let d = own[i] - other[i];
                let weight = 1.0 + d * d * self.steep;
                pull.count[i] += weight;
                pull.sum[i] += weight * other[i];
            }
        }
        // Towards the nearest place at which the step is none too many.
        for other in there(&self.neighbours[node], values).chain(there(&self.greyward[node], values)) {
            for i in 0..MAX_SCREENS {
                let d = own[i] - other[i];
                if d.abs() > self.slope {
                    pull.count[i] += HELD;
                    pull.sum[i] += HELD * (other[i] + self.slope * d.signum());
                }
            }
        }
        pull
    }

    /// Moves every correction on by what the print leaves, and evens them out between neighbours.
    fn correct(&self, corrections: &mut [Correction], model: &SolverModel, targets: &[Target], values: &[PerScreen]) {
        for ((correction, target), a) in corrections.iter_mut().zip(targets).zip(values) {
            correction.move_on(model, target, a);
        }
        let shifts: Vec<PerGarment> = corrections.iter().map(|c| c.shift).collect();
        for (correction, neighbours) in corrections.iter_mut().zip(&self.neighbours) {
            let around = neighbours.iter().filter(|v| **v != NOWHERE).map(|v| &shifts[*v as usize]);
            let count = around.clone().count();
            if count == 0 {
                continue;
            }
            for (garment, own) in correction.shift.iter_mut().enumerate().take(model.also_on.len() + 1) {
                let sum = around.clone().fold([0.0; 3], |s, v| std::array::from_fn(|k| s[k] + v[garment][k]));
                *own = std::array::from_fn(|k| own[k] + EVENED * (sum[k] / count as f32 - own[k]));
            }
        }
    }

    /// Runs `f(node, values)` for all nodes of one kind, then all of the other, round after round,
    /// as long as anything moves: nodes that rest among resting neighbours are left out.
    fn rounds(
        &self,
        most: usize,
        values: &mut [PerScreen],
        progress: &Progress,
        f: impl Fn(usize, &[PerScreen]) -> PerScreen + Sync,
    ) -> Result<(), Cancelled> {
        let mut moves = vec![true; self.nodes.len()];
        let stop = progress.canceller();
        let rest = RESTING;
        for _ in 0..most {
            if stop.load(Ordering::Relaxed) {
                return Err(Cancelled);
            }
            for kind in 0..2 {
                let restless =
                    |u: usize| moves[u] || self.neighbours[u].iter().any(|&v| v != NOWHERE && moves[v as usize]);
                let of_kind: Vec<usize> = (0..self.nodes.len())
                    .filter(|&u| self.nodes[u].iter().sum::<usize>() % 2 == kind && restless(u))
                    .collect();
                let current: &[PerScreen] = values;
                let changed: Vec<PerScreen> = of_kind.par_iter().with_min_len(16).map(|&u| f(u, current)).collect();
                (0..self.nodes.len())
                    .filter(|&u| self.nodes[u].iter().sum::<usize>() % 2 == kind)
                    .for_each(|u| moves[u] = false);
                for (u, value) in of_kind.into_iter().zip(changed) {
                    moves[u] = value.iter().zip(values[u]).any(|(new, old)| (new - old).abs() > rest);
                    values[u] = value;
                }
            }
            if !moves.contains(&true) {
                break;
            }
        }
        Ok(())
    }
}

/// Coverage that counts as no move.
const RESTING: f32 = 1e-3;

/// The solved table.
#[derive(Debug, Clone)]
pub(super) struct Table {
    /// Nodes a side of the cube.
    pub side: usize,
    /// Coverages of every node of the cube, 0..=65535; `lanes` values a node, zero where untouched.
    pub data: Vec<u16>,
    /// Values a node: the number of screens rounded up to a multiple of 8.
    pub lanes: usize,
    /// Screens in use.
    pub screens: usize,
}

impl Table {
    /// The usual table of given coverages.
    pub fn of_nodes(screens: usize, coverage: impl Fn(usize, usize) -> u16) -> Self {
        let lanes = screens.next_multiple_of(8);
        let value = |at: usize| if at % lanes < screens { coverage(at / lanes, at % lanes) } else { 0 };
        Self { side: SIDE, data: (0..SIDE * SIDE * SIDE * lanes).map(value).collect(), lanes, screens }
    }
}

#[cfg(test)]
impl Table {
    /// The pull at the level that the table is of.
    pub fn pull(&self) -> f32 {
        PULLS[if self.side == SIDE { 3 } else { 4 }]
    }

    /// Whether the cell of a colour was solved: an unsolved corner holds nothing at all.
    pub fn is_solved(&self, color: [u16; 3]) -> bool {
        let solved = |node: usize| self.data[node * self.lanes..][..self.lanes].iter().any(|&v| v != 0);
        super::corners::corners(self.side, color).iter().all(|&(node, _)| solved(node))
    }
}

/// Solves all colours that a picture touches.
pub(super) fn solve(touched: &Touched, plan: &Plan, progress: &Progress) -> Result<Table, Cancelled> {
    let (model, costs) = (&plan.model, &plan.costs);
    let n = model.screens;
    let mut coarser: Option<(Level, Vec<PerScreen>, Vec<PerGarment>)> = None;
    for (step, side) in [5, 9, 17, SIDE, FINE_SIDE].into_iter().enumerate() {
        progress.step("solve colours", step as f32 / 5.0)?;
        let level = Level::new(touched, side);
        if side == FINE_SIDE && level.nodes.len() > FINE_NODES {
            break;
        }
        let targets: Vec<Target> = level.nodes.iter().map(|&node| plan.target(level.color(node))).collect();
        let mut values = match &coarser {
            Some((before, values, _)) => level.interpolate(before, values),
            None => first_values(&level, model, costs, &targets),
        };
        progress.step("solve colours", step as f32 / 5.0)?;
        // As far as the level before came.
        let shifts = match &coarser {
            Some((before, _, shifts)) => level.interpolate_shifts(before, shifts),
            None => vec![[[0.0; 3]; MAX_GARMENTS]; targets.len()],
        };
        let mut aims: Vec<Target> = targets.iter().zip(&shifts).map(|(target, by)| target.beside(by)).collect();
        let mut corrections: Vec<Correction> = shifts.into_iter().map(Correction::of_shift).collect();
        for correction in 0..=CORRECTIONS[step] {
            if correction == 1 {
                let free = costs.free();
                let nodes = corrections.par_iter_mut().zip(&targets).zip(&values);
                nodes.for_each(|((correction, target), a)| correction.look_ahead(model, &free, target, a));
            }
            if correction > 0 {
                level.correct(&mut corrections, model, &targets, &values);
                aims = targets.iter().zip(&corrections).map(|(target, by)| target.beside(&by.shift)).collect();
            }
            let most = if correction == 0 { ROUNDS[step] } else { CORRECTED_ROUNDS };
            level.rounds(most, &mut values, progress, |u, values| {
                let mut a = values[u];
                improve(model, costs, &aims[u], &level.pull(u, values, PULLS[step]), &mut a, 3);
                a
            })?;
        }
        coarser = Some((level, values, corrections.iter().map(|c| c.shift).collect()));
    }
    let lanes = n.div_ceil(8) * 8;
    let side = coarser.as_ref().map_or(SIDE, |(level, ..)| level.side);
    let mut data = vec![0u16; side * side * side * lanes];
    if let Some((level, values, _)) = coarser {
        for (node, value) in level.nodes.iter().zip(values) {
            let at = ((node[0] * side + node[1]) * side + node[2]) * lanes;
            for (out, a) in data[at..at + n].iter_mut().zip(value) {
                *out = (a * 65535.0).round() as u16;
            }
        }
    }
    Ok(Table { side, data, lanes, screens: n })
}

/// At the coarsest level every node keeps what its several starts led to; then each takes, of
/// those, the one that is best with its neighbours' pull.
fn first_values(level: &Level, model: &SolverModel, costs: &Costs, targets: &[Target]) -> Vec<PerScreen> {
    let found: Vec<Vec<(f32, PerScreen)>> = targets
        .par_iter()
        .map(|target| {
            let mut found: Vec<(f32, PerScreen)> = starts(model.screens, target, 0)
                .into_iter()
                .map(|mut a| {
                    improve(model, costs, target, &Pull::NONE, &mut a, 40);
                    (objective(model, costs, target, &a), a)
                })
                .collect();
            found.sort_by(|a, b| a.0.total_cmp(&b.0));
            found
        })
        .collect();
    let mut values: Vec<PerScreen> = found.iter().map(|f| f[0].1).collect();
    level
        .rounds(6, &mut values, &Progress::none(), |u, values| {
            let pull = level.pull(u, values, PULLS[0]);
            let cost = |(own, a): &(f32, PerScreen)| own + pull.value(a, model.screens);
            found[u].iter().min_by(|a, b| cost(a).total_cmp(&cost(b))).map_or(values[u], |best| best.1)
        })
        .ok();
    values
}
