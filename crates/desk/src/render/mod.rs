//! From screens and art to pixels for the table. Pure functions of a level and a look, so that
//! whole pictures and tiles come from one place and agree.

mod difference;
mod dots;
mod look;
mod pyramid;
pub mod shirt;
mod view;

pub use difference::{BAND_STEPS, BUILD_UP_STEPS, DIFFERENCE_STEPS, Step};
pub use dots::Dots;
pub use look::{Bands, Look, PxRect, disc_of_model, draw, on_fabric};
pub use pyramid::{Pyramid, TONE_BINS, Tones};
pub use view::{Spot, View};
