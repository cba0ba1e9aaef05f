//! One colour's separation as a small constrained least-squares problem: distance in OKLab with
//! hue kept dearer, plus the price of ink, within a box and under a total-ink limit.
//!
//! Solved by damped Gauss-Newton steps with the exact derivative. Each step is a quadratic problem
//! in a box, solved by coordinate descent; the ink limit enters as a price on all ink that is
//! raised until the limit holds. Tried instead and found worse: projected gradients (slow where
//! inks nearly replace each other) and a single start (a late opaque ink hides the rest, and the
//! search stays there).

#![expect(clippy::needless_range_loop, reason = "small matrices read best by index")]

use super::model::{MAX_GARMENTS, MAX_SCREENS, PerScreen, SolverModel, oklab};
use super::plan::ease;

/// What ink costs and how much of it a spot takes; the same for all colours of a picture.
#[derive(Debug, Clone)]
pub(super) struct Costs {
    /// Price of a little ink, squared OKLab a coverage.
    pub linear: PerScreen,
    /// Price that grows with coverage: shares tones between inks smoothly.
    pub square: PerScreen,
    /// Price of two inks on one spot, for the screens in `pairs`.
    pub pair: f32,
    /// 1 for screens that count as sharing a spot, 0 for bases.
    pub pairs: PerScreen,
    /// Prints of each screen.
    pub hits: PerScreen,
    /// Prints of each screen on every garment that it is solved for, 0 where it is left out; empty for one garment that
    /// has them all.
    pub hits_on: Vec<PerScreen>,
    /// Most ink on a garment, hits counted.
    pub limit: f32,
    /// How many times an error of a saturated hue counts in excess of one.
    pub hue: f32,
}

/// A colour that the inks miss by so much, in OKLab, is out of their reach.
const OUT_OF_REACH: f32 = 0.03;

impl Costs {
    /// Ink of coverages, hits counted: on the garment that has most.
    fn ink(&self, a: &PerScreen, n: usize) -> f32 {
        let on = |hits: &PerScreen| (0..n).map(|i| a[i] * hits[i]).sum::<f32>();
        match &self.hits_on[..] {
            [] => on(&self.hits),
            several => several.iter().map(on).fold(0.0, f32::max),
        }
    }

    /// The same without prices: what can be printed at all.
    pub fn free(&self) -> Self {
        Self { linear: [0.0; MAX_SCREENS], square: [1e-7; MAX_SCREENS], pair: 0.0, ..self.clone() }
    }
}

/// What one garment's print is to look like.
#[derive(Debug, Clone, Copy)]
struct Aim {
    lab: [f32; 3],
    /// Hue direction and its weight.
    cos: f32,
    sin: f32,
    hue_weight: f32,
    /// What its error counts: the weight of the garment, as a root.
    counts: f32,
}

impl Aim {
    /// For a colour in OKLab.
    fn of_lab(lab: [f32; 3], costs: &Costs) -> Self {
        let chroma = lab[1].hypot(lab[2]);
        let (cos, sin) = if chroma > 1e-6 { (lab[1] / chroma, lab[2] / chroma) } else { (1.0, 0.0) };
        // Near grey hue means nothing: the weight comes in with chroma.
        let hue_weight = (1.0 + costs.hue * chroma / (chroma + 0.05)).sqrt();
        Self { lab, cos, sin, hue_weight, counts: 1.0 }
    }

    /// The colour aimed at less a print, in OKLab.
    fn short_of(&self, print: [f32; 3]) -> [f32; 3] {
        std::array::from_fn(|k| self.lab[k] - print[k])
    }

    /// An OKLab difference on weighted lightness, chroma and hue axes.
    fn weigh(&self, d: [f32; 3]) -> [f32; 3] {
        [d[0], self.cos * d[1] + self.sin * d[2], self.hue_weight * (self.cos * d[2] - self.sin * d[1])]
            .map(|v| v * self.counts)
    }

