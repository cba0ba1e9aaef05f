//! Tones reduced to a few even steps.

use super::super::{TuneError, tone};
use super::kind::Kind;
use super::{On, Start};
use crate::bounds::table;
use crate::raster::Plane;
use crate::screens::ScreenName;

edit! {
    /// Reduce the tones to a few even steps, from none to solid.
    pub struct Posterise {
        /// The screen.
        screen: ScreenName,
        /// Number of tones that are left, none and solid among them.
        #[schemars(transform = table::TONES.schema())]
        tones: u8,
    }
}

impl Kind for Posterise {
    const LABEL: &'static str = "Posterise";

    fn words(&self) -> String {
        format!("{} to {} tones", self.screen, self.tones)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        posterise(on.plane(&self.screen)?, self.tones);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        vec![("Posterise", Self { screen: start.screen.clone(), tones: 4 })]
    }
}

/// Every coverage to the nearest of `tones` that lie evenly from none to solid.
fn posterise(plane: &mut Plane<u16>, tones: u8) {
    let steps = f64::from(tones.max(2) - 1);
    tone::map_tone(plane, |c| (c * steps).round() / steps);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_becomes_even_steps_and_keeps_its_ends() {
        let mut ramp = Plane::from_fn(65_536, 1, |x, _| x as u16);
        posterise(&mut ramp, 4);
        // Thirds of 65535.
        let mut left = ramp.data().to_vec();
        left.dedup();
        assert_eq!(left, [0, 21_845, 43_690, 65_535]);
        // Each tone goes to the nearest: the first change is half a step up.
        assert_eq!(ramp.data().iter().position(|&v| v > 0), Some(10_923));
    }
}
