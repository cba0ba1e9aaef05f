//! From screens and art to pixels for the table. Pure functions of a level and a look, so that
//! whole pictures and tiles come from one place and agree.

mod dots;
mod look;
mod miss;
mod pyramid;
pub mod shirt;
mod view;

pub use dots::Dots;
pub use look::{Look, PxRect, draw, on_fabric};
pub use miss::{BUILD_UP_STEPS, MISS_STEPS, Step};
pub use pyramid::{Pyramid, TONE_BINS, Tones};
pub use view::{Spot, View};
