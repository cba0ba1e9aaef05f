//! How the dots of two screens meet. Screens of other rulings or angles, and dots without a ruling, lie on
//! each other by chance, and the sum of Demichel (1924) holds. Screens of one ruling and angle are dots on one
//! lattice: in register they nest, and the further out of register they are the more they meet by chance.
//!
//! What counts is how much oftener than by chance two screens print on one spot: the covariance of their dots,
//! `c(a, b) = E[both] - a b`. By Parseval it is the sum over the lattice's harmonics `k` of `F_k(a) F_k*(b)`,
//! `F_k(a)` being the Fourier coefficient of a dot of coverage `a`; register that wanders by a normal error of
//! `s` each way on each screen damps the harmonic `k` by `exp(-(2 pi s |k| / pitch)^2)`. The print's
//! reflectance is linear in every single coverage, so a covariance adds `c` times the mixed derivative of the
//! two coverages: exact for two screens on a lattice. With three and more, what they do together beyond
//! pairs is left out; it falls with the square of the damping (`docs/dots.md` has the figures).

use std::collections::HashMap;
use std::f64::consts::TAU;
use std::fmt::Debug;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use crate::units::{Degrees, Lpi, MM_PER_INCH};

/// Places a side of a cell at which dots are looked at.
pub const CELL_SIDE: usize = 64;
/// Harmonics each way.
const HARMONICS: i32 = 8;
/// Steps of coverage in a table.
const STEPS: usize = 64;
/// Register in cells under which screens count as being in register.
const STILL: f64 = 0.01;
/// Tables that are kept.
const KEPT: usize = 48;

/// In which order a cell fills, and what that makes of its harmonics.
#[derive(Debug)]
pub struct FillOrder {
    /// Share of the cell that is filled before this place, row by row from a corner of the cell.
    ranks: Vec<f32>,
    /// By step of coverage, harmonics in the order of [`harmonics`], cosine and sine part.
    waves: Vec<Vec<[f32; 2]>>,
    name: String,
    key: u64,
}

impl PartialEq for FillOrder {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

/// Half of all harmonics; the other half are their mirror images.
fn harmonics() -> impl Iterator<Item = (i32, i32)> {
    (-HARMONICS..=HARMONICS).flat_map(|i| (0..=HARMONICS).map(move |j| (i, j))).filter(|&(i, j)| j > 0 || i > 0)
}

impl FillOrder {
    /// From a function that gives the share filled before the middle of each of
    /// [`CELL_SIDE`] x [`CELL_SIDE`] places, and the name of what fills so.
    pub fn new(name: impl Into<String>, rank: impl Fn(usize, usize) -> f32) -> Self {
        let side = CELL_SIDE;
        let ranks: Vec<f32> = (0..side * side).map(|at| rank(at % side, at / side)).collect();
        let key = ranks.iter().fold(0xCBF2_9CE4_8422_2325u64, |hash, rank| {
            (hash ^ u64::from(rank.to_bits())).wrapping_mul(0x0000_0100_0000_01B3)
        });
        let waves = (0..=STEPS).map(|step| waves(&ranks, step as f32 / STEPS as f32)).collect();
        Self { ranks, waves, name: name.into(), key }
    }

    /// What fills so.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The same cell turned by a right angle.
    fn turned(&self) -> Self {
        Self::new(format!("{} turned", self.name), |x, y| self.ranks[x * CELL_SIDE + CELL_SIDE - 1 - y])
    }

