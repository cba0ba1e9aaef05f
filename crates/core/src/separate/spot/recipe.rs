//! What each flat colour of spot art is printed with: a coverage a screen, and what becomes of
//! them where the art fades out.

use crate::color::{ciede2000, lab_from_linear, linear_from_u16};
use crate::ink::Garment;
use crate::separate::flat::FlatColor;
use crate::separate::model::{MAX_SCREENS, PerScreen};
use crate::separate::plan::Plan;
use crate::separate::problem::{Pull, Target, improve, objective, starts};
use crate::separate::solids::solid_sets;
use crate::separate::{SeparationSettings, SpotInks};

/// Steps of alpha for which coverages are worked out.
const STEPS: usize = 32;
/// Tints of the layered way that no dot holds become none or solid.
const LEAST_TINT: f32 = 0.03;
/// CIEDE2000 that one more screen under a colour must win.
const ONE_MORE: f32 = 0.5;

/// A flat colour's coverages.
#[derive(Debug, Clone)]
pub(super) struct Recipe {
    /// Coverage a screen at alpha 0, 1/32 .. 1.
    ramp: Vec<PerScreen>,
    /// CIEDE2000 of the print against the colour.
    pub difference: f32,
}

impl Recipe {
    /// Coverages where the art is opaque.
    pub fn solid(&self) -> &PerScreen {
        &self.ramp[STEPS]
    }

    /// Coverage of a screen at an alpha.
    pub fn at(&self, screen: usize, alpha: u16) -> f32 {
        let place = f32::from(alpha) * (STEPS as f32 / 65535.0);
        let low = (place as usize).min(STEPS - 1);
        let (a, b) = (self.ramp[low][screen], self.ramp[low + 1][screen]);
        a + (place - low as f32) * (b - a)
    }
}

/// Recipes of all flat colours.
pub(super) fn recipes(
    colors: &[FlatColor],
    garment: &Garment,
    settings: &SeparationSettings,
    plan: &Plan,
) -> Vec<Recipe> {
    let sets = solid_sets(settings, garment);
    let recipe = |color: &FlatColor| {
        let linear = linear_from_u16(&color.exact);
        let solid = printed_with(linear, settings.spot.inks, &sets, plan);
        let print = plan.model.reflectance(&solid);
        Recipe {
            ramp: fade(plan, &solid, print),
            difference: ciede2000(lab_from_linear(print), lab_from_linear(linear)),
        }
    };
    colors.iter().map(recipe).collect()
}

/// Coverages that a flat colour is printed with, of the sets that it may be printed with.
pub(in crate::separate) fn printed_with(
    linear: [f32; 3],
    inks: SpotInks,
    sets: &[Vec<usize>],
    plan: &Plan,
) -> PerScreen {
    match inks {
        SpotInks::OneEach => one_each(plan, sets, linear),
        SpotInks::Layers => layers(plan, linear),
    }
}

/// The set whose solid print comes nearest; of nearly equal ones the one with fewer screens.
fn one_each(plan: &Plan, sets: &[Vec<usize>], color: [f32; 3]) -> PerScreen {
    let aim = lab_from_linear(color);
    let solid = |set: &Vec<usize>| {
        let mut a = [0.0; MAX_SCREENS];
        set.iter().for_each(|&i| a[i] = 1.0);
        a
    };
    let cost = |set: &Vec<usize>| {
        let print = lab_from_linear(plan.model.reflectance(&solid(set)));
        ciede2000(print, aim) + ONE_MORE * set.len() as f32
    };
    let best = sets.iter().map(|set| (cost(set), set)).min_by(|a, b| a.0.total_cmp(&b.0));
    best.map_or([0.0; MAX_SCREENS], |(_, set)| solid(set))
}

fn layers(plan: &Plan, color: [f32; 3]) -> PerScreen {
    let target = plan.exact_target(color);
    let n = plan.model.screens;
    let mut best = (f32::INFINITY, [0.0; MAX_SCREENS]);
    for mut a in starts(n, &target, 8) {
        improve(&plan.model, &plan.costs, &target, &Pull::NONE, &mut a, 60);
        let value = objective(&plan.model, &plan.costs, &target, &a);
        if value < best.0 {
            best = (value, a);
        }
    }
    best.1.map(|a| {
        if a < LEAST_TINT {
            0.0
        } else if a > 1.0 - LEAST_TINT {
            1.0
        } else {
            a
        }
    })
}

/// Coverages while a printed colour fades into the fabric. Less ink on every screen alike would
/// bare the white of the base, since dots of two screens do not lie on each other; so each step is
/// solved for the blend of print and fabric with the screens that the colour uses.
fn fade(plan: &Plan, solid: &PerScreen, print: [f32; 3]) -> Vec<PerScreen> {
    let mut costs = plan.costs.clone();
    costs.linear = [1e-5; MAX_SCREENS];
    costs.square = [1e-5; MAX_SCREENS];
    costs.pair = 0.0;
    costs.limit = MAX_SCREENS as f32 * 9.0;
    let n = plan.model.screens;
    let mut ramp = vec![[0.0; MAX_SCREENS]; STEPS + 1];
    ramp[STEPS] = *solid;
    for step in 1..STEPS {
        let alpha = step as f32 / STEPS as f32;
        let blend = std::array::from_fn(|i| plan.garment[i] + alpha * (print[i] - plan.garment[i]));
        let mut target = Target::new(blend, &costs);
        target.high = *solid;
        let tries = [ramp[step - 1], solid.map(|a| a * alpha), solid.map(|a| a * alpha * alpha)];
        let mut best = (f32::INFINITY, [0.0; MAX_SCREENS]);
        for mut a in tries {
            improve(&plan.model, &costs, &target, &Pull::NONE, &mut a, 40);
            let value = objective(&plan.model, &costs, &target, &a);
            if value < best.0 {
                best = (value, a);
            }
        }
        ramp[step] = best.1;
        ramp[step][n..].fill(0.0);
    }
    ramp
}