    /// What a print misses, weighted.
    fn missed(&self, print: [f32; 3]) -> [f32; 3] {
        self.weigh(std::array::from_fn(|k| print[k] - self.lab[k]))
    }
}

/// A colour difference in OKLab for every garment.
pub(super) type PerGarment = [[f32; 3]; MAX_GARMENTS];

/// A colour to be printed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Target {
    /// On each garment, in the order of the model's.
    aims: [Aim; MAX_GARMENTS],
    /// How much prices of ink count: less for dark colours, where much ink changes little.
    pub thrift: f32,
    /// Total ink aimed at, and the price of the square of what is wanting to it or over it.
    pub total: f32,
    pub total_prices: [f32; 2],
    /// The least that is wanted of every coverage, where the colour allows: what is short of it has a price.
    pub held: PerScreen,
    /// The most that every coverage may be.
    pub high: PerScreen,
}

/// Lightness in OKLab up to which prices count least, and from which they count in full; and how much they count
/// least.
const DARK: f32 = 0.25;
const LIGHT: f32 = 0.5;
const DARK_THRIFT: f32 = 0.8;

/// Price of the square of what a coverage is short of what is wanted of it.
const HELD_PRICE: f32 = 0.02;

impl Target {
    /// A linear colour, every coverage free between none and solid.
    pub fn new(linear: [f32; 3], costs: &Costs) -> Self {
        Self::of_lab(oklab(linear), costs)
    }

    /// The same for a colour in OKLab, as [`oklab`] gives it.
    pub fn of_lab(lab: [f32; 3], costs: &Costs) -> Self {
        let (held, high) = ([0.0; MAX_SCREENS], [1.0; MAX_SCREENS]);
        let thrift = DARK_THRIFT + (1.0 - DARK_THRIFT) * ease((lab[0] - DARK) / (LIGHT - DARK));
        let aims = [Aim::of_lab(lab, costs); MAX_GARMENTS];
        Self { aims, thrift, total: 0.0, total_prices: [0.0; 2], held, high }
    }

    /// Aims at a colour in OKLab on one of several garments, whose error counts so much.
    pub fn on_garment(&mut self, garment: usize, lab: [f32; 3], weight: f32, costs: &Costs) {
        self.aims[garment] = Aim { counts: weight.sqrt(), ..Aim::of_lab(lab, costs) };
    }

    /// The colours aimed at less what coverages print, in OKLab.
    pub fn short_of(&self, model: &SolverModel, a: &PerScreen) -> PerGarment {
        let mut short = [[0.0; 3]; MAX_GARMENTS];
        for (short, (aim, on)) in short.iter_mut().zip(self.aims.iter().zip(model.garments())) {
            *short = aim.short_of(on.oklab(a));
        }
        short
    }

    /// What may be left of the colour in the end: nothing where the inks reach it, as much as at `a`
    /// where they do not, and between where they nearly do. `free` has no prices.
    pub fn may_leave(&self, model: &SolverModel, free: &Costs, a: &PerScreen) -> PerGarment {
        let unheld = Self { total_prices: [0.0; 2], held: [0.0; MAX_SCREENS], ..*self };
        let mut best = *a;
        improve(model, free, &unheld, &Pull::NONE, &mut best, 5);
        let (left, now) = (self.short_of(model, &best), self.short_of(model, a));
        std::array::from_fn(|garment| {
            let left = left[garment];
            let away = (dot(left, left).sqrt() / OUT_OF_REACH).min(1.0);
            let away = away * away * (3.0 - 2.0 * away);
            // Garments that want different things of one screen are left what even the best cannot give both.
            let least = if model.also_on.is_empty() { [0.0; 3] } else { left };
            std::array::from_fn(|k| least[k] + away * (now[garment][k] - least[k]))
        })
    }

