//! What screens are printed on.

use std::collections::BTreeSet;

use super::{Meetings, PrintModel};
use crate::ink::Garment;
use crate::screens::ScreenName;
use crate::units::Lpi;

/// What screens are printed on and how: all of a job that its print needs besides the screens.
#[derive(Debug, Clone, Copy)]
pub struct Ground<'a> {
    /// The garment.
    pub garment: &'a Garment,
    /// The print model.
    pub press: &'a PrintModel,
    /// The job's ruling, for gain that follows the edge of the dots.
    pub ruling: Lpi,
    /// Where the dots of its screens lie and how far they wander; none where dots meet by chance alone.
    pub meetings: Option<Meetings<'a>>,
    /// Screens of the job that do not print on this garment; none where all do.
    pub left_out: Option<&'a BTreeSet<ScreenName>>,
}

impl<'a> Ground<'a> {
    /// A ground on which dots meet by chance.
    pub fn by_chance(garment: &'a Garment, press: &'a PrintModel, ruling: Lpi) -> Self {
        Self { garment, press, ruling, meetings: None, left_out: None }
    }

    /// Whether a screen prints on this garment.
    pub fn prints(&self, screen: &str) -> bool {
        self.left_out.is_none_or(|left_out| left_out.is_empty() || !left_out.contains(&ScreenName::from(screen)))
    }
}
