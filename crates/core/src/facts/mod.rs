//! Plain figures of a job's screens on the press, whether or not anything is wrong: dots that hold,
//! smallest strokes, heads, ink in one place, wet pick-up, register, gain, and the usual cautions.
//! Findings judge these figures; sheets print them; previews show them.

mod cautions;
mod dots;
mod grey_levels;
mod heads;
mod ink_in_place;
mod pick_up;
mod press_facts;
mod register;
mod resolution;
mod sensitivity;
mod strokes;
mod survey;
mod tile;

pub use cautions::cautions;
pub use dots::DotHold;
pub use grey_levels::grey_levels;
pub use heads::{Head, head_plan, numbered_heads};
pub use pick_up::{PICKED_UP, PickUp, taint};
pub use press_facts::{PressFacts, ScreenFacts};
pub use resolution::resolution_meaning;
pub use sensitivity::Sensitivity;
pub use strokes::{edge_growth_um, smallest_gap_mm, smallest_stroke_mm};

pub(crate) use ink_in_place::{largest_patch, total_ink};
pub(crate) use pick_up::{best_flash, pick_ups, tainted_band};
pub(crate) use press_facts::press_facts;
pub(crate) use register::{Altered, Fringe, Register, SHOWS, SHOWS_MM, TILES, fringes, register};
pub(crate) use sensitivity::{heavier, printed_blocks, sensitivities};
pub(crate) use survey::{BINS, HIGHLIGHT_MM2, INKED, Survey, bin_coverage};
