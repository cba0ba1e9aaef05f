//! What will go wrong on press, one file a finding. [`check_job`] gives them worst first, and
//! nothing when nothing matters; [`outlook`] adds the plain facts of a press sheet.

mod angle_search;
mod angles;
mod build_up;
mod cautions;
mod close_up;
mod day;
mod finding;
mod fine_detail;
mod gain;
mod grey_levels;
mod heads;
mod lost_dots;
mod mend;
mod moire;
mod order;
mod outlook;
mod registration;
mod resolution;
mod survey;
mod swap;
mod wet_on_wet;
mod whites;

pub use angle_search::{safest_angle, safest_angle_set};
pub use angles::{AngleSet, Angles, angle_set, mesh_risk};
pub use cautions::cautions;
pub use close_up::moire_close_up;
pub use day::{Drift, Drifted, bad_day, on_the_day};
pub use finding::{Basis, Finding, Input, Kind, Number, Place, Severity};
pub use fine_detail::{edge_growth_um, smallest_gap_mm, smallest_stroke_mm};
pub use gain::Sensitivity;
pub use grey_levels::grey_levels;
pub use heads::{Head, head_plan, numbered_heads};
pub use lost_dots::DotLimits;
pub use mend::{Change, Mend};
pub use moire::{Beat, MESH_VECTORS, Tones, knit_beats, mesh_beats, screen_beats, worst_beat};
pub use order::{OrderMark, search_orders};
pub use outlook::{Outlook, PressFacts, ScreenFacts, check_job, outlook};
pub use resolution::resolution_meaning;
pub use swap::{GarmentSwap, swap_garments};
pub use wet_on_wet::{PICKED_UP, PickUp, taint};