    /// The same target aimed at so much beside its colours; what counts as their hue stays.
    pub fn beside(&self, by: &PerGarment) -> Self {
        let mut beside = *self;
        for (aim, by) in beside.aims.iter_mut().zip(by) {
            aim.lab = std::array::from_fn(|k| aim.lab[k] + by[k]);
        }
        beside
    }

    /// The square of what coverages miss, weighted, over all garments.
    fn missed(&self, model: &SolverModel, a: &PerScreen) -> f32 {
        let mut sum = 0.0;
        for (aim, on) in self.aims.iter().zip(model.garments()) {
            let r = aim.missed(on.oklab(a));
            sum += dot(r, r);
        }
        sum
    }

    /// How much ink is wanting to the total aimed at, and its price.
    fn wanting(&self, a: &PerScreen, n: usize) -> (f32, f32) {
        let wanting = self.total - a[..n].iter().sum::<f32>();
        (wanting, self.total_prices[usize::from(wanting < 0.0)])
    }

    /// How far a coverage is short of what is wanted of it.
    fn short(&self, a: &PerScreen, screen: usize) -> f32 {
        (self.held[screen] - a[screen]).max(0.0)
    }

    /// The price of all that is short.
    fn held_price(&self, a: &PerScreen, n: usize) -> f32 {
        HELD_PRICE * (0..n).map(|i| self.short(a, i).powi(2)).sum::<f32>()
    }
}

/// Neighbours' pull on a node: their number, the sum of their coverages and of its squares.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pull {
    pub weight: f32,
    pub count: PerScreen,
    pub sum: PerScreen,
}

impl Pull {
    pub const NONE: Self = Self { weight: 0.0, count: [0.0; MAX_SCREENS], sum: [0.0; MAX_SCREENS] };

    /// `weight * sum |a - a_v|^2`, less what does not depend on `a`.
    pub fn value(&self, a: &PerScreen, n: usize) -> f32 {
        (0..n).map(|i| a[i] * (self.count[i] * a[i] - 2.0 * self.sum[i])).sum::<f32>() * self.weight
    }
}

/// The objective without a pull.
pub(super) fn objective(model: &SolverModel, costs: &Costs, target: &Target, a: &PerScreen) -> f32 {
    let (wanting, per) = target.wanting(a, model.screens);
    let held = target.held_price(a, model.screens);
    target.missed(model, a) + target.thrift * price(costs, a, model.screens) + per * wanting * wanting + held
}

fn price(costs: &Costs, a: &PerScreen, n: usize) -> f32 {
    let mut sum = 0.0;
    let mut shared = 0.0;
    let mut own = 0.0;
    for i in 0..n {
        sum += a[i] * (costs.linear[i] + costs.square[i] * a[i]);
        let p = costs.pairs[i] * a[i];
        shared += p;
        own += p * p;
    }
    sum + costs.pair * 0.5 * (shared * shared - own)
}

