//! Light tones out, dark tones solid.

use super::super::edit::{one, percent, zero};
use super::super::{TuneError, background, tone};
use super::kind::Kind;
use super::On;
use crate::bounds::usual;
use crate::screens::ScreenName;
use crate::units::Coverage;

edit! {
    /// Take light tones out of a screen, make dark ones solid, clear the background.
    pub struct Trim {
        /// The screen.
        screen: ScreenName,
        /// Coverage below this becomes none.
        #[serde(default = "zero")]
        below: Coverage,
        /// Coverage from here on becomes solid.
        #[serde(default = "one")]
        solid_from: Coverage,
        /// Width of tone over which each end fades in, inside the tones that are kept; 0 is hard.
        #[schemars(transform = usual(0.0, 0.5))]
        #[serde(default = "zero")]
        soft_over: Coverage,
        /// Clear the screen where the artwork has only background.
        #[serde(default)]
        background: bool,
    }
}

impl Trim {
    /// Light tones out, hard.
    pub fn plain(screen: impl Into<ScreenName>, below: Coverage, background: bool) -> Self {
        Self { screen: screen.into(), below, solid_from: one(), soft_over: zero(), background }
    }
}

impl Kind for Trim {
    const LABEL: &'static str = "Trim";

    fn words(&self) -> String {
        let mut words = format!("{} below {}", self.screen, percent(self.below));
        if self.solid_from.get() < 1.0 {
            words += &format!(", solid from {}", percent(self.solid_from));
        }
        if self.soft_over.get() > 0.0 {
            words += &format!(", soft over {}", percent(self.soft_over));
        }
        if self.background {
            words += ", out of the background";
        }
        words
    }

    fn check(&self) -> Result<(), String> {
        if self.below == zero() && self.solid_from == one() && !self.background {
            return Err("there is nothing to trim: give tones or the background".to_owned());
        }
        if self.below > self.solid_from {
            return Err("a trim's lower coverage must not lie above its upper one".to_owned());
        }
        Ok(())
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        tone::trim(on.plane(&self.screen)?, self.below, self.solid_from, self.soft_over);
        if self.background {
            let mask = background(&on.prepared.picture)
                .ok_or_else(|| TuneError::NoBackground { number: on.number, screen: self.screen.clone() })?;
            let plane = on.plane(&self.screen)?;
            for (v, _) in plane.data_mut().iter_mut().zip(mask.data()).filter(|(_, out)| **out) {
                *v = 0;
            }
        }
        Ok(())
    }
}