    /// Share of the cell that is filled before a place, given in cells.
    pub fn rank(&self, place: [f64; 2]) -> f32 {
        let [x, y] = place.map(|v| (v.rem_euclid(1.0) * CELL_SIDE as f64) as usize % CELL_SIDE);
        self.ranks[y * CELL_SIDE + x]
    }
}

/// Fourier coefficients of the places that are filled at a coverage: along rows first, then down.
fn waves(ranks: &[f32], coverage: f32) -> Vec<[f32; 2]> {
    let side = CELL_SIDE;
    let turn = |k: i32, at: usize| {
        let phase = TAU * f64::from(k) * (at as f64 + 0.5) / side as f64;
        [phase.cos() as f32, phase.sin() as f32]
    };
    let wide = (2 * HARMONICS + 1) as usize;
    let turns: Vec<Vec<[f32; 2]>> =
        (-HARMONICS..=HARMONICS).map(|k| (0..side).map(|at| turn(k, at)).collect()).collect();
    let mut along = vec![[0.0f32; 2]; side * wide];
    for y in 0..side {
        for x in (0..side).filter(|x| ranks[y * side + x] < coverage) {
            for (sum, turns) in along[y * wide..][..wide].iter_mut().zip(&turns) {
                *sum = [sum[0] + turns[x][0], sum[1] + turns[x][1]];
            }
        }
    }
    let share = 1.0 / (side * side) as f32;
    let coefficient = |(i, j): (i32, i32)| {
        let (i, j) = ((i + HARMONICS) as usize, (j + HARMONICS) as usize);
        let sum = (0..side).fold([0.0f32; 2], |sum, y| {
            let ([a, b], [c, d]) = (along[y * wide + i], turns[j][y]);
            [sum[0] + a * c - b * d, sum[1] + a * d + b * c]
        });
        sum.map(|v| v * share)
    };
    harmonics().map(coefficient).collect()
}

/// The lattice that a screen's dots lie on.
#[derive(Debug, Clone, PartialEq)]
pub struct Lattice {
    /// Dots an inch.
    pub ruling: Lpi,
    /// Direction of its rows.
    pub angle: Degrees,
    /// How its dots grow.
    pub fill: Arc<FillOrder>,
}

/// Angles that differ by less are one angle.
const SAME_DEG: f64 = 1e-6;

impl Lattice {
    /// Whether another has the same points: of one ruling, at angles a multiple of a right angle apart.
    pub fn shares_points(&self, other: &Self) -> bool {
        let apart = (self.angle.get() - other.angle.get()).rem_euclid(90.0);
        (self.ruling.get() - other.ruling.get()).abs() < 1e-9 && apart.min(90.0 - apart) < SAME_DEG
    }

    /// Distance of two dots in mm.
    pub fn pitch_mm(&self) -> f64 {
        MM_PER_INCH / self.ruling.get()
    }

    /// How its dots grow, seen along the rows of another on the same points.
    fn fill_along(&self, other: &Self) -> Arc<FillOrder> {
        let turns = ((self.angle.get() - other.angle.get()) / 90.0).round() as i64;
        if turns % 2 == 0 { self.fill.clone() } else { Arc::new(self.fill.turned()) }
    }
}

/// Where the dots of a job's screens lie.
pub trait DotGrids: Debug + Sync {
    /// The lattice of a screen; none if its dots lie on none.
    fn lattice(&self, screen: &str) -> Option<Lattice>;

    /// How far a screen is known to be out of register, to the right and down in mm.
    fn shift_mm(&self, _screen: &str) -> [f64; 2] {
        [0.0; 2]
    }
}

/// Where dots lie and how far they wander: what says how screens meet.
#[derive(Debug, Clone, Copy)]
pub struct Meetings<'a> {
    /// Where the dots lie.
    pub dots: &'a dyn DotGrids,
    /// Register of each screen, each way, one standard deviation of a normal error in mm.
    pub register_mm: f64,
}

/// Two screens of a stack on one lattice.
#[derive(Debug, Clone, PartialEq)]
pub struct Meeting {
    /// The one that prints first, by its place in the stack.
    pub lower: usize,
    /// The one that prints later.
    pub upper: usize,
    /// How much oftener than by chance both print on one spot.
    pub table: Arc<MeetingTable>,
}