/// Improves `a` by at most `steps` steps; returns the objective with the pull.
pub(super) fn improve(
    model: &SolverModel,
    costs: &Costs,
    target: &Target,
    pull: &Pull,
    a: &mut PerScreen,
    steps: usize,
) -> f32 {
    let n = model.screens;
    admit(n, costs, target, a);
    let mut value = objective(model, costs, target, a) + pull.value(a, n);
    let mut damping = 1e-3f32;
    for _ in 0..steps {
        let mut gradient = [0.0f32; MAX_SCREENS];
        let mut hessian = [[0.0f32; MAX_SCREENS]; MAX_SCREENS];
        for (aim, on) in target.aims.iter().zip(model.garments()) {
            let (lab, slopes) = on.oklab_slopes(a);
            let r = aim.missed(lab);
            let mut rows = [[0.0f32; 3]; MAX_SCREENS];
            for i in 0..n {
                rows[i] = aim.weigh(slopes[i]);
                gradient[i] += 2.0 * dot(rows[i], r);
                for j in 0..=i {
                    hessian[i][j] += dot(rows[i], rows[j]);
                }
            }
        }
        let shared: f32 = (0..n).map(|i| costs.pairs[i] * a[i]).sum();
        let (wanting, per) = target.wanting(a, n);
        for i in 0..n {
            gradient[i] = gradient[i]
                + target.thrift
                    * (costs.linear[i]
                        + 2.0 * costs.square[i] * a[i]
                        + costs.pair * costs.pairs[i] * (shared - costs.pairs[i] * a[i]))
                - 2.0 * per * wanting
                - 2.0 * HELD_PRICE * target.short(a, i)
                + 2.0 * pull.weight * (pull.count[i] * a[i] - pull.sum[i]);
            for j in 0..=i {
                let mut h = 2.0 * (hessian[i][j] + per);
                h += if i == j {
                    let held = if target.short(a, i) > 0.0 { HELD_PRICE } else { 0.0 };
                    2.0 * (target.thrift * costs.square[i] + pull.weight * pull.count[i] + held)
                } else {
                    target.thrift * costs.pair * costs.pairs[i] * costs.pairs[j]
                };
                hessian[i][j] = h;
                hessian[j][i] = h;
            }
        }
        let mut moved = 0.0f32;
        let mut better = false;
        for _ in 0..8 {
            let next = box_step(n, &hessian, &gradient, damping, a, target, costs);
            moved = (0..n).map(|i| (next[i] - a[i]).abs()).fold(0.0, f32::max);
            let next_value = objective(model, costs, target, &next) + pull.value(&next, n);
            if next_value < value {
                better = true;
                value = next_value;
                *a = next;
                damping = (damping * 0.2).max(1e-6);
                break;
            }
            if moved < 1e-4 {
                break;
            }
            damping *= 6.0;
        }
        if !better || moved < 2e-4 {
            break;
        }
    }
    value
}

fn dot(a: [f32; 3], b: [f32; 3]) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Brings coverages within their bounds and under the ink limit.
fn admit(n: usize, costs: &Costs, target: &Target, a: &mut PerScreen) {
    for i in 0..n {
        a[i] = a[i].clamp(0.0, target.high[i]);
    }
    let ink = costs.ink(a, n);
    if ink > costs.limit {
        a[..n].iter_mut().for_each(|x| *x *= costs.limit / ink);
    }
}

/// Minimises the quadratic model around `a` in the box and under the ink limit.
fn box_step(
    n: usize,
    hessian: &[[f32; MAX_SCREENS]; MAX_SCREENS],
    gradient: &PerScreen,
    damping: f32,
    a: &PerScreen,
    target: &Target,
    costs: &Costs,
) -> PerScreen {
    let ink = |x: &PerScreen| costs.ink(x, n);
    let free = descend(n, hessian, gradient, damping, a, target, costs, 0.0);
    if ink(&free) <= costs.limit {
        return free;
    }
    // The price that the limit puts on ink: double it until the limit holds, then halve the gap.
    let (mut low, mut high) = (0.0f32, 1e-3f32);
    let mut held = descend(n, hessian, gradient, damping, a, target, costs, high);
    while ink(&held) > costs.limit && high < 1e3 {
        low = high;
        high *= 4.0;
        held = descend(n, hessian, gradient, damping, a, target, costs, high);
    }
    for _ in 0..12 {
        let middle = 0.5 * (low + high);
        let tried = descend(n, hessian, gradient, damping, a, target, costs, middle);
        if ink(&tried) > costs.limit {
            low = middle;
        } else {
            high = middle;
            held = tried;
        }
    }
    // What rounding leaves over the limit.
    admit(n, costs, target, &mut held);
    held
}

