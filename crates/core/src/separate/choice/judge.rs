//! What a set of screens is worth, on the weighed colours of a picture.

use super::palette::{Weighed, weighed_colors};
use crate::color::{ciede2000, lab_from_linear, linear_from_u16};
use crate::ink::Garment;
use crate::press::{Ground, Stop};
use crate::raster::Picture;
use crate::separate::correction::Correction;
use crate::separate::index::{dot_colors, nearest_mix};
use crate::separate::model::{MAX_SCREENS, PerScreen};
use crate::separate::plan::Plan;
use crate::separate::problem::{Costs, Pull, Target, improve, objective, starts};
use crate::separate::solids::solid_sets;
use crate::separate::spot::printed_with;
use crate::separate::{
    FlatColor, Method, PlannedScreen, Quality, ScreenPart, SeparateError, SeparationSettings, flat_colors,
};

/// The colours that a print by the method of the settings is judged on: the flat colours of spot
/// art, whose number is the art's, and at most `most` of a picture otherwise.
pub(super) fn judged_colors<const LISTS: usize>(
    picture: &Picture,
    garment: &Garment,
    settings: &SeparationSettings,
    most: [usize; LISTS],
) -> Result<[Vec<Weighed>; LISTS], SeparateError> {
    if settings.method != Method::SpotArt {
        return Ok(weighed_colors(picture, garment.reflectance(), most));
    }
    let flat = flat_colors(picture, settings.spot.same_within, settings.spot.least_share);
    if flat.is_empty() {
        return Err(SeparateError::NoFlatColors);
    }
    let weighed = |f: &FlatColor| Weighed { color: linear_from_u16(&f.exact), weight: f.share };
    Ok(most.map(|_| flat.iter().map(weighed).collect()))
}

/// Weighs sets of inks on a picture's colours.
pub(super) struct Judge<'a> {
    pub colors: Vec<Weighed>,
    pub ground: Ground<'a>,
    pub settings: &'a SeparationSettings,
}

/// Coverages of every colour with a set, and its worth.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    /// In print order.
    pub screens: Vec<PlannedScreen>,
    /// Coverages of every colour; none are kept of an index, whose dots are solid.
    pub values: Vec<PerScreen>,
    pub quality: Quality,
}

impl Judge<'_> {
    /// Prints all colours with planned screens by the method of the settings. Simulated process is
    /// solved: with `before`, coverages of screens of the same name are taken over as a start, once
    /// with new screens nearly empty and once well used; without, from all starts.
    pub fn solve(&self, screens: Vec<PlannedScreen>, before: Option<&Solved>) -> Solved {
        let settings = SeparationSettings { screens, ..self.settings.clone() };
        let garment = self.ground.garment;
        let mut press = self.ground.press.clone();
        let parts = settings.parts(garment.is_white());
        for (screen, part) in settings.screens.iter().zip(parts) {
            if part == ScreenPart::Underbase {
                press.stops.entry(screen.name.clone()).or_insert(Stop::Flash);
            }
        }
        let plan = Plan::new(&Ground { press: &press, ..self.ground }, &settings);
        let (n, free) = (settings.screens.len(), plan.costs.free());
        let from: Vec<Option<usize>> = settings
            .screens
            .iter()
            .map(|s| before.and_then(|b| b.screens.iter().position(|o| o.name == s.name)))
            .collect();
        let process = |u: usize, color: [f32; 3]| {
            let target = plan.target(color);
            let tries = match before {
                None => starts(n, &target, 0),
                Some(before) => [0.05, 0.7]
                    .map(|fresh| {
                        let mut a = [0.0; MAX_SCREENS];
                        for (a, from) in a.iter_mut().zip(&from) {
                            *a = from.map_or(fresh, |at| before.values[u][at]);
                        }
                        a
                    })
                    .to_vec(),
            };
            let steps = if before.is_some() { 12 } else { 25 };
            let mut best = (f32::INFINITY, [0.0; MAX_SCREENS]);
            for mut a in tries {
                improve(&plan.model, &plan.costs, &target, &Pull::NONE, &mut a, steps);
                let value = objective(&plan.model, &plan.costs, &target, &a);
                if value < best.0 {
                    best = (value, a);
                }
            }
            let best = corrected(&plan, &free, &target, best.1);
            (best, plan.model.reflectance(&best))
        };
        let sets = solid_sets(&settings, garment);
        let spot = |_: usize, color: [f32; 3]| {
            let a = printed_with(color, settings.spot.inks, &sets, &plan);
            (a, plan.model.reflectance(&a))
        };
        let dots = dot_colors(&settings, garment, &plan);
        let index =
            |_: usize, color: [f32; 3]| ([0.0; MAX_SCREENS], nearest_mix(&dots, color, settings.hue_keeping as f32));
        let print: &dyn Fn(usize, [f32; 3]) -> (PerScreen, [f32; 3]) = match settings.method {
            Method::SimulatedProcess => &process,
            Method::SpotArt => &spot,
            Method::Index => &index,
        };
        let solve_one = |(u, color): (usize, &Weighed)| {
            let (a, printed) = print(u, color.color);
            (a, ciede2000(lab_from_linear(printed), lab_from_linear(color.color)))
        };
        let solved: Vec<(PerScreen, f32)> = self.colors.iter().enumerate().map(solve_one).collect();
        let quality = Quality::of_weighted(solved.iter().zip(&self.colors).map(|(s, c)| (s.1, c.weight)));
        Solved { screens: settings.screens, values: solved.into_iter().map(|s| s.0).collect(), quality }
    }
}

/// Corrections of a colour's aim, as the separation makes them.
const CORRECTIONS: usize = 3;

/// A solution with its aim corrected, so that prices of ink cost no colour.
fn corrected(plan: &Plan, free: &Costs, target: &Target, mut a: PerScreen) -> PerScreen {
    let mut correction = Correction::NONE;
    correction.look_ahead(&plan.model, free, target, &a);
    for _ in 0..CORRECTIONS {
        correction.move_on(&plan.model, target, &a);
        improve(&plan.model, &plan.costs, &target.beside(&correction.shift), &Pull::NONE, &mut a, 6);
    }
    a
}
