//! Screens that print on more than one garment, some of them not on each ([`Ground::left_out`]): the print model of each
//! garment with all screens in one order, so that they are solved for together.

use super::model::{SolverModel, light_as_grey, oklab};
use super::{PlannedScreen, ScreenPart, SeparationSettings};
use crate::press::{Ground, Stack};

/// A garment that a job prints on.
#[derive(Debug, Clone, Copy)]
pub struct Printing<'a> {
    /// The garment, the press, and the screens that are left out.
    pub ground: Ground<'a>,
}

impl<'a> Printing<'a> {
    /// One garment alone.
    pub fn alone(ground: &Ground<'a>) -> Self {
        Self { ground: *ground }
    }

    /// Whether it prints a planned screen.
    pub(super) fn prints(&self, screen: &PlannedScreen) -> bool {
        self.ground.prints(screen.name.as_str())
    }

    /// The settings with its screens alone.
    pub(super) fn settings(&self, settings: &SeparationSettings) -> SeparationSettings {
        let screens = settings.screens.iter().filter(|screen| self.prints(screen)).cloned().collect();
        SeparationSettings { screens, ..settings.clone() }
    }

    /// What each planned screen does on it; none for those that it does not print.
    pub(super) fn parts(&self, settings: &SeparationSettings) -> Vec<Option<ScreenPart>> {
        let mut own = self.settings(settings).parts(self.ground.garment.is_white()).into_iter();
        settings.screens.iter().map(|screen| if self.prints(screen) { own.next() } else { None }).collect()
    }
}

/// The solver's model of all garments, and the light of the grey that is as light as the darkest that each can have.
pub(super) fn model_of(printings: &[Printing<'_>], settings: &SeparationSettings) -> (SolverModel, Vec<f32>) {
    let light = |c: [f32; 3]| light_as_grey(oklab(c));
    let inks = || settings.screens.iter().map(|s| (s.name.as_str(), &s.ink, s.hits));
    let stacks: Vec<Stack> = printings.iter().map(|on| Stack::of_inks(&on.ground, inks())).collect();
    let darkest = |stack: &Stack| {
        let solids = stack.layers.iter().map(|layer| light(layer.over(stack.garment)));
        solids.fold(light(stack.garment), f32::min)
    };
    let mut models = stacks.iter().map(SolverModel::new);
    let mut model = models.next().unwrap_or_else(|| unreachable!("a separation is for at least one garment"));
    model.also_on = models.collect();
    (model, stacks.iter().map(darkest).collect())
}