/// Coordinate descent in the box, with `price` on every print of ink.
#[expect(clippy::too_many_arguments, reason = "the pieces of one quadratic problem")]
fn descend(
    n: usize,
    hessian: &[[f32; MAX_SCREENS]; MAX_SCREENS],
    gradient: &PerScreen,
    damping: f32,
    a: &PerScreen,
    target: &Target,
    costs: &Costs,
    price: f32,
) -> PerScreen {
    let mut x = *a;
    let mut slope = *gradient;
    for _ in 0..24 {
        let mut change = 0.0f32;
        for i in 0..n {
            let step = -(slope[i] + price * costs.hits[i] + damping * (x[i] - a[i])) / (hessian[i][i] + damping);
            let to = (x[i] + step).clamp(0.0, target.high[i]);
            let by = to - x[i];
            if by != 0.0 {
                x[i] = to;
                for j in 0..n {
                    slope[j] += hessian[j][i] * by;
                }
                change = change.max(by.abs());
            }
        }
        if change < 5e-5 {
            break;
        }
    }
    x
}

/// Places from which a colour is solved alone: nothing, everything half, each screen nearly solid
/// with a little of the rest; `extra` more from a fixed sequence for references.
pub(super) fn starts(n: usize, target: &Target, extra: usize) -> Vec<PerScreen> {
    let mut out = Vec::with_capacity(n + 2 + extra);
    let mut push = |f: &dyn Fn(usize) -> f32| {
        let mut a = [0.0; MAX_SCREENS];
        for (i, a) in a[..n].iter_mut().enumerate() {
            *a = f(i).clamp(0.0, target.high[i]);
        }
        out.push(a);
    };
    push(&|_| 0.02);
    push(&|_| 0.5);
    for solid in 0..n {
        push(&|i| if i == solid { 0.9 } else { 0.1 });
    }
    for k in 0..extra {
        // Halton-like: fractional parts of multiples of irrational numbers spread evenly.
        push(&|i| ((k + 1) as f32 * (2.0f32 + i as f32).sqrt()).fract());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::press::{Layer, Stack};

    fn costs() -> Costs {
        Costs {
            linear: [1e-4; MAX_SCREENS],
            square: [3e-4; MAX_SCREENS],
            pair: 0.0,
            pairs: [1.0; MAX_SCREENS],
            hits: [1.0; MAX_SCREENS],
            hits_on: Vec::new(),
            limit: 3.0,
            hue: 1.0,
        }
    }

    fn model() -> SolverModel {
        let layer = |c: [f32; 3], o: f32| Layer { scatter: c.map(|c| o * c), through: c.map(|c| c - o * c) };
        SolverModel::new(&Stack {
            garment: [0.9; 3],
            layers: vec![
                layer([0.8, 0.6, 0.05], 0.5),
                layer([0.6, 0.05, 0.1], 0.5),
                layer([0.05, 0.2, 0.5], 0.5),
                layer([0.01; 3], 0.9),
            ],
            gain: vec![],
            yule_nielsen: 1.0,
            meetings: vec![],
        })
    }

    #[test]
    fn a_color_made_by_the_model_is_found_again() {
        let (model, mut costs) = (model(), costs());
        (costs.linear, costs.square) = ([0.0; MAX_SCREENS], [1e-7; MAX_SCREENS]);
        let mut a = [0.0; MAX_SCREENS];
        a[..4].copy_from_slice(&[0.4, 0.2, 0.0, 0.3]);
        let target = Target::new(model.reflectance(&a), &costs);
        let mut found = [0.5; MAX_SCREENS];
        let value = improve(&model, &costs, &target, &Pull::NONE, &mut found, 60);
        assert!(value < 1e-6, "left an error of {value}");
    }

    #[test]
    fn the_ink_limit_holds_and_binds() {
        let (model, mut costs) = (model(), costs());
        costs.limit = 0.6;
        let target = Target::new([0.005; 3], &costs);
        let mut a = [0.1; MAX_SCREENS];
        improve(&model, &costs, &target, &Pull::NONE, &mut a, 40);
        let ink: f32 = a[..4].iter().sum();
        assert!(ink <= 0.6 + 1e-5 && ink > 0.59, "total ink {ink}");
    }
}