/// Covariance of two screens' dots by their coverages.
#[derive(Debug, PartialEq)]
pub struct MeetingTable {
    /// Row by row of the lower screen's coverage, `STEPS + 1` each way.
    values: Vec<f32>,
}

impl MeetingTable {
    /// For two ways to fill the cells of one lattice, with register and the upper screen's known shift against
    /// the lower one in cells.
    pub fn new(lower: &FillOrder, upper: &FillOrder, register: f64, shift: [f64; 2]) -> Self {
        let steps = || (0..=STEPS).flat_map(|a| (0..=STEPS).map(move |b| (a, b)));
        if register < STILL && shift.iter().all(|shift| shift.abs() < STILL) {
            return Self { values: steps().map(|(a, b)| in_register(lower, upper, a, b)).collect() };
        }
        // Each harmonic stands for its mirror image too.
        let damping: Vec<[f32; 2]> = harmonics()
            .map(|(i, j)| {
                let damping = 2.0 * (-(TAU * register).powi(2) * f64::from(i * i + j * j)).exp();
                let phase = TAU * (f64::from(i) * shift[0] + f64::from(j) * shift[1]);
                [damping * phase.cos(), damping * phase.sin()].map(|part| part as f32)
            })
            .collect();
        let value = |a: usize, b: usize| -> f32 {
            let pairs = lower.waves[a].iter().zip(&upper.waves[b]).zip(&damping);
            let turned = |((p, q), d): ((&[f32; 2], &[f32; 2]), &[f32; 2])| {
                d[0] * (p[0] * q[0] + p[1] * q[1]) + d[1] * (p[0] * q[1] - p[1] * q[0])
            };
            pairs.map(turned).sum()
        };
        Self { values: steps().map(|(a, b)| value(a, b)).collect() }
    }

    /// The same, kept: the same few tables are asked for again and again.
    fn kept(lower: &FillOrder, upper: &FillOrder, register: f64, shift: [f64; 2]) -> Arc<Self> {
        type Key = (u64, u64, u64, [u64; 2]);
        static TABLES: LazyLock<Mutex<HashMap<Key, Arc<MeetingTable>>>> = LazyLock::new(Mutex::default);
        let key = (lower.key, upper.key, register.to_bits(), shift.map(f64::to_bits));
        if let Some(table) = TABLES.lock().unwrap_or_else(PoisonError::into_inner).get(&key) {
            return table.clone();
        }
        let table = Arc::new(Self::new(lower, upper, register, shift));
        let mut tables = TABLES.lock().unwrap_or_else(PoisonError::into_inner);
        if tables.len() >= KEPT {
            tables.clear();
        }
        tables.insert(key, table.clone());
        table
    }

    /// Covariance at two coverages, and its derivative by each.
    #[inline]
    pub fn at(&self, lower: f32, upper: f32) -> (f32, [f32; 2]) {
        let place = |a: f32| {
            let at = a.clamp(0.0, 1.0) * STEPS as f32;
            let cell = (at as usize).min(STEPS - 1);
            (cell, at - cell as f32)
        };
        let ((x, fx), (y, fy)) = (place(lower), place(upper));
        let row = |x: usize| &self.values[x * (STEPS + 1) + y..][..2];
        let ([a, b], [c, d]) = ([row(x)[0], row(x)[1]], [row(x + 1)[0], row(x + 1)[1]]);
        let (left, right) = (a + (b - a) * fy, c + (d - c) * fy);
        let (low, high) = (a + (c - a) * fx, b + (d - b) * fx);
        let steps = STEPS as f32;
        (left + (right - left) * fx, [(right - left) * steps, (high - low) * steps])
    }
}

