//! The work that a job makes: its screens with their ink, its flashes, its misprints.

use crate::facts::{Head, PressFacts};
use crate::job::Job;
use crate::screens::ScreenName;

/// A screen as work.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkOfScreen {
    /// Its name.
    pub name: ScreenName,
    /// Likely grams of ink a shirt.
    pub ink_g: f64,
    /// Its ink's own price a kilogram, if the job has one.
    pub price_per_kg: Option<f64>,
    /// A flash stands behind it.
    pub flash: bool,
    /// A cool-down stands behind that.
    pub cool_down: bool,
}

/// A job as work.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Work {
    /// Its screens in print order.
    pub screens: Vec<WorkOfScreen>,
    /// Ink that stays in each screen, in grams.
    pub left_in_screen_g: f64,
    /// A shirt was weighed, so that the grams are not assumed.
    pub weighed: bool,
    /// Misprints, a fraction of the run.
    pub spoilage: f64,
}

impl Work {
    /// Of a job with its facts.
    pub fn of(job: &Job, facts: &PressFacts) -> Self {
        let behind = |name: &ScreenName, head: Head, far: usize| {
            let at = facts.heads.iter().position(|h| matches!(h, Head::Screen(screen) if screen == name));
            at.is_some_and(|at| facts.heads.get(at + far) == Some(&head))
        };
        let screen = |ink: &crate::usage::ScreenInk| WorkOfScreen {
            name: ink.screen.clone(),
            ink_g: ink.g_per_shirt.likely,
            price_per_kg: job.run.ink.price_per_kg.get(&ink.screen).copied(),
            flash: behind(&ink.screen, Head::Flash, 1),
            cool_down: behind(&ink.screen, Head::CoolDown, 2),
        };
        Self {
            screens: facts.ink.iter().map(screen).collect(),
            left_in_screen_g: job.run.ink.left_in_screen_g,
            weighed: job.run.ink.weighed_g_per_shirt.is_some(),
            spoilage: job.run.ink.spoilage,
        }
    }

    /// Flashes: a flash behind the last screen is the dryer's work.
    pub(super) fn flashes(&self) -> usize {
        self.before_the_last().filter(|screen| screen.flash).count()
    }

    /// Heads in use.
    pub(super) fn heads(&self) -> usize {
        let cool_downs = self.before_the_last().filter(|screen| screen.flash && screen.cool_down).count();
        self.screens.len() + self.flashes() + cool_downs
    }

    fn before_the_last(&self) -> impl Iterator<Item = &WorkOfScreen> {
        self.screens.iter().take(self.screens.len().saturating_sub(1))
    }

    /// The same without a screen and the flash behind it.
    pub(super) fn without(&self, name: &ScreenName) -> Self {
        let screens = self.screens.iter().filter(|screen| screen.name != *name).cloned().collect();
        Self { screens, ..self.clone() }
    }
}
