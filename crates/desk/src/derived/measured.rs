//! What a colorimeter would read of the films: the real dots in a disc under the pointer, averaged, and what the
//! print model says of the same disc.

use std::sync::Arc;

use strikeoff_core::Progress;
use strikeoff_core::color::LinRgb;
use strikeoff_core::job::Level;

use super::slot::Outcome;
use crate::render::{Dots, Look, disc_of_model};
use crate::session::{Same, Value};

/// Across the disc: what small instruments look at.
pub const APERTURE_MM: f64 = 3.0;

/// What a measurement follows from: the screens, the look, and the middle of the disc in thousandths of the print.
pub type MeasuredKey = (Same<Level>, Value<Look>, [u16; 2]);

/// Two readings of a disc.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The real dots, averaged in linear light.
    pub dots: LinRgb,
    /// The model.
    pub model: LinRgb,
}

/// Measures.
pub fn measure(key: &MeasuredKey) -> impl FnOnce(&mut Option<Dots>, &Progress) -> Outcome<Measured> + use<> {
    let (Same(level), look, at) = key.clone();
    let level: Arc<Level> = level;
    move |kept, _| {
        let dots = kept.take().filter(|dots| dots.fits(&level, &look)).unwrap_or_else(|| Dots::new(&level, &look));
        let place = at.map(|part| f64::from(part) / 1000.0);
        let measured = Measured {
            dots: dots.disc(&level, &look, place, APERTURE_MM),
            model: disc_of_model(&level, &look, place, APERTURE_MM),
        };
        *kept = Some(dots);
        Some(Ok(measured))
    }
}