/// The covariance of two ways to fill a cell laid on each other as they are, place by place.
fn in_register(lower: &FillOrder, upper: &FillOrder, a: usize, b: usize) -> f32 {
    let [a, b] = [a, b].map(|step| step as f32 / STEPS as f32);
    let places = lower.ranks.iter().zip(&upper.ranks);
    let [mut below, mut above, mut both] = [0u32; 3];
    for (&p, &q) in places {
        let (p, q) = (p < a, q < b);
        (below, above, both) = (below + u32::from(p), above + u32::from(q), both + u32::from(p && q));
    }
    let [below, above, both] = [below, above, both].map(|count| count as f32 / (CELL_SIDE * CELL_SIDE) as f32);
    both - below * above
}

/// Two screens on one lattice, by their places in a list.
#[derive(Debug, Clone)]
pub struct Pair {
    /// The places, the earlier one first.
    pub screens: [usize; 2],
    /// How their dots grow, along the rows of the first.
    pub fills: [Arc<FillOrder>; 2],
    /// Register of each, each way, in cells.
    pub register: f64,
    /// Known shift of the second against the first, in cells along the lattice.
    pub shift: [f64; 2],
}

/// The pairs of screens that lie on one lattice. Damped to under a thousandth of what nesting does, two screens
/// meet by chance.
pub fn pairs_on_a_lattice<'a>(meetings: Option<Meetings<'_>>, screens: impl IntoIterator<Item = &'a str>) -> Vec<Pair> {
    let Some(Meetings { dots, register_mm }) = meetings else { return Vec::new() };
    let (lattices, shifts): (Vec<Option<Lattice>>, Vec<[f64; 2]>) =
        screens.into_iter().map(|name| (dots.lattice(name), dots.shift_mm(name))).unzip();
    let mut out = Vec::new();
    for (upper, above) in lattices.iter().enumerate() {
        for (lower, below) in lattices[..upper].iter().enumerate() {
            if let (Some(below), Some(above)) = (below, above)
                && below.shares_points(above)
            {
                let register = register_mm / below.pitch_mm();
                if (-(TAU * register).powi(2)).exp() >= 1e-3 {
                    let fills = [below.fill.clone(), above.fill_along(below)];
                    // Rows run down while angles turn the mathematical way.
                    let (sin, cos) = below.angle.get().to_radians().sin_cos();
                    let [x, y] = [0, 1].map(|axis| (shifts[upper][axis] - shifts[lower][axis]) / below.pitch_mm());
                    let shift = [x * cos - y * sin, x * sin + y * cos];
                    out.push(Pair { screens: [lower, upper], fills, register, shift });
                }
            }
        }
    }
    out
}

