//! Tones stretched over the whole range.

use super::super::edit::{half, one, percent, zero};
use super::super::{TuneError, tone};
use super::kind::Kind;
use super::{On, Start};
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::units::Coverage;

edit! {
    /// Stretch the tones between two coverages over the whole range.
    pub struct ToneRange {
        /// The screen.
        screen: ScreenName,
        /// This coverage and less becomes none.
        #[serde(default = "zero")]
        none_at: Coverage,
        /// This coverage and more becomes solid.
        #[serde(default = "one")]
        solid_at: Coverage,
        /// What the middle between them becomes; 50 % is straight.
        #[schemars(transform = table::MIDDLE.schema())]
        #[serde(default = "half")]
        middle: Coverage,
    }
}

impl Kind for ToneRange {
    const LABEL: &'static str = "Tone range";

    fn words(&self) -> String {
        let bent = match self.middle.get() {
            0.5 => String::new(),
            _ => format!(", middle {}", percent(self.middle)),
        };
        format!("{} from {} to {}{bent}", self.screen, percent(self.none_at), percent(self.solid_at))
    }

    fn check(&self) -> Result<(), String> {
        if self.none_at >= self.solid_at {
            return Err("the coverage that becomes none must lie below the one that becomes solid".to_owned());
        }
        Ok(())
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        tone::levels(on.plane(&self.screen)?, self.none_at, self.solid_at, self.middle);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let screen = start.screen.clone();
        vec![("Tone range", Self { screen, none_at: zero(), solid_at: one(), middle: half() })]
    }
}
