//! A tone curve.

use super::super::{self as tune, TuneError, tone};
use super::kind::Kind;
use super::On;
use crate::screens::ScreenName;

edit! {
    /// Bend the tones by a smooth curve through points.
    pub struct Curve {
        /// The screen.
        screen: ScreenName,
        /// Points in percent of coverage, before:after, rising: 0:0 50:42 100:100.
        curve: tune::Curve,
    }
}

impl Kind for Curve {
    const LABEL: &'static str = "Tone curve";

    fn words(&self) -> String {
        format!("{}, {} points", self.screen, self.curve.points().len())
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        tone::curve(on.plane(&self.screen)?, &self.curve);
        Ok(())
    }
}