/// How the screens of a stack meet, in the order of their upper screens.
pub(super) fn meetings_of<'a>(
    meetings: Option<Meetings<'_>>,
    screens: impl IntoIterator<Item = &'a str>,
) -> Vec<Meeting> {
    let met = |Pair { screens: [lower, upper], fills, register, shift }: Pair| Meeting {
        lower,
        upper,
        table: MeetingTable::kept(&fills[0], &fills[1], register, shift),
    };
    pairs_on_a_lattice(meetings, screens).into_iter().map(met).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn round() -> FillOrder {
        let far = |at: usize| (at as f32 + 0.5) / CELL_SIDE as f32 - 0.5;
        let value = |at: usize| far(at % CELL_SIDE).hypot(far(at / CELL_SIDE));
        let mut order: Vec<usize> = (0..CELL_SIDE * CELL_SIDE).collect();
        order.sort_by(|&a, &b| value(a).total_cmp(&value(b)));
        let mut ranks = vec![0.0; order.len()];
        for (rank, &at) in order.iter().enumerate() {
            ranks[at] = (rank as f32 + 0.5) / order.len() as f32;
        }
        FillOrder::new("round", |x, y| ranks[y * CELL_SIDE + x])
    }

    /// In register dots of one shape nest: both print where the smaller one does.
    #[test]
    fn dots_in_register_nest() {
        let fill = round();
        let table = MeetingTable::new(&fill, &fill, 0.0, [0.0; 2]);
        for (a, b) in [(0.25, 0.5), (0.5, 0.25), (0.5, 0.5), (0.0, 0.7), (1.0, 0.3), (0.75, 0.875)] {
            assert_abs_diff_eq!(table.at(a, b).0, a.min(b) - a * b, epsilon = 2e-3);
        }
        // A twentieth of a cell is nearly that.
        let near = MeetingTable::new(&fill, &fill, 0.02, [0.0; 2]);
        assert_abs_diff_eq!(near.at(0.25, 0.5).0, 0.125, epsilon = 0.012);
    }

    /// The table against dots laid on each other as often as it takes: 4000 places for the register, drawn by a
    /// plain generator (Marsaglia's polar method).
    #[test]
    fn wandering_register_is_the_mean_over_many_draws() {
        let fill = round();
        let mut state = 0x2545_F491_4F6C_DD1Du64;
        let mut uniform = || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        let mut normal = || loop {
            let (x, y) = (2.0 * uniform() - 1.0, 2.0 * uniform() - 1.0);
            let r = x * x + y * y;
            if r > 0.0 && r < 1.0 {
                break x * (-2.0 * r.ln() / r).sqrt();
            }
        };
        for register in [0.08, 0.18] {
            let table = MeetingTable::new(&fill, &fill, register, [0.0; 2]);
            for (a, b) in [(0.3, 0.3), (0.5, 0.25), (0.7, 0.6)] {
                let mut both = 0.0;
                let draws = 4000;
                for _ in 0..draws {
                    let apart = [(); 2].map(|()| register * (normal() - normal()));
                    let hits = (0..16 * 16).filter(|at| {
                        let place = [(at % 16) as f64 / 16.0 + 0.03, (at / 16) as f64 / 16.0 + 0.03];
                        fill.rank(place) < a && fill.rank([place[0] + apart[0], place[1] + apart[1]]) < b
                    });
                    both += hits.count() as f32 / 256.0;
                }
                assert_abs_diff_eq!(table.at(a, b).0, both / draws as f32 - a * b, epsilon = 0.012);
            }
        }
    }

    /// Half a cell apart along a row, small dots miss each other; a known shift is that of the places.
    #[test]
    fn a_known_shift_moves_the_dots() {
        let fill = round();
        let apart = MeetingTable::new(&fill, &fill, 0.0, [0.5, 0.0]);
        assert_abs_diff_eq!(apart.at(0.125, 0.125).0, -0.125 * 0.125, epsilon = 3e-3);
        let shift = [0.2, -0.1];
        let table = MeetingTable::new(&fill, &fill, 0.0, shift);
        for (a, b) in [(0.25, 0.5), (0.625, 0.25)] {
            let places = (0..CELL_SIDE * CELL_SIDE)
                .map(|at| [at % CELL_SIDE, at / CELL_SIDE].map(|v| (v as f64 + 0.5) / CELL_SIDE as f64));
            let both = places.filter(|&[x, y]| fill.rank([x, y]) < a && fill.rank([x - shift[0], y - shift[1]]) < b);
            let both = both.count() as f32 / (CELL_SIDE * CELL_SIDE) as f32;
            assert_abs_diff_eq!(table.at(a, b).0, both - a * b, epsilon = 6e-3);
        }
    }

    #[test]
    fn derivatives_are_those_of_the_table() {
        let fill = round();
        let table = MeetingTable::new(&fill, &fill, 0.1, [0.0; 2]);
        for (a, b) in [(0.305, 0.41), (0.61, 0.2)] {
            let (_, [by_lower, by_upper]) = table.at(a, b);
            let step = 1e-3;
            assert_abs_diff_eq!(by_lower, (table.at(a + step, b).0 - table.at(a - step, b).0) / 2e-3, epsilon = 4e-3);
            assert_abs_diff_eq!(by_upper, (table.at(a, b + step).0 - table.at(a, b - step).0) / 2e-3, epsilon = 4e-3);
        }
    }
}
